//! The hash chain of one session.

use super::digest::Digest;
use uuid::Uuid;

/// h(0): where the chain of a session starts.
pub fn start(session: Uuid) -> Digest {
    Digest::of(format!("baywitness-log/1\n{}\n", session.hyphenated()))
}

/// h(n): the head after `line`, from the head before it.
pub fn next(head: &Digest, line: &str) -> Digest {
    Digest::of(format!("{head}\n{line}\n"))
}

/// The head after all these lines.
pub fn head<'a>(session: Uuid, lines: impl IntoIterator<Item = &'a str>) -> Digest {
    lines.into_iter().fold(start(session), |head, line| next(&head, line))
}
