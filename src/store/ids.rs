//! Names of stored things.

use time::OffsetDateTime;
use uuid::Uuid;

/// A centre's permanent code: 2 to 32 of `a-z 0-9 -`. It stands in every key, in sign-in names (`name@code`) and in seals.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct CentreId(String);

impl CentreId {
    /// The code, or `None` where it is not well formed.
    pub fn new(code: &str) -> Option<Self> {
        let fits = (2..=32).contains(&code.len())
            && code.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-');
        fits.then(|| Self(code.to_owned()))
    }

    /// A code that no centre gets, under which is counted what happens before there is a centre.
    pub fn nobodys() -> Self {
        Self("--".to_owned())
    }

    /// The code as written.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// A member of staff, numbered within the centre from 1; evidence names them `u-17`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct StaffNo(pub i32);

/// A candidate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct CandidateId(pub Uuid);

/// A task through all its versions.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct TaskId(pub Uuid);

/// A checklist through all its versions.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct ChecklistId(pub Uuid);

/// An enrolled tablet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct TabletId(pub Uuid);

/// A session.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct SessionId(pub Uuid);

/// A UUID of version 7 (RFC 9562, section 5.7) for something that the server makes at `now`.
pub(super) fn of_server(now: OffsetDateTime) -> Uuid {
    let ms = u64::try_from(super::chain::unix_ms(now)).unwrap_or(0);
    uuid::Builder::from_unix_timestamp_millis(ms, &rand::random()).into_uuid()
}
