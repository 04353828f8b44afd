//! The three cookies: a member of staff's sign-in, a candidate's visit, and an enrolled tablet. Neither holds anything but a centre's code and
//! a random token; only the token's hash is stored.

use super::origin::Origin;
use super::tokens::Token;
use crate::store::CentreId;
use axum_extra::extract::cookie::{Cookie, CookieJar, SameSite};

/// What a cookie stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    SignIn,
    Feedback,
    /// The browser itself, which the centre has enrolled.
    Tablet,
}

/// Days after which an enrolled tablet that nobody signs in on is forgotten by its browser: the most that browsers allow.
const TABLET_DAYS: i64 = 400;

impl Purpose {
    /// The cookie's name. The `__Host-` prefix makes browsers insist on `Secure`, `Path=/` and no `Domain`; on a plain
    /// local network they would drop such a cookie, so there the bare name is used.
    fn name(self, trustworthy: bool) -> &'static str {
        match (self, trustworthy) {
            (Self::SignIn, true) => "__Host-signin",
            (Self::SignIn, false) => "signin",
            (Self::Feedback, true) => "__Host-feedback",
            (Self::Feedback, false) => "feedback",
            (Self::Tablet, true) => "__Host-tablet",
            (Self::Tablet, false) => "tablet",
        }
    }
}

/// The centre and token in the cookie for this purpose, where there is a well-formed one.
pub fn read(jar: &CookieJar, purpose: Purpose, origin: &Origin) -> Option<(CentreId, Token)> {
    let (centre, token) = jar.get(purpose.name(origin.is_trustworthy()))?.value().split_once('.')?;
    Some((CentreId::new(centre)?, Token::from_hex(token)?))
}

/// The cookie that carries a token: out of reach of scripts, sent to this host only, not sent along by other sites'
/// forms; forgotten when the browser closes, unless it stands for the browser itself.
pub fn carry(purpose: Purpose, origin: &Origin, centre: &CentreId, token: &Token) -> Cookie<'static> {
    let mut cookie = bare(purpose, origin);
    cookie.set_value(format!("{}.{}", centre.as_str(), token.hex()));
    if purpose == Purpose::Tablet {
        cookie.set_max_age(time::Duration::days(TABLET_DAYS));
    }
    cookie
}

/// The cookie that makes a browser forget.
pub fn forget(purpose: Purpose, origin: &Origin) -> Cookie<'static> {
    let mut cookie = bare(purpose, origin);
    cookie.make_removal();
    cookie
}

fn bare(purpose: Purpose, origin: &Origin) -> Cookie<'static> {
    Cookie::build((purpose.name(origin.is_trustworthy()), ""))
        .path("/")
        .http_only(true)
        .same_site(SameSite::Lax)
        .secure(origin.is_trustworthy())
        .build()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn centre() -> CentreId {
        CentreId::new("north-yard").unwrap()
    }

    #[test]
    fn over_tls_a_cookie_is_bound_to_the_host() {
        let origin = Origin::parse("https://bay.test").unwrap();
        let set = carry(Purpose::SignIn, &origin, &centre(), &Token::of([7; 32])).to_string();
        assert!(set.starts_with("__Host-signin=north-yard.0707"), "{set}");
        for part in ["HttpOnly", "SameSite=Lax", "Secure", "Path=/"] {
            assert!(set.contains(part), "{part} in {set}");
        }
        assert!(!set.contains("Domain"));
    }

    #[test]
    fn on_a_plain_local_network_the_name_is_bare() {
        let origin = Origin::parse("http://10.0.0.4:8466").unwrap();
        let set = carry(Purpose::Feedback, &origin, &centre(), &Token::of([0; 32])).to_string();
        assert!(set.starts_with("feedback=") && !set.contains("Secure"), "{set}");
    }

    #[test]
    fn what_is_carried_is_read_again() {
        let origin = Origin::parse("https://bay.test").unwrap();
        let token = Token::new();
        let jar = CookieJar::new().add(carry(Purpose::SignIn, &origin, &centre(), &token));
        let (at, again) = read(&jar, Purpose::SignIn, &origin).unwrap();
        assert_eq!(at, centre());
        assert!(again == token);
        assert!(read(&jar, Purpose::Feedback, &origin).is_none());
    }

    #[test]
    fn only_a_tablets_cookie_outlives_the_browser() {
        let origin = Origin::parse("https://bay.test").unwrap();
        let set = |purpose| carry(purpose, &origin, &centre(), &Token::of([1; 32])).to_string();
        assert!(
            set(Purpose::Tablet).starts_with("__Host-tablet=") && set(Purpose::Tablet).contains("Max-Age=34560000")
        );
        assert!(!set(Purpose::SignIn).contains("Max-Age") && !set(Purpose::Feedback).contains("Max-Age"));
    }

    #[test]
    fn nonsense_is_no_cookie() {
        let origin = Origin::parse("https://bay.test").unwrap();
        for value in ["", "x", "north-yard", "north-yard.", "NORTH.00", &format!("north-yard.{}", "G".repeat(64))] {
            let jar = CookieJar::new().add(Cookie::new("__Host-signin", value.to_owned()));
            assert!(read(&jar, Purpose::SignIn, &origin).is_none(), "{value}");
        }
    }
}
