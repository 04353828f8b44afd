//! The list of all sessions: what it finds, and that it stays quick with a hundred thousand.

use super::Served;
use baywitness::store::session_list::{self, After, Search};
use baywitness::store::{StaffNo, TaskId, candidates};
use reqwest::StatusCode;
use sqlx::PgConnection;
use std::time::{Duration, Instant};
use time::macros::{date, datetime};

/// A hundred thousand sessions of ten thousand candidates with ten assessors, one every five minutes up to 2026.
async fn fill(owner: &mut PgConnection, task: TaskId) {
    let people = "
        INSERT INTO candidates (centre_id, candidate_id, name, reference, added_at, sort_key)
        SELECT 'northgate', md5('c' || n)::uuid, 'Person ' || n, 'R-' || lpad(n::text, 5, '0'), '2026-01-01', 'person ' || n
        FROM generate_series(1, 10000) n;
        INSERT INTO candidate_words (centre_id, word, candidate_id)
        SELECT 'northgate', word, md5('c' || n)::uuid
        FROM generate_series(1, 10000) n, unnest(ARRAY['person', n::text, lpad(n::text, 5, '0')]) word
        ON CONFLICT DO NOTHING;
        INSERT INTO staff (centre_id, number, sign_in_name, name, roles, password_hash)
        SELECT 'northgate', 100 + n, 'a' || n, 'Assessor ' || n, '{assessor}', 'x' FROM generate_series(0, 9) n;";
    sqlx::raw_sql(people).execute(&mut *owner).await.unwrap();
    sqlx::query(
        "INSERT INTO sessions (centre_id, session_id, task_id, task_version, candidate_id, assessor, bay, planned_at,
                               extra_percent, extra_minutes, head, given_up, given_up_at, given_up_by, given_up_reason)
         SELECT 'northgate', id, $1, 1, md5('c' || (1 + n % 10000))::uuid, 100 + n % 10, 'Bay ' || n % 7,
                '2026-01-01'::timestamptz - n * interval '5 minutes', 0, 0,
                encode(sha256(convert_to('baywitness-log/1' || E'\\n' || id::text || E'\\n', 'UTF8')), 'hex'),
                CASE WHEN n % 1000 = 0 THEN 'cancelled' END, CASE WHEN n % 1000 = 0 THEN '2025-01-01'::timestamptz END,
                CASE WHEN n % 1000 = 0 THEN 1 END, CASE WHEN n % 1000 = 0 THEN 'x' END
         FROM generate_series(1, 100000) n, LATERAL (SELECT md5('s' || n)::uuid AS id) s",
    )
    .bind(task.0)
    .execute(&mut *owner)
    .await
    .unwrap();
    let second = "INSERT INTO second_markers (centre_id, session_id, marker)
        SELECT centre_id, session_id, CASE assessor WHEN 100 THEN 101 ELSE 100 END FROM sessions WHERE bay = 'Bay 3'";
    sqlx::raw_sql(second).execute(&mut *owner).await.unwrap();
    sqlx::raw_sql("ANALYZE").execute(owner).await.unwrap();
}

/// How often this connection read the large tables from end to end, as PostgreSQL counts it.
async fn read_through(tx: &mut PgConnection) -> i64 {
    sqlx::query_scalar(
        "SELECT coalesce(sum(seq_scan), 0)::bigint FROM pg_stat_xact_user_tables
         WHERE relname IN ('sessions', 'candidates', 'candidate_words', 'second_markers')",
    )
    .fetch_one(tx)
    .await
    .unwrap()
}

#[tokio::test]
async fn the_count_of_reads_from_end_to_end_would_be_seen() {
    let served = Served::new().await;
    let mut tx = served.fixture.begin().await;
    let before = read_through(&mut tx).await;
    // Of three rows the planner may take whichever way it likes, but for this.
    let forced =
        "SET LOCAL enable_indexscan = off; SET LOCAL enable_bitmapscan = off; SET LOCAL enable_indexonlyscan = off";
    sqlx::raw_sql(forced).execute(&mut *tx).await.unwrap();
    sqlx::query("SELECT count(*) FROM sessions WHERE bay LIKE '%x'").fetch_one(&mut *tx).await.unwrap();
    assert!(read_through(&mut tx).await > before);
}

