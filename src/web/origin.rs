//! Where a request came from, and whether it may change anything.

use super::error::WebError;
use axum::http::{HeaderMap, Method, header};
use std::fmt;

/// A web origin: scheme, host and port.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Origin {
    https: bool,
    /// Host and port as browsers write them in `Host`, in lower case.
    authority: String,
}

impl Origin {
    /// Reads an origin such as `https://bay.example.org` or `http://10.0.0.4:8466`; no path, no sign-in.
    pub fn parse(text: &str) -> Option<Self> {
        let (scheme, authority) = text.split_once("://")?;
        let https = match scheme {
            "https" => true,
            "http" => false,
            _ => return None,
        };
        Self::of(https, authority.strip_suffix('/').unwrap_or(authority))
    }

    fn of(https: bool, authority: &str) -> Option<Self> {
        let fits = (1..=255).contains(&authority.len())
            && authority.bytes().all(|b| b.is_ascii_alphanumeric() || b".-:[]_".contains(&b));
        fits.then(|| Self { https, authority: authority.to_ascii_lowercase() })
    }

    /// The origin a request was made to: the one that was configured, else what its `Host` says.
    pub fn of_request(configured: Option<&Self>, headers: &HeaderMap) -> Option<Self> {
        if let Some(origin) = configured {
            return Some(origin.clone());
        }
        Self::of(false, headers.get(header::HOST)?.to_str().ok()?)
    }

    /// Whether it is reached over TLS.
    pub fn is_https(&self) -> bool {
        self.https
    }

    /// Whether browsers treat it as safe from eavesdroppers: TLS, or this very machine. Only there do they keep
    /// `Secure` cookies and send `Sec-Fetch-Site`.
    pub fn is_trustworthy(&self) -> bool {
        let host = match self.authority.strip_prefix('[') {
            Some(six) => six.split(']').next().unwrap_or(""),
            None => self.authority.split(':').next().unwrap_or(""),
        };
        let loopback = host.parse().is_ok_and(|ip: std::net::IpAddr| ip.is_loopback());
        self.https || host == "localhost" || host.ends_with(".localhost") || loopback
    }
}

/// Written as an address without a path.
impl fmt::Display for Origin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}://{}", if self.https { "https" } else { "http" }, self.authority)
    }
}

/// Refuses a change that was not asked for from our own pages.
///
/// Every present-day browser says where a request comes from, in `Sec-Fetch-Site` or at least in `Origin`; a change
/// that says neither is refused too. Requests that only read pass.
pub fn check(configured: Option<&Origin>, method: &Method, headers: &HeaderMap) -> Result<(), WebError> {
    if matches!(*method, Method::GET | Method::HEAD) {
        return Ok(());
    }
    let said = |name| headers.get(name).and_then(|value| value.to_str().ok());
    if let Some(site) = said(header::HeaderName::from_static("sec-fetch-site")) {
        return if site == "same-origin" { Ok(()) } else { Err(WebError::Foreign) };
    }
    let theirs = said(header::ORIGIN).and_then(Origin::parse).ok_or(WebError::Foreign)?;
    let ours = Origin::of_request(configured, headers).ok_or(WebError::Foreign)?;
    // Without a configured origin a proxy may have ended the TLS, so that only host and port can be compared.
    let same = match configured {
        Some(ours) => *ours == theirs,
        None => ours.authority == theirs.authority,
    };
    if same { Ok(()) } else { Err(WebError::Foreign) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use axum::http::HeaderValue;

    fn headers(of: &[(&'static str, &str)]) -> HeaderMap {
        of.iter().map(|(n, v)| (header::HeaderName::from_static(n), HeaderValue::from_str(v).unwrap())).collect()
    }

    fn post(of: &[(&'static str, &str)]) -> bool {
        check(None, &Method::POST, &headers(of)).is_ok()
    }

    #[test]
    fn reading_is_never_refused() {
        assert!(check(None, &Method::GET, &headers(&[("sec-fetch-site", "cross-site")])).is_ok());
    }

    #[test]
    fn a_change_from_our_own_page_passes() {
        assert!(post(&[("host", "bay.test"), ("sec-fetch-site", "same-origin")]));
        assert!(post(&[("host", "bay.test:81"), ("origin", "http://bay.test:81")]));
    }

    #[test]
    fn a_change_from_anywhere_else_is_refused() {
        for site in ["cross-site", "same-site", "none", "nonsense"] {
            assert!(!post(&[("host", "bay.test"), ("origin", "http://bay.test"), ("sec-fetch-site", site)]), "{site}");
        }
        for origin in ["http://evil.test", "null", "http://bay.test:82", "http://bay.test.evil.test", ""] {
            assert!(!post(&[("host", "bay.test"), ("origin", origin)]), "{origin}");
        }
        assert!(!post(&[("host", "bay.test")]));
    }

    #[test]
    fn with_a_configured_origin_the_host_header_counts_for_nothing() {
        let ours = Origin::parse("https://bay.test").unwrap();
        let fake = headers(&[("host", "evil.test"), ("origin", "https://evil.test")]);
        assert!(check(Some(&ours), &Method::POST, &fake).is_err());
        let plain = headers(&[("host", "bay.test"), ("origin", "http://bay.test")]);
        assert!(check(Some(&ours), &Method::POST, &plain).is_err());
        let own = headers(&[("host", "inside:8466"), ("origin", "https://bay.test")]);
        assert!(check(Some(&ours), &Method::POST, &own).is_ok());
    }

    #[test]
    fn this_machine_and_tls_are_trustworthy_and_the_local_network_is_not() {
        for yes in ["https://bay.test", "http://localhost:8466", "http://127.0.0.1:8466", "http://[::1]:8466"] {
            assert!(Origin::parse(yes).unwrap().is_trustworthy(), "{yes}");
        }
        for no in ["http://bay.test", "http://192.168.1.4:8466", "http://localhost.evil.test"] {
            assert!(!Origin::parse(no).unwrap().is_trustworthy(), "{no}");
        }
    }
}
