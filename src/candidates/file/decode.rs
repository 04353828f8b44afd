//! Bytes to text.

use encoding_rs::{UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};

/// How the text of a file is written as bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Encoding {
    Utf8,
    Utf16Le,
    Utf16Be,
    Windows1252,
}

impl Encoding {
    pub const ALL: [Self; 4] = [Self::Utf8, Self::Utf16Le, Self::Utf16Be, Self::Windows1252];

    /// As forms send it: the names of the WHATWG Encoding Standard.
    pub fn word(self) -> &'static str {
        match self {
            Self::Utf8 => "utf-8",
            Self::Utf16Le => "utf-16le",
            Self::Utf16Be => "utf-16be",
            Self::Windows1252 => "windows-1252",
        }
    }

    /// The encoding of this name.
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|one| one.word() == word)
    }

    /// As pages call it.
    pub fn label(self) -> &'static str {
        match self {
            Self::Utf8 => "UTF-8",
            Self::Utf16Le => "UTF-16 (little end first)",
            Self::Utf16Be => "UTF-16 (big end first)",
            Self::Windows1252 => "Windows-1252 (older Western European)",
        }
    }

    /// What the bytes look like: by the byte order mark where there is one; else UTF-16 where every second byte of the
    /// beginning is mostly zero; else UTF-8 where they are valid as that; else Windows-1252, in which all bytes mean
    /// something, so that only a person can see whether it is right.
    pub fn detect(bytes: &[u8]) -> Self {
        match bytes {
            [0xEF, 0xBB, 0xBF, ..] => Self::Utf8,
            [0xFF, 0xFE, ..] => Self::Utf16Le,
            [0xFE, 0xFF, ..] => Self::Utf16Be,
            _ => Self::utf16_without_mark(bytes).unwrap_or(match std::str::from_utf8(bytes) {
                Ok(_) => Self::Utf8,
                Err(_) => Self::Windows1252,
            }),
        }
    }

    /// Separators and line ends are written with a zero byte in UTF-16, and in nothing else does one stand in a text.
    fn utf16_without_mark(bytes: &[u8]) -> Option<Self> {
        let beginning = &bytes[..bytes.len().min(4_096)];
        let zeros = |offset: usize| beginning.iter().skip(offset).step_by(2).filter(|byte| **byte == 0).count();
        let (even, odd) = (zeros(0), zeros(1));
        match () {
            () if bytes.len() % 2 == 1 || even.max(odd) * 20 < beginning.len() => None,
            () if odd > even * 4 => Some(Self::Utf16Le),
            () if even > odd * 4 => Some(Self::Utf16Be),
            () => None,
        }
    }

    /// The text, without a byte order mark. `None` where the bytes are not valid in this encoding.
    pub fn decode(self, bytes: &[u8]) -> Option<String> {
        let encoding = match self {
            Self::Utf8 => UTF_8,
            Self::Utf16Le => UTF_16LE,
            Self::Utf16Be => UTF_16BE,
            Self::Windows1252 => WINDOWS_1252,
        };
        let (text, malformed) = encoding.decode_with_bom_removal(bytes);
        (!malformed).then(|| text.into_owned())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Text as bytes of an encoding, with or without a mark; `None` where it cannot be written so.
    fn encode(encoding: Encoding, mark: bool, text: &str) -> Option<Vec<u8>> {
        let marked = if mark { format!("\u{FEFF}{text}") } else { text.to_owned() };
        match encoding {
            Encoding::Utf8 => Some(marked.into_bytes()),
            Encoding::Utf16Le => Some(marked.encode_utf16().flat_map(u16::to_le_bytes).collect()),
            Encoding::Utf16Be => Some(marked.encode_utf16().flat_map(u16::to_be_bytes).collect()),
            Encoding::Windows1252 => {
                let (bytes, _, lost) = WINDOWS_1252.encode(text);
                (!mark && !lost).then(|| bytes.into_owned())
            }
        }
    }

    #[test]
    fn the_encoding_is_seen_in_the_bytes() {
        let text = "name,reference\r\nZoë O’Brien,R-1\r\n";
        for encoding in Encoding::ALL {
            for mark in [true, false] {
                let Some(bytes) = encode(encoding, mark, text) else { continue };
                assert_eq!(Encoding::detect(&bytes), encoding, "{encoding:?} {mark}");
                assert_eq!(encoding.decode(&bytes).as_deref(), Some(text), "{encoding:?} {mark}");
            }
        }
        assert_eq!(Encoding::detect(b""), Encoding::Utf8);
        assert_eq!(Encoding::of_word("windows-1252"), Some(Encoding::Windows1252));
    }

    #[test]
    fn bytes_that_are_not_valid_are_not_read() {
        assert_eq!(Encoding::Utf8.decode(b"Zo\xEB"), None);
        assert_eq!(Encoding::Utf16Le.decode(b"a\0b"), None, "half a unit");
        assert_eq!(Encoding::Utf16Le.decode(&[0x00, 0xD8, b'a', 0]), None, "half a pair");
        assert_eq!(Encoding::Windows1252.decode(b"Zo\xEB \x92").as_deref(), Some("Zoë ’"));
    }

    proptest! {
        #[test]
        fn what_was_written_in_an_encoding_is_read_again(text in "\\PC{0,60}", at in 0usize..4, mark: bool) {
            let encoding = Encoding::ALL[at];
            // A text that begins with the mark itself loses it, as it should.
            prop_assume!(!text.starts_with('\u{FEFF}'));
            if let Some(bytes) = encode(encoding, mark, &text) {
                prop_assert_eq!(encoding.decode(&bytes), Some(text));
            }
        }

        #[test]
        fn any_bytes_at_all_are_looked_at_without_harm(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
            let _ = Encoding::detect(&bytes).decode(&bytes);
        }
    }
}