#[tokio::test]
#[allow(clippy::disallowed_methods, reason = "how long it takes is what is asked")]
async fn a_hundred_thousand_sessions_are_listed_and_searched_in_milliseconds_without_reading_them_all() {
    let served = Served::new().await;
    fill(&mut served.fixture.db.owner().await, served.fixture.task_id).await;
    let centre = &served.fixture.centre;
    let deep = After { planned_at: datetime!(2025-02-01 0:00 UTC), id: served.session };
    let person = {
        let mut tx = served.fixture.begin().await;
        candidates::search(&mut tx, centre, "04711", None, 10).await.unwrap()
    };
    assert_eq!(person.len(), 1);
    let ways = [
        ("first page", Search::default(), None, 51),
        ("deep page", Search::default(), Some(deep), 51),
        ("one candidate", Search { candidates: Some(vec![person[0].id]), ..Search::default() }, None, 10),
        ("a task", Search { task: Some(served.fixture.task_id), ..Search::default() }, Some(deep), 51),
        ("an assessor", Search { assessor: Some(StaffNo(103)), ..Search::default() }, Some(deep), 51),
        ("cancelled", Search { standing: Some("cancelled".into()), ..Search::default() }, None, 51),
        (
            "two days",
            Search { from: Some(date!(2025 - 06 - 01)), to: Some(date!(2025 - 06 - 02)), ..Search::default() },
            None,
            51,
        ),
    ];
    for (way, search, after, rows) in ways {
        let mut tx = served.fixture.begin().await;
        // Once to warm up; the best of the next five, since other tests run beside it.
        session_list::page(&mut tx, centre, &search, after, 51).await.unwrap();
        let mut best = Duration::MAX;
        let before = read_through(&mut tx).await;
        for _ in 0..5 {
            let began = Instant::now();
            let found = session_list::page(&mut tx, centre, &search, after, 51).await.unwrap();
            best = best.min(began.elapsed());
            assert_eq!(found.len(), rows, "{way}");
        }
        println!("{way}: {best:?}");
        assert_eq!(read_through(&mut tx).await, before, "{way} reads a whole table");
        assert!(best < Duration::from_millis(50), "{way}: {best:?}");
    }
}

#[tokio::test]
async fn the_list_goes_on_from_page_to_page_and_shows_each_session_once() {
    let served = Served::new().await;
    fill(&mut served.fixture.db.owner().await, served.fixture.task_id).await;
    let vera = served.signed_in(served.verifier).await;
    // The tenth of an assessor's sessions of March 2025: 893, of which some begin at the page's end.
    let mut address = "/sessions/all?assessor=104&from=2025-03-01&to=2025-03-31".to_owned();
    let mut seen = std::collections::BTreeSet::new();
    let mut pages = 0;
    loop {
        let (status, text) = served.get(&address, &vera).await;
        assert_eq!(status, StatusCode::OK);
        let links = text.split("<th scope=\"row\"><a href=\"/sessions/").skip(1);
        let mut rows = 0;
        for link in links {
            assert!(seen.insert(link.split('"').next().unwrap().to_owned()), "twice: {link:.60}");
            rows += 1;
        }
        assert!(rows > 0 && rows <= 50);
        pages += 1;
        let Some(older) = text.split("<a class=\"button\" href=\"").find(|part| part.contains("Older")) else { break };
        address = older.split('"').next().unwrap().replace("&amp;", "&").replace("&#38;", "&");
    }
    let mut owner = served.fixture.db.owner().await;
    let all: i64 = sqlx::query_scalar(
        "SELECT count(*) FROM sessions WHERE assessor = 104
         AND planned_at >= '2025-03-01 00:00 Europe/London' AND planned_at < '2025-04-01 00:00 Europe/London'",
    )
    .fetch_one(&mut owner)
    .await
    .unwrap();
    assert_eq!((seen.len() as i64, pages), (all, (all as usize).div_ceil(50)));
}

#[tokio::test]
async fn the_list_is_searched_and_says_what_to_do_where_nothing_fits() {
    let served = Served::new().await;
    let vera = served.signed_in(served.verifier).await;
    let found = async |query: &str| served.get(&format!("/sessions/all?{query}"), &vera).await.1;
    assert!(found("q=zoe").await.contains("REG-0042"), "accents aside");
    assert!(found("q=reg-0042&standing=planned").await.contains("Zoë"));
    assert!(found(&format!("task={}", served.fixture.task_id.0)).await.contains("Zoë"));
    for none in ["q=nobody", "standing=pass", "from=2027-02-04", "to=2027-02-02", "assessor=99"] {
        let text = found(none).await;
        assert!(text.contains("No session fits") && text.contains("Show all sessions"), "{none}: {text}");
    }
    // What makes no sense is passed over, and nothing of it gets into the page.
    assert!(found("from=soon&standing=%3Cb%3E&after=x.y").await.contains("Zoë"));
    // Assessors find their own.
    let mine = served.signed_in(served.assessor).await;
    let (_, text) = served.get("/sessions/all", &mine).await;
    assert!(text.contains("Bay 2") && !text.contains("Bay 1"), "{text}");
    let (_, text) = served.get("/sessions/all?assessor=1", &mine).await;
    assert!(!text.contains("Bay 1"), "{text}");
    let (_, text) = served.get("/sessions/all", &served.signed_in(served.other).await).await;
    assert!(text.contains("There is no session yet"), "{text}");
}

/// Only the signature sets it: a trigger does, and the list of the day, which the walk through a session looks at, reads it.
#[tokio::test]
async fn the_application_cannot_write_an_outcome_into_the_list() {
    let served = Served::new().await;
    let mut tx = served.fixture.begin().await;
    let set = sqlx::query("UPDATE sessions SET outcome = 'pass'").execute(&mut *tx).await;
    assert_eq!(set.unwrap_err().into_database_error().unwrap().code().as_deref(), Some("42501"));
}
