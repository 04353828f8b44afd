//! Words for the device that a browser runs on, so that people know their own sign-ins again.

use super::error::WebError;
use axum::extract::FromRequestParts;
use axum::http::header;
use axum::http::request::Parts;

/// What a browser says it is: in words such as `Safari on an iPad`.
pub struct Device(pub String);

impl<S: Send + Sync> FromRequestParts<S> for Device {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, WebError> {
        let says = parts.headers.get(header::USER_AGENT).and_then(|says| says.to_str().ok()).unwrap_or_default();
        Ok(Self(words(says)))
    }
}

/// The first name found counts: browsers carry the names of those they want to be taken for.
const BROWSERS: &[(&str, &str)] = &[
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("SamsungBrowser", "Samsung Internet"),
    ("Firefox/", "Firefox"),
    ("FxiOS", "Firefox"),
    ("CriOS", "Chrome"),
    ("Chrome/", "Chrome"),
    ("Safari/", "Safari"),
];
const MACHINES: &[(&str, &str)] = &[
    ("iPad", "an iPad"),
    ("iPhone", "an iPhone"),
    ("Android", "Android"),
    ("CrOS", "a Chromebook"),
    ("Windows", "Windows"),
    ("Macintosh", "a Mac or iPad"),
    ("Linux", "Linux"),
];

fn words(says: &str) -> String {
    let find =
        |names: &[(&str, &'static str)]| names.iter().find(|(name, _)| says.contains(name)).map(|(_, word)| *word);
    match (find(BROWSERS), find(MACHINES)) {
        (Some(browser), Some(machine)) => format!("{browser} on {machine}"),
        (Some(browser), None) => browser.to_owned(),
        (None, Some(machine)) => format!("A browser on {machine}"),
        (None, None) => "A program that does not say what it is".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::words;

    /// How browsers name themselves: MDN, User-Agent; from memory.
    #[test]
    fn a_browser_is_known_by_what_it_says() {
        for (says, expected) in [
            (
                "Mozilla/5.0 (iPad; CPU OS 17_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/17.5 Mobile/15E148 Safari/604.1",
                "Safari on an iPad",
            ),
            (
                "Mozilla/5.0 (Linux; Android 14; K) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140.0.0.0 Mobile Safari/537.36",
                "Chrome on Android",
            ),
            (
                "Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140.0.0.0 Safari/537.36 Edg/140.0.0.0",
                "Edge on Windows",
            ),
            ("Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0", "Firefox on Linux"),
            ("curl/8", "A program that does not say what it is"),
            ("<script>", "A program that does not say what it is"),
        ] {
            assert_eq!(words(says), expected);
        }
    }
}
