//! Carries rows from the store through a format into a file, for the command line and the pages alike, and keeps the record
//! of it: that it began, and how it ended.

use crate::clock::Clock;
use crate::config;
use crate::export::badge::Issuer;
use crate::export::columns;
use crate::export::format::Format;
use crate::export::writer::{About, Writer, columns_of};
use crate::store::centres::{self, Centre};
use crate::store::exports::{self, Begun, Depth, End, Ended, Filter, Page, Reading};
use crate::store::{CentreId, StaffNo, Store, StoreError, staff, tasks, zones};
use std::fs::{File, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::os::fd::AsFd;
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use time::Date;
use uuid::Uuid;

/// The first and the last day that can be asked for.
pub const DAYS: (Date, Date) = (time::macros::date!(2000 - 01 - 01), time::macros::date!(2199 - 12 - 31));

/// What is to be exported.
#[derive(Debug, Clone)]
pub struct Order {
    pub id: Uuid,
    pub filter: Filter,
    pub format: Format,
    /// Columns of a table of results; all of them where none is named.
    pub columns: Vec<String>,
    pub names: bool,
    /// Who asked; `None` from the command line.
    pub by: Option<StaffNo>,
}

/// Where the file goes.
#[derive(Debug, Clone)]
pub enum Target {
    /// A file that is not there yet; it stands there whole, or not at all.
    File(PathBuf),
    Stdout,
}

/// What is wrong with an order: the field, and a sentence that says what is expected.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    pub field: &'static str,
    pub says: String,
}

