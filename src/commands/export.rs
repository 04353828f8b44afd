//! Exports from the command line. Exit code 0: done; 1: something stopped it; 2: refused, with every fault.

use super::once::once;
use anyhow::{Context, bail};
use baywitness::clock::Clock;
use baywitness::config::{self, Config};
use baywitness::export::format::Format;
use baywitness::export::writer::columns_of;
use baywitness::export::{json, row, schema};
use baywitness::exporter::{self, Order, Target};
use baywitness::marking::VerdictOutcome;
use baywitness::store::exports::Filter;
use baywitness::store::{CentreId, StaffNo, Store, TaskId};
use clap::Args;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use time::{Date, Month};
use uuid::Uuid;

/// What to export.
#[derive(Debug, Args)]
pub struct ExportArgs {
    /// csv-sheet, csv-data, findings-sheet, findings-data, observations-sheet, observations-data, xlsx, json, ndjson,
    /// xapi, badges or ics
    #[arg(long, value_parser = format_of)]
    format: Format,
    /// First day of signing (of planning, for ics), such as 2027-02-01, in the centre's time zone
    #[arg(long, value_parser = day_of)]
    from: Date,
    /// Last day
    #[arg(long, value_parser = day_of)]
    to: Date,
    /// Only this task, by its identifier
    #[arg(long)]
    task: Option<Uuid>,
    /// Only this assessor, by number
    #[arg(long)]
    assessor: Option<i32>,
    /// Only this outcome: pass, fail, automatic_fail or unfinished
    #[arg(long, value_parser = outcome_of)]
    outcome: Option<VerdictOutcome>,
    /// Columns of a table of results, with commas between; all of them unless told
    #[arg(long, value_delimiter = ',')]
    columns: Vec<String>,
    /// With candidates' names, which are left out unless told
    #[arg(long)]
    names: bool,
    /// The centre's code
    #[arg(long, value_parser = centre_of)]
    centre: CentreId,
    /// File to write, which must not be there yet; standard output unless told. The schema of a CSV or JSON file is
    /// written beside it
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Of the demo's invented centre, which must not be serving just then
    #[arg(long)]
    demo: bool,
}

fn format_of(word: &str) -> Result<Format, String> {
    let all = || Format::ALL.map(Format::word).join(", ");
    Format::of_word(word).ok_or_else(|| format!("expected one of {}", all()))
}

fn outcome_of(word: &str) -> Result<VerdictOutcome, String> {
    use VerdictOutcome::{AutomaticFail, Fail, Pass, Unfinished};
    let all = [Pass, Fail, AutomaticFail, Unfinished];
    all.into_iter()
        .find(|outcome| row::verdict_word(*outcome) == word)
        .ok_or_else(|| "expected pass, fail, automatic_fail or unfinished".to_owned())
}

/// A centre's code.
pub fn centre_of(code: &str) -> Result<CentreId, String> {
    CentreId::new(code).ok_or_else(|| "a centre's code is 2 to 32 of a-z 0-9 -".to_owned())
}

fn day_of(text: &str) -> Result<Date, String> {
    let expected = || "expected a day such as 2027-02-01".to_owned();
    let mut parts = text.splitn(3, '-');
    let mut part = |digits: usize| parts.next().filter(|part| part.len() == digits);
    let (year, month, day) = (part(4), part(2), part(2));
    let number = |part: Option<&str>| part.and_then(|part| part.parse::<u16>().ok()).ok_or_else(expected);
    let month = u8::try_from(number(month)?).ok().and_then(|month| Month::try_from(month).ok()).ok_or_else(expected)?;
    let day = u8::try_from(number(day)?).map_err(|_| expected())?;
    Date::from_calendar_date(number(year)?.into(), month, day).map_err(|why| why.to_string())
}

/// Exports, and says on standard error how much.
pub fn export(args: ExportArgs) -> ExitCode {
    if args.format == Format::Spreadsheet && args.out.is_none() {
        eprintln!("baywitness: a spreadsheet needs a file to go to: add --out FILE");
        return ExitCode::from(2);
    }
    once(args.demo, async |config, store| export_from(config, store, args).await)
}

async fn export_from(config: &Config, store: &Store, args: ExportArgs) -> anyhow::Result<ExitCode> {
    let clock = Clock::system();
    let base = config.origin.as_ref().map(ToString::to_string).unwrap_or_default();
    let order = Order {
        id: clock.new_id(),
        filter: Filter {
            from: args.from,
            to: args.to,
            task: args.task.map(TaskId),
            assessor: args.assessor.map(StaffNo),
            outcome: args.outcome,
        },
        format: args.format,
        columns: args.columns,
        names: args.names,
        by: None,
    };
    let faults = exporter::check(store, &args.centre, &order, &base).await?;
    if !faults.is_empty() {
        for fault in faults {
            eprintln!("--{}: {}", fault.field, fault.says);
        }
        return Ok(ExitCode::from(2));
    }
    if let Some(path) = args.out.as_ref().filter(|path| path.exists()) {
        bail!("there is already a file {}; name another", path.display());
    }
    let (columns, names) = (order.columns.clone(), order.names);
    let started = exporter::start(store, &clock, &args.centre, order).await?;
    let progress = std::sync::Arc::clone(&started.progress);
    tokio::spawn(async move {
        if tokio::signal::ctrl_c().await.is_ok() {
            progress.cancel();
        }
    });
    let target = args.out.clone().map_or(Target::Stdout, Target::File);
    let folder = match &args.out {
        Some(path) => path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new(".")),
        None => &config.data,
    };
    if args.format == Format::Badges {
        config::badge_key(&config.data).context("the key of credentials cannot be had")?;
    }
    let ended = started.carry(target, folder, &config.data, &base).await?;
    if let Some((path, text)) = args.out.as_ref().zip(schema_of(args.format, &columns, names)) {
        let beside = folder.join(format!("{}.schema.json", path.file_stem().unwrap_or_default().to_string_lossy()));
        std::fs::write(&beside, text).with_context(|| format!("{} cannot be written", beside.display()))?;
    }
    let things = if args.format == Format::Calendar { "plans" } else { "results" };
    eprintln!("{} {things}, {} bytes", ended.rows, ended.bytes);
    Ok(ExitCode::SUCCESS)
}

/// What describes a file of this format to programs.
fn schema_of(format: Format, columns: &[String], names: bool) -> Option<String> {
    let key = match format {
        Format::CsvSheet | Format::CsvData => Some("result_id"),
        Format::ObservationsSheet | Format::ObservationsData => Some("observation_id"),
        Format::FindingsSheet | Format::FindingsData => None,
        Format::Json => return Some(json::SCHEMA.to_owned()),
        _ => return None,
    };
    let schema = schema::table(&columns_of(format, columns, names), key);
    serde_json::to_string_pretty(&schema).ok().map(|text| text + "\n")
}
