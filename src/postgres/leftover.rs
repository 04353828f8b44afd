//! A server that a program before us left running, because it was killed.

use super::ClusterError;
use rustix::process::{Pid, Signal, kill_process};
use std::path::Path;
use std::process::Command;
use std::thread::sleep;
use std::time::Duration;

/// How often and how long a state is asked for: every 20 ms, for 30 s.
const STEP: Duration = Duration::from_millis(20);
const STEPS: u32 = 1_500;

/// What the first and the eighth line of `postmaster.pid` say: the process, and whether it is `ready`.
pub(super) fn read_pid_file(data: &Path) -> Option<(i32, bool)> {
    let text = std::fs::read_to_string(data.join("postmaster.pid")).ok()?;
    let mut lines = text.lines();
    let pid = lines.next()?.trim().parse().ok()?;
    let ready = lines.nth(6).is_some_and(|line| line.trim() == "ready");
    Some((pid, ready))
}

/// Stops the server of this data folder, where one is still running, and waits until it has let go of the folder. The
/// pid file is never touched: where it is stale, the next server finds that out with more care than we could.
pub(super) fn stop(data: &Path) -> Result<(), ClusterError> {
    let Some((number, _)) = read_pid_file(data) else { return Ok(()) };
    let Some(pid) = Pid::from_raw(number).filter(|_| is_server_of(number, data)) else { return Ok(()) };
    tracing::info!(postgres.pid = number, "stopping the database server that an earlier run left behind");
    // SIGINT: the server ends its connections and writes everything out ("fast shutdown").
    let asked = kill_process(pid, Signal::INT);
    if asked.is_err() {
        return Ok(());
    }
    for _ in 0..STEPS {
        // Not the process is waited for: it may stay as a zombie until somebody reaps it.
        if read_pid_file(data).is_none_or(|(now, _)| now != number) {
            return Ok(());
        }
        sleep(STEP);
    }
    Err(ClusterError::WillNotStop { pid: number })
}

/// Whether that process is a PostgreSQL server on this data folder. A pid is given out again after a restart of the
/// machine, and then belongs to a stranger.
fn is_server_of(pid: i32, data: &Path) -> bool {
    let arguments: Vec<String> = match std::fs::read(format!("/proc/{pid}/cmdline")) {
        Ok(line) => line.split(|byte| *byte == 0).map(|word| String::from_utf8_lossy(word).into_owned()).collect(),
        // Without /proc, as on macOS, `ps` tells the same.
        Err(_) => match Command::new("ps").args(["-o", "command=", "-p", &pid.to_string()]).output() {
            Ok(said) => String::from_utf8_lossy(&said.stdout).split_whitespace().map(str::to_owned).collect(),
            Err(_) => return false,
        },
    };
    let is_postgres = arguments.first().is_some_and(|program| program.ends_with("postgres"));
    is_postgres && arguments.iter().any(|word| Path::new(word) == data)
}

#[cfg(test)]
mod tests {
    use super::{is_server_of, read_pid_file, stop};

    #[test]
    fn a_strangers_process_is_left_alone() {
        let folder = std::env::temp_dir().join(format!("bw-leftover-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let own = i32::try_from(std::process::id()).unwrap();
        assert!(!is_server_of(own, &folder));
        std::fs::write(folder.join("postmaster.pid"), format!("{own}\n/x\n1\n5432\n/tmp\n\n 1 2\nready   \n")).unwrap();
        assert_eq!(read_pid_file(&folder), Some((own, true)));
        stop(&folder).unwrap();
        assert!(folder.join("postmaster.pid").exists(), "the pid file is the server's to remove");
        std::fs::write(folder.join("postmaster.pid"), "not a number\n").unwrap();
        assert_eq!(read_pid_file(&folder), None);
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
