//! Brings the database to the newest shape, under an advisory lock, before anything is served.

use super::{Store, StoreError};

/// How the program reaches its database: as the owner, for migrations only, and as the application.
#[derive(Debug, Clone)]
pub struct Connect {
    pub owner: sqlx::postgres::PgConnectOptions,
    /// The login of the application. Where it is the owner's, each connection steps down to the application's role.
    pub application: sqlx::postgres::PgConnectOptions,
}

/// Runs the migrations, then opens the pool as the application's role. Refuses to serve where that role could pass
/// row-level security by (superuser, BYPASSRLS, owner of a table), or where the server may lose what it has
/// acknowledged (`fsync`, `full_page_writes`, `synchronous_commit` off).
pub async fn open(connect: &Connect) -> Result<Store, StoreError> {
    let _ = connect;
    todo!()
}
