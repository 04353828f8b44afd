//! SHA-256 digests as the evidence writes them.

use sha2::{Digest as _, Sha256};
use std::fmt;

/// A SHA-256 digest (FIPS 180-4) as 64 lower-case hex digits.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Digest(String);

impl Digest {
    /// The digest written as `text`, or `None` where it is not 64 lower-case hex digits.
    pub fn new(text: &str) -> Option<Self> {
        let is_hex = |b: u8| b.is_ascii_digit() || (b'a'..=b'f').contains(&b);
        (text.len() == 64 && text.bytes().all(is_hex)).then(|| Self(text.to_owned()))
    }

    /// The digest of these bytes.
    pub fn of(bytes: impl AsRef<[u8]>) -> Self {
        Self(hex(&Sha256::digest(bytes)))
    }

    /// The 64 hex digits.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Bytes as lower-case hex digits.
pub(super) fn hex(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    let mut text = String::with_capacity(bytes.len() * 2);
    for byte in bytes {
        text.push(char::from(DIGITS[usize::from(byte >> 4)]));
        text.push(char::from(DIGITS[usize::from(byte & 15)]));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::Digest;

    #[test]
    fn only_sixty_four_lower_case_hex_digits_are_a_digest() {
        let digest = Digest::of("");
        // FIPS 180-4 example: the digest of the empty message.
        assert_eq!(digest.as_str(), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
        assert_eq!(Digest::new(digest.as_str()), Some(digest.clone()));
        for bad in [&digest.as_str().to_uppercase(), &digest.as_str()[1..], "", &"g".repeat(64), &"é".repeat(32)] {
            assert_eq!(Digest::new(bad), None, "{bad}");
        }
    }
}
