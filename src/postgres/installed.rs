//! The PostgreSQL that is installed on this machine.

use super::ClusterError;
use std::path::{Path, PathBuf};
use std::process::Command;

/// A folder with the programs of one PostgreSQL.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Installed {
    pub folder: PathBuf,
    /// The major version, such as 15.
    pub major: u32,
}

/// Folders of which each version has its own below: `/usr/lib/postgresql/15/bin`.
const BY_VERSION: [(&str, &str); 5] = [
    ("/usr/lib/postgresql", "bin"),
    ("/usr", "bin"),
    ("/opt/homebrew/opt", "bin"),
    ("/usr/local/opt", "bin"),
    ("/Library/PostgreSQL", "bin"),
];
/// Folders that hold one version.
const PLAIN: [&str; 2] = ["/usr/local/pgsql/bin", "/usr/local/bin"];

impl Installed {
    /// The PostgreSQL to use: of `major` where a cluster of that version is there already, else the first of the search
    /// path, then the newest of the usual folders.
    pub(super) fn find(major: Option<u32>) -> Result<Self, ClusterError> {
        let found: Vec<_> = candidates().into_iter().filter_map(|folder| Self::in_folder(&folder)).collect();
        match major {
            None => found.into_iter().next().ok_or(ClusterError::NotInstalled),
            Some(_) if found.is_empty() => Err(ClusterError::NotInstalled),
            Some(major) => found.into_iter().find(|one| one.major == major).ok_or(ClusterError::OtherVersion { major }),
        }
    }

    /// The PostgreSQL in a folder, where server and `initdb` stand side by side and the server says its version. A
    /// lone `postgres` on the search path is often a wrapper.
    fn in_folder(folder: &Path) -> Option<Self> {
        let server = std::fs::canonicalize(folder.join("postgres")).ok()?;
        let folder = server.parent()?.to_owned();
        if !folder.join("initdb").is_file() {
            return None;
        }
        let said = Command::new(server).arg("--version").output().ok()?;
        let major = major_of(&String::from_utf8_lossy(&said.stdout))?;
        Some(Self { folder, major })
    }

    pub(super) fn program(&self, name: &str) -> PathBuf {
        self.folder.join(name)
    }
}

/// Where to look, best first.
fn candidates() -> Vec<PathBuf> {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let mut folders: Vec<PathBuf> = std::env::split_paths(&path).filter(|folder| folder.is_absolute()).collect();
    for (parent, below) in BY_VERSION {
        let mut versions: Vec<(u32, PathBuf)> = std::fs::read_dir(parent)
            .into_iter()
            .flatten()
            .flatten()
            .filter_map(|entry| Some((version_of(entry.file_name().to_str()?)?, entry.path().join(below))))
            .collect();
        versions.sort_by(|one, other| other.cmp(one));
        folders.extend(versions.into_iter().map(|(_, folder)| folder));
    }
    folders.extend(PLAIN.map(PathBuf::from));
    folders
}

/// The version in the name of a folder: `15`, `pgsql-15`, `postgresql@15`.
fn version_of(name: &str) -> Option<u32> {
    ["pgsql-", "postgresql@", ""].iter().find_map(|before| name.strip_prefix(before)).and_then(|rest| rest.parse().ok())
}

/// The major version in what `postgres --version` says: `postgres (PostgreSQL) 15.18 (Debian …)`.
fn major_of(said: &str) -> Option<u32> {
    let version = said.strip_prefix("postgres (PostgreSQL) ")?;
    let digits: String = version.chars().take_while(char::is_ascii_digit).collect();
    digits.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::{Installed, major_of, version_of};

    #[test]
    fn versions_are_read_from_folders_and_from_the_server() {
        for (name, version) in [("15", Some(15)), ("pgsql-16", Some(16)), ("postgresql@17", Some(17)), ("bin", None)] {
            assert_eq!(version_of(name), version, "{name}");
        }
        assert_eq!(major_of("postgres (PostgreSQL) 15.18 (Debian 15.18-0+deb12u1)\n"), Some(15));
        assert_eq!(major_of("postgres (PostgreSQL) 19devel\n"), Some(19));
        assert_eq!(major_of("usage: postgres"), None);
    }

    #[test]
    fn a_folder_without_both_programs_is_not_an_installation() {
        assert_eq!(Installed::in_folder(std::path::Path::new("/nowhere")), None);
        let folder = std::env::temp_dir().join(format!("bw-installed-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        std::fs::write(folder.join("postgres"), "#!/bin/sh\necho 'postgres (PostgreSQL) 15.1'\n").unwrap();
        assert_eq!(Installed::in_folder(&folder), None, "initdb is missing");
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
