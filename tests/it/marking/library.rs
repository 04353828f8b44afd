//! The starter criteria against the check values of the trade.
//!
//! Sources: `tests/reference/trade/facts.toml` and `rows.toml`.

use baywitness::bay::{ItemKind, Standards};
use baywitness::marking::library::{self, Starter};
use baywitness::marking::{CriterionId, Decided, Fails, Rule};
use std::collections::BTreeMap;

const FACTS: &str = include_str!("../../reference/trade/facts.toml");
const ROWS: &str = include_str!("../../reference/trade/rows.toml");

fn table(text: &str) -> toml::Table {
    text.parse().expect("the reference files are TOML")
}

/// The value of one check.
fn check(id: &str) -> toml::Value {
    let facts = table(FACTS);
    let checks = facts["check"].as_array().expect("checks");
    checks.iter().find(|one| one["id"].as_str() == Some(id)).unwrap_or_else(|| panic!("no check {id}"))["value"].clone()
}

fn number(id: &str) -> f64 {
    let value = check(id);
    value.as_float().or_else(|| value.as_integer().map(|whole| whole as f64)).unwrap_or_else(|| panic!("{id}"))
}

fn words(id: &str) -> Vec<String> {
    let value = check(id);
    value.as_array().expect("a list").iter().filter_map(|one| one.as_str().map(str::to_owned)).collect()
}

fn maybe(standards: Standards, id: &str) -> Option<&'static Starter> {
    library::criterion(standards, &CriterionId::new(id).expect("an identifier"))
}

fn starter(standards: Standards, id: &str) -> &'static Starter {
    maybe(standards, id).unwrap_or_else(|| panic!("{} has no {id}", standards.word()))
}

fn says(standards: Standards, id: &str) -> String {
    starter(standards, id).criterion.says.to_lowercase()
}

fn rule(standards: Standards, id: &str) -> &'static Rule {
    match &starter(standards, id).criterion.decided {
        Decided::Rule(rule) => rule,
        Decided::ByEye => panic!("{id} is judged by eye"),
    }
}

/// Whether the ready-made checklist of a scheme has it.
fn ready(standards: Standards, id: &str) -> bool {
    maybe(standards, id).is_some_and(|one| one.ready_made)
}

#[test]
fn every_criterion_rests_on_facts_that_are_there_and_claims_no_more_than_they_do() {
    let rows = table(ROWS);
    let rows: BTreeMap<&str, Vec<&str>> = rows["row"]
        .as_array()
        .expect("rows")
        .iter()
        .map(|row| {
            let status = row["status"].as_array().expect("words").iter().filter_map(|word| word.as_str()).collect();
            (row["id"].as_str().expect("an id"), status)
        })
        .collect();
    for standards in Standards::ALL {
        for one in library::criteria(standards) {
            let id = format!("{} of {}", one.criterion.id, standards.word());
            let of = |fact: &String| rows.get(fact.as_str()).unwrap_or_else(|| panic!("{id} rests on {fact}")).clone();
            let status: Vec<&str> = one.rests_on.iter().flat_map(of).collect();
            let claims = one.status.word();
            assert!(claims == "practice" || status.contains(&claims), "{id} claims {claims}; its facts are {status:?}");
        }
    }
}

#[test]
fn tips_are_held_to_the_limit_and_kinds_that_are_refused_are_not_accepted() {
    for standards in Standards::ALL {
        let Rule::IndicatorSuitable { accepts, max_tip_mm } = rule(standards, "indicator") else { panic!("the rule") };
        let limit = match standards {
            Standards::Gb => "max_exposed_tip_mm",
            _ => "max_exposed_tip_mm_cat3_cat4_probe_standard",
        };
        assert_eq!(*max_tip_mm, number(limit));
        assert!(says(standards, "indicator").contains(&format!("{} mm", number(limit))));
        let refused = match standards {
            Standards::Us => words("instrument_kinds_refused_for_proving_dead_us_doe"),
            _ => words("instrument_kinds_refused_for_proving_dead"),
        };
        let is_refused = |kind: &ItemKind| match kind {
            ItemKind::NonContactIndicator => refused.contains(&"non_contact".to_owned()),
            // The values say that this refusal is advice and differs by region: facts A21 for GB, A25 for AU.
            ItemKind::Multimeter => refused.contains(&"multimeter".to_owned()) && standards != Standards::Au,
            _ => false,
        };
        let accepted: Vec<ItemKind> = ItemKind::INSTRUMENTS.into_iter().filter(|kind| !is_refused(kind)).collect();
        assert_eq!(*accepts, accepted, "{}", standards.word());
    }
    // Solenoid testers, which the US handbook refuses too, are no kind of item here.
    assert!(
        ready(Standards::Gb, "two-hands")
            && words("instrument_kinds_refused_for_proving_dead").contains(&"single_pole".into())
    );
}

