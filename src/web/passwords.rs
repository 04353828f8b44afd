//! Passwords: Argon2id, a little at a time.

use argon2::password_hash::phc::PasswordHash;
use argon2::{Argon2, PasswordHasher, PasswordVerifier};
use std::sync::Arc;
use tokio::sync::Semaphore;

/// Hashes at once. One costs about 19 MiB and 20 to 35 ms of a core, so that guesses cannot crowd out marking.
const AT_ONCE: usize = 2;

/// A password could not be hashed.
#[derive(Debug, thiserror::Error)]
pub enum PasswordError {
    #[error("the password could not be hashed: {0}")]
    Hash(argon2::password_hash::Error),
    #[error("the work on a password was broken off")]
    BrokenOff,
}

/// Hashes a password as the service keeps it: Argon2id, 19 MiB, 2 passes, 1 lane, as a PHC string. The cost is the
/// least that the OWASP password storage advice allows.
pub fn hash(password: &str) -> Result<String, PasswordError> {
    let hashed = Argon2::default().hash_password(password.as_bytes()).map_err(PasswordError::Hash)?;
    Ok(hashed.to_string())
}

/// Checks passwords, two at a time.
#[derive(Clone)]
pub struct Passwords {
    turns: Arc<Semaphore>,
    /// Checked where nobody has the sign-in name, so that the answer takes as long as for a wrong password.
    nobodys: Arc<str>,
}

impl Passwords {
    /// Ready to check.
    pub fn new() -> Result<Self, PasswordError> {
        Ok(Self { turns: Arc::new(Semaphore::new(AT_ONCE)), nobodys: hash("nobody has this password")?.into() })
    }

    /// Hashes a password that is to be kept, in its turn.
    pub async fn keep(&self, password: String) -> Result<String, PasswordError> {
        let _turn = self.turns.acquire().await.map_err(|_| PasswordError::BrokenOff)?;
        tokio::task::spawn_blocking(move || hash(&password)).await.map_err(|_| PasswordError::BrokenOff)?
    }

    /// Whether `password` is the one behind `stored`. With nothing stored the same work is done and the answer is no.
    pub async fn verify(&self, password: String, stored: Option<String>) -> Result<bool, PasswordError> {
        let _turn = self.turns.acquire().await.map_err(|_| PasswordError::BrokenOff)?;
        let known = stored.is_some();
        let stored = stored.unwrap_or_else(|| self.nobodys.to_string());
        let right = tokio::task::spawn_blocking(move || is_right(&password, &stored))
            .await
            .map_err(|_| PasswordError::BrokenOff)?;
        Ok(right && known)
    }
}

fn is_right(password: &str, stored: &str) -> bool {
    PasswordHash::new(stored)
        .is_ok_and(|stored| Argon2::default().verify_password(password.as_bytes(), &stored).is_ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_cost_is_at_least_the_published_least() {
        let stored = hash("correct horse").unwrap();
        assert!(stored.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{stored}");
    }

    #[tokio::test]
    async fn only_the_right_password_is_right() {
        let passwords = Passwords::new().unwrap();
        let stored = hash("pass ⚡ word").unwrap();
        assert!(passwords.verify("pass ⚡ word".into(), Some(stored.clone())).await.unwrap());
        assert!(!passwords.verify("pass word".into(), Some(stored)).await.unwrap());
        assert!(!passwords.verify("pass word".into(), Some("not a hash".into())).await.unwrap());
        assert!(!passwords.verify("nobody has this password".into(), None).await.unwrap());
    }
}
