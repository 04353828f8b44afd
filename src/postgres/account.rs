//! The account the cluster runs as: ours, or one without rights where we are root.

use super::ClusterError;
use std::ffi::OsStr;
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::Command;

/// An account that PostgreSQL can run as; it refuses to run as root.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Account {
    pub name: String,
    pub uid: u32,
    pub gid: u32,
    /// Whether it is another account than ours, which only root can step down to.
    pub other: bool,
}

impl Account {
    /// Ours, or, where we are root, that of PostgreSQL's package, or nobody's.
    pub(super) fn choose() -> Result<Self, ClusterError> {
        let uid = rustix::process::geteuid().as_raw();
        if uid != 0 {
            let gid = rustix::process::getegid().as_raw();
            return Ok(Self { name: format!("user {uid}"), uid, gid, other: false });
        }
        let passwd = std::fs::read_to_string("/etc/passwd").map_err(ClusterError::on("read", "/etc/passwd"))?;
        ["postgres", "nobody"]
            .into_iter()
            .find_map(|name| passwd.lines().find_map(|line| Self::of_line(line, name)))
            .ok_or(ClusterError::NoAccount)
    }

    /// The account on a line of the file of accounts (POSIX `passwd`), where it has this name.
    fn of_line(line: &str, name: &str) -> Option<Self> {
        let mut fields = line.split(':');
        let found = fields.next().is_some_and(|first| first == name);
        let (uid, gid) = (fields.nth(1)?.parse().ok()?, fields.next()?.parse().ok()?);
        found.then(|| Self { name: name.to_owned(), uid, gid, other: true }).filter(|account| account.uid != 0)
    }

    /// A command that runs as this account, with nothing of our environment but the language.
    pub(super) fn command(&self, program: impl AsRef<OsStr>) -> Command {
        let mut command = Command::new(program);
        command.env_clear().env("LC_ALL", "C.UTF-8").current_dir("/");
        if self.other {
            command.gid(self.gid).uid(self.uid);
        }
        command
    }

    /// Makes a folder that only this account can enter, or makes sure that an existing one is such.
    pub(super) fn own_folder(&self, folder: &Path) -> Result<(), ClusterError> {
        if !folder.exists() {
            std::fs::create_dir(folder).map_err(ClusterError::on("make", folder))?;
            std::fs::set_permissions(folder, std::fs::Permissions::from_mode(0o700))
                .map_err(ClusterError::on("close to others", folder))?;
            if self.other {
                std::os::unix::fs::chown(folder, Some(self.uid), Some(self.gid))
                    .map_err(ClusterError::on("hand over", folder))?;
            }
        }
        let found = std::fs::symlink_metadata(folder).map_err(ClusterError::on("look at", folder))?;
        if found.is_dir() && found.uid() == self.uid && found.mode() & 0o077 == 0 {
            return Ok(());
        }
        Err(ClusterError::NotOurs { folder: folder.to_owned(), account: self.name.clone() })
    }

    /// Refuses where a folder above `path` cannot be searched by this account: PostgreSQL would only say "permission
    /// denied".
    pub(super) fn can_reach(&self, path: &Path) -> Result<(), ClusterError> {
        if !self.other {
            return Ok(());
        }
        for folder in path.ancestors().skip(1) {
            let found = std::fs::metadata(folder).map_err(ClusterError::on("look at", folder))?;
            if !self.may_search(found.uid(), found.gid(), found.mode()) {
                return Err(ClusterError::Unreachable { folder: folder.to_owned(), account: self.name.clone() });
            }
        }
        Ok(())
    }

    /// Whether this account may search a folder of this owner, group and mode (POSIX file access permissions).
    fn may_search(&self, owner: u32, group: u32, mode: u32) -> bool {
        let bit = match () {
            () if owner == self.uid => 0o100,
            () if group == self.gid => 0o010,
            () => 0o001,
        };
        mode & bit != 0
    }
}

#[cfg(test)]
mod tests {
    use super::Account;

    fn account() -> Account {
        Account { name: "postgres".to_owned(), uid: 101, gid: 104, other: true }
    }

    #[test]
    fn an_account_is_found_by_its_whole_name() {
        let line = "postgres:x:101:104:,,,:/var/lib/postgresql:/bin/bash";
        assert_eq!(Account::of_line(line, "postgres"), Some(account()));
        assert_eq!(Account::of_line(line, "post"), None);
        assert_eq!(Account::of_line("postgres:x:abc:104::/:/bin/sh", "postgres"), None);
        assert_eq!(Account::of_line("postgres", "postgres"), None);
        assert_eq!(Account::of_line("", "postgres"), None);
        assert_eq!(Account::of_line("nobody:x:0:0::/:/bin/sh", "nobody"), None, "root by another name");
    }

    #[test]
    fn the_first_class_that_fits_decides_about_searching() {
        assert!(account().may_search(0, 0, 0o755));
        assert!(!account().may_search(0, 0, 0o700));
        assert!(account().may_search(101, 0, 0o700));
        assert!(!account().may_search(101, 0, 0o077), "the owner's own bits count, not the others'");
        assert!(account().may_search(0, 104, 0o710));
        assert!(!account().may_search(0, 104, 0o701));
    }
}
