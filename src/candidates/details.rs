//! A candidate's details, and what may stand in each field.

use crate::marking::ExtraTime;
use std::fmt;
use unicode_normalization::UnicodeNormalization;

/// Longest name, in characters.
pub const LONGEST_NAME: usize = 200;
/// Longest reference, in characters.
pub const LONGEST_REFERENCE: usize = 64;
/// Longest description of an adjustment, in characters.
pub const LONGEST_OTHER: usize = 500;
/// Most extra time, in per cent of the task's minutes.
pub const MOST_PERCENT: u16 = 300;
/// Most extra time, in minutes.
pub const MOST_MINUTES: u16 = 600;

/// A candidate's details as the centre keeps them: texts are trimmed and in normal form C, and otherwise as typed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Details {
    /// 1 to 200 characters in any script, never split, cased or shortened.
    pub name: String,
    /// What to call them, where that is not the name.
    pub called: Option<String>,
    /// What they are sorted by in lists, where that is not the name.
    pub sort_name: Option<String>,
    /// The centre's own reference: 1 to 64 characters, distinct within the centre.
    pub reference: String,
    pub adjustments: Adjustments,
}

impl Details {
    /// Somebody of whom only the name and the reference are known.
    pub fn named(name: &str, reference: &str) -> Self {
        Self { name: tidy(name), reference: tidy(reference), ..Self::default() }
    }
}

/// What was agreed for a candidate before they are assessed. Why it was agreed is kept nowhere: it may tell of their
/// health (UK GDPR, article 9).
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Adjustments {
    pub extra: ExtraTime,
    /// Somebody reads the briefing and what is printed to them.
    pub reader: bool,
    /// Any other, in a few words.
    pub other: Option<String>,
}

impl Adjustments {
    /// Whether nothing was agreed.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// Each adjustment as a part of a sentence, such as `25 % more time`.
    pub fn words(&self) -> Vec<String> {
        let percent = (self.extra.percent > 0).then(|| format!("{} % more time", self.extra.percent));
        let minutes = match self.extra.minutes {
            0 => None,
            1 => Some("1 minute more".to_owned()),
            minutes => Some(format!("{minutes} minutes more")),
        };
        let reader = self.reader.then(|| "a reader".to_owned());
        [percent, minutes, reader, self.other.clone()].into_iter().flatten().collect()
    }
}

/// A field of a candidate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Field {
    Name,
    Called,
    SortName,
    Reference,
    ExtraPercent,
    ExtraMinutes,
    Reader,
    Other,
}

impl Field {
    /// Every field, in the order of the form.
    pub const ALL: [Self; 8] = [
        Self::Name,
        Self::Called,
        Self::SortName,
        Self::Reference,
        Self::ExtraPercent,
        Self::ExtraMinutes,
        Self::Reader,
        Self::Other,
    ];

    /// As forms and files call it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Name => "name",
            Self::Called => "called",
            Self::SortName => "sort_name",
            Self::Reference => "reference",
            Self::ExtraPercent => "extra_percent",
            Self::ExtraMinutes => "extra_minutes",
            Self::Reader => "reader",
            Self::Other => "other",
        }
    }

    /// As pages call it.
    pub fn label(self) -> &'static str {
        match self {
            Self::Name => "Name",
            Self::Called => "What to call them",
            Self::SortName => "Sorted as",
            Self::Reference => "Reference",
            Self::ExtraPercent => "Extra time in per cent",
            Self::ExtraMinutes => "Extra time in minutes",
            Self::Reader => "A reader",
            Self::Other => "Other adjustment",
        }
    }
}

/// Why what stands in a field cannot be kept: a sentence that says what is expected.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Refusal {
    Empty,
    TooLong(usize),
    Unprintable,
    NotWhole(u16),
    NotYesOrNo,
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty => f.write_str("Please fill this in."),
            Self::TooLong(most) => write!(f, "This is longer than {most} characters."),
            Self::Unprintable => {
                f.write_str("This holds a character that cannot be shown. Type it again without pasting.")
            }
            Self::NotWhole(most) => write!(f, "Please give a whole number from 0 to {most}."),
            Self::NotYesOrNo => f.write_str("Please say yes or no, or leave it empty."),
        }
    }
}

/// Reads details from what stands in each field. Where a field does not fit, it is refused with its reason; every field
/// that does not fit is.
pub fn read(typed: impl Fn(Field) -> String) -> Result<Details, Vec<(Field, Refusal)>> {
    let mut refused = Vec::new();
    let mut keep = |field: Field, read: Result<Option<String>, Refusal>| {
        read.unwrap_or_else(|why| {
            refused.push((field, why));
            None
        })
    };
    let name = keep(Field::Name, needed(&typed(Field::Name), LONGEST_NAME));
    let called = keep(Field::Called, text(&typed(Field::Called), LONGEST_NAME));
    let sort_name = keep(Field::SortName, text(&typed(Field::SortName), LONGEST_NAME));
    let reference = keep(Field::Reference, needed(&typed(Field::Reference), LONGEST_REFERENCE));
    let mut number = |field: Field, most: u16| {
        whole(&typed(field), most).unwrap_or_else(|why| {
            refused.push((field, why));
            0
        })
    };
    let percent = number(Field::ExtraPercent, MOST_PERCENT);
    let minutes = number(Field::ExtraMinutes, MOST_MINUTES);
    let reader = yes_or_no(&typed(Field::Reader)).unwrap_or_else(|why| {
        refused.push((Field::Reader, why));
        false
    });
    let other = text(&typed(Field::Other), LONGEST_OTHER).unwrap_or_else(|why| {
        refused.push((Field::Other, why));
        None
    });
    let (Some(name), Some(reference), true) = (name, reference, refused.is_empty()) else { return Err(refused) };
    let adjustments = Adjustments { extra: ExtraTime { percent, minutes }, reader, other };
    Ok(Details { name, called, sort_name, reference, adjustments })
}

