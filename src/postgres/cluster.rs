//! Makes, starts and stops the cluster.

use super::account::Account;
use super::installed::Installed;
use super::{folder, leftover};
use crate::store::migrate::Connect;
use rustix::process::{Pid, Signal, kill_process};
use sqlx::postgres::{PgConnectOptions, PgSslMode};
use std::fs::{File, OpenOptions, TryLockError};
use std::io::Write;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::Duration;

/// The superuser of the cluster: runs migrations.
const OWNER: &str = "baywitness_owner";
/// The login of the application: a member of the role that owns nothing.
const LOGIN: &str = "baywitness_login";
const DATABASE: &str = "baywitness";

/// Run once, before the cluster is ever served. The application's role is made here as well as by the first migration,
/// because its login must be a member of it.
const ROLES: &str = "\
CREATE ROLE baywitness_app NOLOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOBYPASSRLS;
CREATE ROLE baywitness_login LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOBYPASSRLS IN ROLE baywitness_app;
CREATE DATABASE baywitness;
";

/// How often a state is asked for while waiting.
const STEP: Duration = Duration::from_millis(10);
/// 60 s: a server that recovers after a crash needs its time.
const STEPS_TO_READY: u32 = 6_000;
/// 10 s: how long the folder may still look taken while a killed server waits to be reaped.
const STEPS_WHILE_TAKEN: u32 = 1_000;

/// Why there is no cluster, and what to do about it.
#[derive(Debug, thiserror::Error)]
pub enum ClusterError {
    #[error(
        "PostgreSQL is not installed, or not where it usually is. Install it (Debian, Ubuntu: apt-get install \
         postgresql; Fedora: dnf install postgresql-server; Arch: pacman -S postgresql; macOS: brew install \
         postgresql@17), or put the folder with postgres and initdb on PATH, or name a database in DATABASE_URL"
    )]
    NotInstalled,
    #[error("the data was made by PostgreSQL {major}, which is not installed: install postgresql-{major}")]
    OtherVersion { major: u32 },
    #[error("PostgreSQL does not run as root, and there is no account called postgres or nobody to run it as")]
    NoAccount,
    #[error("another baywitness is running on {}", data.display())]
    InUse { data: PathBuf },
    #[error(
        "{} cannot be entered by the account {account}, which PostgreSQL runs as: allow it (chmod o+x), or choose \
         another data folder",
        folder.display()
    )]
    Unreachable { folder: PathBuf, account: String },
    #[error("{} should be a folder of {account} that nobody else can enter", folder.display())]
    NotOurs { folder: PathBuf, account: String },
    #[error("{} is too long a path for a Unix socket: choose a shorter data folder", folder.display())]
    LongPath { folder: PathBuf },
    #[error("cannot {doing} {}", path.display())]
    File {
        doing: &'static str,
        path: PathBuf,
        #[source]
        why: std::io::Error,
    },
    #[error("{program} failed: {says}")]
    Program { program: &'static str, says: String },
    #[error("the database server did not get ready: {says}")]
    NotReady { says: String },
    #[error("the database server (process {pid}) does not stop")]
    WillNotStop { pid: i32 },
}

impl ClusterError {
    /// What was being done to which file, for `map_err`.
    pub(super) fn on(doing: &'static str, path: impl AsRef<Path>) -> impl FnOnce(std::io::Error) -> Self {
        let path = path.as_ref().to_owned();
        move |why| Self::File { doing, path, why }
    }
}

/// A running private cluster. Stopped when it is dropped.
#[derive(Debug)]
pub struct Cluster {
    server: Child,
    socket: PathBuf,
    /// Held as long as we live: it keeps a second program off the same data.
    _lock: File,
}

impl Cluster {
    /// Starts the cluster in a data folder, which is made where it is not there. What an earlier run left behind,
    /// however it ended, is taken over.
    ///
    /// # Errors
    /// In words that say what to do; see [`ClusterError`].
    pub fn start(data: &Path) -> Result<Self, ClusterError> {
        Self::start_with(data, &[])
    }

