//! Reads the bay's part of a task file: one file for each thing that stands in the bay.
//!
//! Every fault is added and the walk goes on. Identifiers are gathered before anything else is read ([`Known`]), so
//! that a device with a fault in it is still a device that others may name.

mod board;
mod circuit;
mod fit;
mod known;
mod load;
mod setup;
mod table;

pub(crate) use known::{Known, Names, listed};

use super::equipment::SHORT_LINE;
use super::{Bay, Conductor, Isolate, Phases, Source, Supply};
use crate::reading::{At, Fields};

/// Longest label or title, in characters.
pub(crate) const LABEL: usize = 200;

/// A short form: it fits two lines of [`SHORT_LINE`] characters, together with what stands in front of it.
fn short(at: &At<'_>, before: &str) -> Option<String> {
    let short = at.text(2 * SHORT_LINE + 1)?;
    let (mut lines, mut used) = (1, 0);
    for length in before.split_whitespace().chain(short.split_whitespace()).map(|word| word.chars().count()) {
        let there = if used == 0 { 0 } else { used + 1 };
        (lines, used) = if there + length <= SHORT_LINE { (lines, there + length) } else { (lines + 1, length) };
        if lines > 2 || used > SHORT_LINE {
            at.fault(format!("expected what fits two lines of {SHORT_LINE} characters, found {short:?}"));
            return None;
        }
    }
    Some(short)
}

/// Most devices, circuits, items and the like in one task.
pub(crate) const MANY: usize = 200;

impl Bay {
    /// Reads the bay from the keys of a task; the caller finishes the table. `None` once faults were added.
    pub(crate) fn read(fields: &mut Fields<'_>, known: &Known) -> Option<Self> {
        let standards = fields.word("standards");
        let supply = fields.required("supply").and_then(|at| supply(&at));
        let phases = supply.map(|supply| supply.phases);
        let board = fields.required("board").and_then(|at| board::read(&at, phases, known));
        let circuit_ats = fields.some("circuits", MANY).unwrap_or_default();
        let circuits = all(&circuit_ats, |at| circuit::read(at, phases));
        let sources = fields.maybe("sources", |at| all(&at.list(MANY)?, |at| source(at, known)));
        let setup = fields.maybe("setup", |at| setup::read(&at, known, circuits.as_deref(), board.as_ref()));
        let isolate_at = fields.required("isolate");
        let isolate = isolate_at.as_ref().and_then(|at| isolate(at, known));
        let table = fields.some("table", MANY).and_then(|items| table::read(&items, known));
        fit::feeds(fields.at().node, &circuit_ats);
        if let Some(at) = isolate_at {
            fit::isolate(fields.at().node, &at);
        }
        if let (Some(board), Some(circuits)) = (&board, &circuits) {
            fit::lines(&circuit_ats, circuits, board);
        }
        let (sources, table, setup) = (sources?.unwrap_or_default(), table?, setup?.unwrap_or_default());
        Some(Self {
            standards: standards?,
            supply: supply?,
            board: board?,
            circuits: circuits?,
            sources,
            isolate: isolate?,
            table,
            setup,
        })
    }
}

/// Reads every value, whatever became of the ones before it; `None` where one of them could not be read.
pub(crate) fn all<T>(ats: &[At<'_>], read: impl Fn(&At<'_>) -> Option<T>) -> Option<Vec<T>> {
    let read: Vec<Option<T>> = ats.iter().map(read).collect();
    read.into_iter().collect()
}

fn supply(at: &At<'_>) -> Option<Supply> {
    let mut fields = at.fields()?;
    let phases = fields.required("phases").and_then(|at| match at.whole::<u8>(1..=3)? {
        1 => Some(Phases::One),
        3 => Some(Phases::Three),
        two => {
            at.fault(format!("expected 1 or 3 phases, found {two}"));
            None
        }
    });
    // Below 50 V AC nothing counts as live (trade facts A15 and C28), and above 1,000 V it is no longer low voltage.
    let volts = fields.whole("volts", 50..=1_000);
    fields.finish();
    Some(Supply { phases: phases?, volts: volts? })
}

fn source(at: &At<'_>, known: &Known) -> Option<Source> {
    let mut fields = at.fields()?;
    let (id, kind, label) = (fields.id("id"), fields.word("kind"), fields.text("label", LABEL));
    let device = fields.maybe("device", |at| known.devices.named(&at));
    let reaches = fields.maybe("reaches", |at| {
        let conductor: Conductor = at.word()?;
        if !conductor.is_line() {
            at.fault(format!("{conductor} is no line, expected the line conductor that it feeds"));
            return None;
        }
        Some(conductor)
    });
    fields.finish();
    Some(Source { id: id?, kind: kind?, label: label?, device: device?, reaches: reaches? })
}

fn isolate(at: &At<'_>, known: &Known) -> Option<Isolate> {
    let mut fields = at.fields()?;
    let circuit = fields.required("circuit").and_then(|at| known.circuits.named(&at));
    let device = fields.required("device").and_then(|at| known.devices.named(&at));
    let point = fields.required("point").and_then(|at| known.points.named(&at));
    fields.finish();
    Some(Isolate { circuit: circuit?, device: device?, point: point? })
}
