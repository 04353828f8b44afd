//! Whether a task can be done as its checklist asks: one reason after another.

use baywitness::bay::equipment::NoticeKind;
use baywitness::bay::{Fault, ItemKind, Thing};
use baywitness::marking::checklist::Pattern;
use baywitness::marking::fitness::{Fitness, fitness, suits};
use baywitness::marking::observation::ProvedOn;
use baywitness::marking::sketch::Step;
use baywitness::marking::{Decided, Rounds, Rule, Task, examples};

fn stairwell() -> Task {
    examples::ALL[0].read().unwrap().0
}

/// The task with these rules and no others.
fn asking(mut task: Task, rules: &[Rule]) -> Task {
    let one = task.checklist.stages[0].criteria[0].clone();
    task.checklist.stages.truncate(1);
    task.checklist.stages[0].criteria.clear();
    for rule in rules {
        let mut criterion = one.clone();
        criterion.id = baywitness::marking::CriterionId::new(rule.word()).unwrap();
        criterion.decided = Decided::Rule(rule.clone());
        task.checklist.stages[0].criteria.push(criterion);
    }
    task
}

/// What is refused of a task with this rule alone: the one sentence, and its step.
fn refused(task: Task, rule: Rule) -> Option<(Step, String)> {
    let Fitness { mut refused, .. } = fitness(&asking(task, &[rule]));
    assert!(refused.len() <= 1, "{refused:?}");
    refused.pop().map(|one| (one.step, one.says))
}

/// A table without what this says.
fn without(is: impl Fn(&Thing) -> bool) -> Task {
    let mut task = stairwell();
    task.bay.table.retain(|item| !is(&item.thing));
    task
}

#[test]
fn every_example_is_fit() {
    for example in &examples::ALL {
        let task = example.read().unwrap().0;
        assert_eq!(fitness(&task).refused, [], "{}", example.name);
    }
    let rose = Task::read_toml(include_str!("../../../src/demo/tasks/rose.toml")).unwrap();
    assert_eq!(fitness(&rose).refused, []);
}

#[test]
fn supplies_to_name_and_none_listed() {
    assert_eq!(refused(stairwell(), Rule::SourcesListed).unwrap().0, Step::Sources);
}

#[test]
fn no_lock_off_device_fits() {
    let named = stairwell().bay.isolate.device;
    let task = without(|thing| matches!(thing, Thing::LockOff { fits } if fits.contains(&named)));
    assert_eq!(refused(task, Rule::LockOffFits).unwrap().1, "No lock-off device on the table fits Q2.");
    assert_eq!(refused(stairwell(), Rule::LockOffFits), None);
    let task = without(|thing| matches!(thing, Thing::LockOff { .. }));
    assert!(refused(task, Rule::SecuredBeforeTesting).unwrap().1.contains("no lock-off device"));
}

#[test]
fn no_padlock() {
    for rule in [Rule::LockedAndTried, Rule::KeyKept, Rule::SecuredBeforeTesting] {
        assert_eq!(refused(stairwell(), rule.clone()), None);
        let task = without(|thing| matches!(thing, Thing::Padlock { .. }));
        assert_eq!(refused(task, rule).unwrap().1, "There is no padlock on the table.");
    }
}

#[test]
fn no_notice_of_the_right_kind() {
    let rule = Rule::NoticePosted { filled: true };
    assert_eq!(refused(stairwell(), rule.clone()), None);
    let task = without(|thing| matches!(thing, Thing::Notice { notice: NoticeKind::DoNotSwitchOn }));
    assert!(refused(task, rule).unwrap().1.contains("forbids switching on"));
}

#[test]
fn no_indicator_suits_and_each_is_told_with_its_reasons() {
    let rule = |most| Rule::IndicatorSuitable { accepts: vec![ItemKind::VoltageIndicator], max_tip_mm: most };
    assert_eq!(refused(stairwell(), rule(4.0)), None);
    let (step, says) = refused(stairwell(), rule(1.0)).unwrap();
    assert_eq!(step, Step::Table);
    assert!(says.contains("yellow case: bare tips of 2 mm, over the limit of 1 mm"), "{says}");
    assert!(says.contains("Pen indicator: its kind is not accepted"), "{says}");
}

