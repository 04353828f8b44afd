//! Sessions marked anew under another checklist, and what a task cannot feed.

use crate::support::script::{STAIRWELL, Script, stairwell};
use baywitness::marking::decision::Decision;
use baywitness::marking::draft::{At, Edit};
use baywitness::marking::retrial::{Counts, Unjudged, retry, with_checklist};
use baywitness::marking::{
    self, ChecklistFile, Criterion, CriterionId, Fails, Outcome, Task, VerdictOutcome, examples, feed,
};
use serde_json::json;

fn file(task: &Task) -> ChecklistFile {
    let (title, pass_percent) = (task.title.clone(), task.pass_percent);
    ChecklistFile { title, pass_percent, checklist: task.checklist.clone() }
}

fn at(task: &Task, id: &str) -> At {
    let stages = task.checklist.stages.iter().enumerate();
    let mut found = stages.flat_map(|(stage, held)| {
        let places = held.criteria.iter().enumerate();
        places.map(move |(place, criterion)| (At { stage, place }, criterion.id.as_str()))
    });
    found.find(|(_, name)| *name == id).unwrap_or_else(|| panic!("no criterion {id}")).0
}

fn edited(task: &Task, edit: Edit) -> Task {
    let mut changed = file(task);
    edit.make(&mut changed).unwrap();
    with_checklist(task, &changed)
}

/// Knocks another device at once, which fails `only` that criterion.
fn knocked() -> Script {
    Script::flawless().then(40_000, json!({"kind": "switched", "device": "Q1", "to": "off"}))
}

#[test]
fn under_its_own_checklist_every_example_comes_to_the_same_and_nothing_makes_a_difference() {
    for example in examples::ALL {
        let (task, log) = example.read().unwrap();
        let was = marking::mark(&task, &log);
        let again = retry(&task, &with_checklist(&task, &file(&task)), &log, &[], was.verdict.outcome, Unjudged::Open);
        assert_eq!((again.verdict, again.because), (was.verdict, vec![]), "{}", example.name);
    }
}

#[test]
fn leaving_coverage_out_leaves_out_nothing_else() {
    let (task, log) = examples::ALL[1].read().unwrap();
    let (whole, mut without) = (marking::mark(&task, &log), marking::mark_without_coverage(&task, &log));
    assert!(without.coverage.why_not.is_some());
    without.coverage = whole.coverage.clone();
    assert_eq!(whole, without);
}

#[test]
fn the_criterion_that_makes_the_difference_is_named() {
    let task = stairwell();
    let log = knocked().log(&task);
    let was = marking::mark(&task, &log).verdict;
    assert_eq!(was.outcome, VerdictOutcome::AutomaticFail);
    let only = was.reasons[0].clone();
    let softer = edited(&task, Edit::Weigh(at(&task, only.as_str()), 1, Fails::Ordinary));
    let retrial = retry(&task, &softer, &log, &[], was.outcome, Unjudged::Open);
    assert_eq!(retrial.verdict.outcome, VerdictOutcome::Pass);
    let because: Vec<_> = retrial.because.iter().map(|one| (&one.criterion, one.was, one.is)).collect();
    let was = Some((Outcome::NotMet, Fails::Automatic));
    assert_eq!(because, [(&only, was, Some((Outcome::NotMet, Fails::Ordinary)))]);

    let without = edited(&task, Edit::Remove(at(&task, only.as_str())));
    let retrial = retry(&task, &without, &log, &[], VerdictOutcome::AutomaticFail, Unjudged::Open);
    assert_eq!((retrial.because.len(), retrial.because[0].is), (1, None));
}

#[test]
fn a_decision_holds_where_its_criterion_is_still_there_and_nowhere_else() {
    let task = stairwell();
    let log = knocked().log(&task);
    let only = marking::mark(&task, &log).verdict.reasons[0].clone();
    let overruled =
        [Decision { criterion: only.clone(), outcome: Outcome::Met, reason: Some("seen otherwise".into()) }];
    let same = retry(&task, &task, &log, &overruled, VerdictOutcome::Pass, Unjudged::Open);
    assert_eq!((same.verdict.outcome, same.because.len()), (VerdictOutcome::Pass, 0));
    // Under another name the same rule proposes anew.
    let mut renamed = file(&task);
    let place = at(&task, only.as_str());
    renamed.checklist.stages[place.stage].criteria[place.place].id = CriterionId::new("renamed").unwrap();
    let retrial =
        retry(&task, &with_checklist(&task, &renamed), &log, &overruled, VerdictOutcome::Pass, Unjudged::Open);
    assert_eq!(retrial.verdict.outcome, VerdictOutcome::AutomaticFail);
    assert!(retrial.because.iter().any(|one| one.criterion.as_str() == "renamed" && one.was.is_none()));
}

#[test]
fn what_nobody_judged_by_eye_leaves_the_session_unfinished() {
    let task = stairwell();
    let log = Script::flawless().log(&task);
    let new = "id = \"new-eye\"\nsays = \"Keeps calm\"\nweight = 1\nfails = \"ordinary\"\ndecided = \"by_eye\"\n\
               source = \"common practice\"\n";
    let more = edited(&task, Edit::Add(0, vec![Criterion::read_toml(new).unwrap()]));
    let retrial = retry(&task, &more, &log, &[], VerdictOutcome::Pass, Unjudged::Open);
    assert_eq!(retrial.verdict.outcome, VerdictOutcome::Unfinished);
    assert_eq!(retrial.because.iter().map(|one| one.criterion.as_str()).collect::<Vec<_>>(), ["new-eye"]);
    let met = retry(&task, &more, &log, &[], VerdictOutcome::Pass, Unjudged::Met);
    assert_eq!((met.verdict.outcome, met.because), (VerdictOutcome::Pass, vec![]));
}

#[test]
fn counts_add_up() {
    use VerdictOutcome::{AutomaticFail, Fail, Pass};
    let mut counts = Counts::default();
    for (was, is) in [(Pass, Pass), (Pass, Fail), (Fail, Pass), (AutomaticFail, AutomaticFail)] {
        counts.add(was, is);
    }
    assert_eq!((counts.all(), counts.different(), counts.of(Pass, Fail), counts.of(Fail, Fail)), (4, 2, 1, 0));
}

#[test]
fn what_a_task_cannot_feed_is_named() {
    let task = stairwell();
    let criterion = |id: &str, decided: &str| {
        let rest = "says = \"x\"\nweight = 1\nfails = \"ordinary\"\nsource = \"common practice\"\n";
        Criterion::read_toml(&format!("id = \"{id}\"\ndecided = {decided}\n{rest}")).unwrap()
    };
    let mut other = file(&task);
    let stage = &mut other.checklist.stages[0].criteria;
    stage.push(criterion("no-device", r#"{ rule = "happened", act = { kind = "switched", device = "Q99" } }"#));
    stage.push(criterion("device", r#"{ rule = "never", act = { kind = "switched", device = "Q1" } }"#));
    stage.push(criterion(
        "no-item",
        r#"{ rule = "before", first = { kind = "opened" }, then = { kind = "picked", item = "nothing" } }"#,
    ));
    let unfed = |task: &Task| feed::unfed(task).into_iter().map(|one| one.criterion.to_string()).collect::<Vec<_>>();
    let before = unfed(&task);
    let now: Vec<String> =
        unfed(&with_checklist(&task, &other)).into_iter().filter(|id| !before.contains(id)).collect();
    assert_eq!(now, ["no-device", "no-item"]);
    assert!(STAIRWELL.contains("Q1"), "the device that is there");
}
