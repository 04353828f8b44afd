//! Centres are held apart by the database itself. Tables are taken from the catalogue, so that a new one is included.

use crate::support::centre::Fixture;
use crate::support::db::Database;
use baywitness::store::{CentreId, sessions};
use sqlx::{AssertSqlSafe, PgConnection};

/// Every table of ours.
async fn tables(connection: &mut PgConnection) -> Vec<String> {
    let names: Vec<String> = sqlx::query_scalar(
        "SELECT relname::text FROM pg_class
         WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p') AND relname <> '_sqlx_migrations'
         ORDER BY relname",
    )
    .fetch_all(connection)
    .await
    .unwrap();
    assert!(names.len() >= 15, "{names:?}");
    names
}

async fn count(connection: &mut PgConnection, table: &str) -> i64 {
    let count = AssertSqlSafe(format!("SELECT count(*) FROM {table}"));
    sqlx::query_scalar(count).fetch_one(connection).await.unwrap()
}

/// What a query on the catalogue finds that should not be.
async fn found(sql: &'static str) -> Vec<String> {
    let db = Database::new().await;
    sqlx::query_scalar(sql).fetch_all(&mut db.owner().await).await.unwrap()
}

#[tokio::test]
async fn row_level_security_is_forced_on_every_table() {
    let open = found(
        "SELECT relname::text FROM pg_class
         WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p') AND relname <> '_sqlx_migrations'
           AND NOT (relrowsecurity AND relforcerowsecurity
                    AND EXISTS (SELECT FROM pg_policy WHERE polrelid = pg_class.oid
                                AND polqual IS NOT NULL AND polwithcheck IS NOT NULL))",
    )
    .await;
    assert_eq!(open, Vec::<String>::new());
}

#[tokio::test]
async fn every_key_of_every_table_holds_the_centre() {
    let without = found(
        "SELECT conname::text FROM pg_constraint
         WHERE connamespace = 'public'::regnamespace AND contype IN ('p', 'u', 'f')
           AND conrelid <> '_sqlx_migrations'::regclass
           AND NOT EXISTS (SELECT FROM pg_attribute WHERE attrelid = conrelid AND attname = 'centre_id'
                           AND attnum = ANY(conkey))",
    )
    .await;
    assert_eq!(without, Vec::<String>::new());
    let without_key = found(
        "SELECT relname::text FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p')
           AND NOT EXISTS (SELECT FROM pg_constraint WHERE conrelid = pg_class.oid AND contype = 'p')",
    )
    .await;
    assert_eq!(without_key, Vec::<String>::new());
    let unique_indexes_without = found(
        "SELECT indexrelid::regclass::text FROM pg_index JOIN pg_class ON pg_class.oid = indrelid
         WHERE relnamespace = 'public'::regnamespace AND indisunique AND indrelid <> '_sqlx_migrations'::regclass
           AND NOT EXISTS (SELECT FROM pg_attribute WHERE attrelid = indrelid AND attname = 'centre_id'
                           AND attnum = ANY(indkey))",
    )
    .await;
    assert_eq!(unique_indexes_without, Vec::<String>::new());
}

