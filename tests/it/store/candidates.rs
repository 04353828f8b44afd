//! Candidates: kept as typed, found by the beginning of any word, and listed page by page without reading the rest.

use crate::support::centre::{Fixture, NOW, new_id};
use baywitness::candidates::{Adjustments, Details};
use baywitness::marking::ExtraTime;
use baywitness::store::CandidateId;
use baywitness::store::candidates::{self, Changed};
use sqlx::AssertSqlSafe;

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

/// Invented names, put together from parts: as many as a large centre collects.
fn many(number: usize) -> Vec<(CandidateId, Details)> {
    let given = ["Zoë", "Seán", "Łucja", "Þórdís", "Ana", "Nguyễn", "محمد", "Олена", "李", "山田", "Aoife", "Bo", "T."];
    let family =
        ["O’Brien", "de la Cruz", "Żółć", "Ng", "van ’t Hof", "بن عبد الله", "Шевченко", "小龍", "Ünal", "Smith"];
    let name = |at: usize| format!("{} {} {}", given[at % 13], family[at / 13 % 10], family[at / 130 % 10]);
    (0..number).map(|at| (CandidateId(new_id()), Details::named(&name(at), &format!("M-{at:05}")))).collect()
}

/// What the database would do to answer a query of the store, as the application asks it: the plan, and whether it goes
/// through whole tables.
async fn plan_of(tx: &mut sqlx::PgConnection, query: &str, values: &[&str]) -> String {
    let mut sql = format!("EXPLAIN {query}");
    for (at, value) in values.iter().enumerate().rev() {
        sql = sql.replace(&format!("${}", at + 1), value);
    }
    let lines: Vec<String> = sqlx::query_scalar(AssertSqlSafe(sql)).fetch_all(tx).await.unwrap();
    lines.join("\n")
}

/// The text of the queries, read off the source so that the plans are those of what is asked.
fn queries() -> Vec<String> {
    let source = include_str!("../../../src/store/candidates.rs");
    let all = source.split("sqlx::query_as!(\n        CandidateRow,\n        \"").skip(1);
    let all = all.map(|rest| rest.split("\",\n").next().unwrap().to_owned());
    all.filter(|query| query.contains("LIMIT")).collect()
}

#[tokio::test]
async fn ten_thousand_candidates_are_searched_and_listed_by_an_index() {
    let fixture = Fixture::new().await;
    let all = many(10_000);
    let mut tx = fixture.begin().await;
    for some in all.chunks(2_500) {
        assert!(candidates::add_all(&mut tx, &fixture.centre, some, NOW).await.unwrap());
    }
    tx.commit().await.unwrap();
    let mut owner = fixture.db.owner().await;
    sqlx::raw_sql("ANALYZE candidates; ANALYZE candidate_words").execute(&mut owner).await.unwrap();

    let queries = queries();
    let [list, search] = &queries[..] else { panic!("{} queries were found in the source", queries.len()) };
    let mut tx = fixture.begin().await;
    let end = "'m-09\u{10FFFF}'".to_owned();
    let nobody = "'00000000-0000-0000-0000-000000000000'::uuid";
    let asked: [(&str, &str, Vec<&str>); 3] = [
        ("the first page", list, vec!["'northgate'", "''", nobody, "51"]),
        ("a page deep in the list", list, vec!["'northgate'", "'zolc'", nobody, "51"]),
        (
            "a search",
            search,
            vec!["'northgate'", "''", nobody, "51", "'m-09'", &end, "ARRAY['brien']", "ARRAY['brienz']"],
        ),
    ];
    for (what, query, values) in asked {
        let plan = plan_of(&mut tx, query, &values).await;
        assert!(!plan.contains("Seq Scan"), "{what} goes through a table: {plan}");
        assert!(plan.contains("Index"), "{what}: {plan}");
    }

    // The slowest of several, with what this machine is: two cores that others use as well.
    let deep = all[5_000].0;
    for (text, after) in
        [("", None), ("", Some(deep)), ("obrien", None), ("m-09", Some(deep)), ("z", None), ("ng z", None)]
    {
        let began = tokio::time::Instant::now();
        for _ in 0..10 {
            let found = candidates::search(&mut tx, &fixture.centre, text, after, 51).await.unwrap();
            assert!(found.len() > 10, "{text}: {}", found.len());
        }
        let each = began.elapsed() / 10;
        println!("{text:?} after {}: {each:?}", after.is_some());
        assert!(each < std::time::Duration::from_millis(250), "{text:?} takes {each:?}");
    }
}
