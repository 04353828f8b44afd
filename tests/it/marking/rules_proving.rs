//! Rules of test equipment, proving dead and finishing.

use crate::support::script::{STAIRWELL, Script, finding_of, outcome_of, stairwell, stairwell_with, with_outcome};
use baywitness::marking::{Outcome, Task};
use serde_json::{Value, json};

fn not_met(script: &Script) -> Vec<String> {
    let marking = script.mark(&stairwell());
    with_outcome(&marking, Outcome::NotMet).into_iter().map(str::to_owned).collect()
}

fn kind(kind: &str) -> Value {
    json!({ "kind": kind })
}

fn test(first: &str, second: &str, reading: &str) -> Value {
    json!({"kind": "tested", "point": "lamp", "first": first, "second": second, "reading": reading})
}

#[test]
fn one_fault_fails_the_rule_it_breaks_and_no_other() {
    let flawless = Script::flawless;
    let tips = json!({"kind": "inspected", "item": "vi-a", "part": "tips"});
    let e_sl = json!({"kind": "tested", "first": "E", "second": "SL"});
    let cases: Vec<(&str, Script, &[&str])> = vec![
        ("tips not looked over", flawless().without(&tips), &["looked-over"]),
        ("tips looked over too late", flawless().without(&tips).then(113_000, tips.clone()), &["looked-over"]),
        ("not proved before", flawless().drop_nth(&kind("proved"), 0), &["proved-before"]),
        ("not proved after", flawless().drop_nth(&kind("proved"), 1), &["proved-after"]),
        (
            "self-test only, before",
            flawless().change(&kind("proved"), 0, &json!({"on": "self_test"})),
            &["proved-before"],
        ),
        (
            "tips together only, after",
            flawless().change(&kind("proved"), 1, &json!({"on": "tips_together"})),
            &["proved-after"],
        ),
        (
            "shows only some, before",
            flawless().change(&kind("proved"), 0, &json!({"shows": "some"})),
            &["proved-before"],
        ),
        (
            "shows nothing, after",
            flawless().change(&kind("proved"), 1, &json!({"shows": "nothing"})),
            &["proved-after"],
        ),
        ("a pair missing in one round", flawless().drop_nth(&e_sl, 2), &["rounds"]),
        ("a pair never tested", flawless().without(&e_sl), &["pairs", "rounds"]),
        ("wrong order on", flawless().change(&e_sl, 1, &json!({"first": "SL", "second": "E"})), &["order"]),
        ("wrong order off", flawless().change(&e_sl, 3, &json!({"order_off": "first_first"})), &["order"]),
        (
            "neutral before earth",
            flawless().change(&json!({"first": "E", "second": "N"}), 0, &json!({"first": "N", "second": "E"})),
            &["order"],
        ),
        ("point left open", flawless().drop_nth(&kind("closed"), 1), &["closed-between"]),
        ("touched early", flawless().then(112_000, json!({"kind": "touched", "point": "lamp"})), &["no-touch"]),
        (
            "touched another circuit",
            flawless().then(270_000, json!({"kind": "touched", "point": "flood"})),
            &["no-touch"],
        ),
        ("not declared", flawless().without(&kind("declared")), &["declares"]),
        (
            "another circuit declared",
            flawless().change(&kind("declared"), 0, &json!({"circuit": "yard"})),
            &["declares"],
        ),
        ("stopped", flawless().then(100_000, json!({"kind": "stepped_in", "reason": "at_height"})), &["no-help"]),
    ];
    for (name, script, expected) in cases {
        assert_eq!(not_met(&script), expected, "{name}");
    }
}

#[test]
fn with_no_test_made_equipment_proving_and_testing_rules_are_not_met() {
    let untested = Script::flawless().without(&kind("tested"));
    let failed =
        ["indicator", "looked-over", "proved-before", "proved-after", "pairs", "rounds", "order", "closed-between"];
    assert_eq!(not_met(&untested), failed);
}