#[test]
fn nothing_to_test_with() {
    let bare = || {
        without(|thing| matches!(thing, Thing::VoltageIndicator(_) | Thing::Multimeter(_) | Thing::NonContactIndicator))
    };
    for rule in [
        Rule::IndicatorInspected { parts: Vec::new() },
        Rule::AllPairsTested,
        Rule::AllRoundsTested { rounds: Rounds::EachSwitch },
        Rule::LessDangerousFirst,
        Rule::NoTouchBeforeProof,
    ] {
        assert_eq!(refused(bare(), rule).unwrap().1, "There is nothing on the table to test with.");
    }
}

#[test]
fn nothing_to_prove_on() {
    let unit = || vec![ProvedOn::ProvingUnit];
    assert_eq!(refused(stairwell(), Rule::ProvedBeforeTesting { accepts: unit() }), None);
    let bare = || without(|thing| matches!(thing, Thing::ProvingUnit { .. }));
    assert!(refused(bare(), Rule::ProvedBeforeTesting { accepts: unit() }).is_some());
    assert!(refused(bare(), Rule::ProvedAfterTesting { accepts: unit() }).is_some());
    // Something on the board that stays on is a known live supply, unless everything is off.
    let either = || vec![ProvedOn::ProvingUnit, ProvedOn::KnownLive];
    assert_eq!(refused(bare(), Rule::ProvedAfterTesting { accepts: either() }), None);
    let mut dark = bare();
    dark.bay.setup.off = dark.bay.board.devices.iter().map(|device| device.id.clone()).collect();
    assert!(refused(dark, Rule::ProvedAfterTesting { accepts: either() }).unwrap().1.contains("stays on"));
}

#[test]
fn an_act_that_names_what_is_not_there_is_refused_where_it_must_happen() {
    let act = |kind: &str| Pattern { kind: kind.into(), fields: [("item".to_owned(), "crane".into())].into() };
    let (step, says) = refused(stairwell(), Rule::Happened { act: act("picked") }).unwrap();
    assert_eq!((step, says.contains("crane")), (Step::Checklist, true));
    let never = asking(stairwell(), &[Rule::Never { act: act("picked") }]);
    assert_eq!((fitness(&never).refused.len(), fitness(&never).warnings.len()), (0, 1), "met whatever is done");
}

#[test]
fn a_test_of_a_pair_that_cannot_be_reached_is_refused() {
    let tested = |point: &str, second: &str| {
        let fields = [("point", point), ("first", "E"), ("second", second)];
        let fields = fields.map(|(field, value)| (field.to_owned(), value.into())).into();
        Rule::Happened { act: Pattern { kind: "tested".into(), fields } }
    };
    let point = stairwell().bay.isolate.point.as_str().to_owned();
    assert_eq!(refused(stairwell(), tested(&point, "SL")), None);
    let (_, says) = refused(stairwell(), tested(&point, "L2")).unwrap();
    assert_eq!(says, format!("No L2 can be reached at “{point}”, so the test with it cannot be made."));
}

#[test]
fn a_planted_fault_that_no_planned_test_shows_is_a_warning() {
    let mut task = stairwell();
    task.bay.setup.planted = vec![Fault::SecondSupply { source: None }];
    assert_eq!(fitness(&task).warnings, []);
    // Off its bar the neutral floats: no pair shows that with everything off.
    task.bay.setup.planted.push(Fault::BrokenNeutral);
    let warnings = fitness(&task).warnings;
    assert_eq!((warnings.len(), warnings[0].step), (1, Step::Start), "{warnings:?}");
    assert!(warnings[0].says.contains("neutral of the circuit was off its bar"), "{warnings:?}");
    task.bay.setup.planted.clear();
    task.bay.setup.off = vec![task.bay.isolate.device.clone()];
    assert!(fitness(&task).warnings.iter().any(|one| one.says.contains("nothing to switch off")));
}

#[test]
fn what_suits_is_worked_out_from_attributes() {
    let task = stairwell();
    let of = |id: &str| {
        let item = task.bay.table.iter().find(|item| item.id.as_str() == id).unwrap();
        suits(&task.bay, Some(&task.checklist), item)
    };
    assert_eq!(of("vi-a"), Some((true, "Fit for proving dead.".into())));
    let (fit, says) = of("vi-b").unwrap();
    assert!(!fit && says.contains("Bare tips of 14 mm"), "{says}");
    assert_eq!(of("lo-b"), Some((false, "Does not fit Q2.".into())));
    assert_eq!(of("pl-a"), None, "any padlock locks");
}
