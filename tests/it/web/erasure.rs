//! What is held about a person, handed over and erased; and erased again after an older backup.

use super::{PASSWORD, Served, read};
use crate::support::centre::Fixture;
use baywitness::seal::{Content, Entry, chain};
use baywitness::store::{erasures, sessions};
use reqwest::StatusCode;
use serde_json::Value;
use sqlx::{AssertSqlSafe, Connection, PgConnection};
use time::Duration;

const REASON: &str = "Zoë Invented said so herself";

impl Served {
    /// A manager with a password, signed in.
    async fn owning(&self) -> String {
        use baywitness::store::staff::{self, NewStaff, Role};
        let person = NewStaff {
            sign_in_name: "mona".into(),
            name: "mona (invented)".into(),
            roles: vec![Role::Manager],
            password_hash: baywitness::web::passwords::hash(PASSWORD).unwrap(),
        };
        let mut tx = self.fixture.begin().await;
        let number = staff::add(&mut tx, &self.fixture.centre, &person).await.unwrap().unwrap();
        tx.commit().await.unwrap();
        self.signed_in(number).await
    }

    fn candidate(&self, page: &str) -> String {
        format!("/candidates/{}{page}", self.fixture.candidate.0)
    }

    /// The session, marked with a remark that names the candidate, decided with a reason that does, and signed.
    async fn signed_session(&self) {
        let mine = self.signed_in(self.assessor).await;
        self.short_attempt(&mine).await;
        let remark = r#"[{"kind":"remark","text":"Zoë Invented asked for the time"}]"#;
        assert_eq!(self.post(&self.at("acts"), &mine, &[("acts", remark)]).await.status(), StatusCode::SEE_OTHER);
        self.decide_all(&mine).await;
        let decision = [("criterion", "key"), ("outcome", "not_applicable"), ("reason", REASON)];
        let done = self.post(&self.at("decisions"), &mine, &decision).await;
        assert_eq!(done.status(), StatusCode::SEE_OTHER, "{}", done.text().await.unwrap());
        let head = self.shown_head(&mine).await;
        let form = [("password", PASSWORD), ("head", head.as_str())];
        assert_eq!(self.post(&self.at("signature"), &mine, &form).await.status(), StatusCode::OK);
    }
}

/// Every row of every table as text.
async fn dump(owner: &mut PgConnection) -> Vec<(String, String)> {
    let tables: Vec<String> = sqlx::query_scalar(
        "SELECT relname::text FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p')",
    )
    .fetch_all(&mut *owner)
    .await
    .unwrap();
    let mut all = Vec::new();
    for table in tables {
        let sql = AssertSqlSafe(format!("SELECT coalesce(string_agg(t::text, E'\\n'), '') FROM {table} t"));
        all.push((table, sqlx::query_scalar(sql).fetch_one(&mut *owner).await.unwrap()));
    }
    all
}

/// The tables whose rows hold the candidate's name, in any case and with or without accents, or their reference.
async fn naming(owner: &mut PgConnection) -> Vec<String> {
    let names = |text: &str| ["zoë", "zoe", "reg-0042", "0042"].iter().any(|part| text.to_lowercase().contains(part));
    dump(owner).await.into_iter().filter(|(_, rows)| names(rows)).map(|(table, _)| table).collect()
}

/// Each session's chain as stored: count, head and lines, worked out anew.
async fn chains_hold(fixture: &Fixture, owner: &mut PgConnection) -> usize {
    let sessions: Vec<(uuid::Uuid, i64, String)> =
        sqlx::query_as("SELECT session_id, count, head FROM sessions ORDER BY session_id")
            .fetch_all(&mut *owner)
            .await
            .unwrap();
    for (session, count, head) in &sessions {
        let lines: Vec<String> = sqlx::query_scalar("SELECT line FROM entries WHERE session_id = $1 ORDER BY n")
            .bind(session)
            .fetch_all(&mut *owner)
            .await
            .unwrap();
        assert_eq!(lines.len() as i64, *count, "{session} of {}", fixture.centre.as_str());
        assert_eq!(chain::head(*session, lines.iter().map(String::as_str)).as_str(), head, "{session}");
    }
    sessions.len()
}

async fn lines(served: &Served) -> Vec<Entry> {
    let mut tx = served.fixture.begin().await;
    let lines: Vec<String> = sqlx::query_scalar("SELECT line FROM entries WHERE session_id = $1 ORDER BY n")
        .bind(served.session.0)
        .fetch_all(&mut *tx)
        .await
        .unwrap();
    lines.iter().map(|line| Entry::read(line).unwrap()).collect()
}