/// Source: HSE GS38 4th edition (2015) paragraph 9 (`tests/reference/trade/facts.toml`: max_exposed_tip_mm 4,
/// preferred_exposed_tip_mm 2, the latter advice whose breach is no fail).
#[test]
fn tips_up_to_the_limit_of_gs38_pass_and_over_it_fail() {
    let facts: toml::Table = include_str!("../../reference/trade/facts.toml").parse().expect("TOML");
    let value = |id: &str| {
        let checks = facts["check"].as_array().expect("checks");
        let check = checks.iter().find(|check| check["id"].as_str() == Some(id)).unwrap_or_else(|| panic!("no {id}"));
        check["value"].as_integer().expect("whole millimetres") as f64
    };
    let (limit, advised) = (value("max_exposed_tip_mm"), value("preferred_exposed_tip_mm"));
    for (tip, outcome) in
        [(advised, Outcome::Met), (advised + 0.1, Outcome::Met), (limit, Outcome::Met), (limit + 0.1, Outcome::NotMet)]
    {
        let task = stairwell_with("exposed_tip_mm = 2.0", &format!("exposed_tip_mm = {tip:.1}"));
        assert_eq!(outcome_of(&Script::flawless().mark(&task), "indicator"), outcome, "{tip} mm");
    }
}

#[test]
fn every_attribute_of_an_indicator_counts() {
    let vi_a = |from: &str, to: &str| {
        let at = STAIRWELL.find("id = \"vi-a\"").expect("the first indicator");
        let (head, tail) = STAIRWELL.split_at(at);
        Task::read_toml(&format!("{head}{}", tail.replacen(from, to, 1))).unwrap_or_else(|faults| panic!("{faults}"))
    };
    for (from, to, says) in [
        ("finger_guards = true", "finger_guards = false", "no finger guards"),
        ("leads = \"sound\"", "leads = \"damaged\"", "damaged leads"),
        ("protection = \"fused\"", "protection = \"none\"", "neither fused nor current-limited"),
        ("in_date = true", "in_date = false", "out of date"),
        ("rated_volts = 690", "rated_volts = 120", "rated for 120 V where 230 V"),
    ] {
        let marking = Script::flawless().mark(&vi_a(from, to));
        let finding = finding_of(&marking, "indicator");
        assert_eq!(finding.outcome, Outcome::NotMet, "{to}");
        assert!(finding.says.contains(says), "{}", finding.says);
    }
    let limited = vi_a("protection = \"fused\"", "protection = \"current_limited\"");
    assert_eq!(outcome_of(&Script::flawless().mark(&limited), "indicator"), Outcome::Met);
}

/// Source: kinds refused for proving dead in GB practice (`tests/reference/trade/facts.toml`,
/// instrument_kinds_refused_for_proving_dead): non-contact and multimeter among them.
#[test]
fn a_multimeter_or_a_non_contact_indicator_is_not_accepted() {
    for item in ["mm-a", "nc-a"] {
        let mut script = Script::flawless();
        for (_, act) in script.0.iter_mut().filter(|(_, act)| act["item"] == "vi-a") {
            act["item"] = json!(item);
        }
        assert_eq!(outcome_of(&script.mark(&stairwell()), "indicator"), Outcome::NotMet, "{item}");
    }
    let task = stairwell_with(
        "rule = \"indicator_suitable\"",
        "rule = \"indicator_suitable\", accepts = [\"multimeter\"], max_tip_mm = 12",
    );
    let mut script = Script::flawless();
    for (_, act) in script.0.iter_mut().filter(|(_, act)| act["item"] == "vi-a") {
        act["item"] = json!("mm-a");
    }
    assert_eq!(outcome_of(&script.mark(&task), "indicator"), Outcome::Met, "where the centre accepts it");
}

#[test]
fn a_second_indicator_must_be_looked_over_and_proved_for_itself() {
    let mut swapped = Script::flawless();
    let second = swapped.place(&kind("tested"), 6);
    for (_, act) in swapped.0[second..].iter_mut().filter(|(_, act)| act["kind"] == "tested") {
        act["item"] = json!("vi-c");
    }
    assert_eq!(not_met(&swapped), ["indicator", "looked-over", "proved-before", "proved-after"]);
}

#[test]
fn a_test_with_no_instrument_known_is_not_recorded() {
    let bare = Script::flawless().without(&json!({"kind": "picked", "item": "vi-a"}));
    assert_eq!(not_met(&bare), ["indicator", "looked-over", "proved-before", "proved-after"]);
}

