//! The only place, beside `main`, that asks what time it is.

use std::sync::Arc;
use time::OffsetDateTime;

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
}