    /// As [`Cluster::start`], with settings of the server over the usual ones, such as `fsync` for one that is thrown
    /// away.
    ///
    /// # Errors
    /// As [`Cluster::start`].
    pub fn start_with(data: &Path, settings: &[(&str, &str)]) -> Result<Self, ClusterError> {
        std::fs::create_dir_all(data).map_err(ClusterError::on("make", data))?;
        let data = &std::fs::canonicalize(data).map_err(ClusterError::on("find", data))?;
        let lock = lock(data)?;
        let account = Account::choose()?;
        let files = data.join("postgres");
        account.can_reach(&files)?;
        let installed = Installed::find(major_of(&files)?)?;
        if !files.exists() {
            make(&installed, &account, data, &files)?;
        }
        leftover::stop(&files)?;
        let socket = folder::of_socket(data, &account)?;
        let server = Starting { installed: &installed, account: &account, files: &files, socket: &socket, settings };
        let server = server.start(&data.join("postgres.log"))?;
        Ok(Self { server, socket, _lock: lock })
    }

    /// How to reach it: as the owner for migrations, and as the application.
    pub fn connect(&self) -> Connect {
        let login = |name| {
            PgConnectOptions::new_without_pgpass()
                .socket(&self.socket)
                .port(5432)
                .username(name)
                .database(DATABASE)
                .ssl_mode(PgSslMode::Disable)
        };
        Connect::to(login(OWNER), login(LOGIN))
    }

    /// The folder of its socket.
    pub fn socket(&self) -> &Path {
        &self.socket
    }

    /// The process of its server.
    pub fn pid(&self) -> u32 {
        self.server.id()
    }

    /// Ends its connections, writes everything out and waits for the server to end.
    ///
    /// # Errors
    /// Where the server does not end within 30 s.
    pub fn stop(mut self) -> Result<(), ClusterError> {
        self.end()
    }

    fn end(&mut self) -> Result<(), ClusterError> {
        let number = i32::try_from(self.server.id()).unwrap_or(0);
        if let (Ok(None), Some(pid)) = (self.server.try_wait(), Pid::from_raw(number)) {
            // SIGINT: "fast shutdown". Where it has just ended by itself there is nobody left to ask.
            let _ = kill_process(pid, Signal::INT);
        }
        for _ in 0..3_000 {
            if !matches!(self.server.try_wait(), Ok(None)) {
                return Ok(());
            }
            sleep(STEP);
        }
        Err(ClusterError::WillNotStop { pid: number })
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        if let Err(why) = self.end() {
            tracing::error!(%why, "the private database server was left running");
        }
    }
}

/// Takes the data folder for this program alone, until it ends in whatever way.
fn lock(data: &Path) -> Result<File, ClusterError> {
    let path = data.join("lock");
    let file = OpenOptions::new().create(true).truncate(false).write(true).open(&path);
    let file = file.map_err(ClusterError::on("open", &path))?;
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(TryLockError::WouldBlock) => Err(ClusterError::InUse { data: data.to_owned() }),
        Err(TryLockError::Error(why)) => Err(ClusterError::on("lock", &path)(why)),
    }
}

/// The version of the cluster that is there, where one is.
fn major_of(files: &Path) -> Result<Option<u32>, ClusterError> {
    if !files.exists() {
        return Ok(None);
    }
    let path = files.join("PG_VERSION");
    let text = std::fs::read_to_string(&path).map_err(ClusterError::on("read", &path))?;
    let unreadable = |_| ClusterError::NotReady { says: format!("{} holds no version", path.display()) };
    text.trim().parse().map(Some).map_err(unreadable)
}

/// Makes the cluster under another name first: where this is cut short, nothing half made stands in its place.
fn make(installed: &Installed, account: &Account, data: &Path, files: &Path) -> Result<(), ClusterError> {
    let half = data.join("postgres.new");
    if half.exists() {
        std::fs::remove_dir_all(&half).map_err(ClusterError::on("remove", &half))?;
    }
    account.own_folder(&half)?;
    let mut initdb = account.command(installed.program("initdb"));
    initdb.args(["--data-checksums", "-E", "UTF8", "--locale=C.UTF-8", "-A", "trust", "-U", OWNER, "-D"]).arg(&half);
    run("initdb", initdb, "")?;
    let mut single = account.command(installed.program("postgres"));
    single.args(["--single", "-D"]).arg(&half).args(["-c", "exit_on_error=on", "postgres"]);
    run("postgres --single", single, ROLES)?;
    std::fs::rename(&half, files).map_err(ClusterError::on("put in place", files))
}

