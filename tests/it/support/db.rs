//! A database for each test, on a throw-away cluster in memory.
//!
//! The cluster is the one that `BAYWITNESS_TEST_PG` names (the address of its superuser), or else one that this
//! process starts; a shell that waits for the end of this process then takes it down, however the process ends.

use baywitness::postgres::Cluster;
use baywitness::seal::Digest;
use baywitness::store::Store;
use baywitness::store::migrate::{self, Connect};
use sqlx::postgres::PgConnectOptions;
use sqlx::{AssertSqlSafe, Connection, PgConnection};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::str::FromStr;
use std::sync::OnceLock;
use uuid::Uuid;

/// One test's own database, migrated.
pub struct Database {
    pub store: Store,
    connect: Connect,
}

impl Database {
    pub async fn new() -> Self {
        let admin = &server().admin;
        let template = template(admin).await;
        let name = format!("t_{}", Uuid::from_u128(rand::random()).simple());
        let mut connection = PgConnection::connect_with(admin).await.unwrap();
        let create = format!("CREATE DATABASE {name} TEMPLATE {template} STRATEGY FILE_COPY");
        sqlx::raw_sql(AssertSqlSafe(create)).execute(&mut connection).await.unwrap();
        connection.close().await.unwrap();
        let connect = throw_away(admin.clone().database(&name));
        Self { store: migrate::open(&connect).await.unwrap(), connect }
    }

    /// How to reach it, for a second program.
    pub fn connect(&self) -> &Connect {
        &self.connect
    }

    /// A connection of the owner, a superuser.
    pub async fn owner(&self) -> PgConnection {
        PgConnection::connect_with(&self.connect.owner).await.unwrap()
    }

    /// A connection as the application's role, with no centre set.
    pub async fn application(&self) -> PgConnection {
        let mut connection = self.owner().await;
        sqlx::raw_sql("SET ROLE baywitness_app").execute(&mut connection).await.unwrap();
        connection
    }
}

/// An empty database, never migrated.
pub async fn empty() -> Connect {
    let admin = &server().admin;
    let name = format!("e_{}", Uuid::from_u128(rand::random()).simple());
    let mut connection = PgConnection::connect_with(admin).await.unwrap();
    sqlx::raw_sql(AssertSqlSafe(format!("CREATE DATABASE {name}"))).execute(&mut connection).await.unwrap();
    connection.close().await.unwrap();
    throw_away(admin.clone().database(&name))
}

fn throw_away(database: PgConnectOptions) -> Connect {
    Connect { allow_unsafe_durability: true, connections: 8, ..Connect::to(database.clone(), database) }
}

/// The migrated database that the others are copied from: made once for each set of migrations, by whichever process
/// comes first.
async fn template(admin: &PgConnectOptions) -> String {
    let name = format!("template_{}", &migrations().as_str()[..16]);
    let mut connection = PgConnection::connect_with(admin).await.unwrap();
    sqlx::raw_sql("SELECT pg_advisory_lock(1)").execute(&mut connection).await.unwrap();
    let ready: Option<bool> = sqlx::query_scalar("SELECT NOT datallowconn FROM pg_database WHERE datname = $1")
        .bind(&name)
        .fetch_optional(&mut connection)
        .await
        .unwrap();
    if ready != Some(true) {
        let anew = [format!("DROP DATABASE IF EXISTS {name}"), format!("CREATE DATABASE {name}")];
        for statement in anew {
            sqlx::raw_sql(AssertSqlSafe(statement)).execute(&mut connection).await.unwrap();
        }
        migrate::open(&throw_away(admin.clone().database(&name))).await.unwrap().close().await;
        let done = format!("ALTER DATABASE {name} IS_TEMPLATE true ALLOW_CONNECTIONS false");
        sqlx::raw_sql(AssertSqlSafe(done)).execute(&mut connection).await.unwrap();
    }
    connection.close().await.unwrap();
    name
}

/// The digest of all migrations.
fn migrations() -> Digest {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("migrations");
    let mut files: Vec<_> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    Digest::of(files.iter().map(|file| std::fs::read_to_string(file).unwrap()).collect::<String>())
}

struct Server {
    /// The superuser, in a database that tests do not use.
    admin: PgConnectOptions,
    /// Where this process started it: the cluster, and the shell that outlives us by a moment.
    _own: Option<(Cluster, Child)>,
}

fn server() -> &'static Server {
    static SERVER: OnceLock<Server> = OnceLock::new();
    SERVER.get_or_init(|| match std::env::var("BAYWITNESS_TEST_PG") {
        Ok(address) => Server { admin: PgConnectOptions::from_str(&address).unwrap(), _own: None },
        Err(_) => {
            let folder = in_memory("it");
            let cluster = Cluster::start_with(&folder, FORGETFUL).unwrap();
            let watcher = stop_after_us(&cluster, &folder);
            let admin = cluster.connect().owner.database("postgres");
            Server { admin, _own: Some((cluster, watcher)) }
        }
    })
}

/// Settings for a cluster that is thrown away.
pub const FORGETFUL: &[(&str, &str)] = &[
    ("fsync", "off"),
    ("synchronous_commit", "off"),
    ("full_page_writes", "off"),
    ("autovacuum", "off"),
    ("max_connections", "200"),
];

/// A new folder in memory where the machine has such, else among the temporary ones.
pub fn in_memory(what: &str) -> PathBuf {
    let memory = Path::new("/dev/shm");
    let parent = if memory.is_dir() { memory.to_owned() } else { std::env::temp_dir() };
    let folder = parent.join(format!("bw-{what}-{}-{:08x}", std::process::id(), rand::random::<u32>()));
    std::fs::create_dir(&folder).unwrap();
    folder
}

/// A shell that reads from a pipe nobody writes to. When this process ends, however, the pipe ends and so the wait.
fn stop_after_us(cluster: &Cluster, folder: &Path) -> Child {
    let script = "read -r line; kill -INT \"$1\"; i=0
        while [ -e \"$2/postgres/postmaster.pid\" ] && [ $i -lt 100 ]; do sleep 0.1; i=$((i + 1)); done
        rm -rf \"$2\"";
    let mut command = Command::new("sh");
    command.args(["-c", script, "sh", &cluster.pid().to_string()]).arg(folder);
    command.stdin(Stdio::piped()).stdout(Stdio::null()).stderr(Stdio::null());
    std::os::unix::process::CommandExt::process_group(&mut command, 0);
    command.spawn().unwrap()
}
