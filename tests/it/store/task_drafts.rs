//! Drafts of tasks: begun once, held while they are changed, apart from other centres.

use crate::support::centre::{Fixture, NOW, new_id};
use baywitness::bay::Standards;
use baywitness::marking::sketch::Sketch;
use baywitness::store::task_drafts::{self, Draft};
use baywitness::store::{CentreId, ChecklistId, TaskId};
use std::sync::Arc;

fn begun(fixture: &Fixture) -> Draft {
    let sketch = Sketch::empty("Ours", Standards::Gb);
    Draft::begun(TaskId(new_id()), sketch, None, fixture.assessor, "Began with nothing in it.")
}

#[tokio::test]
async fn what_is_stored_is_read_as_it_was_and_nothing_is_begun_twice() {
    let fixture = Fixture::new().await;
    let (centre, by) = (&fixture.centre, fixture.assessor);
    let mut draft = begun(&fixture);
    let mut tx = fixture.begin().await;
    assert!(task_drafts::begin(&mut tx, centre, &draft, by, NOW).await.unwrap());
    let other = Draft::begun(draft.id, Sketch::empty("Theirs", Standards::Us), None, by, "Began again.");
    assert!(!task_drafts::begin(&mut tx, centre, &other, by, NOW).await.unwrap());
    assert_eq!(task_drafts::find(&mut tx, centre, draft.id).await.unwrap(), Some(draft.clone()));

    draft.sketch.set("board.devices[0].rating_a", Some(6.into()));
    draft.sketch.set("minutes", Some(serde_json::json!(0.1)));
    draft.sketch.set("title", None);
    draft.checklist = Some((ChecklistId(new_id()), 3));
    draft.note(by, "Minutes changed.");
    task_drafts::save(&mut tx, centre, &draft, by, NOW).await.unwrap();
    assert_eq!(task_drafts::hold(&mut tx, centre, draft.id).await.unwrap(), Some(draft.clone()));
    assert_eq!(draft.revision, 2);
    let listed = task_drafts::list(&mut tx, centre).await.unwrap();
    assert_eq!(listed.iter().map(|one| one.title.as_str()).collect::<Vec<_>>(), ["Task without a title"]);

    assert!(task_drafts::discard(&mut tx, centre, draft.id).await.unwrap());
    assert!(!task_drafts::discard(&mut tx, centre, draft.id).await.unwrap());
    assert_eq!(task_drafts::find(&mut tx, centre, draft.id).await.unwrap(), None);
}

#[tokio::test]
async fn only_the_last_changes_are_remembered_and_every_revision_counts() {
    let fixture = Fixture::new().await;
    let mut draft = begun(&fixture);
    for turn in 0..250 {
        draft.note(fixture.assessor, format!("Change {turn}."));
    }
    let mut tx = fixture.begin().await;
    assert!(task_drafts::begin(&mut tx, &fixture.centre, &draft, fixture.assessor, NOW).await.unwrap());
    let read = task_drafts::find(&mut tx, &fixture.centre, draft.id).await.unwrap().unwrap();
    assert_eq!((read.revision, read.changes.len()), (251, 100));
    assert_eq!(read.changes.last().map(|change| change.says.as_str()), Some("Change 249."));
}

#[tokio::test]
async fn of_many_editors_at_once_each_sees_what_the_one_before_left() {
    let fixture = Arc::new(Fixture::new().await);
    let draft = begun(&fixture);
    let mut tx = fixture.begin().await;
    task_drafts::begin(&mut tx, &fixture.centre, &draft, fixture.assessor, NOW).await.unwrap();
    tx.commit().await.unwrap();
    let mut editors = tokio::task::JoinSet::new();
    for _ in 0..8 {
        let (fixture, id) = (Arc::clone(&fixture), draft.id);
        editors.spawn(async move {
            let mut tx = fixture.begin().await;
            let mut held = task_drafts::hold(&mut tx, &fixture.centre, id).await.unwrap().unwrap();
            held.note(fixture.assessor, "Changed.");
            task_drafts::save(&mut tx, &fixture.centre, &held, fixture.assessor, NOW).await.unwrap();
            tx.commit().await.unwrap();
            held.revision
        });
    }
    let mut revisions = editors.join_all().await;
    revisions.sort_unstable();
    assert_eq!(revisions, (2..=9).collect::<Vec<u32>>());
}

#[tokio::test]
async fn another_centre_finds_changes_and_throws_away_nothing() {
    let fixture = Fixture::new().await;
    let (centre, by) = (&fixture.centre, fixture.assessor);
    let draft = begun(&fixture);
    let mut tx = fixture.begin().await;
    task_drafts::begin(&mut tx, centre, &draft, by, NOW).await.unwrap();
    tx.commit().await.unwrap();
    let other = CentreId::new("southgate").unwrap();
    let mut tx = fixture.db.store.begin(&other).await.unwrap();
    // Even where the other centre's name is given.
    assert_eq!(task_drafts::find(&mut tx, centre, draft.id).await.unwrap(), None);
    assert_eq!(task_drafts::list(&mut tx, centre).await.unwrap(), []);
    assert!(!task_drafts::discard(&mut tx, centre, draft.id).await.unwrap());
    let mut changed = draft.clone();
    changed.note(by, "Changed from elsewhere.");
    task_drafts::save(&mut tx, centre, &changed, by, NOW).await.unwrap();
    tx.commit().await.unwrap();
    let mut tx = fixture.begin().await;
    assert_eq!(task_drafts::find(&mut tx, centre, draft.id).await.unwrap(), Some(draft));
}
