//! Migrations run at start, by however many programs, and nothing is served from an unsafe database.

use crate::support::centre::NOW;
use crate::support::db::{Database, empty};
use baywitness::store::centres::{self, Centre};
use baywitness::store::migrate::{self, Connect};
use baywitness::store::{CentreId, StoreError, sign_ins};
use sqlx::{AssertSqlSafe, Connection, PgConnection};

#[tokio::test]
async fn migrations_run_again_change_nothing() {
    let db = Database::new().await;
    migrate::open(db.connect()).await.unwrap().close().await;
    migrate::open(db.connect()).await.unwrap().close().await;
}

#[tokio::test]
async fn programs_that_start_at_once_migrate_once_each_database() {
    let (one, two) = (empty().await, empty().await);
    let starts = [&one, &two, &one, &two].map(migrate::open);
    let [a, b, c, d] = starts;
    let (a, b, c, d) = tokio::join!(a, b, c, d);
    for store in [a, b, c, d] {
        store.unwrap().close().await;
    }
    for connect in [&one, &two] {
        let mut owner = PgConnection::connect_with(&connect.owner).await.unwrap();
        let twice: i64 = sqlx::query_scalar("SELECT count(*) - count(DISTINCT version) FROM _sqlx_migrations")
            .fetch_one(&mut owner)
            .await
            .unwrap();
        assert_eq!(twice, 0);
    }
}

/// Why a start is refused.
async fn refusal(connect: &Connect) -> String {
    match migrate::open(connect).await {
        Err(StoreError::Unsafe { why }) => why,
        other => panic!("{other:?}"),
    }
}

#[tokio::test]
async fn a_server_that_may_forget_is_refused() {
    let db = Database::new().await;
    let connect = Connect { allow_unsafe_durability: false, ..db.connect().clone() };
    let mut owner = db.owner().await;
    let fsync: String = sqlx::query_scalar("SHOW fsync").fetch_one(&mut owner).await.unwrap();
    assert_eq!(fsync, "off", "this test needs the throw-away cluster");
    let why = refusal(&connect).await;
    assert!(why.contains("fsync is off") && why.contains("synchronous_commit is off"), "{why}");
}

#[tokio::test]
async fn an_application_that_could_pass_the_fences_by_is_refused() {
    let db = Database::new().await;
    let mut owner = db.owner().await;
    // In this database alone: the role is shared by the whole cluster, and so by the tests beside this one.
    sqlx::raw_sql("CREATE TABLE stray (centre_id text PRIMARY KEY); ALTER TABLE stray OWNER TO baywitness_app")
        .execute(&mut owner)
        .await
        .unwrap();
    let why = refusal(db.connect()).await;
    assert!(why.contains("baywitness_app owns tables"), "{why}");
}

#[tokio::test]
async fn an_owner_without_superuser_rights_serves_as_well_and_is_bound_by_the_fences() {
    // As on a hosted server: one login that owns the database and may make roles, and nothing more.
    let superuser = empty().await.owner;
    let mut connection = PgConnection::connect_with(&superuser).await.unwrap();
    let name = superuser.get_database().unwrap();
    let role = format!("owner_of_{name}");
    let hand_over = format!("CREATE ROLE {role} LOGIN CREATEROLE; ALTER DATABASE {name} OWNER TO {role}");
    sqlx::raw_sql(AssertSqlSafe(hand_over)).execute(&mut connection).await.unwrap();
    let owner = superuser.clone().username(&role);
    let connect = Connect { allow_unsafe_durability: true, ..Connect::to(owner.clone(), owner.clone()) };
    let store = migrate::open(&connect).await.unwrap();
    let id = CentreId::new("northgate").unwrap();
    let mut tx = store.begin(&id).await.unwrap();
    let centre = Centre { id: id.clone(), name: "Northgate (invented)".to_owned(), time_zone: "UTC".to_owned() };
    assert!(centres::add(&mut tx, &centre).await.unwrap());
    assert_eq!(sign_ins::may_try(&mut tx, &id, "rowan", "192.0.2.1", NOW).await.unwrap(), None);
    tx.commit().await.unwrap();
    let mut owner = PgConnection::connect_with(&owner).await.unwrap();
    let seen: i64 = sqlx::query_scalar("SELECT count(*) FROM centres").fetch_one(&mut owner).await.unwrap();
    assert_eq!(seen, 0, "row-level security binds the owner too");
}
