//! Where the socket of the cluster is.

use super::ClusterError;
use super::account::Account;
use crate::seal::Digest;
use std::os::unix::ffi::OsStrExt;
use std::path::{Path, PathBuf};

/// Longest path of a Unix socket, its final NUL left out (`sun_path` has 108 bytes on Linux, 104 elsewhere).
const LONGEST: usize = if cfg!(target_os = "linux") { 107 } else { 103 };
/// The name PostgreSQL gives its socket for port 5432.
pub(super) const SOCKET: &str = ".s.PGSQL.5432";

/// The folder of the socket, made where it is not there: in the data folder, or, where that path is too long for a
/// socket, a short one with a name of its own.
pub(super) fn of_socket(data: &Path, account: &Account) -> Result<PathBuf, ClusterError> {
    let inside = data.join("socket");
    let folder = if fits(&inside) { inside } else { short(data, account) };
    if !fits(&folder) {
        return Err(ClusterError::LongPath { folder });
    }
    account.can_reach(&folder)?;
    account.own_folder(&folder)?;
    Ok(folder)
}

fn fits(folder: &Path) -> bool {
    folder.join(SOCKET).as_os_str().len() <= LONGEST
}

/// A short folder, the same for the same data folder each time.
fn short(data: &Path, account: &Account) -> PathBuf {
    let digest = Digest::of(data.as_os_str().as_bytes());
    let name = format!("baywitness-{}-{}", account.uid, &digest.as_str()[..12]);
    // Our own runtime folder is of no use to another account: only we may enter it.
    let ours = std::env::var_os("XDG_RUNTIME_DIR").map(PathBuf::from).filter(|_| !account.other);
    let parent = ours.filter(|folder| folder.is_dir() && fits(&folder.join(&name)));
    parent.unwrap_or_else(|| PathBuf::from("/tmp")).join(name)
}

#[cfg(test)]
mod tests {
    use super::fits;
    use std::path::Path;

    #[test]
    fn the_whole_path_of_the_socket_counts() {
        assert!(fits(Path::new("/tmp/baywitness")));
        let most = super::LONGEST - super::SOCKET.len() - 1;
        assert!(fits(Path::new(&format!("/{}", "a".repeat(most - 1)))));
        assert!(!fits(Path::new(&format!("/{}", "a".repeat(most)))));
    }
}
