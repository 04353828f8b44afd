//! Candidates: kept as typed, found by the beginning of any word, and listed page by page without reading the rest.

use crate::support::centre::{Fixture, NOW, new_id};
use baywitness::candidates::{Adjustments, Details};
use baywitness::marking::ExtraTime;
use baywitness::store::CandidateId;
use baywitness::store::candidates::{self, Changed};

/// Names as people write them: single, short, accented, with apostrophes, from right to left, without spaces, as long as
/// a name may be, and such that a spreadsheet would take for a formula.
pub const NAMES: [&str; 7] = ["Sukarno", "Ng", "O’Brien-Ní Dhomhnaill", "Zażółć", "محمد بن عبد الله", "李小龍", "=1+1"];

async fn add(fixture: &Fixture, name: &str, reference: &str) -> CandidateId {
    let id = CandidateId(new_id());
    let mut tx = fixture.begin().await;
    assert!(candidates::add(&mut tx, &fixture.centre, id, &Details::named(name, reference), NOW).await.unwrap());
    tx.commit().await.unwrap();
    id
}

async fn found(fixture: &Fixture, text: &str) -> Vec<String> {
    let mut tx = fixture.begin().await;
    let found = candidates::search(&mut tx, &fixture.centre, text, None, 50).await.unwrap();
    found.into_iter().map(|candidate| candidate.name).collect()
}

#[tokio::test]
async fn everything_about_a_candidate_comes_back_as_it_was_given() {
    let fixture = Fixture::new().await;
    let extra = ExtraTime { percent: 25, minutes: 10 };
    let details = Details {
        called: Some("Gráinne".into()),
        sort_name: Some("Dhomhnaill".into()),
        adjustments: Adjustments { extra, reader: true, other: Some("a stool".into()) },
        ..Details::named(NAMES[2], "REG-1")
    };
    let id = CandidateId(new_id());
    let mut tx = fixture.begin().await;
    assert!(candidates::add(&mut tx, &fixture.centre, id, &details, NOW).await.unwrap());
    let kept = candidates::find(&mut tx, &fixture.centre, id).await.unwrap().unwrap();
    assert_eq!((kept.details(), kept.added_at, kept.erased_at), (details, NOW, None));
    let changed = Details::named("Somebody Else", "REG-2");
    assert_eq!(candidates::change(&mut tx, &fixture.centre, id, &changed).await.unwrap(), Changed::Done);
    let kept = candidates::by_reference(&mut tx, &fixture.centre, "REG-2").await.unwrap().unwrap();
    assert_eq!(kept.details(), changed);
    let taken = Details::named("Somebody Else", "REG-0042");
    assert_eq!(candidates::change(&mut tx, &fixture.centre, id, &taken).await.unwrap(), Changed::Taken);
    let nobody = CandidateId(new_id());
    let missing = Details::named("Nobody", "REG-9");
    assert_eq!(candidates::change(&mut tx, &fixture.centre, nobody, &missing).await.unwrap(), Changed::Missing);
    tx.commit().await.unwrap();
    assert_eq!(found(&fixture, "somebody").await, ["Somebody Else"]);
    assert_eq!(found(&fixture, "dhom").await, Vec::<String>::new(), "the words of the former name are gone");
}

#[tokio::test]
async fn names_in_any_script_are_found_by_the_beginning_of_any_word() {
    let fixture = Fixture::new().await;
    for (letter, name) in ('a'..).zip(NAMES) {
        add(&fixture, name, &format!("B-{letter}")).await;
    }
    let asked = [("suk", 0), ("NG", 1), ("ni obri", 2), ("zazolc", 3), ("عبد", 4), ("小龍", 5), ("b-g", 6), ("=1", 6)];
    for (text, number) in asked {
        assert_eq!(found(&fixture, text).await, [NAMES[number]], "{text}");
    }
    assert_eq!(found(&fixture, "zoe").await, ["Zoë Invented"]);
    assert_eq!(found(&fixture, "kar").await, Vec::<String>::new(), "the middle of a word is none of its beginnings");
    assert_eq!(found(&fixture, "%").await, Vec::<String>::new());
    assert_eq!(found(&fixture, "b").await.len(), 7, "O’Brien’s reference begins so as well");
    assert_eq!(found(&fixture, "  ").await.len(), 8, "nothing asked for is everybody");
}

#[tokio::test]
async fn pages_follow_each_other_without_a_gap_and_without_a_double() {
    let fixture = Fixture::new().await;
    for number in 0..23 {
        // Equal names: the order among them must hold as well.
        add(&fixture, if number % 2 == 0 { "Same Name" } else { "Éadaoin" }, &format!("P-{number}")).await;
    }
    let mut tx = fixture.begin().await;
    let (mut after, mut seen) = (None, Vec::new());
    loop {
        let page = candidates::search(&mut tx, &fixture.centre, "", after, 5).await.unwrap();
        let Some(last) = page.last() else { break };
        after = Some(last.id);
        seen.extend(page.iter().map(|candidate| candidate.reference.clone()));
    }
    assert_eq!(seen.len(), 24);
    assert!(seen[..11].iter().all(|reference| reference.starts_with("P-")), "É sorts as E: {seen:?}");
    seen.sort();
    seen.dedup();
    assert_eq!(seen.len(), 24);
}