#[tokio::test]
async fn the_application_owns_nothing_and_has_only_the_rights_it_needs() {
    let owned = found(
        "SELECT relname::text FROM pg_class WHERE pg_get_userbyid(relowner) = 'baywitness_app'
         UNION ALL SELECT proname::text FROM pg_proc WHERE pg_get_userbyid(proowner) = 'baywitness_app'",
    )
    .await;
    assert_eq!(owned, Vec::<String>::new());
    let rights = found(
        "SELECT format('%s %s', table_name, string_agg(lower(privilege_type), ' ' ORDER BY privilege_type))
         FROM information_schema.role_table_grants WHERE grantee IN ('baywitness_app', 'PUBLIC') AND table_schema = 'public'
         GROUP BY table_name ORDER BY table_name",
    )
    .await;
    let expected = [
        "amended_results insert select",
        "amendments insert select",
        "calendar_feeds insert select",
        "candidate_words delete insert select",
        "candidates insert select",
        "centres insert select",
        "checklist_drafts delete insert select",
        "checklists insert select",
        "contacts insert select",
        "credential_places select",
        "criteria insert select",
        "decisions insert select",
        "deeds insert select",
        "devices insert select",
        "entries insert select",
        "erased_words select",
        "erasures insert select",
        "export_columns insert select",
        "export_ends insert select",
        "exports insert select",
        "feedback_links insert select",
        "feedback_visits insert select",
        "holds insert select",
        "identity_checks insert select",
        "invitations insert select",
        "keeping_counts insert select",
        "keeping_runs insert select",
        "kept select",
        "kept_plans select",
        "kept_sessions select",
        "last_signatures select",
        "one_time_secrets delete insert select",
        "open_reviews select",
        "recovery_codes delete insert select",
        "releases insert select",
        "results insert select",
        "review_ends insert select",
        "reviews insert select",
        "samples insert select",
        "second_markers delete insert select",
        "session_changes insert select",
        "sessions insert select",
        "sign_in_tries delete insert select update",
        "sign_ins delete insert select",
        "staff insert select",
        "standing_holds select",
        "tablets insert select",
        "task_checklists insert select",
        "task_drafts delete insert select",
        "tasks insert select",
        "texts insert select",
    ];
    assert_eq!(rights, expected);
    let columns = found(
        "SELECT format('%s.%s', table_name, column_name) FROM information_schema.role_column_grants
         WHERE grantee = 'baywitness_app' AND privilege_type = 'UPDATE' AND table_name <> 'sign_in_tries' ORDER BY 1",
    )
    .await;
    let expected = [
        "calendar_feeds.revoked_at",
        "candidates.called",
        "candidates.erased_at",
        "candidates.extra_minutes",
        "candidates.extra_percent",
        "candidates.name",
        "candidates.other_adjustment",
        "candidates.reader",
        "candidates.reference",
        "candidates.sort_key",
        "candidates.sort_name",
        "centres.candidate_language",
        "centres.keep_candidates_months",
        "centres.keep_deeds_months",
        "centres.keep_evidence_months",
        "centres.keep_exports_months",
        "centres.keep_fails_months",
        "centres.keep_invitations_months",
        "centres.keep_links_months",
        "centres.keep_sign_ins_months",
        "centres.keep_texts_months",
        "centres.name",
        "centres.periods_set_at",
        "centres.periods_set_by",
        "centres.release",
        "centres.release_days",
        "centres.release_time",
        "centres.review_days",
        "centres.scheme",
        "centres.second_factor_asked",
        "centres.sheet_name",
        "centres.time_zone",
        "checklist_drafts.changed_at",
        "checklist_drafts.changed_by",
        "checklist_drafts.source",
        "checklist_drafts.title",
        "criteria.changed_at",
        "criteria.changed_by",
        "criteria.retired_at",
        "criteria.source",
        "criteria.stage",
        "devices.high",
        "export_columns.columns",
        "feedback_links.revoked_at",
        "feedback_links.wrong_codes",
        "holds.lifted_at",
        "holds.lifted_by",
        "invitations.used_at",
        "invitations.withdrawn_at",
        "keeping_runs.ended_at",
        "one_time_secrets.last_step",
        "one_time_secrets.secret",
        "one_time_secrets.set_up_at",
        "recovery_codes.used_at",
        "sessions.assessor",
        "sessions.bay",
        "sessions.changed_at",
        "sessions.count",
        "sessions.extra_minutes",
        "sessions.extra_percent",
        "sessions.given_up",
        "sessions.given_up_at",
        "sessions.given_up_by",
        "sessions.given_up_reason",
        "sessions.head",
        "sessions.length_minutes",
        "sessions.opened_at",
        "sessions.planned_at",
        "sessions.sequence",
        "sessions.task_id",
        "sessions.task_version",
        "sessions.turn_round_minutes",
        "sign_ins.password_at",
        "sign_ins.seen_at",
        "staff.disabled_at",
        "staff.name",
        "staff.password_hash",
        "staff.roles",
        "tablets.revoked_at",
        "task_drafts.changed_at",
        "task_drafts.changed_by",
        "task_drafts.source",
        "task_drafts.title",
    ];
    assert_eq!(columns, expected);
}

#[tokio::test]
async fn with_no_centre_set_the_application_reads_no_row_of_any_table() {
    let fixture = Fixture::open().await;
    let (mut owner, mut application) = (fixture.db.owner().await, fixture.db.application().await);
    let mut filled = 0;
    for table in tables(&mut owner).await {
        filled += usize::from(count(&mut owner, &table).await > 0);
        assert_eq!(count(&mut application, &table).await, 0, "{table}");
    }
    assert!(filled >= 7, "only {filled} tables hold rows: this test sees too little");
}

#[tokio::test]
async fn a_centre_sees_its_own_rows_and_none_of_another() {
    let one = Fixture::open().await;
    let other = CentreId::new("southgate").unwrap();
    let mut owner = one.db.owner().await;
    for table in tables(&mut owner).await {
        let mut tx = one.db.store.begin(&other).await.unwrap();
        assert_eq!(count(&mut tx, &table).await, 0, "{table}");
    }
    let mut tx = one.db.store.begin(&other).await.unwrap();
    assert_eq!(sessions::find(&mut tx, &other, one.session).await.unwrap(), None);
    // Even where the handler names the other centre, the transaction's own decides.
    assert_eq!(sessions::find(&mut tx, &one.centre, one.session).await.unwrap(), None);
    assert_eq!(sessions::hold(&mut tx, &one.centre, one.session).await.unwrap(), None);
}

#[tokio::test]
async fn a_row_cannot_be_written_into_another_centre() {
    let one = Fixture::new().await;
    let other = CentreId::new("southgate").unwrap();
    let mut tx = one.db.store.begin(&other).await.unwrap();
    let written = sqlx::query("INSERT INTO candidates VALUES ($1, $2, 'A', 'B')")
        .bind(one.centre.as_str())
        .bind(uuid::Uuid::from_u128(1))
        .execute(&mut *tx)
        .await;
    let refused = written.unwrap_err().into_database_error().unwrap();
    assert_eq!(refused.code().as_deref(), Some("42501"), "{refused}");
}

#[tokio::test]
async fn a_centre_does_not_stay_on_a_pooled_connection() {
    let one = Fixture::open().await;
    let other = CentreId::new("southgate").unwrap();
    for turn in 0..100 {
        let centre = if turn % 2 == 0 { &one.centre } else { &other };
        let mut tx = one.db.store.begin(centre).await.unwrap();
        let seen = count(&mut tx, "sessions").await;
        assert_eq!(seen, i64::from(turn % 2 == 0));
        if turn % 3 == 0 {
            tx.commit().await.unwrap();
        }
    }
}
