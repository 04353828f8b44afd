//! What a request gets that did not end in the page it asked for.

use crate::store::StoreError;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use std::error::Error;
use std::sync::Arc;

/// A request that did not end in the page it asked for. What the asker reads is worded here; what went wrong inside
/// goes to the log, once, under the reference the asker is shown.
#[derive(Debug, thiserror::Error)]
pub enum WebError {
    /// Nobody is signed in on this browser.
    #[error("sign in first")]
    SignIn,
    /// There is no such thing, or it is not this person's to know of.
    #[error("there is no such {0}")]
    Missing(&'static str),
    /// This person may not do that; who may.
    #[error("{0}")]
    Forbidden(&'static str),
    /// A change that one of our own pages did not ask for.
    #[error("that did not come from a page of this service")]
    Foreign,
    /// The request makes no sense; what was expected.
    #[error("{0}")]
    Unreadable(String),
    /// The address exists, but not for this method.
    #[error("not for that method")]
    NotAllowed,
    #[error("that is too large")]
    TooLarge,
    /// The content type that was expected.
    #[error("expected {0}")]
    WrongType(&'static str),
    /// The thing has moved on since the page was shown.
    #[error("{0}")]
    Stale(&'static str),
    /// Too many tries; seconds to wait.
    #[error("too many tries")]
    TooMany(i64),
    /// The database cannot be reached just now.
    #[error("busy")]
    Busy(#[source] StoreError),
    /// Our fault.
    #[error("our fault")]
    Ours(#[source] Box<dyn Error + Send + Sync>),
}

impl From<StoreError> for WebError {
    fn from(why: StoreError) -> Self {
        if why.is_passing() { Self::Busy(why) } else { Self::Ours(Box::new(why)) }
    }
}

impl From<sqlx::Error> for WebError {
    fn from(why: sqlx::Error) -> Self {
        Self::from(StoreError::from(why))
    }
}

impl From<super::passwords::PasswordError> for WebError {
    fn from(why: super::passwords::PasswordError) -> Self {
        Self::Ours(Box::new(why))
    }
}

impl From<askama::Error> for WebError {
    fn from(why: askama::Error) -> Self {
        Self::Ours(Box::new(why))
    }
}

/// A failure on its way out through the layers, which give it a reference, a page or JSON, and a line in the log.
#[derive(Debug, Clone)]
pub struct Failure(pub Arc<WebError>);

impl WebError {
    /// A fault of ours that has no error value of its own.
    pub fn ours(says: &'static str) -> Self {
        Self::Ours(says.into())
    }

    /// The status of the answer.
    pub fn status(&self) -> StatusCode {
        match self {
            Self::SignIn => StatusCode::UNAUTHORIZED,
            Self::Missing(_) => StatusCode::NOT_FOUND,
            Self::Forbidden(_) | Self::Foreign => StatusCode::FORBIDDEN,
            Self::Unreadable(_) => StatusCode::UNPROCESSABLE_ENTITY,
            Self::NotAllowed => StatusCode::METHOD_NOT_ALLOWED,
            Self::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
            Self::WrongType(_) => StatusCode::UNSUPPORTED_MEDIA_TYPE,
            Self::Stale(_) => StatusCode::CONFLICT,
            Self::TooMany(_) => StatusCode::TOO_MANY_REQUESTS,
            Self::Busy(_) => StatusCode::SERVICE_UNAVAILABLE,
            Self::Ours(_) => StatusCode::INTERNAL_SERVER_ERROR,
        }
    }

    /// Seconds after which another try makes sense.
    pub fn retry_after(&self) -> Option<i64> {
        match self {
            Self::TooMany(seconds) => Some((*seconds).max(1)),
            Self::Busy(_) => Some(2),
            _ => None,
        }
    }

    /// A heading and a sentence that says what the asker can do.
    pub fn words(&self) -> (&'static str, String) {
        match self {
            Self::SignIn => ("Please sign in", "You are not signed in on this browser, or your sign-in has ended.".into()),
            Self::Missing(what) => (
                "Not found",
                format!("There is no such {what}. Check the address, or go back to the list of sessions."),
            ),
            Self::Forbidden(who) => ("Not yours to do", (*who).into()),
            Self::Foreign => (
                "Not accepted",
                "That did not come from a page of this service, so nothing was changed. Open the page again and try from there.".into(),
            ),
            Self::Unreadable(expected) => ("Not understood", format!("Nothing was changed. {expected}")),
            Self::NotAllowed => ("Not possible", "This address does not take that. Nothing was changed.".into()),
            Self::TooLarge => ("Too large", "That is more than the service takes at once. Nothing was changed.".into()),
            Self::WrongType(expected) => ("Not understood", format!("Nothing was changed. Expected {expected}.")),
            Self::Stale(what) => ("Something has changed", (*what).into()),
            Self::TooMany(seconds) => (
                "Too many tries",
                format!("Please wait {} and try again.", wait_words(*seconds)),
            ),
            Self::Busy(_) => (
                "One moment",
                "The service cannot reach its records just now. Nothing was changed. Try again in a few seconds.".into(),
            ),
            Self::Ours(_) => (
                "Something went wrong here",
                "The fault is ours, not yours. Nothing was changed. Try again; if it comes back, give the reference below.".into(),
            ),
        }
    }
}

/// A wait in words a person would say.
fn wait_words(seconds: i64) -> String {
    match seconds.max(1) {
        1 => "a second".into(),
        seconds if seconds < 90 => format!("{seconds} seconds"),
        seconds => format!("{} minutes", (seconds + 59) / 60),
    }
}

impl IntoResponse for WebError {
    fn into_response(self) -> Response {
        let mut response = self.status().into_response();
        response.extensions_mut().insert(Failure(Arc::new(self)));
        response
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_database_that_cannot_be_reached_is_busy_and_a_row_without_sense_is_ours() {
        let busy = WebError::from(sqlx::Error::PoolTimedOut);
        assert_eq!(busy.status(), StatusCode::SERVICE_UNAVAILABLE);
        assert!(busy.retry_after().is_some());
        let row = StoreError::Unreadable { table: "entries", row: "7".into(), why: "no line".into() };
        assert_eq!(WebError::from(row).status(), StatusCode::INTERNAL_SERVER_ERROR);
    }

    #[test]
    fn what_went_wrong_inside_is_not_shown() {
        let (heading, says) = WebError::Ours("relation entries does not exist".into()).words();
        assert!(!format!("{heading}{says}").contains("relation"));
    }

    #[test]
    fn waits_are_said_in_seconds_then_minutes() {
        assert_eq!(wait_words(0), "a second");
        assert_eq!(wait_words(20), "20 seconds");
        assert_eq!(wait_words(100), "2 minutes");
    }
}
