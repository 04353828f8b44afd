//! One-time codes (RFC 6238: SHA-1, six digits, thirty seconds) and the picture that an app reads their secret from.

use crate::store::second_factors::Shared;
use crate::web::show::percent;
use std::fmt;
use std::fmt::Write;
use totp_rs::{Algorithm, Builder, Secret, Totp};

/// Digits of a code.
const DIGITS: u8 = 6;
/// Seconds in which one code is shown.
const STEP_SECONDS: u64 = 30;
/// Letters of the secret as it is typed (RFC 4648, section 6).
const BASE32: &[u8; 32] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZ234567";

/// A new secret of 160 bits, as RFC 4226, section 4, advises.
pub fn new_secret() -> [u8; 20] {
    rand::random()
}

/// The time step of the code, where it is right at `seconds` (since 1970) or one step before or after, and no code of
/// that step or a later one was taken yet.
pub fn step_of(shared: &Shared, code: &str, seconds: u64) -> Option<i64> {
    let digits: String = code.chars().filter(|c| !c.is_whitespace()).collect();
    let step = generator(shared.secret).check(&digits, seconds)?;
    i64::try_from(step).ok().filter(|step| *step > shared.last_step)
}

fn generator(secret: [u8; 20]) -> Totp {
    Builder::new()
        .with_algorithm(Algorithm::SHA1)
        .with_digits(DIGITS)
        .with_skew(1)
        .with_step_duration(STEP_SECONDS)
        .with_secret(Secret::new_stack(secret))
        .build_noncompliant()
}

/// The secret as letters, in groups of four.
pub fn spelled(secret: &[u8; 20]) -> String {
    let letters = base32(secret);
    let groups: Vec<&str> = (0..letters.len()).step_by(4).map(|at| &letters[at..(at + 4).min(letters.len())]).collect();
    groups.join(" ")
}

/// The secret that letters spell, however they are grouped.
pub fn unspelled(letters: &str) -> Option<[u8; 20]> {
    let mut bits = 0u64;
    let mut held = 0;
    let mut bytes = Vec::with_capacity(20);
    for letter in letters.bytes().filter(|b| !b.is_ascii_whitespace()) {
        let value = BASE32.iter().position(|one| *one == letter.to_ascii_uppercase())?;
        bits = (bits << 5 | value as u64) & 0xfff;
        held += 5;
        if held >= 8 {
            held -= 8;
            bytes.push((bits >> held & 0xff) as u8);
        }
    }
    bytes.try_into().ok()
}

fn base32(secret: &[u8; 20]) -> String {
    let letter = |chunk: &[u8]| {
        let number = chunk.iter().fold(0u64, |number, byte| number << 8 | u64::from(*byte));
        (0..8).rev().map(move |at| char::from(BASE32[(number >> (at * 5) & 31) as usize])).collect::<String>()
    };
    secret.chunks(5).map(letter).collect()
}

/// What apps read: `otpauth://totp/…`, with the sign-in name to tell it from others.
pub fn address(secret: &[u8; 20], sign_in_name: &str) -> String {
    format!(
        "otpauth://totp/Baywitness:{}?secret={}&issuer=Baywitness",
        percent(sign_in_name).replace('/', "%2F"),
        base32(secret)
    )
}

/// A QR code, which goes into a page as it is: it is made of numbers alone.
#[derive(Debug, Clone)]
pub struct Picture(String);

impl Picture {
    /// The picture of a text; `None` where it does not fit.
    pub fn of(text: &str) -> Option<Self> {
        let code = qrcode::QrCode::new(text).ok()?;
        let (width, colours) = (code.width(), code.to_colors());
        // Four modules of white around it, as ISO/IEC 18004 asks.
        let whole = width + 8;
        let mut path = String::new();
        for (at, _) in colours.iter().enumerate().filter(|(_, colour)| **colour == qrcode::Color::Dark) {
            let _ = write!(path, "M{} {}h1v1h-1z", at % width + 4, at / width + 4);
        }
        Some(Self(format!(
            "<svg class=\"qr\" viewBox=\"0 0 {whole} {whole}\" role=\"img\" aria-label=\"QR code of the secret\" shape-rendering=\"crispEdges\"><path fill=\"#ffffff\" d=\"M0 0h{whole}v{whole}h-{whole}z\"/><path fill=\"#000000\" d=\"{path}\"/></svg>"
        )))
    }
}

