//! Brings the database to the newest shape, under an advisory lock, before anything is served.

use super::{Store, StoreError};
use sqlx::postgres::{PgConnectOptions, PgPoolOptions};
use sqlx::{Connection, PgConnection};
use std::time::Duration;

static MIGRATIONS: sqlx::migrate::Migrator = sqlx::migrate!();

/// Steps down to the role that owns nothing, and bounds how long a statement, a wait for a row and a forgotten
/// transaction may last: a request that waits in vain is to hear so within five seconds. Queries are not compiled first: for
/// the widest of ours that takes longer than answering them. The centre is never set here: it belongs to one transaction.
const STEP_DOWN: &str = "
    SET ROLE baywitness_app;
    SET statement_timeout = '4s';
    SET lock_timeout = '3s';
    SET idle_in_transaction_session_timeout = '15s';
    SET jit = off;
    SET timezone = 'UTC'";

/// How the program reaches its database: as the owner, for migrations only, and as the application.
#[derive(Debug, Clone)]
pub struct Connect {
    pub owner: PgConnectOptions,
    /// The login of the application. Where it is the owner's, each connection steps down to the application's role.
    pub application: PgConnectOptions,
    /// Most connections of the application at once.
    pub connections: u32,
    /// Serve although the server may lose what it has acknowledged. Only for databases that are thrown away.
    pub allow_unsafe_durability: bool,
}

impl Connect {
    /// Reaches the database through these two logins, which may be the same.
    pub fn to(owner: PgConnectOptions, application: PgConnectOptions) -> Self {
        Self { owner, application, connections: 16, allow_unsafe_durability: false }
    }
}

/// Runs the migrations, then opens the pool as the application's role. Refuses to serve where that role could pass
/// row-level security by (superuser, BYPASSRLS, owner of a table), or where the server may lose what it has
/// acknowledged (`fsync`, `full_page_writes`, `synchronous_commit` off).
pub async fn open(connect: &Connect) -> Result<Store, StoreError> {
    let mut owner = PgConnection::connect_with(&connect.owner).await?;
    MIGRATIONS.run(&mut owner).await?;
    owner.close().await?;

    // Tried once outside the pool, which would try again and in the end say only that it waited in vain.
    let mut first = PgConnection::connect_with(&connect.application).await?;
    step_down(&mut first).await?;
    refuse_privileged(&mut first).await?;
    if !connect.allow_unsafe_durability {
        refuse_forgetful(&mut first).await?;
    }
    first.close().await?;

    let pool = PgPoolOptions::new()
        .max_connections(connect.connections)
        .acquire_timeout(Duration::from_secs(4))
        .after_connect(|connection, _| Box::pin(step_down(connection)))
        .connect_with(connect.application.clone())
        .await?;
    Ok(Store::over(pool))
}

async fn step_down(connection: &mut PgConnection) -> Result<(), sqlx::Error> {
    sqlx::raw_sql(STEP_DOWN).execute(connection).await?;
    Ok(())
}

async fn refuse_privileged(connection: &mut PgConnection) -> Result<(), StoreError> {
    let role = sqlx::query!(
        r#"SELECT rolname AS "name!", rolsuper AS "superuser!", rolbypassrls AS "bypasses!",
                  EXISTS (SELECT FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p')
                          AND pg_has_role(current_user, relowner, 'MEMBER')) AS "owns!"
           FROM pg_roles WHERE rolname = current_user"#
    )
    .fetch_one(connection)
    .await?;
    let what = match role {
        _ if role.superuser => "is a superuser",
        _ if role.bypasses => "has BYPASSRLS",
        _ if role.owns => "owns tables",
        _ => return Ok(()),
    };
    let why = format!("the application's role {} {what}, so that centres would not be held apart", role.name);
    Err(StoreError::Unsafe { why })
}

async fn refuse_forgetful(connection: &mut PgConnection) -> Result<(), StoreError> {
    let settings = sqlx::query!(
        r#"SELECT name AS "name!", setting AS "setting!" FROM pg_settings
           WHERE name IN ('fsync', 'full_page_writes', 'synchronous_commit') ORDER BY name"#
    )
    .fetch_all(connection)
    .await?;
    // `remote_apply` is stricter than `on`; `local` and `remote_write` promise less where there is a standby.
    let forgetful = settings
        .iter()
        .filter(|row| row.setting != "on" && !(row.name == "synchronous_commit" && row.setting == "remote_apply"))
        .map(|row| format!("{} is {}", row.name, row.setting));
    let forgetful: Vec<_> = forgetful.collect();
    if forgetful.is_empty() {
        return Ok(());
    }
    let why = format!("it may lose what it has acknowledged ({}); set it to on", forgetful.join(", "));
    Err(StoreError::Unsafe { why })
}