#[tokio::test]
async fn the_copy_holds_everything_about_the_person_and_no_hash() {
    let served = Served::new().await;
    served.signed_session().await;
    let mine = served.owning().await;
    let (status, page) = served.get(&served.candidate("/data"), &mine).await;
    assert_eq!(status, StatusCode::OK);
    for part in ["Zoë Invented", "REG-0042", "asked for the time", REASON, "Link to the feedback", "automatic fail"] {
        assert!(page.contains(part), "{part}");
    }
    let answer = served.post(&served.candidate("/data"), &mine, &[]).await;
    assert!(answer.headers()["content-disposition"].to_str().unwrap().contains("attachment"));
    let text = answer.text().await.unwrap();
    let data: Value = serde_json::from_str(&text).unwrap();
    assert_eq!(data["candidate"]["name"], "Zoë Invented");
    assert_eq!(data["sessions"].as_array().unwrap().len(), 2);
    let session = data["sessions"].as_array().unwrap().iter().find(|one| !one["result"].is_null()).unwrap();
    assert_eq!(session["result"]["verdict"]["outcome"], "automatic_fail");
    assert_eq!(session["details_with_evidence"], "Zoë Invented|REG-0042");
    assert!(session["logs"][0]["observations"].as_array().unwrap().iter().any(|seen| seen["act"]["kind"] == "remark"));
    assert!(session["decisions"].as_array().unwrap().iter().any(|decision| decision["reason"] == REASON));
    assert!(!session["findings"].as_array().unwrap().is_empty());
    assert_eq!(session["feedback_links"].as_array().unwrap().len(), 1);
    for key in ["purposes", "recipients", "kept_months", "source", "rights"] {
        assert!(!data["about"][key].is_null(), "article 15(1): {key}");
    }
    let hex = |word: &str| word.len() >= 64 && word.chars().all(|c| c.is_ascii_hexdigit());
    assert!(!text.split(|c: char| !c.is_alphanumeric()).any(hex), "no hash, salt or token");
    // It is noted that it was handed over, and looking changes nothing.
    let mut tx = served.fixture.begin().await;
    let deeds = baywitness::store::deeds::page(&mut tx, &served.fixture.centre, None).await.unwrap();
    assert_eq!(deeds.iter().filter(|deed| deed.what == "candidate_data_given").count(), 1);
}

#[tokio::test]
async fn an_erasure_waits_for_the_review_and_asks_for_the_password() {
    let served = Served::new().await;
    served.signed_session().await;
    let mine = served.owning().await;
    let path = served.candidate("/erasure");
    let (_, page) = served.get(&path, &mine).await;
    assert!(page.contains("They can ask for a review of a result until 3 March 2027."), "{page}");
    let (status, page) = read(served.post(&path, &mine, &[("password", PASSWORD)]).await).await;
    assert_eq!(status, StatusCode::CONFLICT);
    assert!(page.contains("id=\"despite-fault\""));
    let wrong = [("password", "not the password"), ("despite", "ordered")];
    let (status, page) = read(served.post(&path, &mine, &wrong).await).await;
    assert_eq!(status, StatusCode::FORBIDDEN);
    assert!(page.contains("id=\"password-fault\"") && page.contains("value=\"ordered\" selected"));
    let mut owner = served.fixture.db.owner().await;
    assert!(naming(&mut owner).await.len() >= 4, "nothing was erased, and the search sees names");

    // When no review can be asked for any more, no reason is asked for.
    served.wait(Duration::days(29).whole_seconds());
    let later = served.signed_in(served.fixture.assessor).await;
    let (_, page) = served.get(&path, &later).await;
    assert!(!page.contains("It should wait"), "{page}");
}

