//! Secrets: tokens for cookies and links, and codes that a person can say. They come from a generator that the operating
//! system seeds and that is made for secrets; of each only a hash is stored.

use crate::store::{CentreId, StaffNo};
use rand::RngExt;
use sha2::{Digest, Sha256};

/// Letters and digits that cannot be taken for each other: no 0 and O, no 1, I and L, no U.
const LETTERS: &[u8; 30] = b"23456789ABCDEFGHJKMNPQRSTVWXYZ";
/// Letters in the code of a feedback link: 30⁸ codes, five tries.
const CODE_LENGTH: usize = 8;

/// A secret of 32 random bytes.
#[derive(Clone, PartialEq, Eq)]
pub struct Token([u8; 32]);

impl Token {
    /// A new token.
    #[allow(clippy::new_without_default, reason = "two new tokens differ")]
    pub fn new() -> Self {
        Self(rand::rng().random())
    }

    #[cfg(test)]
    pub(crate) fn of(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    /// Reads 64 lower-case hex digits.
    pub fn from_hex(text: &str) -> Option<Self> {
        from_hex(text).map(Self)
    }

    /// The token as 64 lower-case hex digits.
    pub fn hex(&self) -> String {
        self.0.iter().map(|byte| format!("{byte:02x}")).collect()
    }

    /// What is stored of it.
    pub fn hash(&self) -> [u8; 32] {
        Sha256::digest(self.0).into()
    }

    /// What is stored of a token and a typed code that are only good together.
    pub fn hash_with(&self, code: &str) -> [u8; 32] {
        let mut digest = Sha256::new();
        digest.update(self.0);
        digest.update(as_compared(code).as_bytes());
        digest.finalize().into()
    }
}

/// 32 bytes from 64 lower-case hex digits.
pub fn from_hex(text: &str) -> Option<[u8; 32]> {
    let mut bytes = [0; 32];
    if text.len() != 64 || !text.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b)) {
        return None;
    }
    for (byte, pair) in bytes.iter_mut().zip(text.as_bytes().chunks(2)) {
        *byte = u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok()?;
    }
    Some(bytes)
}

/// A code of `length` letters and digits, in groups of four, that can be said over a table.
pub fn spoken_code(length: usize) -> String {
    let mut rng = rand::rng();
    let mut code = String::with_capacity(length + length / 4);
    for at in 0..length {
        if at > 0 && at % 4 == 0 {
            code.push('-');
        }
        code.push(char::from(LETTERS[rng.random_range(0..LETTERS.len())]));
    }
    code
}

/// Letters in a recovery code: 30¹² codes, tried against one person at a time.
const RECOVERY_LENGTH: usize = 12;
/// How many recovery codes a person gets.
const RECOVERY_CODES: usize = 8;

/// New recovery codes of this person, each with what is stored of it.
pub fn recovery_codes(centre: &CentreId, who: StaffNo) -> Vec<(String, [u8; 32])> {
    let code = |_| {
        let code = spoken_code(RECOVERY_LENGTH);
        let hash = recovery_hash(centre, who, &code);
        (code, hash)
    };
    (0..RECOVERY_CODES).map(code).collect()
}

/// What is stored of a recovery code, however it is typed.
pub fn recovery_hash(centre: &CentreId, who: StaffNo, code: &str) -> [u8; 32] {
    let whose = format!("recovery {} u-{} ", centre.as_str(), who.0);
    Sha256::new().chain_update(whose).chain_update(as_compared(code)).finalize().into()
}

/// What is stored of a code that stands alone.
pub fn code_hash(code: &str) -> [u8; 32] {
    Sha256::digest(as_compared(code)).into()
}

/// A code as it is compared: capitals, without spaces and dashes.
fn as_compared(text: &str) -> String {
    let kept = text.chars().filter(|c| !c.is_whitespace() && !matches!(c, '-' | '–'));
    kept.take(CODE_LENGTH * 4).collect::<String>().to_uppercase()
}

/// A new private way to the feedback on a session. Path and code are given to the candidate and kept nowhere.
pub struct FeedbackLink {
    pub token_hash: [u8; 32],
    pub code_hash: [u8; 32],
    /// The address from its first slash on.
    pub path: String,
    pub code: String,
}

impl FeedbackLink {
    /// A new link of this centre.
    pub fn new(centre: &CentreId) -> Self {
        let (token, code) = (Token::new(), spoken_code(CODE_LENGTH));
        Self {
            token_hash: token.hash(),
            code_hash: token.hash_with(&code),
            path: format!("/feedback/{}/{}", centre.as_str(), token.hex()),
            code,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_tokens_differ_and_only_a_hash_is_kept() {
        let (one, other) = (Token::new(), Token::new());
        assert!(one != other);
        assert_ne!(one.hash().to_vec(), one.0.to_vec());
        assert_ne!(one.hash_with("A"), one.hash_with("B"));
        assert!(Token::from_hex(&one.hex()).is_some_and(|again| again == one));
    }

    #[test]
    fn a_code_holds_only_letters_that_cannot_be_confused() {
        for _ in 0..200 {
            let code = spoken_code(8);
            assert_eq!(code.len(), 9);
            assert!(code.bytes().all(|b| b == b'-' || LETTERS.contains(&b)), "{code}");
        }
    }

    #[test]
    fn a_code_is_read_however_it_is_typed() {
        let token = Token::new();
        assert_eq!(token.hash_with(" abcd efgh"), token.hash_with("ABCD-EFGH"));
        assert_ne!(token.hash_with("ABCD-EFGJ"), token.hash_with("ABCD-EFGH"));
    }

    #[test]
    fn a_link_holds_its_token_and_no_code() {
        let link = FeedbackLink::new(&CentreId::new("north-yard").unwrap());
        let token = Token::from_hex(link.path.rsplit('/').next().unwrap()).unwrap();
        assert_eq!(token.hash(), link.token_hash);
        assert_eq!(token.hash_with(&link.code), link.code_hash);
        assert!(!link.path.contains(&link.code));
    }
}