#[test]
fn categories_are_those_of_the_place() {
    let (board, origin) = (check("min_category_at_board_or_fixed_accessory"), check("min_category_at_origin"));
    let (board, origin) = (board.as_str().expect("a word"), origin.as_str().expect("a word"));
    for standards in Standards::ALL {
        let says = &starter(standards, "markings").criterion.says;
        assert!(
            says.contains(&format!("category {board} at")) && says.contains(&format!("{origin} at the origin")),
            "{says}"
        );
    }
}

#[test]
fn the_indicator_is_proved_before_and_after_everywhere_on_what_is_accepted() {
    assert_eq!(
        (check("instrument_proved_before_and_after"), check("self_test_counts_as_proved")),
        (true.into(), false.into())
    );
    let sources = words("proving_source_kinds_accepted");
    for standards in Standards::ALL {
        for id in ["proved-before", "proved-after"] {
            assert!(ready(standards, id) && starter(standards, id).criterion.fails == Fails::Automatic);
            let (Rule::ProvedBeforeTesting { accepts } | Rule::ProvedAfterTesting { accepts }) = rule(standards, id)
            else {
                panic!("{id}")
            };
            let accepts: Vec<String> =
                accepts.iter().map(|on| on.word().replace("known_live", "known_live_source")).collect();
            assert_eq!(accepts, sources);
        }
    }
    let law = format!("above {} v", number("instrument_check_before_after_required_above_V_by_law"));
    assert!(says(Standards::Us, "proved-before").contains(&law) && says(Standards::Us, "proved-after").contains(&law));
}

#[test]
fn thresholds_are_those_of_the_scheme() {
    let elv = format!("over {} v ac or {} v dc", number("elv_ac_max_V"), number("elv_dc_ripple_free_max_V"));
    for standards in [Standards::Gb, Standards::Ie, Standards::Eu, Standards::Au] {
        assert!(says(standards, "live-heeded").contains(&elv), "{}", standards.word());
    }
    let ground = format!("{} v or more to ground", number("deenergise_threshold_V_to_ground"));
    assert!(says(Standards::Us, "live-heeded").contains(&ground));
    assert!(says(Standards::Us, "work-dead").contains(&ground));
    let charge = says(Standards::Eu, "stored-energy");
    let (volts, seconds) = (number("residual_voltage_max_V"), number("residual_voltage_time_s"));
    assert!(charge.contains(&format!("{volts} v or less")) && charge.contains(&format!("{seconds} s")), "{charge}");
    let tie = format!("{} lbf", number("tag_attachment_min_unlocking_force_lbf"));
    assert!(says(Standards::Us, "tag-fixing").contains(&tie));
}

/// The words in which a criterion holds what the values name, and nothing that they do not name.
fn holds(standards: Standards, criterion: &str, list: &str, phrases: &[(&str, &str)]) {
    let mut named: Vec<&str> = phrases.iter().map(|(word, _)| *word).collect();
    let mut wanted = words(list);
    wanted.sort();
    named.sort_unstable();
    assert_eq!(named, wanted, "{list}");
    let says = says(standards, criterion);
    for (word, phrase) in phrases {
        assert!(says.contains(phrase), "{word}: “{phrase}” is not in “{says}”");
    }
}

#[test]
fn notices_and_tags_hold_what_they_must() {
    let gb =
        [("do_not_switch_on", "do not switch on"), ("person_at_work", "person at work"), ("name_of_person", "name")];
    holds(Standards::Gb, "notice-says", "warning_notice_contents_gb", &gb);
    let us = [
        ("forbids_unauthorised_operation_of_disconnect", "forbids others to operate the disconnect"),
        ("forbids_removal_of_tag", "and to remove the tag"),
    ];
    holds(Standards::Us, "notice-says", "tag_required_statements", &us);
    assert_eq!(check("tag_warns_of_hazard_if_energised"), true.into());
    assert!(says(Standards::Us, "notice-says").contains("warns of the hazard if energized"));
    assert!(words("lock_tag_properties").contains(&"identifies_person".into()));
    assert!(says(Standards::Us, "notice-says").contains("names the person"));
    let fixing = [
        ("attachable_by_hand", "by hand"),
        ("self_locking", "self-locking"),
        ("non_reusable", "cannot be used again"),
        ("non_releasable_below_force", "holds 50 lbf"),
    ];
    holds(Standards::Us, "tag-fixing", "tag_attachment_properties", &fixing);
    assert!(
        says(Standards::Au, "notice-says").contains("danger tag")
            && says(Standards::Au, "notice-says").contains("not an out-of-service tag")
    );
    let more = format!("at least {} more measure", number("tag_only_extra_measures_min"));
    assert!(says(Standards::Us, "tag-alone").contains(&more));
    let alone = [
        ("one_circuit_or_equipment", "one circuit"),
        ("not_beyond_shift", "within one shift"),
        ("exposed_people_know_procedure", "those exposed know the procedure"),
    ];
    holds(Standards::Us, "lock-alone", "lock_only_conditions", &alone);
}