#[tokio::test]
async fn what_names_the_person_goes_from_every_table_and_the_chains_hold() {
    let served = Served::new().await;
    served.signed_session().await;
    let mine = served.owning().await;
    let mut owner = served.fixture.db.owner().await;
    let results: String = dump(&mut owner).await.into_iter().find(|(table, _)| table == "results").unwrap().1;
    let form = [("password", PASSWORD), ("despite", "withdrawn")];
    let answer = served.post(&served.candidate("/erasure"), &mine, &form).await;
    assert_eq!(answer.status(), StatusCode::SEE_OTHER, "{}", answer.text().await.unwrap());

    assert_eq!(naming(&mut owner).await, Vec::<String>::new());
    assert_eq!(chains_hold(&served.fixture, &mut owner).await, 2);
    let after: String = dump(&mut owner).await.into_iter().find(|(table, _)| table == "results").unwrap().1;
    assert_eq!(after, results, "outcome and marks stay");
    let last = lines(&served).await.pop().unwrap();
    assert!(matches!(last.content, Content::Erasure { texts } if texts >= 2), "{last:?}");

    // Pages still stand, without the name; a planned session is cancelled; nothing can be changed any more.
    let (status, page) = served.get(&served.candidate(""), &mine).await;
    assert!(status == StatusCode::OK && page.contains("were erased on") && page.contains("cancelled"), "{page}");
    for path in [served.at("sheet"), served.candidate("/data"), "/candidates".into(), "/candidates/erasures".into()] {
        let (status, page) = served.get(&path, &mine).await;
        assert_eq!(status, StatusCode::OK, "{path}");
        assert!(!page.contains("Zoë"), "{path}");
    }
    for path in [served.candidate("/change"), served.candidate("/erasure")] {
        assert_eq!(served.get(&path, &mine).await.0, StatusCode::CONFLICT, "{path}");
    }
    let again = served.post(&served.candidate("/erasure"), &mine, &form).await;
    assert_eq!(again.status(), StatusCode::CONFLICT);
}

#[tokio::test]
async fn somebody_whose_session_is_running_is_erased_only_with_a_reason() {
    let served = Served::new().await;
    let assessor = served.signed_in(served.assessor).await;
    served.open(&assessor).await;
    let mine = served.owning().await;
    let (_, page) = served.get(&served.candidate("/erasure"), &mine).await;
    assert!(page.contains("open and not signed"));
    let refused = served.post(&served.candidate("/erasure"), &mine, &[("password", PASSWORD)]).await;
    assert_eq!(refused.status(), StatusCode::CONFLICT);
    let form = [("password", PASSWORD), ("despite", "unlawful")];
    assert_eq!(served.post(&served.candidate("/erasure"), &mine, &form).await.status(), StatusCode::SEE_OTHER);
    let mut tx = served.fixture.begin().await;
    assert_eq!(sessions::find(&mut tx, &served.fixture.centre, served.session).await.unwrap().unwrap().count, 2);
    drop(tx);
    // A note that the tablet still had names them; replaying the list removes it.
    let remark = r#"[{"kind":"remark","text":"Zoë Invented asked again"}]"#;
    assert_eq!(served.post(&served.at("acts"), &assessor, &[("acts", remark)]).await.status(), StatusCode::SEE_OTHER);
    let mut owner = served.fixture.db.owner().await;
    assert_eq!(naming(&mut owner).await, ["texts"]);
    let list = served.get("/candidates/erasures/list.json", &mine).await.1;
    let again = served.post("/candidates/erasures", &mine, &[("list", &list), ("password", PASSWORD)]).await;
    assert!(again.text().await.unwrap().contains("0 erased again, 1 already"));
    assert_eq!(naming(&mut owner).await, Vec::<String>::new());
}

