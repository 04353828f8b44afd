//! A row for tests.

use super::row::Row;
use super::status_list::Place;
use crate::marking::VerdictOutcome;
use time::Duration;
use time::macros::datetime;
use uuid::Uuid;

/// A pass of a candidate of this name.
pub fn row(name: &str) -> Row {
    Row {
        session: Uuid::from_u128(0x0194_0000_0000_7000_8000_0000_0000_0007),
        ordinal: 0,
        signed_by: 3,
        superseded: false,
        amendments: Vec::new(),
        candidate_ref: "REG-0042".into(),
        candidate_name: Some(name.into()),
        task: Uuid::from_u128(0x0194_0000_0000_7000_8000_0000_0000_0009),
        task_title: "Stairwell".into(),
        task_version: 2,
        bay: "Bay 1".into(),
        assessor: 3,
        planned_at: datetime!(2026-10-25 0:30 UTC),
        // Across the end of summer time in London, 01:00 UTC.
        started_at: Some(datetime!(2026-10-25 0:58:30.250 UTC)),
        lasted: Some(Duration::milliseconds(274_310)),
        signed_at: datetime!(2026-10-25 1:20 UTC),
        outcome: VerdictOutcome::Pass,
        marks: 54,
        out_of: 56,
        percent: 96.4,
        reasons: Vec::new(),
        to_review: false,
        evidence_code: "0".repeat(64),
        place: Some(Place(131_079)),
        marked: None,
    }
}