/// Runs a program to its end, with this input.
fn run(program: &'static str, mut command: Command, input: &str) -> Result<(), ClusterError> {
    let failed = |says: String| ClusterError::Program { program, says };
    let child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn();
    let mut child = child.map_err(|why| failed(why.to_string()))?;
    if let Some(mut stdin) = child.stdin.take() {
        stdin.write_all(input.as_bytes()).map_err(|why| failed(why.to_string()))?;
    }
    let ended = child.wait_with_output().map_err(|why| failed(why.to_string()))?;
    if ended.status.success() {
        return Ok(());
    }
    Err(failed(last_lines(&String::from_utf8_lossy(&ended.stderr))))
}

/// The end of what a program said, for a person.
fn last_lines(text: &str) -> String {
    let lines: Vec<_> = text.lines().filter(|line| !line.trim().is_empty()).collect();
    lines[lines.len().saturating_sub(8)..].join("\n")
}

/// What a server is started from.
struct Starting<'a> {
    installed: &'a Installed,
    account: &'a Account,
    files: &'a Path,
    socket: &'a Path,
    settings: &'a [(&'a str, &'a str)],
}

impl Starting<'_> {
    /// Starts the server and waits until it takes connections. Where the folder still looks taken (the process of a
    /// killed server waits to be reaped) it is tried again for a while.
    fn start(&self, log: &Path) -> Result<Child, ClusterError> {
        let mut left = STEPS_WHILE_TAKEN;
        loop {
            let from = std::fs::metadata(log).map_or(0, |found| found.len());
            let mut server = self.spawn(log)?;
            match self.wait(&mut server, log, from) {
                Err(ClusterError::NotReady { says })
                    if says.contains("postmaster.pid\" already exists") && left > 0 =>
                {
                    left = left.saturating_sub(20);
                    sleep(STEP * 20);
                }
                Err(why) => {
                    // Without it nothing would ever stop the half-started server.
                    let _ = server.kill();
                    let _ = server.wait();
                    return Err(why);
                }
                Ok(()) => return Ok(server),
            }
        }
    }

    fn spawn(&self, log: &Path) -> Result<Child, ClusterError> {
        let says = OpenOptions::new().create(true).append(true).open(log).map_err(ClusterError::on("open", log))?;
        let out = says.try_clone().map_err(ClusterError::on("open", log))?;
        let program = self.installed.program("postgres");
        let mut command = self.account.command(&program);
        command.arg("-D").arg(self.files).arg("-k").arg(self.socket).args(["-p", "5432"]);
        command.args(["-c", "listen_addresses=", "-c", "unix_socket_permissions=0700", "-c", "logging_collector=off"]);
        for (name, value) in self.settings {
            command.arg("-c").arg(format!("{name}={value}"));
        }
        // A group of its own: Ctrl-C at the terminal is for us, and we stop it in our own time.
        command.process_group(0).stdin(Stdio::null()).stdout(out).stderr(says);
        command.spawn().map_err(ClusterError::on("start", program))
    }

    fn wait(&self, server: &mut Child, log: &Path, from: u64) -> Result<(), ClusterError> {
        for _ in 0..STEPS_TO_READY {
            if let Ok(Some(status)) = server.try_wait() {
                let said = std::fs::read(log).unwrap_or_default();
                let said = said.get(usize::try_from(from).unwrap_or(0)..).unwrap_or_default();
                let says = format!("{status}\n{}", last_lines(&String::from_utf8_lossy(said)));
                return Err(ClusterError::NotReady { says });
            }
            let own = i32::try_from(server.id()).ok();
            if leftover::read_pid_file(self.files).is_some_and(|(pid, ready)| ready && Some(pid) == own) {
                return Ok(());
            }
            sleep(STEP);
        }
        Err(ClusterError::NotReady { says: "it took longer than a minute".to_owned() })
    }
}
