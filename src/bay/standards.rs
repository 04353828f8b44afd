//! Sets of national practice: GB, IE, EU, US, AU.

use super::Conductor;
use serde::{Deserialize, Serialize};

/// The national practice a task follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "UPPERCASE")]
pub enum Standards {
    Gb,
    Ie,
    Eu,
    Us,
    Au,
}

/// The colour of a conductor's insulation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Colour {
    Black,
    Blue,
    Brown,
    Green,
    GreenYellow,
    Grey,
    Orange,
    Red,
    White,
    Yellow,
}

impl Colour {
    /// Its name in English.
    pub fn name(self) -> &'static str {
        match self {
            Self::Black => "black",
            Self::Blue => "blue",
            Self::Brown => "brown",
            Self::Green => "green",
            Self::GreenYellow => "green-yellow",
            Self::Grey => "grey",
            Self::Orange => "orange",
            Self::Red => "red",
            Self::White => "white",
            Self::Yellow => "yellow",
        }
    }
}

impl Standards {
    /// Every set.
    pub const ALL: [Self; 5] = [Self::Gb, Self::Ie, Self::Eu, Self::Us, Self::Au];

    /// The spelling in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Gb => "GB",
            Self::Ie => "IE",
            Self::Eu => "EU",
            Self::Us => "US",
            Self::Au => "AU",
        }
    }

    /// The colour of a conductor at so many volts between line and neutral. A switched line has the colour of its line;
    /// a single line that of L1.
    ///
    /// Source: trade facts, colours `gb_ie_eu_now` (read second-hand), `us_120_208_custom`, `us_277_480_custom` and
    /// `au_nz_older` (custom, from memory). Colours are never the only mark: the letter always stands beside them.
    pub fn colour(self, conductor: Conductor, volts: u16) -> Colour {
        use Colour::{Black, Blue, Brown, Green, GreenYellow, Grey, Orange, Red, White, Yellow};
        let [l1, l2, l3, n, e] = match self {
            Self::Gb | Self::Ie | Self::Eu => [Brown, Black, Grey, Blue, GreenYellow],
            Self::Us if volts > 200 => [Brown, Orange, Yellow, Grey, Green],
            Self::Us => [Black, Red, Blue, White, Green],
            Self::Au => [Red, White, Blue, Black, GreenYellow],
        };
        match conductor {
            Conductor::L | Conductor::L1 | Conductor::Sl => l1,
            Conductor::L2 => l2,
            Conductor::L3 => l3,
            Conductor::N => n,
            Conductor::E => e,
        }
    }
}