#[test]
fn the_last_trial_before_and_after_counts() {
    let died = Script::flawless()
        .then(105_000, json!({"kind": "proved", "item": "vi-a", "on": "known_live", "shows": "nothing"}));
    assert_eq!(not_met(&died), ["proved-before"]);
    let once_more = died.then(107_000, json!({"kind": "proved", "item": "vi-a", "on": "known_live", "shows": "all"}));
    assert!(not_met(&once_more).is_empty());
}

#[test]
fn rounds_each_switch_wants_every_switch_once_in_any_order_and_repeats_do_no_harm() {
    // Thrown twice in a row, the first throw has no round of its own; the second has.
    let first = Script::flawless().time_of(&kind("operated"), 0);
    let twice = Script::flawless().then(first - 500, json!({"kind": "operated", "switch": "S3"}));
    assert!(not_met(&twice).is_empty());
    let other_circuit = Script::flawless().change(&kind("operated"), 2, &json!({"switch": "S1"}));
    assert_eq!(not_met(&other_circuit), ["rounds"], "S3 never thrown");
}

#[test]
fn rounds_minimum_and_every_setting() {
    let asks = |rounds: &str| {
        stairwell_with("rule = \"all_rounds_tested\"", &format!("rule = \"all_rounds_tested\", rounds = \"{rounds}\""))
    };
    let outcome = |script: &Script, rounds: &str| outcome_of(&script.mark(&asks(rounds)), "rounds");
    let one_throw = Script::flawless().drop_nth(&kind("operated"), 1).drop_nth(&kind("operated"), 1);
    assert_eq!(outcome(&one_throw, "minimum"), Outcome::Met);
    assert_eq!(outcome(&one_throw, "each_switch"), Outcome::NotMet);
    assert_eq!(outcome(&Script::flawless().without(&kind("operated")), "minimum"), Outcome::NotMet);
    assert_eq!(outcome(&Script::flawless(), "every_setting"), Outcome::NotMet, "4 of 8 settings");
    // Eight settings by throwing one switch at a time, as a Gray code does.
    let mut gray = Script::flawless().until(&kind("operated"));
    let mut at = 200_000;
    for switch in ["S1", "S2", "S1", "S3", "S1", "S2", "S1"] {
        gray = gray.then(at, json!({"kind": "operated", "switch": switch}));
        for (first, second) in [("E", "N"), ("E", "SL"), ("N", "SL")] {
            at += 1_000;
            gray = gray.then(at, test(first, second, "none"));
        }
        at += 1_000;
    }
    let gray = gray.then(at, json!({"kind": "ended"}));
    assert_eq!(outcome(&gray, "every_setting"), Outcome::Met);
    assert_eq!(outcome(&gray, "each_switch"), Outcome::Met);
}

#[test]
fn rounds_and_closing_are_not_applicable_without_switches_nor_lamp_out_without_a_lamp() {
    let text = STAIRWELL
        .replacen(
            "circuit = \"stairs\"\ndevice = \"Q2\"\npoint = \"lamp\"",
            "circuit = \"bench\"\ndevice = \"Q3\"\npoint = \"socket\"",
            1,
        )
        .replacen(
            "decided = { rule = \"less_dangerous_first\" }",
            "decided = { rule = \"lamp_out_before_testing\" }",
            1,
        );
    let task = Task::read_toml(&text).unwrap_or_else(|faults| panic!("{faults}"));
    let marking = Script::started().then(1_000, kind("ended")).mark(&task);
    assert_eq!(with_outcome(&marking, Outcome::NotApplicable), ["rounds", "order", "closed-between"]);
}

#[test]
fn the_lamp_is_out_before_the_first_test() {
    let task =
        stairwell_with("decided = { rule = \"notice_posted\" }", "decided = { rule = \"lamp_out_before_testing\" }");
    let outcome = |script: Script| outcome_of(&script.mark(&task), "notice");
    assert_eq!(outcome(Script::flawless()), Outcome::Met);
    assert_eq!(outcome(Script::flawless().without(&kind("lamp_out"))), Outcome::NotMet);
    assert_eq!(outcome(Script::flawless().then(108_000, json!({"kind": "lamp_in", "point": "lamp"}))), Outcome::NotMet);
    let late =
        Script::flawless().without(&kind("lamp_out")).then(113_000, json!({"kind": "lamp_out", "point": "lamp"}));
    assert_eq!(outcome(late), Outcome::NotMet);
}