/// Without what surrounds it, in normal form C (Unicode Standard Annex 15), so that two ways to type one letter are one.
pub fn tidy(typed: &str) -> String {
    typed.trim().nfc().collect()
}

fn needed(typed: &str, most: usize) -> Result<Option<String>, Refusal> {
    text(typed, most)?.map(Some).ok_or(Refusal::Empty)
}

fn text(typed: &str, most: usize) -> Result<Option<String>, Refusal> {
    let text = tidy(typed);
    if text.chars().count() > most {
        return Err(Refusal::TooLong(most));
    }
    if text.chars().any(char::is_control) {
        return Err(Refusal::Unprintable);
    }
    Ok((!text.is_empty()).then_some(text))
}

/// A whole number, `%` after it or not; nothing is 0. Full-width, Arabic and Persian digits are read as well.
fn whole(typed: &str, most: u16) -> Result<u16, Refusal> {
    let plain: String = typed.nfkc().map(western).collect();
    let plain = plain.trim().trim_end_matches('%').trim_end();
    if plain.is_empty() {
        return Ok(0);
    }
    let all_digits = plain.len() <= 6 && plain.bytes().all(|b| b.is_ascii_digit());
    let number = all_digits.then(|| plain.parse::<u32>().ok()).flatten();
    let fits = number.and_then(|number| u16::try_from(number).ok()).filter(|number| *number <= most);
    fits.ok_or(Refusal::NotWhole(most))
}

/// The Western digit for an Arabic or Persian one.
fn western(c: char) -> char {
    let from = |zero: u32| char::from_digit(u32::from(c).wrapping_sub(zero), 10);
    from(0x0660).or_else(|| from(0x06F0)).unwrap_or(c)
}

fn yes_or_no(typed: &str) -> Result<bool, Refusal> {
    match typed.trim().to_lowercase().as_str() {
        "" | "no" | "n" | "false" | "0" | "off" | "-" | "–" => Ok(false),
        "yes" | "y" | "true" | "1" | "on" | "x" | "✓" => Ok(true),
        _ => Err(Refusal::NotYesOrNo),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(fields: &[(Field, &str)]) -> Result<Details, Vec<(Field, Refusal)>> {
        read(|field| {
            fields.iter().find(|(one, _)| *one == field).map(|(_, text)| (*text).to_owned()).unwrap_or_default()
        })
    }

    #[test]
    fn names_are_kept_as_people_write_them() {
        let long = "é".repeat(200);
        for name in ["Sukarno", "Ng", "O’Brien-Ní Dhomhnaill", "Zażółć", "محمد بن عبد الله", "李小龍", "=1+1", &long]
        {
            let details = of(&[(Field::Name, name), (Field::Reference, "R-1")]).unwrap();
            assert_eq!((details.name.as_str(), details.called, details.sort_name), (name, None, None));
        }
        let typed = of(&[(Field::Name, "  Zoe\u{308} "), (Field::Reference, "R-1")]).unwrap();
        assert_eq!(typed.name, "Zoë", "normal form C");
    }

    #[test]
    fn every_field_that_does_not_fit_is_refused_with_its_reason() {
        let long = "a".repeat(201);
        let refused = of(&[
            (Field::Called, &long),
            (Field::SortName, "a\u{7}b"),
            (Field::Reference, "  "),
            (Field::ExtraPercent, "a quarter"),
            (Field::ExtraMinutes, "601"),
            (Field::Reader, "perhaps"),
            (Field::Other, &"b".repeat(501)),
        ]);
        let expected = vec![
            (Field::Name, Refusal::Empty),
            (Field::Called, Refusal::TooLong(200)),
            (Field::SortName, Refusal::Unprintable),
            (Field::Reference, Refusal::Empty),
            (Field::ExtraPercent, Refusal::NotWhole(300)),
            (Field::ExtraMinutes, Refusal::NotWhole(600)),
            (Field::Reader, Refusal::NotYesOrNo),
            (Field::Other, Refusal::TooLong(500)),
        ];
        assert_eq!(refused, Err(expected.clone()));
        assert!(expected.iter().all(|(_, why)| why.to_string().ends_with('.')));
    }

    #[test]
    fn extra_time_is_a_whole_number() {
        for (typed, number) in
            [("", 0), ("0", 0), ("25", 25), (" 25 % ", 25), ("٢٥", 25), ("۲۵", 25), ("２５", 25), ("300", 300)]
        {
            assert_eq!(whole(typed, 300), Ok(number), "{typed}");
        }
        for bad in ["-5", "+5", "2.5", "25 min", "301", "99999999999", "1e2", "０x"] {
            assert_eq!(whole(bad, 300), Err(Refusal::NotWhole(300)), "{bad}");
        }
    }

    #[test]
    fn adjustments_are_told_in_words() {
        assert!(Adjustments::default().is_empty() && Adjustments::default().words().is_empty());
        let extra = ExtraTime { percent: 25, minutes: 1 };
        let all = Adjustments { extra, reader: true, other: Some("a stool".into()) };
        assert_eq!(all.words(), ["25 % more time", "1 minute more", "a reader", "a stool"]);
    }
}
