//! What the demo prints: sign-ins and a candidate's link. Passwords are made at random with the centre; the notes keep
//! them, because the database holds only their hashes.

use super::DemoError;
use serde::{Deserialize, Serialize};
use std::fmt::Write as _;
use std::io::Write as _;
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};

/// Sign-ins and links of the demo centre.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Notes {
    pub sign_ins: Vec<SignIn>,
    pub links: Vec<Link>,
}

/// How one member of the demo's staff signs in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SignIn {
    pub name: String,
    pub password: String,
    pub roles: String,
}

/// A candidate's private link.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Link {
    pub whose: String,
    /// From the first slash on.
    pub path: String,
    pub code: String,
}

fn file(data: &Path) -> PathBuf {
    data.join("demo-sign-ins.json")
}

impl Notes {
    /// Reads the notes kept in the data folder.
    pub(super) fn read(data: &Path) -> Result<Self, DemoError> {
        let file = file(data);
        let text = std::fs::read_to_string(&file).map_err(|_| DemoError::NotesGone(file.display().to_string()))?;
        serde_json::from_str(&text).map_err(|why| DemoError::Notes(file.display().to_string(), why.into()))
    }

    /// Keeps the notes in the data folder, readable by their owner only.
    pub(super) fn write(&self, data: &Path) -> Result<(), DemoError> {
        let file = file(data);
        let cannot = |why: std::io::Error| DemoError::Notes(file.display().to_string(), why);
        std::fs::create_dir_all(data).map_err(cannot)?;
        let text = serde_json::to_string_pretty(self).map_err(|why| cannot(why.into()))?;
        let mut options = std::fs::OpenOptions::new();
        let mut out = options.write(true).create(true).truncate(true).mode(0o600).open(&file).map_err(cannot)?;
        out.write_all(text.as_bytes()).and_then(|()| out.sync_all()).map_err(cannot)
    }

    /// What to print for a service at `address`.
    pub fn words(&self, address: &str) -> String {
        let mut out = String::new();
        let _ =
            writeln!(out, "Baywitness demo: an invented centre. Nothing in it is real.\n\n  {address}\n\nSign in as");
        for sign_in in &self.sign_ins {
            let _ = writeln!(out, "  {:<18} {}   ({})", sign_in.name, sign_in.password, sign_in.roles);
        }
        let _ = writeln!(out, "\nFeedback for a candidate");
        for link in &self.links {
            let _ = writeln!(out, "  {}: code {}\n    {address}{}", link.whose, link.code, link.path);
        }
        let _ =
            writeln!(out, "\nHere the password is enough. A centre that is begun in earnest asks for a second factor.");
        let _ = write!(out, "\nStop with Ctrl-C.");
        out
    }
}
