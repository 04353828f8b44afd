//! Rows in, bytes of the chosen format out. Nothing is held back but what is being written.

use super::badge::Issuer;
use super::calendar::{self, Event, Zone};
use super::columns::{self, Column, FINDINGS, Line, OBSERVATIONS, RESULTS};
use super::csv::{For, Table};
use super::format::Format;
use super::row::{Plan, Row, assessor_ref};
use super::spreadsheet::Spreadsheet;
use super::{json, xapi};
use std::io::{self, Write};
use std::path::Path;
use time::OffsetDateTime;
use uuid::Uuid;

/// What an export says beside its rows.
pub struct About<'a> {
    /// The centre's code.
    pub centre: &'a str,
    /// The centre's name.
    pub centre_name: &'a str,
    pub made_at: OffsetDateTime,
    /// The centre's own address, without a slash at its end: for formats that need one.
    pub base: &'a str,
    /// The columns asked for; all where none is.
    pub columns: &'a [String],
    pub names: bool,
    /// A folder in which rows of a spreadsheet may wait.
    pub folder: &'a Path,
    /// Who signs credentials: for those alone.
    pub issuer: Option<Issuer>,
    /// How the clocks run: for a calendar alone.
    pub zone: Option<Zone>,
}

/// A file in the making.
pub struct Writer<W: Write + Send> {
    form: Form<W>,
    first: bool,
}

enum Form<W: Write + Send> {
    Table { table: Box<Table<W>>, of: Of },
    Spreadsheet { book: Box<Spreadsheet>, out: W },
    Json(W),
    Logs(W),
    Statements { out: W, base: String },
    Badges { out: W, issuer: Box<Issuer> },
    Calendar { out: W, zone: Zone, centre: String },
}

/// What a table has a line for.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Of {
    Results,
    Findings,
    Observations,
}

/// The columns that a table of this format has.
pub fn columns_of(format: Format, asked: &[String], names: bool) -> Vec<Column> {
    match format {
        Format::FindingsSheet | Format::FindingsData => columns::choose(&FINDINGS, &[], names),
        Format::ObservationsSheet | Format::ObservationsData => columns::choose(&OBSERVATIONS, &[], names),
        _ => columns::choose(&RESULTS, asked, names),
    }
}

impl<W: Write + Send> Writer<W> {
    /// Begins a file.
    pub fn begin(format: Format, about: About<'_>, mut out: W) -> io::Result<Self> {
        let columns = columns_of(format, about.columns, about.names);
        let form = match format {
            Format::CsvSheet | Format::FindingsSheet | Format::ObservationsSheet => {
                Form::Table { table: Box::new(Table::begin(out, columns, For::Sheet)?), of: of(format) }
            }
            Format::CsvData | Format::FindingsData | Format::ObservationsData => {
                Form::Table { table: Box::new(Table::begin(out, columns, For::Data)?), of: of(format) }
            }
            Format::Spreadsheet => {
                Form::Spreadsheet { book: Box::new(Spreadsheet::begin(columns, "Results", about.folder)?), out }
            }
            Format::Json => {
                out.write_all(json::begin(about.centre, about.made_at).as_bytes())?;
                Form::Json(out)
            }
            Format::Logs => Form::Logs(out),
            Format::Statements => {
                out.write_all(b"[")?;
                Form::Statements { out, base: about.base.to_owned() }
            }
            Format::Badges => {
                let issuer =
                    about.issuer.ok_or_else(|| io::Error::other("there is no key to sign credentials with"))?;
                Form::Badges { out, issuer: Box::new(issuer) }
            }
            Format::Calendar => {
                let zone = about.zone.ok_or_else(|| io::Error::other("how the clocks run is not known"))?;
                out.write_all(calendar::begin(&format!("Plans of {}", about.centre_name), &zone).as_bytes())?;
                Form::Calendar { out, zone, centre: about.centre.to_owned() }
            }
        };
        Ok(Self { form, first: true })
    }

