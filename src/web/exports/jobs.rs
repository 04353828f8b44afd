//! Exports that run in this program, one for each centre, and the files they leave for a day.

use crate::exporter::{Progress, Started, Target};
use crate::store::CentreId;
use rand::random;
use std::collections::HashMap;
use std::io;
use std::os::unix::fs::DirBuilderExt;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use time::{Duration, OffsetDateTime};
use uuid::Uuid;

/// How long a finished file is kept.
pub const KEPT: Duration = Duration::DAY;

/// The exports that run.
#[derive(Clone, Default)]
pub struct Jobs(Arc<Mutex<HashMap<CentreId, Running>>>);

/// An export that runs.
#[derive(Clone)]
pub struct Running {
    pub id: Uuid,
    pub progress: Arc<Progress>,
}

/// A finished file. Its key is part of its name, and whoever knows it may fetch the file: it is told to the person who has
/// just given their password.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kept {
    pub path: PathBuf,
    pub key: String,
    pub bytes: u64,
}

impl Jobs {
    /// The export of this centre that runs.
    pub fn of(&self, centre: &CentreId) -> Option<Running> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).get(centre).cloned()
    }

    /// Carries an export out in a task of its own. Answers the key of the file that it will leave.
    ///
    /// # Errors
    /// The folder cannot be made.
    pub fn carry(
        &self,
        centre: &CentreId,
        id: Uuid,
        started: Started,
        data: &Path,
        base: String,
        now: OffsetDateTime,
    ) -> io::Result<String> {
        let folder = folder(data);
        std::fs::DirBuilder::new().recursive(true).mode(0o700).create(&folder)?;
        forget_old(&folder, now)?;
        let key: String = random::<[u8; 16]>().iter().map(|byte| format!("{byte:02x}")).collect();
        let target = Target::File(folder.join(format!("{id}.{key}")));
        let running = Running { id, progress: Arc::clone(&started.progress) };
        self.0.lock().unwrap_or_else(PoisonError::into_inner).insert(centre.clone(), running);
        let (jobs, centre, data) = (self.clone(), centre.clone(), data.to_owned());
        tokio::spawn(async move {
            let carried = started.carry(target, &folder, &data, &base).await;
            jobs.0.lock().unwrap_or_else(PoisonError::into_inner).remove(&centre);
            match carried {
                Ok(_) | Err(crate::exporter::ExportError::Cancelled) => {}
                Err(why) => tracing::error!(export = %id, ?why, "an export failed"),
            }
        });
        Ok(key)
    }
}

fn folder(data: &Path) -> PathBuf {
    data.join("exports")
}

/// The file that an export left, where it is still there.
pub fn kept(data: &Path, id: Uuid) -> Option<Kept> {
    let entries = std::fs::read_dir(folder(data)).ok()?;
    entries.flatten().find_map(|entry| {
        let name = entry.file_name().into_string().ok()?;
        let key = name.strip_prefix(&format!("{id}."))?.to_owned();
        let bytes = entry.metadata().ok()?.len();
        Some(Kept { path: entry.path(), key, bytes })
    })
}

/// Removes what an earlier run of the program left half made, and files that have been there for a day. For the start of
/// the service: no export may be running.
pub fn tidy(data: &Path, now: OffsetDateTime) -> io::Result<()> {
    let folder = folder(data);
    if !folder.is_dir() {
        return Ok(());
    }
    for entry in std::fs::read_dir(&folder)?.flatten() {
        if entry.file_name().as_encoded_bytes().starts_with(b".") {
            std::fs::remove_file(entry.path())?;
        }
    }
    forget_old(&folder, now)
}

fn forget_old(folder: &Path, now: OffsetDateTime) -> io::Result<()> {
    for entry in std::fs::read_dir(folder)?.flatten() {
        let made = OffsetDateTime::from(entry.metadata()?.modified()?);
        if now - made > KEPT && !entry.file_name().as_encoded_bytes().starts_with(b".") {
            std::fs::remove_file(entry.path())?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_found_by_its_export_and_goes_after_a_day() {
        let data = std::env::temp_dir().join(format!("bw-jobs-{:016x}", random::<u64>()));
        let id = Uuid::from_u128(7);
        std::fs::create_dir_all(folder(&data)).unwrap();
        let (made, half) = (folder(&data).join(format!("{id}.abc")), folder(&data).join(format!(".{id}.part")));
        std::fs::write(&made, "rows").unwrap();
        std::fs::write(&half, "ro").unwrap();
        let found = kept(&data, id).unwrap();
        assert_eq!((found.key.as_str(), found.bytes), ("abc", 4));
        assert_eq!(kept(&data, Uuid::from_u128(8)), None);
        let now = OffsetDateTime::from(std::fs::metadata(&made).unwrap().modified().unwrap());
        forget_old(&folder(&data), now + KEPT).unwrap();
        assert!(made.exists() && half.exists(), "another export may be running");
        tidy(&data, now).unwrap();
        assert!(made.exists() && !half.exists());
        forget_old(&folder(&data), now + KEPT + Duration::SECOND).unwrap();
        assert_eq!(kept(&data, id), None);
        std::fs::remove_dir_all(&data).unwrap();
    }
}