/// A backup older than the erasure is restored: the rows are back as they were. After the list is replayed there are no
/// matches for the person.
#[tokio::test]
async fn somebody_whom_an_older_backup_brings_back_is_erased_again() {
    let served = Served::new().await;
    served.signed_session().await;
    let mine = served.owning().await;
    let mut owner = served.fixture.db.owner().await;
    let tables = ["candidates", "candidate_words", "texts", "decisions", "feedback_links"];
    for table in tables {
        let copy = AssertSqlSafe(format!("CREATE TEMPORARY TABLE before_{table} AS TABLE {table}"));
        sqlx::raw_sql(copy).execute(&mut owner).await.unwrap();
    }
    let form = [("password", PASSWORD), ("despite", "withdrawn")];
    served.post(&served.candidate("/erasure"), &mine, &form).await;
    let list = served.get("/candidates/erasures/list.json", &mine).await.1;
    assert!(!list.contains("Zoë"));

    // As a restore does: past every trigger.
    let mut tx = owner.begin().await.unwrap();
    sqlx::raw_sql(
        "SET LOCAL session_replication_role = replica; ALTER TABLE decisions DISABLE TRIGGER ALL;
                   ALTER TABLE erasures DISABLE TRIGGER ALL; ALTER TABLE texts DISABLE TRIGGER ALL",
    )
    .execute(&mut *tx)
    .await
    .unwrap();
    for table in tables {
        let restore = AssertSqlSafe(format!("DELETE FROM {table}; INSERT INTO {table} TABLE before_{table}"));
        sqlx::raw_sql(restore).execute(&mut *tx).await.unwrap();
    }
    sqlx::raw_sql(
        "DELETE FROM erasures; ALTER TABLE decisions ENABLE ALWAYS TRIGGER refuse_update;
                   ALTER TABLE decisions ENABLE ALWAYS TRIGGER only_erase_a_reason;
                   ALTER TABLE decisions ENABLE ALWAYS TRIGGER refuse_change;
                   ALTER TABLE erasures ENABLE ALWAYS TRIGGER refuse_change;
                   ALTER TABLE texts ENABLE ALWAYS TRIGGER refuse_change",
    )
    .execute(&mut *tx)
    .await
    .unwrap();
    tx.commit().await.unwrap();
    assert_eq!(naming(&mut owner).await.len(), 4, "details, words, texts and reasons are back");

    let made_up = list.replace("northgate", "southgate");
    let (status, page) =
        read(served.post("/candidates/erasures", &mine, &[("list", &made_up), ("password", PASSWORD)]).await).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.contains("id=\"list-fault\""));
    let wrong = served.post("/candidates/erasures", &mine, &[("list", &list), ("password", "another")]).await;
    assert_eq!(wrong.status(), StatusCode::FORBIDDEN);
    let (status, page) =
        read(served.post("/candidates/erasures", &mine, &[("list", &list), ("password", PASSWORD)]).await).await;
    assert_eq!(status, StatusCode::OK);
    assert!(page.contains("1 erased again, 0 already, 0 unknown"), "{page}");
    assert_eq!(naming(&mut owner).await, Vec::<String>::new());
    chains_hold(&served.fixture, &mut owner).await;
}

#[tokio::test]
async fn nothing_is_purged_but_of_somebody_who_is_erased_and_on_the_list() {
    let served = Served::new().await;
    served.signed_session().await;
    let candidate = served.fixture.candidate;
    let refused = async |sql: &str| {
        let mut tx = served.fixture.begin().await;
        let done = sqlx::raw_sql(AssertSqlSafe(sql.to_owned())).execute(&mut *tx).await;
        done.err().map(|why| why.into_database_error().unwrap().code().unwrap().into_owned())
    };
    let purge = format!("SELECT purge_erased('{}')", candidate.0);
    assert_eq!(refused(&purge).await.as_deref(), Some("23001"));
    let half = format!("UPDATE candidates SET erased_at = '2027-02-03'; {purge}");
    assert_eq!(refused(&half).await.as_deref(), Some("23001"), "not on the list");
    let set = "SELECT set_config('baywitness.erasing', 'x', true); UPDATE decisions SET reason = '[erased]'";
    assert_eq!(refused(set).await.as_deref(), Some("42501"), "the application may not change a decision");
    let mut owner = served.fixture.db.owner().await;
    for change in ["reason = 'other'", "reason = '[erased]'", "outcome = 'met'"] {
        let mut tx = owner.begin().await.unwrap();
        let sql = format!("SELECT set_config('baywitness.erasing', 'x', true); UPDATE decisions SET {change}");
        let done = sqlx::raw_sql(AssertSqlSafe(sql)).execute(&mut *tx).await.unwrap_err();
        assert_eq!(done.into_database_error().unwrap().code().as_deref(), Some("23001"), "owner: {change}");
        tx.rollback().await.unwrap();
    }
    // Another centre's transaction does not reach them.
    let mut tx = served.fixture.begin().await;
    let (centre, now) = (&served.fixture.centre, served.now());
    erasures::erase(&mut tx, centre, candidate, served.assessor, None, now).await.unwrap().unwrap();
    tx.commit().await.unwrap();
    let other = baywitness::store::CentreId::new("southgate").unwrap();
    let mut tx = served.fixture.db.store.begin(&other).await.unwrap();
    let done = sqlx::raw_sql(AssertSqlSafe(purge)).execute(&mut *tx).await;
    assert_eq!(done.unwrap_err().into_database_error().unwrap().code().as_deref(), Some("23001"));
}
