//! Differences against changes that are known because they were made.

use super::{Change, Difference, difference, order};
use crate::marking::draft::{At, Edit, Way};
use crate::marking::{ChecklistFile, Criterion, CriterionId, Decided, Fails, Rule, Task};
use proptest::prelude::*;

const STAIRWELL: &str = include_str!("../../../tests/reference/examples/stairwell.toml");

fn stairwell() -> ChecklistFile {
    let task = Task::read_toml(STAIRWELL).unwrap();
    ChecklistFile { title: "Stairwell".into(), pass_percent: 70, checklist: task.checklist }
}

fn new_one(id: &str) -> Criterion {
    Criterion {
        id: CriterionId::new(id).unwrap(),
        says: format!("Does {id}"),
        ..stairwell().checklist.stages[0].criteria[0].clone()
    }
}

/// What an edit of the worked example makes different.
fn after(edit: Edit) -> Vec<Difference> {
    let (older, mut newer) = (stairwell(), stairwell());
    edit.make(&mut newer).unwrap();
    difference(&older, &newer)
}

#[test]
fn each_kind_of_edit_is_found_as_itself_and_alone() {
    let at = At { stage: 1, place: 1 };
    let first = |edit| {
        let mut found = after(edit);
        assert_eq!(found.len(), 1, "{found:?}");
        found.remove(0)
    };
    assert!(matches!(first(Edit::Title("Other".into())), Difference::Title { .. }));
    assert!(matches!(first(Edit::PassPercent(75)), Difference::PassPercent { from: 70, to: 75 }));
    assert!(matches!(first(Edit::AddStage("New".into())), Difference::StageAdded { .. }));
    assert!(matches!(first(Edit::RenameStage(1, "Other".into())), Difference::StageRenamed { .. }));
    assert!(matches!(first(Edit::MoveStage(0, Way::Down)), Difference::StageMoved { .. }));
    assert!(matches!(first(Edit::Add(1, vec![new_one("brand-new")])), Difference::Added { .. }));
    assert!(matches!(first(Edit::Remove(at)), Difference::Removed { .. }));
    assert!(matches!(first(Edit::Move(at, Way::Up)), Difference::Reordered { .. }));
    assert!(matches!(first(Edit::MoveTo(at, 0)), Difference::Moved { .. }));
    let reworded = Box::new(Criterion { says: "Other".into(), ..stairwell().checklist.stages[1].criteria[1].clone() });
    let change = first(Edit::Reword(at, reworded));
    assert!(matches!(change, Difference::Changed { change: Change::Says { .. }, .. }));
}

#[test]
fn a_rule_whose_parameter_changes_is_said_in_words() {
    let (older, mut newer) = (stairwell(), stairwell());
    let criteria = newer.checklist.stages.iter_mut().flat_map(|stage| &mut stage.criteria);
    for criterion in criteria {
        if let Decided::Rule(Rule::NoticePosted { filled }) = &mut criterion.decided {
            *filled = false;
            criterion.weight += 1;
        }
    }
    let found: Vec<String> = difference(&older, &newer).iter().map(Difference::says).collect();
    assert_eq!(found.len(), 2, "{found:?}");
    assert!(found[0].contains("its weight was"), "{found:?}");
    let expected =
        "it was decided by the rule “notice posted” and is decided by the rule “notice posted, filled: false”.";
    assert!(found[1].ends_with(expected), "{found:?}");
}

#[test]
fn a_removed_stage_takes_its_criteria_with_it() {
    let found = after(Edit::RemoveStage(0));
    let removed = stairwell().checklist.stages[0].criteria.len();
    assert!(matches!(found[0], Difference::StageRemoved { .. }));
    assert_eq!(found.iter().filter(|one| matches!(one, Difference::Removed { .. })).count(), removed);
    assert_eq!(found.len(), removed + 1);
}

/// Any edit at all of a checklist with three or four stages, whether or not it can be made.
fn edit() -> impl Strategy<Value = Edit> {
    let at = || (0..5usize, 0..8usize).prop_map(|(stage, place)| At { stage, place });
    let way = || prop::sample::select(vec![Way::Up, Way::Down]);
    let fails = prop::sample::select(vec![Fails::Ordinary, Fails::Must, Fails::Automatic]);
    prop_oneof![
        "[ab]{1,2}".prop_map(Edit::Title),
        (0..=100u8).prop_map(Edit::PassPercent),
        "[ab]".prop_map(Edit::AddStage),
        (0..5usize, "[ab]").prop_map(|(stage, title)| Edit::RenameStage(stage, title)),
        (0..5usize, way()).prop_map(|(stage, way)| Edit::MoveStage(stage, way)),
        (0..5usize).prop_map(Edit::RemoveStage),
        (0..5usize, "[ab]").prop_map(|(stage, id)| Edit::Add(stage, vec![new_one(&id)])),
        at().prop_map(Edit::Remove),
        (at(), way()).prop_map(|(at, way)| Edit::Move(at, way)),
        (at(), 0..5usize).prop_map(|(at, stage)| Edit::MoveTo(at, stage)),
        (at(), 1..5u16, fails).prop_map(|(at, weight, fails)| Edit::Weigh(at, weight, fails)),
        (at(), "[ab]").prop_map(|(at, id)| Edit::Reword(at, Box::new(new_one(&id)))),
    ]
}

/// The worked example after some edits; it need not be valid.
fn edited() -> impl Strategy<Value = ChecklistFile> {
    prop::collection::vec(edit(), 0..12).prop_map(|edits| {
        let mut file = stairwell();
        for edit in edits {
            let before = file.clone();
            if edit.make(&mut file).is_err() {
                assert_eq!(file, before, "an edit that cannot be made changed something");
            }
        }
        file
    })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(96) })]

    #[test]
    fn there_is_no_difference_exactly_where_two_are_equal(a in edited(), b in edited()) {
        prop_assert_eq!(difference(&a, &a), []);
        prop_assert_eq!(difference(&a, &b).is_empty(), a == b);
    }

    #[test]
    fn what_was_added_one_way_was_removed_the_other(a in edited(), b in edited()) {
        let sorted = |mut ids: Vec<CriterionId>| { ids.sort(); ids };
        let added = |found: &[Difference]| sorted(found.iter().filter_map(|one| match one {
            Difference::Added { criterion, .. } => Some(criterion.id.clone()),
            _ => None,
        }).collect());
        let removed = |found: &[Difference]| sorted(found.iter().filter_map(|one| match one {
            Difference::Removed { criterion, .. } => Some(criterion.id.clone()),
            _ => None,
        }).collect());
        let (there, back) = (difference(&a, &b), difference(&b, &a));
        prop_assert_eq!(added(&there), removed(&back));
        prop_assert_eq!(removed(&there), added(&back));
        prop_assert!(there.iter().all(|one| one.says().ends_with('.') && !one.word().is_empty()));
    }

    /// By trying every choice of members, which only a short list allows.
    #[test]
    fn as_much_as_possible_is_said_to_have_stood_still(numbers in Just((0..7usize).collect::<Vec<_>>()).prop_shuffle()) {
        let best = (0..1u32 << numbers.len()).filter(|chosen| {
            let picked: Vec<usize> = (0..numbers.len()).filter(|at| chosen >> at & 1 == 1).map(|at| numbers[at]).collect();
            picked.is_sorted()
        }).map(u32::count_ones).max().unwrap();
        let steady = order::steady(&numbers);
        prop_assert_eq!(steady.len(), best as usize);
        let kept: Vec<usize> = numbers.iter().copied().filter(|number| steady.contains(number)).collect();
        prop_assert!(kept.is_sorted());
    }
}
