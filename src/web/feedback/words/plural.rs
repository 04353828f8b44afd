//! Plural forms of whole numbers, by the rules of the Unicode CLDR (chart “Language Plural Rules”, release 48).

use crate::store::centres::Language;

/// A form that a counted message may have.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Category {
    Zero,
    One,
    Two,
    Few,
    Many,
    Other,
}

impl Category {
    /// Every one.
    pub const ALL: [Self; 6] = [Self::Zero, Self::One, Self::Two, Self::Few, Self::Many, Self::Other];

    /// The CLDR's word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Zero => "zero",
            Self::One => "one",
            Self::Two => "two",
            Self::Few => "few",
            Self::Many => "many",
            Self::Other => "other",
        }
    }
}

/// The forms that a language has.
pub fn categories(language: Language) -> &'static [Category] {
    use Category::*;
    match language {
        Language::English => &[One, Other],
        Language::Spanish => &[One, Many, Other],
        Language::Polish => &[One, Few, Many, Other],
        Language::Welsh => &[Zero, One, Two, Few, Many, Other],
    }
}

/// The form for this many.
pub fn category(language: Language, n: usize) -> Category {
    match language {
        Language::English if n == 1 => Category::One,
        Language::English => Category::Other,
        Language::Spanish if n == 1 => Category::One,
        Language::Spanish if n != 0 && n.is_multiple_of(1_000_000) => Category::Many,
        Language::Spanish => Category::Other,
        Language::Polish => polish(n),
        Language::Welsh => match n {
            0 => Category::Zero,
            1 => Category::One,
            2 => Category::Two,
            3 => Category::Few,
            6 => Category::Many,
            _ => Category::Other,
        },
    }
}

fn polish(n: usize) -> Category {
    match (n, n % 10, n % 100) {
        (1, ..) => Category::One,
        (_, 2..=4, hundredth) if !(12..=14).contains(&hundredth) => Category::Few,
        _ => Category::Many,
    }
}
