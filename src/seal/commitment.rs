//! Commitments to text that stays outside the evidence.

use super::digest::{Digest, hex};

/// 32 random bytes, new for each commitment, so that short texts cannot be guessed from their digest.
#[derive(Clone, PartialEq, Eq)]
pub struct Salt([u8; 32]);

impl Salt {
    /// A salt of these bytes, which the caller drew from the system's generator.
    pub fn new(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    /// The bytes, for keeping beside the text.
    pub fn bytes(&self) -> &[u8; 32] {
        &self.0
    }
}

/// Salts stay out of logs: with the salt a short text can be guessed.
impl std::fmt::Debug for Salt {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Salt")
    }
}

/// The commitment to a note: SHA-256 of `note/1`, the salt in hex and the text, a line feed between them.
pub fn note(salt: &Salt, text: &str) -> Digest {
    commit("note/1", salt, text)
}

/// The commitment to a candidate's details, as [`note`] with `cand/1`.
pub fn candidate(salt: &Salt, details: &str) -> Digest {
    commit("cand/1", salt, details)
}

fn commit(purpose: &str, salt: &Salt, text: &str) -> Digest {
    Digest::of(format!("{purpose}\n{}\n{text}", hex(&salt.0)))
}
