//! The starter criteria at work: the worked examples marked under the ready-made checklists.
//!
//! Source: the task and logs of `tests/reference/examples`.

use crate::support::script::{STAIRWELL, Script, outcome_of, stairwell, with_outcome};
use baywitness::bay::Standards;
use baywitness::marking::{CriterionId, Decided, Fails, Marking, Outcome, Task, VerdictOutcome, library, write};
use serde_json::json;
use std::path::Path;

/// The stairwell with the ready-made checklist of a scheme in place of its own, through the text of its file.
fn stairwell_under(standards: Standards) -> Task {
    let bay = &STAIRWELL[..STAIRWELL.find("[[checklist.stages]]").expect("a checklist")];
    Task::read_toml(&format!("{bay}{}", write::checklist(&library::checklist(standards))))
        .unwrap_or_else(|faults| panic!("{faults}"))
}

#[test]
fn every_ready_made_checklist_fits_a_task() {
    for standards in Standards::ALL {
        assert_eq!(stairwell_under(standards).checklist, library::checklist(standards));
    }
}

/// A session with everything judged by eye ticked as met before it ends.
fn judged(script: Script, task: &Task) -> Script {
    let by_eye = task.checklist.criteria().filter(|one| one.decided == Decided::ByEye);
    let mut script = script;
    script.0.retain(|(_, act)| act["kind"] != "ticked");
    let end = script.time_of(&json!({"kind": "ended"}), 0);
    for one in by_eye {
        script = script.then(end, json!({"kind": "ticked", "criterion": one.id.as_str(), "outcome": "met"}));
    }
    script
}

fn example(name: &str) -> Script {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/examples").join(name);
    Script::of(&std::fs::read_to_string(path).expect("a log"))
}

fn marked(name: &str, task: &Task) -> Marking {
    judged(example(name), task).mark(task)
}

#[test]
fn a_flawless_log_passes_under_the_gb_criteria() {
    let task = stairwell_under(Standards::Gb);
    let marking = marked("stairwell-flawless.ndjson", &task);
    assert_eq!(with_outcome(&marking, Outcome::NotMet), [""; 0]);
    assert_eq!((marking.verdict.outcome, marking.verdict.percent), (VerdictOutcome::Pass, 100.0));
    // The stairwell has one supply, so that there is no other to name.
    assert_eq!(with_outcome(&marking, Outcome::NotApplicable), ["sources"]);
}

#[test]
fn each_log_with_one_fault_fails_what_it_should_and_nothing_else() {
    let task = stairwell_under(Standards::Gb);
    let faults = [
        ("no-permission", "permission"),
        ("knocked-another", "named-device"),
        ("key-left-in-lock", "key-kept"),
        ("long-tips", "indicator"),
        ("not-proved-after", "proved-after"),
        ("dangerous-first", "earth-first"),
        ("last-switch-not-thrown", "rounds"),
        ("stepped-in", "not-stopped"),
    ];
    for (log, criterion) in faults {
        let marking = marked(&format!("stairwell-{log}.ndjson"), &task);
        assert_eq!(with_outcome(&marking, Outcome::NotMet), [criterion], "{log}");
        let outcome =
            match task.checklist.criterion(&CriterionId::new(criterion).expect("a name")).expect(criterion).fails {
                Fails::Automatic => VerdictOutcome::AutomaticFail,
                Fails::Must => VerdictOutcome::Fail,
                Fails::Ordinary => VerdictOutcome::Pass,
            };
        assert_eq!(marking.verdict.outcome, outcome, "{log}");
    }
    assert_eq!(marked("stairwell-knock-struck-out.ndjson", &task).verdict.outcome, VerdictOutcome::Pass);
}

#[test]
fn a_flawless_gb_log_lacks_what_other_schemes_ask_for_besides() {
    let missing = |standards| {
        let marking = marked("stairwell-flawless.ndjson", &stairwell_under(standards));
        with_outcome(&marking, Outcome::NotMet).into_iter().map(str::to_owned).collect::<Vec<_>>()
    };
    assert_eq!(missing(Standards::Eu), [""; 0]);
    assert_eq!(missing(Standards::Ie), ["load-off"]);
    assert_eq!(missing(Standards::Us), ["load-off", "controls", "controls-then-test"]);
    assert_eq!(missing(Standards::Au), ["controls"]);
}

/// The bench multimeter with its tips cut to 2 mm, by the two readings of facts A21 and A25.
#[test]
fn a_rated_multimeter_serves_where_the_scheme_accepts_it() {
    let cut = |task: &Task| {
        let text = STAIRWELL[..STAIRWELL.find("[[checklist.stages]]").expect("a checklist")]
            .replace("exposed_tip_mm = 12.0", "exposed_tip_mm = 2.0");
        Task::read_toml(&format!("{text}{}", write::checklist(&task.checklist))).expect("a task")
    };
    for (standards, outcome) in [
        (Standards::Gb, Outcome::NotMet),
        (Standards::Ie, Outcome::NotMet),
        (Standards::Eu, Outcome::NotMet),
        (Standards::Us, Outcome::Met),
        (Standards::Au, Outcome::Met),
    ] {
        let task = cut(&stairwell_under(standards));
        let script = Script(
            Script::flawless()
                .0
                .into_iter()
                .map(|(at, act)| {
                    let text = act.to_string().replace("\"vi-a\"", "\"mm-a\"");
                    (at, serde_json::from_str(&text).expect("JSON"))
                })
                .collect(),
        );
        assert_eq!(outcome_of(&judged(script, &task).mark(&task), "indicator"), outcome, "{}", standards.word());
    }
}

/// The rules that the project's own example uses are all in the GB checklist, so that it asks for no less.
#[test]
fn the_gb_criteria_ask_for_no_less_than_the_worked_example() {
    let words = |decided: &Decided| match decided {
        Decided::Rule(rule) => Some(rule.word()),
        Decided::ByEye => None,
    };
    let ours: Vec<&str> = library::checklist(Standards::Gb).criteria().filter_map(|one| words(&one.decided)).collect();
    for one in stairwell().checklist.criteria().filter_map(|one| words(&one.decided)) {
        assert!(ours.contains(&one), "{one}");
    }
}
