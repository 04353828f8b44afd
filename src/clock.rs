//! The only place, beside `main`, that asks what time it is.

use std::sync::Arc;
use time::OffsetDateTime;
use uuid::{NoContext, Timestamp, Uuid};

/// A source of the time of day, so that tests can set it.
#[derive(Clone)]
pub struct Clock(Arc<dyn Fn() -> OffsetDateTime + Send + Sync>);

impl Clock {
    /// The system's clock.
    #[allow(clippy::disallowed_methods, reason = "this is the one module that may")]
    pub fn system() -> Self {
        Self(Arc::new(OffsetDateTime::now_utc))
    }

    /// A clock that answers whatever `tell` says.
    pub fn told(tell: impl Fn() -> OffsetDateTime + Send + Sync + 'static) -> Self {
        Self(Arc::new(tell))
    }

    /// The time now, cut to the microseconds that Postgres keeps.
    pub fn now(&self) -> OffsetDateTime {
        let now = (self.0)();
        now.replace_nanosecond(now.nanosecond() / 1_000 * 1_000).unwrap_or(now)
    }

    /// A new name for an observation or a thing: a UUID of version 7 (RFC 9562, section 5.7) of this moment.
    pub fn new_id(&self) -> Uuid {
        let now = self.now();
        let seconds = u64::try_from(now.unix_timestamp()).unwrap_or(0);
        Uuid::new_v7(Timestamp::from_unix(NoContext, seconds, now.nanosecond()))
    }

    /// Milliseconds since 1970, as a wall clock shows them.
    pub fn now_ms(&self) -> i64 {
        i64::try_from(self.now().unix_timestamp_nanos() / 1_000_000).unwrap_or(0)
    }
}
