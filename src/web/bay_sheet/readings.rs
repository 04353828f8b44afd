//! The table of expected readings, in words.

use crate::bay::readings::{Case, Expected, Means, Reading, Row};
use crate::bay::setup::SwitchSetting;
use crate::bay::{Bay, readings};

/// One table.
pub struct Table {
    pub title: String,
    /// Heads of the columns, such as `E–N`.
    pub pairs: Vec<String>,
    pub rows: Vec<Line>,
    pub why_not: Option<String>,
}

/// One row.
pub struct Line {
    pub settings: String,
    pub at_start: bool,
    pub readings: Vec<String>,
}

/// The tables of a bay, and which switches their rows name, in their order.
pub fn tables(bay: &Bay) -> (Vec<Table>, Vec<String>) {
    let expected = readings::expected(bay);
    let switches = bay.circuit(&bay.isolate.circuit).map_or(&[][..], |circuit| &circuit.switches[..]);
    let names = switches.iter().map(|switch| switch.id.to_string()).collect();
    (expected.cases.iter().map(|case| table(bay, &expected, case)).collect(), names)
}

fn table(bay: &Bay, expected: &Expected, case: &Case) -> Table {
    let device = &bay.isolate.device;
    let healthy = if bay.setup.planted.is_empty() { "" } else { ", with nothing planted" };
    let title = match (case.planted, case.isolated) {
        (false, false) => format!("Before the isolation: {device} on{healthy}"),
        (false, true) => format!("After the right isolation: {device} off{healthy}"),
        (true, false) => format!("With what is planted: {device} on"),
        (true, true) => format!("With what is planted: {device} off"),
    };
    Table {
        title,
        pairs: expected.pairs.iter().map(|[one, other]| format!("{one}–{other}")).collect(),
        rows: case.rows.iter().map(|row| line(bay, row)).collect(),
        why_not: case.why_not.as_ref().map(|why| format!("No readings can be told here: {why}.")),
    }
}

fn line(bay: &Bay, row: &Row) -> Line {
    let each: Vec<String> = row.settings.iter().map(|settings| way(bay, settings)).collect();
    let settings = match &row.settings[..] {
        [only] if only.is_empty() => "There is no switch.".to_owned(),
        _ if row.every => "In every setting.".to_owned(),
        _ => each.join("; "),
    };
    Line { settings, at_start: row.at_start, readings: row.readings.iter().map(|reading| volts(*reading)).collect() }
}

fn way(bay: &Bay, settings: &[SwitchSetting]) -> String {
    let word = |there: &SwitchSetting| bay.switch(&there.switch).map_or("", |switch| there.setting.word(switch.kind));
    settings.iter().map(word).collect::<Vec<_>>().join(" ")
}

/// A reading as it is written: the volts, and in words what it means.
fn volts(reading: Reading) -> String {
    let whole = reading.whole();
    match reading.means() {
        Means::Live => format!("{whole} V, live"),
        Means::Induced => format!("{whole} V under load, {:.0} V without: induced", reading.unloaded_volts),
        Means::None if whole == 0 => "0 V, none".to_owned(),
        Means::None => format!("{whole} V, none"),
    }
}
