//! Edits of drafts, and what a draft wants.

use super::{At, Edit, Place, Way, empty, wanting};
use crate::marking::{ChecklistFile, Criterion, CriterionId, Decided, Fails, write};
use proptest::prelude::*;

fn criterion(id: &str) -> Criterion {
    Criterion {
        id: CriterionId::new(id).unwrap(),
        says: format!("Does {id}"),
        weight: 2,
        fails: Fails::Ordinary,
        decided: Decided::ByEye,
        when_met: None,
        when_not_met: None,
        source: "common practice".into(),
    }
}

/// Two stages, `a b` and `c`.
fn draft() -> ChecklistFile {
    let mut draft = empty("Tried");
    for edit in [
        Edit::AddStage("First".into()),
        Edit::AddStage("Second".into()),
        Edit::Add(0, vec![criterion("a"), criterion("b")]),
        Edit::Add(1, vec![criterion("c")]),
    ] {
        edit.make(&mut draft).unwrap();
    }
    draft
}

fn ids(draft: &ChecklistFile) -> Vec<String> {
    let of =
        |stage: &crate::marking::Stage| stage.criteria.iter().map(|one| one.id.as_str()).collect::<Vec<_>>().join(" ");
    draft.checklist.stages.iter().map(of).collect()
}

#[test]
fn a_criterion_walks_through_the_stages_and_back() {
    let mut draft = draft();
    let mut step = |stage, place, way, expected: [&str; 2]| {
        Edit::Move(At { stage, place }, way).make(&mut draft).unwrap();
        assert_eq!(ids(&draft), expected);
    };
    step(0, 0, Way::Down, ["b a", "c"]);
    step(0, 1, Way::Down, ["b", "a c"]);
    step(1, 0, Way::Down, ["b", "c a"]);
    step(1, 1, Way::Up, ["b", "a c"]);
    step(1, 0, Way::Up, ["b a", "c"]);
    assert!(Edit::Move(At { stage: 1, place: 0 }, Way::Down).make(&mut draft).unwrap_err().contains("edge"));
    assert!(Edit::Move(At { stage: 0, place: 0 }, Way::Up).make(&mut draft).unwrap_err().contains("edge"));
}

#[test]
fn what_cannot_be_done_changes_nothing_and_says_why() {
    let at = At { stage: 0, place: 9 };
    for (edit, why) in [
        (Edit::Title("  ".into()), "needs a title"),
        (Edit::Title("x".repeat(201)), "at most 200"),
        (Edit::PassPercent(101), "0 to 100"),
        (Edit::AddStage("a\u{7}".into()), "cannot be shown"),
        (Edit::RenameStage(7, "x".into()), "not there any more"),
        (Edit::MoveStage(0, Way::Up), "edge"),
        (Edit::RemoveStage(2), "not there any more"),
        (Edit::Add(0, vec![]), "at least one"),
        (Edit::Add(0, vec![criterion("c")]), "already"),
        (Edit::Remove(at), "not there any more"),
        (Edit::MoveTo(at, 1), "not there any more"),
        (Edit::MoveTo(At { stage: 0, place: 0 }, 2), "not there any more"),
        (Edit::Weigh(At { stage: 0, place: 0 }, 0, Fails::Must), "1 to 1000"),
        (Edit::Add(0, (0..200).map(|n| criterion(&format!("n{n}"))).collect()), "at most 200"),
    ] {
        let mut tried = draft();
        let says = edit.clone().make(&mut tried).unwrap_err();
        assert!(says.contains(why), "{edit:?}: {says}");
        assert_eq!(tried, draft());
    }
}

#[test]
fn what_is_wanting_is_said_where_it_is() {
    assert_eq!(wanting(&draft()), []);
    let places = |draft: &ChecklistFile| wanting(draft).into_iter().map(|one| one.place).collect::<Vec<_>>();
    assert_eq!(places(&empty("Empty")), [Place::Checklist]);
    let mut odd = draft();
    odd.checklist.stages[1].criteria[0].id = CriterionId::new("a").unwrap();
    Edit::AddStage("Third".into()).make(&mut odd).unwrap();
    let at = |stage, place| Place::Criterion(At { stage, place });
    assert_eq!(places(&odd), [at(0, 0), at(1, 0), Place::Stage(2)]);
    let told: Vec<String> = wanting(&odd).iter().map(|one| one.told(&odd)).collect();
    assert!(
        told[0].starts_with("“Does a”: Another") && told[2].starts_with("“Third”: This stage is empty"),
        "{told:?}"
    );
}

#[test]
fn a_reworded_criterion_keeps_its_weight() {
    let mut draft = draft();
    let newer = Criterion { says: "Does it well".into(), weight: 9, fails: Fails::Automatic, ..criterion("a") };
    Edit::Reword(At { stage: 0, place: 0 }, Box::new(newer)).make(&mut draft).unwrap();
    let criterion = &draft.checklist.stages[0].criteria[0];
    assert_eq!((criterion.says.as_str(), criterion.weight, criterion.fails), ("Does it well", 2, Fails::Ordinary));
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(256) })]

    /// The reader of files is the judge: nothing is wanting exactly where it reads what the draft would publish.
    #[test]
    fn nothing_is_wanting_exactly_where_the_file_can_be_read(stages in prop::collection::vec(prop::collection::vec("[a-d]", 0..3), 0..4)) {
        let mut draft = empty("Tried");
        for (at, named) in stages.iter().enumerate() {
            Edit::AddStage(format!("Stage {at}")).make(&mut draft).unwrap();
            draft.checklist.stages[at].criteria = named.iter().map(|id| criterion(id)).collect();
        }
        let readable = ChecklistFile::read_toml(&write::checklist_file(&draft)).is_ok();
        prop_assert_eq!(wanting(&draft).is_empty(), readable);
    }
}
