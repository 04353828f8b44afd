use super::{STAIRWELL, lines};
use crate::bay::ItemKind;
use crate::marking::observation::{Part, ProvedOn};
use crate::marking::{Decided, Rounds, Rule, Task};
use serde_json::json;

const FIRST: &str = r#"decided = { rule = "circuit_identified" }"#;

/// The example with another rule in its first criterion.
fn with(decided: &str) -> Result<Task, crate::reading::Faults> {
    Task::read_toml(&STAIRWELL.replacen(FIRST, &format!("decided = {decided}"), 1))
}

fn rule(decided: &str) -> Rule {
    let task = with(decided).unwrap();
    match task.checklist.criteria().next().unwrap().decided.clone() {
        Decided::Rule(rule) => rule,
        Decided::ByEye => panic!("a rule was asked for"),
    }
}

/// What is wrong with this rule, without the line and path of the criterion.
fn faults(decided: &str) -> Vec<String> {
    let lines = lines(with(decided));
    let prefix = "line 176, checklist.stages[0].criteria[0].decided";
    lines.iter().map(|line| line.strip_prefix(prefix).unwrap_or(line).to_owned()).collect()
}

/// The parameters that each rule needs.
fn parameters(name: &str) -> &'static str {
    match name {
        "indicator_inspected" => r#", parts = ["tips"]"#,
        "happened" | "never" => r#", act = { kind = "touched" }"#,
        "before" => r#", first = { kind = "opened" }, then = { kind = "touched" }"#,
        _ => "",
    }
}

#[test]
fn every_rule_of_the_contract_is_read_under_its_own_name() {
    for name in Rule::WORDS {
        let read = rule(&format!("{{ rule = \"{name}\"{} }}", parameters(name)));
        assert_eq!(read.word(), name);
        assert_eq!(serde_json::to_value(read).unwrap()["rule"], json!(name));
    }
}

