//! Rules before testing: authority and securing. Each case changes a flawless session in one way and says which criteria
//! then fail: the one that was broken, and no other.

use crate::support::script::{Script, finding_of, outcome_of, stairwell, stairwell_with, with_outcome};
use baywitness::marking::Outcome;
use serde_json::{Value, json};

fn not_met(script: &Script) -> Vec<String> {
    let marking = script.mark(&stairwell());
    with_outcome(&marking, Outcome::NotMet).into_iter().map(str::to_owned).collect()
}

fn kind(kind: &str) -> Value {
    json!({ "kind": kind })
}

#[test]
fn one_fault_fails_the_rule_it_breaks_and_no_other() {
    let flawless = Script::flawless;
    let cases: Vec<(&str, Script, &[&str])> = vec![
        ("circuit not named", flawless().without(&kind("identified")), &["identify"]),
        (
            "wrong circuit named",
            flawless().change(&kind("identified"), 0, &json!({"circuit": "yard", "device": "Q1"})),
            &["identify"],
        ),
        (
            "right circuit, wrong device",
            flawless().change(&kind("identified"), 0, &json!({"device": "Q3"})),
            &["identify"],
        ),
        ("leave asked, not given", flawless().without(&kind("permission_given")), &["permission"]),
        ("leave given, not asked", flawless().without(&kind("permission_asked")), &["permission"]),
        (
            "leave for another circuit",
            flawless().change(&kind("permission_given"), 0, &json!({"circuit": "bench"})),
            &["permission"],
        ),
        (
            "main switch knocked",
            flawless().then(41_000, json!({"kind": "switched", "device": "Q0", "to": "off"})),
            &["only-that-device"],
        ),
        ("lock-off does not fit", flawless().change(&kind("fitted"), 0, &json!({"item": "lo-b"})), &["lock-off-fits"]),
        (
            "padlock does not hold",
            flawless().change(&kind("locked"), 0, &json!({"holds": false})),
            &["locked", "secured-first"],
        ),
        (
            "key handed over",
            flawless().then(200_000, json!({"kind": "key", "item": "key-a", "place": "handed_over"})),
            &["key"],
        ),
        ("key never placed", flawless().without(&kind("key")), &["key"]),
        ("only the wrong key kept", flawless().change(&kind("key"), 0, &json!({"item": "key-b"})), &["key"]),
        ("no notice", flawless().without(&kind("posted")), &["notice"]),
        ("notice not filled in", flawless().change(&kind("posted"), 0, &json!({"filled": false})), &["notice"]),
        ("notice on another device", flawless().change(&kind("posted"), 0, &json!({"device": "Q1"})), &["notice"]),
        (
            "lock taken off before declaring",
            flawless().then(270_000, json!({"kind": "removed", "item": "pl-a", "device": "Q2"})),
            &["stays-secured"],
        ),
        (
            "switched on again before declaring",
            flawless().then(270_000, json!({"kind": "switched", "device": "Q2", "to": "on"})),
            &["stays-secured"],
        ),
    ];
    for (name, script, expected) in cases {
        assert_eq!(not_met(&script), expected, "{name}");
    }
}

#[test]
fn naming_the_wrong_circuit_first_and_correcting_it_before_switching_is_met() {
    let corrected = Script::flawless().then(3_000, json!({"kind": "identified", "circuit": "yard", "device": "Q1"}));
    assert!(not_met(&corrected).is_empty());
}

#[test]
fn leave_that_comes_after_switching_is_too_late() {
    let late = Script::flawless()
        .without(&kind("permission_given"))
        .then(50_000, json!({"kind": "permission_given", "circuit": "stairs"}));
    assert_eq!(not_met(&late), ["permission"]);
}

#[test]
fn the_key_may_come_to_hand_before_the_padlock_closes() {
    let early = Script::flawless().without(&kind("key"));
    let closed = early.time_of(&kind("locked"), 0);
    let kept = early.clone().then(closed - 1_000, json!({"kind": "key", "item": "key-a", "place": "kept"}));
    assert!(not_met(&kept).is_empty());
    // Where it lay before the padlock closed counts only as the last place known at that moment.
    let left = early.then(closed - 1_000, json!({"kind": "key", "item": "key-a", "place": "on_table"}));
    assert_eq!(not_met(&left), ["key"]);
}

#[test]
fn lapses_of_the_key_are_listed_with_their_span() {
    let lapse = Script::flawless()
        .then(100_000, json!({"kind": "key", "item": "key-a", "place": "on_board"}))
        .then(130_000, json!({"kind": "key", "item": "key-a", "place": "kept"}));
    let marking = lapse.mark(&stairwell());
    let finding = finding_of(&marking, "key");
    assert_eq!(finding.says, "The key was left on the board from 01:40 to 02:10.");
    assert_eq!((finding.outcome, finding.at_ms), (Outcome::NotMet, Some(100_000)));
}