impl fmt::Display for Picture {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl askama::filters::HtmlSafe for Picture {}

#[cfg(test)]
mod tests {
    use super::*;

    const SHARED: Shared = Shared { secret: *b"12345678901234567890", last_step: 0 };

    /// RFC 6238, appendix B, the rows for SHA-1: eight digits there, of which the last six are the code of six
    /// (RFC 4226, section 5.3: the number modulo a power of ten).
    #[test]
    fn the_codes_are_those_of_the_rfc() {
        for (seconds, eight) in [
            (59, "94287082"),
            (1_111_111_109, "07081804"),
            (1_111_111_111, "14050471"),
            (1_234_567_890, "89005924"),
            (2_000_000_000, "69279037"),
            (20_000_000_000, "65353130"),
        ] {
            assert_eq!(step_of(&SHARED, &eight[2..], seconds), Some((seconds / 30) as i64), "{seconds}");
        }
    }

    /// One step either side: RFC 6238, section 5.2 recommends at most one for the network's delay.
    #[test]
    fn a_code_is_right_one_step_early_or_late_and_once_only() {
        let code = "081804";
        let at = 1_111_111_109;
        for (offset, right) in [(-60i64, false), (-30, true), (0, true), (30, true), (62, false)] {
            assert_eq!(step_of(&SHARED, code, (at as i64 + offset) as u64).is_some(), right, "{offset}");
        }
        let step = (at / 30) as i64;
        assert_eq!(step_of(&Shared { last_step: step, ..SHARED }, code, at), None, "taken already");
        assert_eq!(step_of(&Shared { last_step: step + 1, ..SHARED }, code, at), None, "a later one was taken");
        assert_eq!(step_of(&SHARED, "081 804", at), Some(step), "as apps show it");
        for nonsense in ["", "0818", "0818040", "08180x", "-81804", "+81804", "٠٨١٨٠٤"] {
            assert_eq!(step_of(&SHARED, nonsense, at), None, "{nonsense}");
        }
    }

    /// RFC 4648, section 10, has vectors of up to six bytes; ours are of twenty, so theirs are repeated: five bytes make
    /// eight letters whatever follows ("fooba" is "MZXW6YTB").
    #[test]
    fn the_secret_is_spelled_as_the_rfc_spells() {
        let secret = *b"foobafoobafoobafooba";
        assert_eq!(spelled(&secret), "MZXW 6YTB MZXW 6YTB MZXW 6YTB MZXW 6YTB");
        for typed in ["mzxw6ytb mzxw 6ytb MZXW6YTBMZXW6YTB", &spelled(&secret)] {
            assert_eq!(unspelled(typed), Some(secret));
        }
        for nonsense in ["", "MZXW", "MZXW6YTBMZXW6YTBMZXW6YTBMZXW6YT1", &"A".repeat(40)] {
            assert_eq!(unspelled(nonsense), None, "{nonsense}");
        }
        for _ in 0..200 {
            let secret = new_secret();
            assert_eq!(unspelled(&spelled(&secret)), Some(secret));
        }
    }

    #[test]
    fn the_picture_holds_nothing_but_its_squares() {
        let picture = Picture::of(&address(&SHARED.secret, "kim@north-yard")).unwrap().to_string();
        assert!(picture.starts_with("<svg") && picture.ends_with("</svg>") && !picture.contains("style"));
        assert!(Picture::of(&"x".repeat(5_000)).is_none());
        let secret = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ";
        let expected = format!("otpauth://totp/Baywitness:kim%40north-yard?secret={secret}&issuer=Baywitness");
        assert_eq!(address(&SHARED.secret, "kim@north-yard"), expected);
    }
}