/// Source: a reading that trips the residual-current device was live: 230 V over 7 kΩ is 33 mA
/// (`tests/reference/trade/facts.toml`, lowz_test_rcd_trip_current_mA, computed).
#[test]
fn a_live_or_tripped_reading_forbids_the_declaration_until_isolated_and_tested_afresh() {
    for reading in ["live", "tripped"] {
        let live =
            Script::flawless().change(&json!({"kind": "tested", "second": "SL"}), 5, &json!({"reading": reading}));
        assert_eq!(not_met(&live), ["live-means-live"], "{reading}");
    }
    let live = || Script::flawless().change(&json!({"kind": "tested", "second": "SL"}), 0, &json!({"reading": "live"}));
    assert_eq!(not_met(&live()), ["live-means-live"], "later tests alone are not enough");
    assert!(not_met(&live().without(&kind("declared"))).contains(&"declares".to_owned()));
    assert!(!not_met(&live().without(&kind("declared"))).contains(&"live-means-live".to_owned()));
    let again = live().then(125_000, json!({"kind": "switched", "device": "Q2", "to": "off"}));
    assert!(not_met(&again).is_empty(), "switched off afresh and every pair tested again");
}

#[test]
fn a_touch_is_safe_only_after_every_pair_and_the_second_proof() {
    let touch = |at| Script::flawless().then(at, json!({"kind": "touched", "point": "lamp"}));
    assert_eq!(not_met(&touch(262_000)), ["no-touch"], "all tested, not proved again");
    assert!(not_met(&touch(270_000)).is_empty());
    let on_again = touch(271_000).then(270_000, json!({"kind": "switched", "device": "Q2", "to": "on"}));
    assert_eq!(not_met(&on_again), ["stays-secured", "no-touch"]);
}

#[test]
fn the_declaration_comes_last() {
    let more = Script::flawless().then(272_500, test("E", "N", "none"));
    assert_eq!(not_met(&more), ["proved-after", "declares"]);
    let again = more
        .then(272_600, json!({"kind": "proved", "item": "vi-a", "on": "known_live", "shows": "all"}))
        .then(272_700, json!({"kind": "declared", "circuit": "stairs"}));
    assert!(not_met(&again).is_empty(), "a later declaration puts it right");
}

#[test]
fn help_is_a_finding_where_the_centre_asks() {
    let task = stairwell_with("rule = \"never_stepped_in\"", "rule = \"never_prompted\"");
    let helped = Script::flawless().then(80_500, json!({"kind": "prompted", "text": "Which proving unit?"}));
    assert_eq!(outcome_of(&helped.mark(&task), "no-help"), Outcome::NotMet);
    assert_eq!(outcome_of(&Script::flawless().mark(&task), "no-help"), Outcome::Met);
}

#[test]
fn a_centre_adds_rules_of_its_own_by_patterns() {
    let asks =
        |rule: &str| stairwell_with("decided = { rule = \"notice_posted\" }", &format!("decided = {{ {rule} }}"));
    let outcome = |rule: &str| outcome_of(&Script::flawless().mark(&asks(rule)), "notice");
    assert_eq!(
        outcome("rule = \"happened\", act = { kind = \"inspected\", item = \"pl-a\", part = \"fit\" }"),
        Outcome::Met
    );
    assert_eq!(outcome("rule = \"happened\", act = { kind = \"inspected\", part = \"rating\" }"), Outcome::NotMet);
    assert_eq!(outcome("rule = \"never\", act = { kind = \"switched\", device = \"Q0\" }"), Outcome::Met);
    assert_eq!(outcome("rule = \"never\", act = { kind = \"switched\", to = \"off\" }"), Outcome::NotMet);
    assert_eq!(outcome("rule = \"before\", first = { kind = \"posted\" }, then = { kind = \"locked\" }"), Outcome::Met);
    assert_eq!(
        outcome("rule = \"before\", first = { kind = \"locked\" }, then = { kind = \"posted\" }"),
        Outcome::NotMet
    );
    assert_eq!(
        outcome("rule = \"happened\", act = { kind = \"tested\", order_off = \"second_first\" }"),
        Outcome::Met,
        "a default matches"
    );
    assert_eq!(
        outcome("rule = \"happened\", act = { kind = \"ended\", reason = \"finished\" }"),
        Outcome::Met,
        "a default matches"
    );
}