#[test]
fn after_the_declaration_locks_may_come_off_and_the_key_leave_the_hand() {
    let cleared = Script::flawless()
        .then(272_500, json!({"kind": "removed", "item": "pl-a", "device": "Q2"}))
        .then(272_600, json!({"kind": "key", "item": "key-a", "place": "on_table"}));
    assert!(not_met(&cleared).is_empty());
}

#[test]
fn testing_before_it_is_secured_fails_that_rule_alone() {
    let early = Script::flawless()
        .without(&kind("locked"))
        .then(115_000, json!({"kind": "locked", "item": "pl-a", "device": "Q2", "holds": true}));
    assert_eq!(not_met(&early), ["secured-first"]);
    assert!(finding_of(&early.mark(&stairwell()), "secured-first").says.contains("a padlock that holds"));
}

#[test]
fn securing_undone_before_the_first_test_is_seen_as_such() {
    let undone = Script::flawless().then(105_000, json!({"kind": "removed", "item": "lo-a", "device": "Q2"}));
    assert_eq!(not_met(&undone), ["secured-first", "stays-secured"]);
}

#[test]
fn a_device_never_switched_off_fails_what_rests_on_it() {
    let on = Script::flawless().without(&kind("switched"));
    assert_eq!(not_met(&on), ["only-that-device", "secured-first", "stays-secured"]);
}

/// Source: 29 CFR 1910.333(b)(2)(iv)(A), operate the controls after lock-out; (b)(2)(ii), all sources disconnected
/// (`tests/reference/trade/facts.toml`, verification_parts_us).
#[test]
fn controls_are_tried_after_securing() {
    let task = stairwell_with("decided = { rule = \"notice_posted\" }", "decided = { rule = \"controls_tried\" }");
    let tried =
        |at, result| Script::flawless().then(at, json!({"kind": "control_tried", "device": "Q2", "result": result}));
    let outcome = |script: Script| outcome_of(&script.mark(&task), "notice");
    assert_eq!(outcome(tried(70_000, "nothing")), Outcome::Met);
    assert_eq!(outcome(tried(70_000, "started")), Outcome::NotMet);
    assert_eq!(outcome(tried(30_000, "nothing")), Outcome::NotMet, "before securing it shows nothing");
    let other = Script::flawless().then(70_000, json!({"kind": "control_tried", "device": "Q1", "result": "nothing"}));
    assert_eq!(outcome(other), Outcome::NotMet, "another circuit's device shows nothing");
    let switch = Script::flawless().then(70_000, json!({"kind": "control_tried", "switch": "S2", "result": "nothing"}));
    assert_eq!(outcome(switch), Outcome::Met);
}

#[test]
fn sources_are_not_applicable_where_the_task_lists_none_and_all_must_be_named_where_it_does() {
    let rule = ("decided = { rule = \"notice_posted\" }", "decided = { rule = \"sources_listed\" }");
    let bare = stairwell_with(rule.0, rule.1);
    assert_eq!(outcome_of(&Script::flawless().mark(&bare), "notice"), Outcome::NotApplicable);
    let text = crate::support::script::STAIRWELL.replacen(rule.0, rule.1, 1).replacen(
        "[isolate]",
        "[[sources]]\nid = \"mains\"\nkind = \"mains\"\nlabel = \"Mains\"\n\n[[sources]]\nid = \"inv\"\nkind = \"inverter\"\nlabel = \"Standby inverter\"\n\n[isolate]",
        1,
    );
    let task = baywitness::marking::Task::read_toml(&text).unwrap_or_else(|faults| panic!("{faults}"));
    let one = Script::flawless().then(5_000, json!({"kind": "source_listed", "source": "mains"}));
    assert!(finding_of(&one.mark(&task), "notice").says.contains("Standby inverter"));
    assert_eq!(outcome_of(&one.mark(&task), "notice"), Outcome::NotMet);
    let both = one.clone().then(6_000, json!({"kind": "source_listed", "source": "inv"}));
    assert_eq!(outcome_of(&both.mark(&task), "notice"), Outcome::Met);
    let late = one.then(60_000, json!({"kind": "source_listed", "source": "inv"}));
    assert_eq!(outcome_of(&late.mark(&task), "notice"), Outcome::NotMet);
}

#[test]
fn the_load_comes_off_before_the_device() {
    let task = stairwell_with("decided = { rule = \"notice_posted\" }", "decided = { rule = \"load_removed_first\" }");
    let off = |at| Script::flawless().then(at, json!({"kind": "load_off", "circuit": "stairs"}));
    assert_eq!(outcome_of(&off(35_000).mark(&task), "notice"), Outcome::Met);
    assert_eq!(outcome_of(&off(45_000).mark(&task), "notice"), Outcome::NotMet);
    assert_eq!(outcome_of(&Script::flawless().mark(&task), "notice"), Outcome::NotMet);
}
