//! What is recorded never changes: not for the application, and not for the owner.

use crate::support::centre::{Fixture, flawless};
use baywitness::seal::{Digest, chain};
use sqlx::{AssertSqlSafe, Connection, PgConnection};

/// Tries a statement and takes it back. Answers the SQLSTATE it was refused with.
async fn refused(connection: &mut PgConnection, centre: &str, sql: &str) -> Option<String> {
    let mut tx = connection.begin().await.unwrap();
    sqlx::query("SELECT set_config('baywitness.centre', $1, true)").bind(centre).execute(&mut *tx).await.unwrap();
    let done = sqlx::raw_sql(AssertSqlSafe(sql.to_owned())).execute(&mut *tx).await;
    tx.rollback().await.unwrap();
    done.err().map(|why| why.into_database_error().unwrap().code().unwrap().into_owned())
}

#[tokio::test]
async fn neither_the_application_nor_the_owner_can_change_what_is_recorded() {
    let fixture = Fixture::open().await;
    let (mut owner, mut application) = (fixture.db.owner().await, fixture.db.application().await);
    let kept = [
        ("entries", "line"),
        ("results", "head"),
        ("decisions", "reason"),
        ("tasks", "source"),
        ("amended_results", "head"),
        ("amendments", "words"),
        ("releases", "reason"),
        ("reviews", "reason"),
        ("review_ends", "words"),
        ("credential_places", "place"),
    ];
    for (table, column) in kept {
        let changes = [
            format!("UPDATE {table} SET {column} = {column}"),
            format!("DELETE FROM {table}"),
            format!("TRUNCATE {table} CASCADE"),
            format!("MERGE INTO {table} USING (SELECT 1) AS one ON true WHEN MATCHED THEN DELETE"),
        ];
        for sql in changes {
            assert_eq!(refused(&mut owner, "northgate", &sql).await.as_deref(), Some("23001"), "owner: {sql}");
            assert_eq!(refused(&mut application, "northgate", &sql).await.as_deref(), Some("42501"), "{sql}");
        }
    }
}

#[tokio::test]
async fn a_text_can_be_erased_by_the_owner_alone_and_never_changed() {
    let fixture = Fixture::open().await;
    let (mut owner, mut application) = (fixture.db.owner().await, fixture.db.application().await);
    for sql in ["UPDATE texts SET body = 'other'", "TRUNCATE texts"] {
        assert_eq!(refused(&mut owner, "northgate", sql).await.as_deref(), Some("23001"), "owner: {sql}");
        assert_eq!(refused(&mut application, "northgate", sql).await.as_deref(), Some("42501"), "{sql}");
    }
    assert_eq!(refused(&mut application, "northgate", "DELETE FROM texts").await.as_deref(), Some("42501"));
    assert_eq!(refused(&mut owner, "northgate", "DELETE FROM texts").await, None);
}

#[tokio::test]
async fn the_application_cannot_move_a_session_to_another_candidate() {
    let fixture = Fixture::open().await;
    let mut application = fixture.db.application().await;
    let sql = "UPDATE sessions SET candidate_id = candidate_id";
    assert_eq!(refused(&mut application, "northgate", sql).await.as_deref(), Some("42501"));
    assert_eq!(refused(&mut application, "northgate", "DELETE FROM sessions").await.as_deref(), Some("42501"));
}

/// An INSERT of one entry after those that are there.
fn forged(fixture: &Fixture, n: i64, line: &str, head: &str) -> String {
    let (session, id) = (fixture.session.0, "0198f3c2-7a41-7000-8000-000000000009");
    format!("INSERT INTO entries VALUES ('northgate', '{session}', {n}, '{id}', 'observation', 1, '{line}', '{head}')")
}

#[tokio::test]
async fn an_entry_that_does_not_continue_the_chain_is_refused_whoever_writes_it() {
    let fixture = Fixture::open().await;
    let head = Digest::new(&fixture.chain().await.1).unwrap();
    let line = r#"{"by":"u-1","id":"0198f3c2-7a41-7000-8000-000000000009","kind":"observation"}"#;
    let good = chain::next(&head, line).to_string();
    let other = chain::next(&head, "{}").to_string();
    let by_another = line.replace("u-1", "u-2");
    let bad = [
        ("another head", forged(&fixture, 2, line, &other)),
        ("a gap", forged(&fixture, 3, line, &good)),
        ("the place of another", forged(&fixture, 1, line, &good)),
        ("before the first", forged(&fixture, 0, line, &good)),
        ("another marker in the line", forged(&fixture, 2, &by_another, chain::next(&head, &by_another).as_str())),
    ];
    for (mut connection, who) in [(fixture.db.owner().await, "owner"), (fixture.db.application().await, "application")]
    {
        for (what, sql) in &bad {
            let code = refused(&mut connection, "northgate", sql).await;
            assert!(code.as_deref().is_some_and(|code| code.starts_with("23")), "{who}: {what}: {code:?}");
        }
        let honest = forged(&fixture, 2, line, &good);
        assert_eq!(refused(&mut connection, "northgate", &honest).await, None, "{who}: the honest one");
    }
}

#[tokio::test]
async fn a_text_goes_and_the_chain_stays() {
    let fixture = Fixture::open().await;
    let remark = crate::support::centre::observation(
        crate::support::centre::new_id(),
        1,
        r#"{"kind":"remark","text":"He hesitated at the board"}"#,
    );
    fixture.append(&[remark]).await;
    let before = fixture.chain().await;
    let mut owner = fixture.db.owner().await;
    sqlx::raw_sql("DELETE FROM texts").execute(&mut owner).await.unwrap();
    let (count, head, lines) = fixture.chain().await;
    assert_eq!((count, head.clone(), lines.clone()), before);
    assert_eq!(chain::head(fixture.session.0, lines.iter().map(String::as_str)).as_str(), head);
    let log = fixture.log().await;
    assert_eq!(serde_json::to_value(&log.observations()[0].act).unwrap()["text"], "[erased]");
    assert_eq!(flawless(&fixture.task).len(), 48, "the example this suite relies on");
}