/// Why there is no export.
#[derive(Debug, thiserror::Error)]
pub enum ExportError {
    #[error("another export of this centre is running; try again when it has ended")]
    Running,
    #[error("there is no centre {0}")]
    NoCentre(String),
    #[error("there is already a file {0}; name another")]
    There(String),
    #[error("the export was cancelled; no file is left")]
    Cancelled,
    #[error("the file cannot be written")]
    File(#[from] io::Error),
    #[error(transparent)]
    Store(#[from] StoreError),
}

/// How far an export has come, and whether it is to stop.
#[derive(Debug, Default)]
pub struct Progress {
    done: AtomicU64,
    cancelled: AtomicBool,
}

impl Progress {
    /// Rows that are written.
    pub fn done(&self) -> u64 {
        self.done.load(Ordering::Relaxed)
    }

    /// Asks the export to stop; it does after the page of rows that it is writing.
    pub fn cancel(&self) {
        self.cancelled.store(true, Ordering::Relaxed);
    }

    fn is_cancelled(&self) -> bool {
        self.cancelled.load(Ordering::Relaxed)
    }
}

/// An export that has begun: it is in the record, and nothing is written yet.
pub struct Started {
    store: Store,
    clock: Clock,
    centre: Centre,
    order: Order,
    reading: Reading,
    pub progress: Arc<Progress>,
}

/// Says what makes an order impossible.
pub async fn check(store: &Store, centre: &CentreId, order: &Order, base: &str) -> Result<Vec<Fault>, ExportError> {
    let mut faults = Vec::new();
    let mut fault = |field, says: &str| faults.push(Fault { field, says: says.to_owned() });
    let filter = &order.filter;
    if [filter.from, filter.to].iter().any(|day| *day < DAYS.0 || *day > DAYS.1) {
        fault("from", "Days go from 2000-01-01 to 2199-12-31.");
    } else if filter.from > filter.to {
        fault("to", "The last day comes before the first. Give a later one.");
    }
    if let Some(unknown) = columns::unknown(&order.columns) {
        fault("columns", &format!("No column is called “{unknown}”."));
    }
    if order.names && !order.format.can_hold_names() {
        fault("names", "This format never holds names. Choose another, or leave names off.");
    }
    if order.format.needs_address() && !base.starts_with("http") {
        let says = format!("This format needs the centre's own address. Set {} and begin again.", config::ORIGIN);
        fault("format", &says);
    }
    let mut tx = store.begin(centre).await?;
    if let Some(assessor) = filter.assessor
        && staff::find(&mut tx, centre, assessor).await?.is_none()
    {
        fault("assessor", "The centre has nobody with this number.");
    }
    if let Some(task) = filter.task
        && !tasks::list(&mut tx, centre).await?.iter().any(|listed| listed.id == task)
    {
        fault("task", "The centre has no such task.");
    }
    tx.commit().await.map_err(StoreError::from)?;
    Ok(faults)
}

/// Begins an export: sees what there is as it is now, and notes who asked for it.
pub async fn start(store: &Store, clock: &Clock, centre: &CentreId, order: Order) -> Result<Started, ExportError> {
    let mut tx = store.begin(centre).await?;
    let no_centre = || ExportError::NoCentre(centre.as_str().to_owned());
    let known = centres::find(&mut tx, centre).await?.ok_or_else(no_centre)?;
    // Given back first: many who ask at once, each with one connection and in want of a second, would wait for each other.
    tx.commit().await.map_err(StoreError::from)?;
    let depth = match order.format {
        Format::Calendar => Depth::Plans,
        format if format.needs_marking() => Depth::Marked,
        _ => Depth::Row,
    };
    let reading = store.read_export(centre, &order.filter, depth, order.names).await?;
    let reading = reading.ok_or(ExportError::Running)?;
    let columns = match order.format.has_columns() {
        true => columns_of(order.format, &order.columns, order.names).iter().map(|one| one.name.to_owned()).collect(),
        false => Vec::new(),
    };
    let begun = Begun {
        id: order.id,
        by: order.by,
        at: clock.now(),
        format: order.format.word(),
        filter: &order.filter,
        columns: &columns,
        names: order.names,
        rows: reading.rows,
    };
    let mut tx = store.begin(centre).await?;
    exports::begin(&mut tx, centre, &begun).await?;
    tx.commit().await.map_err(StoreError::from)?;
    let by = order.by.map_or(0, |by| by.0);
    tracing::info!(export = %order.id, staff = by, centre = centre.as_str(), format = order.format.word(), "export begun");
    Ok(Started { store: store.clone(), clock: clock.clone(), centre: known, order, reading, progress: Arc::default() })
}

impl Started {
    /// Rows there are.
    pub fn rows(&self) -> u64 {
        self.reading.rows
    }

    /// Writes the file, and notes how it ended. `waiting` is a folder in which rows of a spreadsheet may wait without a name;
    /// `data` the data folder; `base` the centre's own address.
    ///
    /// # Errors
    /// [`ExportError`]; no file is left then.
    pub async fn carry(
        mut self,
        target: Target,
        waiting: &Path,
        data: &Path,
        base: &str,
    ) -> Result<Ended, ExportError> {
        let written = self.write(&target, waiting, data, base).await;
        let (how, bytes) = match &written {
            Ok(bytes) => (End::Finished, *bytes),
            Err(ExportError::Cancelled) => (End::Cancelled, 0),
            Err(_) => (End::Failed, 0),
        };
        let ended = Ended { how, at: self.clock.now(), rows: self.progress.done(), bytes };
        let noted = self.note(&ended).await;
        self.reading.end().await;
        noted?;
        written.map(|_| ended)
    }

    async fn note(&self, ended: &Ended) -> Result<(), StoreError> {
        let mut tx = self.store.begin(&self.centre.id).await?;
        exports::end(&mut tx, &self.centre.id, self.order.id, ended).await?;
        tx.commit().await?;
        let (rows, how) = (ended.rows, format!("{:?}", ended.how));
        tracing::info!(export = %self.order.id, centre = self.centre.id.as_str(), rows, how, "export ended");
        Ok(())
    }

    /// Writes the file under a passing name first. Answers its size.
    async fn write(&mut self, target: &Target, waiting: &Path, data: &Path, base: &str) -> Result<u64, ExportError> {
        let Target::File(path) = target else {
            let stdout = File::from(io::stdout().as_fd().try_clone_to_owned()?);
            return self.fill(stdout, waiting, data, base).await;
        };
        if path.exists() {
            return Err(ExportError::There(path.display().to_string()));
        }
        let part = path.with_file_name(format!(".{}.part", self.order.id));
        let file = OpenOptions::new().write(true).create_new(true).mode(0o600).open(&part)?;
        let filled = self.fill(file, waiting, data, base).await;
        let named = match filled {
            // A file that came to stand there meanwhile is not written over.
            Ok(bytes) => std::fs::hard_link(&part, path).map(|()| bytes).map_err(ExportError::File),
            Err(why) => Err(why),
        };
        std::fs::remove_file(&part)?;
        named
    }

    async fn fill(&mut self, file: File, waiting: &Path, data: &Path, base: &str) -> Result<u64, ExportError> {
        let counted = Arc::new(AtomicU64::new(0));
        let out = BufWriter::with_capacity(1 << 16, Counted { file, bytes: Arc::clone(&counted) });
        let about = About {
            centre: self.centre.id.as_str(),
            centre_name: &self.centre.name,
            made_at: self.clock.now(),
            base,
            columns: &self.order.columns,
            names: self.order.names,
            folder: waiting,
            issuer: self.issuer(data, base)?,
            zone: self.zone().await?,
        };
        let mut writer = Writer::begin(self.order.format, about, out)?;
        loop {
            let page = self.reading.page().await?;
            if self.progress.is_cancelled() {
                return Err(ExportError::Cancelled);
            }
            let rows = match &page {
                Page::Rows(rows) => rows.len(),
                Page::Plans(plans) => plans.len(),
                Page::End => break,
            };
            // Apart from the threads that answer requests: a disk may be slow.
            writer = apart(move || {
                match &page {
                    Page::Rows(rows) => rows.iter().try_for_each(|row| writer.row(row))?,
                    Page::Plans(plans) => plans.iter().try_for_each(|plan| writer.plan(plan))?,
                    Page::End => {}
                }
                Ok(writer)
            })
            .await?;
            self.progress.done.fetch_add(rows as u64, Ordering::Relaxed);
        }
        if self.progress.is_cancelled() {
            return Err(ExportError::Cancelled);
        }
        apart(move || writer.finish()).await?;
        Ok(counted.load(Ordering::Relaxed))
    }

    fn issuer(&self, data: &Path, base: &str) -> io::Result<Option<Issuer>> {
        if self.order.format != Format::Badges {
            return Ok(None);
        }
        let key = config::badge_key(data)?;
        Ok(Some(Issuer::new(&key, base.to_owned(), self.centre.id.as_str().to_owned(), self.centre.name.clone())))
    }

    async fn zone(&self) -> Result<Option<crate::export::calendar::Zone>, StoreError> {
        if self.order.format != Format::Calendar {
            return Ok(None);
        }
        let (from, to) = self.reading.span;
        let mut tx = self.store.begin(&self.centre.id).await?;
        let zone = zones::of_centre(&mut tx, &self.centre.id, from, to).await?;
        tx.commit().await?;
        Ok(Some(zone))
    }
}

async fn apart<T: Send + 'static>(work: impl FnOnce() -> io::Result<T> + Send + 'static) -> io::Result<T> {
    tokio::task::spawn_blocking(work).await.map_err(io::Error::other)?
}

/// A file that counts what is written to it: what goes to a pipe has no size.
struct Counted {
    file: File,
    bytes: Arc<AtomicU64>,
}

impl Write for Counted {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.file.write(bytes)?;
        self.bytes.fetch_add(written as u64, Ordering::Relaxed);
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}
