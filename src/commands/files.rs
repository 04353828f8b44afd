//! Commands that read files and need no database. Exit code 0: done; 2: refused, with every fault.

use baywitness::bay::plan::{self, Plan, Reasons};
use baywitness::export::text;
use baywitness::marking::{self, Log, Task};
use baywitness::reading::Faults;
use serde::Serialize;
use std::io::Write;
use std::path::Path;
use std::process::ExitCode;

/// Largest task file, in bytes; a bay with its checklist is a hundredth of it.
const LARGEST_TASK: u64 = 4 << 20;
/// Largest log file, in bytes: more than a whole valid log can hold.
const LARGEST_LOG: u64 = 256 << 20;

/// Why a command stops.
enum Stop {
    /// The file cannot be had: what the system says.
    File(String),
    /// The file makes no sense.
    Faults(String, Faults),
}

/// What is printed with `--json` where a file is refused.
#[derive(Serialize)]
struct Refusal<'a> {
    file: &'a str,
    faults: &'a Faults,
}

/// What `plan --json` prints.
#[derive(Serialize)]
struct Planned {
    #[serde(flatten)]
    plan: Plan,
    #[serde(skip_serializing_if = "Option::is_none")]
    reasons: Option<Reasons>,
}

/// Marks a log against its task.
pub fn mark(task: &Path, log: &Path, json: bool) -> ExitCode {
    let marked = read_task(task).and_then(|task| {
        let bytes = read(log, LARGEST_LOG)?;
        let log = Log::read(&bytes, &task).map_err(|faults| Stop::Faults(log.display().to_string(), faults))?;
        let marking = marking::mark(&task, &log);
        Ok(if json { as_json(&marking) } else { text::marking(&task, &marking) })
    });
    finish(marked, json)
}

/// Prints which hidden causes the tests of a log would have shown: single ones, or two at once.
pub fn coverage(task: &Path, log: &Path, pairs: bool, json: bool) -> ExitCode {
    let worked_out = read_task(task).and_then(|task| {
        let bytes = read(log, LARGEST_LOG)?;
        let log = Log::read(&bytes, &task).map_err(|faults| Stop::Faults(log.display().to_string(), faults))?;
        let coverage =
            if pairs { marking::coverage::coverage_of_pairs(&task, &log) } else { marking::mark(&task, &log).coverage };
        Ok(if json { as_json(&coverage) } else { text::coverage(&task, &log, &coverage) })
    });
    finish(worked_out, json)
}

/// Prints the tests a complete proof needs.
pub fn plan(task: &Path, json: bool) -> ExitCode {
    let planned = read_task(task).map(|task| {
        let plan = plan::plan(&task.bay, task.checklist.rounds());
        // A bay that makes no network still has its pairs and rounds.
        let reasons = plan::reasons(&task.bay).ok();
        if json { as_json(&Planned { plan, reasons }) } else { text::plan(&task, &plan, reasons.as_ref()) }
    });
    finish(planned, json)
}

fn finish(outcome: Result<String, Stop>, json: bool) -> ExitCode {
    let (text, code) = match outcome {
        Ok(text) => (text, ExitCode::SUCCESS),
        Err(Stop::Faults(file, faults)) if json => {
            (as_json(&Refusal { file: &file, faults: &faults }), ExitCode::from(2))
        }
        Err(stop) => {
            eprintln!("{}", words(&stop));
            return ExitCode::from(2);
        }
    };
    // A reader that has seen enough (`| head`) closes the pipe; that is no fault of ours.
    let _ = std::io::stdout().write_all(text.as_bytes());
    code
}

fn words(stop: &Stop) -> String {
    match stop {
        Stop::File(why) => why.clone(),
        Stop::Faults(file, faults) => {
            let count = faults.as_slice().len();
            let things = if count == 1 { "1 fault".to_owned() } else { format!("{count} faults") };
            format!("{file} is refused, {things}:\n{faults}")
        }
    }
}

fn read_task(path: &Path) -> Result<Task, Stop> {
    let bytes = read(path, LARGEST_TASK)?;
    let name = path.display().to_string();
    let text = std::str::from_utf8(&bytes).map_err(|why| Stop::File(format!("{name} is not UTF-8 text: {why}")))?;
    let is_json = path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("json"));
    let task = if is_json { Task::read_json(text) } else { Task::read_toml(text) };
    task.map_err(|faults| Stop::Faults(name, faults))
}

fn read(path: &Path, largest: u64) -> Result<Vec<u8>, Stop> {
    let name = path.display();
    let cannot = |why: std::io::Error| Stop::File(format!("{name} cannot be read: {why}"));
    let size = std::fs::metadata(path).map_err(cannot)?.len();
    if size > largest {
        return Err(Stop::File(format!("{name} has {size} bytes; at most {largest} are read")));
    }
    std::fs::read(path).map_err(cannot)
}

fn as_json<T: Serialize>(value: &T) -> String {
    match serde_json::to_string_pretty(value) {
        Ok(text) => text + "\n",
        Err(why) => format!("{{\"error\":\"{why}\"}}\n"),
    }
}
