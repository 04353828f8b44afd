//! The one-time code with which a centre is begun. Whoever can read the console of the service, or its data folder, may
//! begin one; nobody else. The folder holds only the code's SHA-256 and when it expires.

use crate::web::tokens;
use std::io;
use std::os::unix::fs::OpenOptionsExt;
use std::path::PathBuf;
use subtle::ConstantTimeEq;
use time::{Duration, OffsetDateTime};

/// Hours a code lasts, unless the service that printed it ends before.
pub const CODE_HOURS: i64 = 24;
/// Letters in the code: 30¹⁶ codes, and wrong ones are slowed down.
const LENGTH: usize = 16;
const NAME: &str = "begin-code";

/// Where the code is kept. There is at most one: a new one takes the place of the one before.
#[derive(Debug, Clone)]
pub struct Codes {
    folder: PathBuf,
}

/// A code that was right and that nobody else can use any more.
#[must_use = "a claim that comes to nothing is given back"]
pub struct Claim {
    kept: PathBuf,
    claimed: PathBuf,
}

impl Codes {
    /// Codes kept in the data folder.
    pub fn new(folder: impl Into<PathBuf>) -> Self {
        Self { folder: folder.into() }
    }

    /// Makes a new code and keeps its hash. Errors are those of the file system.
    pub fn make(&self, now: OffsetDateTime) -> io::Result<String> {
        std::fs::create_dir_all(&self.folder)?;
        let code = tokens::spoken_code(LENGTH);
        let expires = (now + Duration::hours(CODE_HOURS)).unix_timestamp();
        let line = format!("{} {expires}\n", hex(&tokens::code_hash(&code)));
        // Written aside and moved into place, so that a reader never sees half of it.
        let aside = self.folder.join(format!("{NAME}.{:08x}", rand::random::<u32>()));
        let mut file = std::fs::OpenOptions::new().write(true).create_new(true).mode(0o600).open(&aside)?;
        io::Write::write_all(&mut file, line.as_bytes())?;
        std::fs::rename(&aside, self.path())?;
        Ok(code)
    }

    /// Whether there is a code that can be used.
    pub fn is_live(&self, now: OffsetDateTime) -> bool {
        self.live(now).is_some()
    }

    /// Whether this is the code.
    pub fn fits(&self, code: &str, now: OffsetDateTime) -> bool {
        let right = |kept: String| bool::from(kept.as_bytes().ct_eq(hex(&tokens::code_hash(code)).as_bytes()));
        self.live(now).is_some_and(right)
    }

    /// Claims the code: of several who do so at once, one gets it.
    pub fn claim(&self, code: &str, now: OffsetDateTime) -> Option<Claim> {
        if !self.fits(code, now) {
            return None;
        }
        let claimed = self.folder.join(format!("{NAME}.{:08x}", rand::random::<u32>()));
        // Only one rename finds the file; to the others it is gone.
        std::fs::rename(self.path(), &claimed).ok()?;
        Some(Claim { kept: self.path(), claimed })
    }

    /// Forgets the code, where there is one.
    pub fn forget(&self) {
        // It may be gone already, and that is as good.
        let _ = std::fs::remove_file(self.path());
    }

    /// The hash, where it has not expired.
    fn live(&self, now: OffsetDateTime) -> Option<String> {
        let line = std::fs::read_to_string(self.path()).ok()?;
        let (hash, expires) = line.trim_end().split_once(' ')?;
        let expires: i64 = expires.parse().ok()?;
        (now.unix_timestamp() < expires).then(|| hash.to_owned())
    }

    fn path(&self) -> PathBuf {
        self.folder.join(NAME)
    }
}

impl Claim {
    /// The centre is there: the code is used up.
    pub fn done(self) {
        // Left behind it would open nothing: only the name of the code itself is looked at.
        let _ = std::fs::remove_file(self.claimed);
    }

    /// It came to nothing: the code can be used again, unless a new one was made meanwhile.
    pub fn give_back(self) {
        let _ = std::fs::hard_link(&self.claimed, &self.kept);
        let _ = std::fs::remove_file(self.claimed);
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use time::macros::datetime;

    const NOW: OffsetDateTime = datetime!(2027-02-03 10:00 UTC);

    /// Codes in a folder that is removed with it.
    struct Kept(Codes);

    impl Kept {
        fn new() -> Self {
            let name = format!("bw-code-{}-{:08x}", std::process::id(), rand::random::<u32>());
            Self(Codes::new(std::env::temp_dir().join(name)))
        }
    }

    impl Drop for Kept {
        fn drop(&mut self) {
            let _ = std::fs::remove_dir_all(&self.0.folder);
        }
    }

    #[test]
    fn a_code_is_claimed_once_and_however_it_is_typed() {
        let Kept(codes) = &Kept::new();
        assert!(!codes.is_live(NOW) && !codes.fits("", NOW));
        let code = codes.make(NOW).unwrap();
        let typed = code.to_lowercase().replace('-', " ");
        assert!(codes.fits(&typed, NOW) && !codes.fits("AAAA-AAAA-AAAA-AAAA", NOW));
        assert!(codes.claim("AAAA-AAAA-AAAA-AAAA", NOW).is_none());
        let claim = codes.claim(&typed, NOW).unwrap();
        assert!(codes.claim(&typed, NOW).is_none() && !codes.is_live(NOW), "claimed already");
        claim.give_back();
        codes.claim(&typed, NOW).unwrap().done();
        assert!(!codes.is_live(NOW));
        assert_eq!(std::fs::read_dir(&codes.folder).unwrap().count(), 0, "nothing is left behind");
    }

    #[test]
    fn of_many_who_claim_at_once_one_gets_it() {
        let Kept(codes) = &Kept::new();
        let code = codes.make(NOW).unwrap();
        let got = std::thread::scope(|scope| {
            let claims: Vec<_> = (0..16).map(|_| scope.spawn(|| codes.claim(&code, NOW).is_some())).collect();
            claims.into_iter().filter(|_| true).map(|claim| claim.join().unwrap()).filter(|got| *got).count()
        });
        assert_eq!(got, 1);
    }

    #[test]
    fn a_code_expires_and_a_new_one_takes_its_place() {
        let Kept(codes) = &Kept::new();
        let old = codes.make(NOW).unwrap();
        let almost = NOW + Duration::hours(CODE_HOURS) - Duration::seconds(1);
        assert!(codes.is_live(almost) && !codes.is_live(almost + Duration::seconds(1)));
        let new = codes.make(NOW).unwrap();
        assert!(!codes.fits(&old, NOW) && codes.fits(&new, NOW));
        codes.forget();
        assert!(!codes.is_live(NOW));
    }

    #[test]
    fn what_is_kept_is_not_the_code_and_is_nobody_elses_to_read() {
        use std::os::unix::fs::PermissionsExt;
        let Kept(codes) = &Kept::new();
        let code = codes.make(NOW).unwrap();
        let kept = std::fs::read_to_string(codes.path()).unwrap();
        assert!(!kept.contains(&code) && !kept.contains(&code.replace('-', "")));
        assert_eq!(std::fs::metadata(codes.path()).unwrap().permissions().mode() & 0o777, 0o600);
        for nonsense in ["", "x", "00 y", &format!("{} 1", "0".repeat(64))] {
            std::fs::write(codes.path(), nonsense).unwrap();
            assert!(!codes.is_live(NOW) && !codes.fits(&code, NOW), "{nonsense}");
        }
    }
}