    /// Adds a result.
    pub fn row(&mut self, row: &Row) -> io::Result<()> {
        let plain = Line { row, found: None, seen: None };
        let marked = row.marked.as_ref();
        match &mut self.form {
            Form::Table { table, of: Of::Results } => table.line(&plain),
            Form::Table { table, of: Of::Findings } => {
                let mut found = marked.iter().flat_map(|marked| &marked.findings);
                found.try_for_each(|one| table.line(&Line { found: Some(one), ..plain }))
            }
            Form::Table { table, of: Of::Observations } => {
                let mut seen = marked.iter().flat_map(|marked| &marked.observations);
                seen.try_for_each(|one| table.line(&Line { seen: Some(one), ..plain }))
            }
            Form::Spreadsheet { book, .. } => book.line(&plain),
            Form::Json(out) => element(out, &mut self.first, &json::result(row)),
            Form::Logs(out) => out.write_all(json::log(row).as_bytes()),
            Form::Statements { out, base } => {
                xapi::statements(row, base).iter().try_for_each(|one| element(out, &mut self.first, one))
            }
            Form::Badges { out, issuer } => match issuer.credential(row) {
                Some(credential) => writeln!(out, "{credential}"),
                None => Ok(()),
            },
            Form::Calendar { .. } => Ok(()),
        }
    }

    /// Adds a plan, which only a calendar shows.
    pub fn plan(&mut self, plan: &Plan) -> io::Result<()> {
        match &mut self.form {
            Form::Calendar { out, zone, centre } => {
                out.write_all(calendar::event(&event(plan, centre), zone).as_bytes())
            }
            _ => Ok(()),
        }
    }

    /// Ends the file.
    pub fn finish(self) -> io::Result<()> {
        match self.form {
            Form::Table { table, .. } => table.finish()?.flush(),
            Form::Spreadsheet { book, mut out } => {
                book.finish(&mut out)?;
                out.flush()
            }
            Form::Json(mut out) => {
                out.write_all(json::END.as_bytes())?;
                out.flush()
            }
            Form::Statements { mut out, .. } => {
                out.write_all(b"\n]\n")?;
                out.flush()
            }
            Form::Calendar { mut out, .. } => {
                out.write_all(calendar::END.as_bytes())?;
                out.flush()
            }
            Form::Logs(mut out) | Form::Badges { mut out, .. } => out.flush(),
        }
    }
}

fn of(format: Format) -> Of {
    match format {
        Format::FindingsSheet | Format::FindingsData => Of::Findings,
        Format::ObservationsSheet | Format::ObservationsData => Of::Observations,
        _ => Of::Results,
    }
}

/// Adds an element to a JSON list, each on a line of its own.
fn element(out: &mut impl Write, first: &mut bool, value: &serde_json::Value) -> io::Result<()> {
    out.write_all(if *first { b"\n" } else { b",\n" })?;
    *first = false;
    serde_json::to_writer(&mut *out, value).map_err(io::Error::other)
}

/// A plan as an event. No candidate stands in it: calendars are shared.
pub fn event(plan: &Plan, centre: &str) -> Event {
    Event {
        uid: format!("{}@{centre}", plan.session),
        stamp: plan.changed_at.or_else(|| made_at(plan.session)).unwrap_or(plan.planned_at),
        start: plan.planned_at,
        end: plan.planned_at.saturating_add(plan.lasts),
        summary: format!("{}, {}", plan.task_title, plan.bay),
        description: Some(format!("Assessor {}", assessor_ref(plan.assessor))),
        location: Some(plan.bay.clone()),
        sequence: plan.sequence,
        cancelled: plan.cancelled,
    }
}

/// When a UUID of version 7 was made.
fn made_at(id: Uuid) -> Option<OffsetDateTime> {
    let (seconds, _) = id.get_timestamp()?.to_unix();
    OffsetDateTime::from_unix_timestamp(i64::try_from(seconds).ok()?).ok()
}
