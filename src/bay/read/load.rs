//! What is connected at a point.

use crate::bay::{Conductor, Connection, Load};
use crate::reading::At;

/// Reads a load. It is checked against the conductors of its point where those could be read.
pub(super) fn read(at: &At<'_>, conductors: Option<&[Conductor]>) -> Option<Load> {
    let mut fields = at.fields()?;
    let connection = fields.word("connection");
    let ohm = fields.number("ohm", 0.1..=1_000_000.0);
    let reactance_ohm = fields.maybe("reactance_ohm", |at| at.number(-1_000_000.0..=1_000_000.0));
    fields.finish();
    let load = Load { connection: connection?, ohm: ohm?, reactance_ohm: reactance_ohm?.unwrap_or(0.0) };
    let Some(conductors) = conductors else { return Some(load) };
    let lines = conductors.iter().filter(|conductor| conductor.is_line()).count();
    let says = match load.connection {
        Connection::LineNeutral if lines == 0 || !conductors.contains(&Conductor::N) => "a line and N at the point",
        Connection::Star | Connection::Delta if lines < 2 => "at least two lines at the point",
        _ => return Some(load),
    };
    at.fault(format!("this connection expects {says}"));
    None
}
