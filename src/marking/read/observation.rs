//! The form of one observation.

use super::act;
use crate::marking::observation::Wall;
use crate::marking::{Observation, ObservationId};
use crate::reading::{At, Collected, Faults, from_json};
use time::OffsetDateTime;
use time::format_description::well_known::Rfc3339;

/// A day, in milliseconds: no session is longer.
const DAY_MS: i64 = 86_400_000;

/// What could be read of an observation, so that a fault in it does not make the ones after it look wrong.
#[derive(Debug)]
pub(super) struct Partly {
    pub id: Option<ObservationId>,
    pub seq: Option<u32>,
    pub whole: Option<Observation>,
}

/// Reads the form of an observation.
pub(super) fn read(at: &At<'_>) -> Partly {
    let Some(mut fields) = at.fields() else { return Partly { id: None, seq: None, whole: None } };
    let id = fields.required("id").and_then(|at| act::observation_id(&at));
    let seq = fields.whole("seq", 1..=i64::from(u32::MAX));
    let at_ms = fields.whole("at_ms", 0..=DAY_MS);
    let wall = fields.required("wall").and_then(|at| wall(&at));
    let act = fields.required("act").and_then(|at| {
        let mut fields = at.fields()?;
        // Which fields an act has hangs on its kind; without one, only the kind is at fault.
        let kind = at.node.get("kind").and_then(|kind| kind.as_text());
        let before = at.found.count();
        let act = act::read(&mut fields);
        if kind.is_some_and(|kind| act::KINDS.contains(&kind)) {
            fields.finish();
        }
        act.filter(|_| at.found.count() == before)
    });
    fields.finish();
    let whole = || Some(Observation { id: id?, seq: seq?, at_ms: at_ms?, wall: wall?, act: act? });
    Partly { id, seq, whole: whole() }
}

/// A date and time as RFC 3339 writes it, kept to the millisecond.
fn wall(at: &At<'_>) -> Option<Wall> {
    let text = at.text(64)?;
    let read = OffsetDateTime::parse(&text, &Rfc3339).ok();
    let in_utc = read.and_then(|instant| instant.checked_to_offset(time::UtcOffset::UTC));
    // RFC 3339 has four digits for the year; an offset can carry the instant out of them.
    let Some(instant) = in_utc.filter(|instant| (0..=9_999).contains(&instant.year())) else {
        at.fault("expected a date and time as in RFC 3339, such as 2027-02-03T10:03:04.250Z");
        return None;
    };
    i64::try_from(instant.unix_timestamp_nanos().div_euclid(1_000_000)).ok().map(Wall)
}

impl Observation {
    /// Reads one observation from JSON; every fault of its form at once. Whether it makes sense in a task is for
    /// [`Observation::check`] to say.
    pub fn read_json(text: &str) -> Result<Self, Faults> {
        let found = Collected::default();
        let whole = from_json::read(text, 1, &found).and_then(|node| read(&At::root(&node, &found)).whole);
        found.or_faults(whole)
    }
}