#[test]
fn what_is_not_isolation_is_named() {
    let us = [("push_button", "push button"), ("selector_switch", "selector switch"), ("interlock", "interlock")];
    holds(Standards::Us, "isolating-device", "device_kinds_that_are_not_isolation_by_rule", &us);
    let trade = words("device_kinds_that_are_not_isolation_by_trade");
    for (word, phrase) in [
        ("lamp_switch", "lamp switch"),
        ("stop_button", "stop button"),
        ("thermostat", "thermostat"),
        ("timer", "timer"),
    ] {
        assert!(trade.contains(&word.into()) && says(Standards::Gb, "isolating-device").contains(phrase));
    }
}

#[test]
fn lock_and_tag_are_both_required_and_controls_are_tried_in_us_and_au() {
    assert_eq!(check("lock_and_tag_both_required"), true.into());
    assert_eq!(words("verification_parts_us"), ["operate_controls", "test_parts", "look_for_induced_or_backfeed"]);
    for standards in Standards::ALL {
        let both = matches!(standards, Standards::Us | Standards::Au);
        assert_eq!(*rule(standards, "locked"), Rule::LockedAndTried);
        assert_eq!(starter(standards, "locked").criterion.fails, Fails::Automatic);
        let notice = starter(standards, "notice").criterion.fails;
        assert_eq!(notice, if both { Fails::Must } else { Fails::Ordinary }, "{}", standards.word());
        assert_eq!(says(standards, "notice").contains("tag beside the lock"), both, "{}", standards.word());
        assert_eq!(ready(standards, "controls"), both, "{}", standards.word());
        assert_eq!(ready(standards, "controls-then-test"), standards == Standards::Us);
        assert_eq!(ready(standards, "odd-reading"), standards == Standards::Us, "induced voltage and back-feed");
    }
    assert_eq!(*rule(Standards::Us, "controls"), Rule::ControlsTried);
}

/// The titles of the stages of a ready-made checklist.
fn titles(standards: Standards) -> Vec<String> {
    library::checklist(standards).stages.into_iter().map(|stage| stage.title).collect()
}

#[test]
fn stages_follow_the_order_of_each_scheme() {
    let rules = [
        ("disconnect", "1: disconnect"),
        ("secure_against_reconnection", "2: secure against reconnection"),
        ("verify_absence_of_voltage", "3: verify that it is dead"),
        ("earth_and_short_circuit", "4: earth and short-circuit"),
        ("guard_adjacent_live_parts", "5: guard live parts nearby"),
    ];
    assert_eq!(words("stage_order_eu_five_rules"), rules.map(|(word, _)| word));
    let eu = titles(Standards::Eu);
    let places = rules.map(|(_, title)| eu.iter().position(|there| *there == format!("Rule {title}")).expect(title));
    assert!(places.is_sorted(), "{eu:?}");

    let in_order = |standards: Standards, ids: &[&str]| {
        let made = library::checklist(standards);
        let all: Vec<&str> = made.criteria().map(|one| one.id.as_str()).collect();
        let places: Vec<usize> =
            ids.iter().map(|id| all.iter().position(|there| there == id).unwrap_or_else(|| panic!("{id}"))).collect();
        assert!(places.is_sorted(), "{}: {all:?}", standards.word());
    };
    // One criterion for each word of the values, in their order.
    assert_eq!(words("stage_order_gb").len(), 7);
    for standards in [Standards::Gb, Standards::Ie] {
        // The values put permission before identifying; both stand before switching, in the order of the worked example.
        in_order(
            standards,
            &["permission", "named-device", "locked", "notice", "proved-before", "pairs", "proved-after", "declares"],
        );
        in_order(standards, &["identify", "named-device"]);
    }
    assert_eq!(
        words("stage_order_us_electrical"),
        ["written_procedure", "deenergise_all_sources", "lock_and_tag", "verify_controls_then_test", "reenergise"]
    );
    in_order(
        Standards::Us,
        &[
            "written-procedure",
            "named-device",
            "locked",
            "notice",
            "controls",
            "controls-then-test",
            "pairs",
            "all-clear",
        ],
    );
    in_order(Standards::Us, &["sources", "named-device", "seen-open", "stored-energy", "locked", "pairs"]);
    assert_eq!(
        words("stage_order_us_consensus")[..4],
        ["find_all_sources", "open_disconnects", "see_blades_open", "release_stored_electrical"]
    );
    assert_eq!(words("reenergise_order_us").len(), 4);
    in_order(Standards::Us, &["tools-away", "people-warned", "own-lock-off", "all-clear"]);
    assert_eq!(
        words("stage_order_au")[1..7],
        ["identify", "isolate", "secure_and_tag", "prove_deenergised", "bond_temporarily", "mark_safe_area"]
    );
    in_order(
        Standards::Au,
        &["identify", "named-device", "locked", "notice", "pairs", "earth-and-short", "live-parts-nearby"],
    );
}

#[test]
fn the_supply_is_restored_under_the_us_scheme_only_unless_a_centre_adds_it() {
    for standards in Standards::ALL {
        for id in ["tools-away", "people-warned", "own-lock-off", "all-clear"] {
            assert!(maybe(standards, id).is_some());
            assert_eq!(ready(standards, id), standards == Standards::Us);
        }
    }
}
