//! Words of closed sets, and messages that say which word was meant.

use serde::de::value::{Error, StrDeserializer};
use serde::de::{DeserializeOwned, Deserializer, Error as _, IntoDeserializer, Visitor};

/// Reads one word of a plain enum as serde spells it; the error lists the words.
pub fn word<T: DeserializeOwned>(text: &str) -> Result<T, String> {
    T::deserialize(Word(text)).map_err(|why| why.to_string())
}

/// A text that answers with the words of the enum where it is none of them.
struct Word<'a>(&'a str);

impl<'de> Deserializer<'de> for Word<'_> {
    type Error = Error;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_str(self.0)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _name: &'static str,
        words: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        if words.contains(&self.0) {
            let word: StrDeserializer<'_, Error> = self.0.into_deserializer();
            visitor.visit_enum(word)
        } else {
            Err(Error::custom(not_one_of(self.0, words.iter().copied())))
        }
    }

    serde::forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf option unit unit_struct
        newtype_struct seq tuple tuple_struct map struct identifier ignored_any
    }
}

/// Says that `text` is none of `words`, which words there are, and which of them is spelt nearly like it.
pub fn not_one_of<'a>(text: &str, words: impl Iterator<Item = &'a str>) -> String {
    let words: Vec<&str> = words.collect();
    let listed = list(&words);
    match nearest(text, &words) {
        Some(near) => format!("`{}` is not known here, expected {listed}; did you mean `{near}`?", shown(text)),
        None => format!("`{}` is not known here, expected {listed}", shown(text)),
    }
}

/// `one of a, b or c`, cut short where there are many.
fn list(words: &[&str]) -> String {
    const MOST: usize = 40;
    match words {
        [] => "none".into(),
        [only] => format!("`{only}`"),
        _ if words.len() > MOST => format!("one of {} and {} more", words[..MOST].join(", "), words.len() - MOST),
        [most @ .., last] => format!("one of {} or {last}", most.join(", ")),
    }
}

/// What a person typed, safe and short enough to be repeated in a message.
pub fn shown(text: &str) -> String {
    const LONGEST: usize = 48;
    let mut shown: String = text.chars().take(LONGEST).flat_map(char::escape_debug).collect();
    if text.chars().nth(LONGEST).is_some() {
        shown.push('…');
    }
    shown
}

/// The word that differs least, where it differs by no more than a slip of the fingers.
fn nearest<'a>(text: &str, words: &[&'a str]) -> Option<&'a str> {
    if words.len() < 2 || !(3..=40).contains(&text.len()) {
        return None;
    }
    let slips = if text.len() < 6 { 1 } else { 2 };
    let near = words.iter().map(|word| (distance(text.as_bytes(), word.as_bytes()), *word)).min()?;
    (near.0 <= slips).then_some(near.1)
}

/// The number of letters to add, drop or change (Levenshtein's distance); two swapped letters count as two.
fn distance(from: &[u8], to: &[u8]) -> usize {
    let mut row: Vec<usize> = (0..=to.len()).collect();
    for (at, letter) in from.iter().enumerate() {
        let mut corner = row[0];
        row[0] = at + 1;
        for (column, other) in to.iter().enumerate() {
            let changed = corner + usize::from(letter != other);
            corner = row[column + 1];
            row[column + 1] = changed.min(corner + 1).min(row[column] + 1);
        }
    }
    row[to.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, PartialEq, serde::Deserialize)]
    #[serde(rename_all = "snake_case")]
    enum DeviceKind {
        MainSwitch,
        Breaker,
        FuseSwitch,
    }

    #[test]
    fn a_slip_of_the_fingers_is_recognised() {
        assert_eq!(distance(b"kitten", b"sitting"), 3);
        let says = word::<DeviceKind>("braeker").unwrap_err();
        assert_eq!(
            says,
            "`braeker` is not known here, expected one of main_switch, breaker or fuse_switch; did you mean `breaker`?"
        );
    }

    #[test]
    fn words_are_read_as_serde_spells_them() {
        assert_eq!(word::<DeviceKind>("main_switch"), Ok(DeviceKind::MainSwitch));
        assert_eq!(word::<DeviceKind>("breaker"), Ok(DeviceKind::Breaker));
        assert_eq!(word::<DeviceKind>("fuse_switch"), Ok(DeviceKind::FuseSwitch));
        assert!(!word::<DeviceKind>("MainSwitch").unwrap_err().contains("did you mean"));
    }

    #[test]
    fn what_was_typed_is_repeated_short_and_without_control_characters() {
        assert_eq!(shown("a\u{1b}[2J\n"), "a\\u{1b}[2J\\n");
        assert!(shown(&"x".repeat(1_000)).chars().count() < 60);
    }
}