#[test]
fn parameters_have_the_defaults_of_the_contract() {
    let volt = vec![ItemKind::VoltageIndicator];
    assert_eq!(rule(r#"{ rule = "indicator_suitable" }"#), Rule::IndicatorSuitable { accepts: volt, max_tip_mm: 4.0 });
    assert_eq!(rule(r#"{ rule = "notice_posted" }"#), Rule::NoticePosted { filled: true });
    let accepts = vec![ProvedOn::ProvingUnit, ProvedOn::KnownLive];
    assert_eq!(rule(r#"{ rule = "proved_before_testing" }"#), Rule::ProvedBeforeTesting { accepts: accepts.clone() });
    assert_eq!(rule(r#"{ rule = "proved_after_testing" }"#), Rule::ProvedAfterTesting { accepts });
    assert_eq!(rule(r#"{ rule = "all_rounds_tested" }"#), Rule::AllRoundsTested { rounds: Rounds::EachSwitch });
}

#[test]
fn parameters_are_read() {
    let accepts = vec![ItemKind::Multimeter, ItemKind::VoltageIndicator];
    assert_eq!(
        rule(r#"{ rule = "indicator_suitable", accepts = ["multimeter", "voltage_indicator"], max_tip_mm = 2 }"#),
        Rule::IndicatorSuitable { accepts, max_tip_mm: 2.0 }
    );
    assert_eq!(
        rule(r#"{ rule = "indicator_inspected", parts = ["date", "guards"] }"#),
        Rule::IndicatorInspected { parts: vec![Part::Date, Part::Guards] }
    );
    assert_eq!(rule(r#"{ rule = "notice_posted", filled = false }"#), Rule::NoticePosted { filled: false });
    assert_eq!(
        rule(r#"{ rule = "all_rounds_tested", rounds = "every_setting" }"#),
        Rule::AllRoundsTested { rounds: Rounds::EverySetting }
    );
}

#[test]
fn patterns_name_acts_and_what_stands_in_the_bay() {
    let Rule::Before { first, then } = rule(
        r#"{ rule = "before", first = { kind = "posted", item = "no-a", filled = true }, then = { kind = "opened" } }"#,
    ) else {
        panic!("a rule `before` was asked for")
    };
    assert_eq!(serde_json::to_value(first).unwrap(), json!({"kind": "posted", "item": "no-a", "filled": true}));
    assert_eq!((then.kind.as_str(), then.fields.len()), ("opened", 0));
    rule(r#"{ rule = "never", act = { kind = "control_tried", switch = "S2" } }"#);
    rule(r#"{ rule = "never", act = { kind = "control_tried" } }"#);
    rule(r#"{ rule = "happened", act = { kind = "remark", criterion = "identify" } }"#);
}

#[test]
fn a_rule_that_makes_no_sense_is_one_fault() {
    let cases: &[(&str, &str)] = &[
        (
            r#""key_kept""#,
            ": `key_kept` is not known here, expected `by_eye` or a rule such as { rule = \"key_kept\" }",
        ),
        ("true", ": expected a table, found true or false"),
        ("{ }", ".rule: `rule` is missing"),
        (r#"{ rule = "key_kept", keys = 2 }"#, ".keys: `keys` is not known here, expected `rule`"),
        (r#"{ rule = "indicator_inspected" }"#, ".parts: `parts` is missing"),
        (r#"{ rule = "indicator_inspected", parts = [] }"#, ".parts: expected at least one in this list, found none"),
        (
            r#"{ rule = "indicator_inspected", parts = ["tip"] }"#,
            ".parts[0]: `tip` is not known here, expected one of tips, guards, leads, body, date, rating or fit; did you mean `tips`?",
        ),
        (r#"{ rule = "indicator_inspected", parts = ["tips", "tips"] }"#, ".parts[1]: `tips` stands here twice"),
        (
            r#"{ rule = "indicator_suitable", accepts = ["padlock"] }"#,
            ".accepts[0]: no instrument, expected one of voltage_indicator, multimeter or non_contact_indicator",
        ),
        (
            r#"{ rule = "indicator_suitable", max_tip_mm = inf }"#,
            ".max_tip_mm: expected a number from 0 to 100, found a number that is not finite",
        ),
        (
            r#"{ rule = "proved_after_testing", accepts = ["wall"] }"#,
            ".accepts[0]: `wall` is not known here, expected one of proving_unit, known_live, tips_together, self_test or other",
        ),
        (
            r#"{ rule = "all_rounds_tested", rounds = "all" }"#,
            ".rounds: `all` is not known here, expected one of each_switch, minimum or every_setting",
        ),
        (r#"{ rule = "before", first = { kind = "opened" } }"#, ".then: `then` is missing"),
        (r#"{ rule = "never", act = { } }"#, ".act.kind: `kind` is missing"),
        (
            r#"{ rule = "never", act = { kind = "opened", device = "Q1" } }"#,
            ".act.device: `device` is not known here, expected one of kind or point",
        ),
        (
            r#"{ rule = "never", act = { kind = "switched", device = "Q9" } }"#,
            ".act.device: no device is called `Q9`, expected one of Q0, Q1, Q2 or Q3",
        ),
        (
            r#"{ rule = "never", act = { kind = "switched", to = "half" } }"#,
            ".act.to: `half` is not known here, expected one of off or on",
        ),
        (
            r#"{ rule = "never", act = { kind = "locked", holds = "no" } }"#,
            ".act.holds: expected true or false, found text",
        ),
        (
            r#"{ rule = "never", act = { kind = "remark", text = "x" } }"#,
            ".act.text: a pattern cannot ask for `text`, which differs in every session",
        ),
        (
            r#"{ rule = "never", act = { kind = "ticked", criterion = "identity" } }"#,
            ".act.criterion: no criterion is called `identity`, expected one of ",
        ),
    ];
    for (decided, expected) in cases {
        let faults = faults(decided);
        assert_eq!(faults.len(), 1, "{decided}: {faults:?}");
        let same = if expected.ends_with(' ') { faults[0].starts_with(expected) } else { faults[0] == *expected };
        assert!(same, "{decided}\n{faults:?}\n{expected}");
    }
}

#[test]
fn an_unknown_rule_is_answered_with_the_rules_there_are() {
    let faults = faults(r#"{ rule = "key_keept" }"#);
    assert_eq!(faults.len(), 1);
    assert!(Rule::WORDS.iter().all(|rule| faults[0].contains(rule)), "{faults:?}");
    assert!(faults[0].ends_with("did you mean `key_kept`?"), "{faults:?}");
}
