//! The words of the candidate's pages, message by message, in each language. A sentence is a message of its own, never
//! glued together; what is put into it stands in braces.

pub mod acts;
mod english;
pub mod plural;
mod polish;
mod spanish;
mod welsh;

use crate::marking::{Outcome, VerdictOutcome};
use crate::store::centres::Language;
use crate::store::reviews::Code;
use crate::web::show::Sign;
use plural::{Category, category};
use std::borrow::Borrow;
use time::PrimitiveDateTime;

macro_rules! keys {
    ($($key:ident),* $(,)?) => {
        /// A message.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub enum Key { $($key,)* }
        impl Key {
            /// Every message.
            pub const ALL: &'static [Self] = &[$(Self::$key,)*];
        }
    };
}

keys! {
    Title, Skip, Footer, LanguageLabel,
    AskLead, CodeLabel, CodeHint, CodeRefused, Open, Code,
    EndedTitle, Ended,
    NotYetTitle, NotYet, NotYetUntil, NotYetTold,
    Passed, NotPassed, NotFinished, About, OfficialWord, Pass, Fail, AutomaticFail, Unfinished,
    NextTitle, NextPassed, NextNotPassed, NextNotFinished, OpenUntil, ReviewUntil,
    ChangeFirst, DoBetter, Seen, Why, NextTime, Minute, WentWell, At,
    Steps, Rounds, Missed, MissedLead, Points, Marks, Met, NotMet, NotSeen, NotApplicable,
    ReviewTitle, ReviewHow, ReviewField, ReviewHint, ReviewButton, ReviewEmpty, ReviewLong, ReviewOver,
    ReviewAsked, ReviewWrote, ReviewUpheld, ReviewAmended, ReviewPoints, ReviewRead, ReviewBy, ReviewFirst, ReviewChanged,
    FromCentre, NothingSeen, WithdrawnTitle, Withdrawn, WithdrawnLater, NextPlanned, NextNotPlanned,
    RoundsPair, RoundsRound, TestDead, TestOrder, TestLive, TestUnsure, TestNone, RoundsScroll,
    NoCauses, WouldMiss, WouldShow, Circuit,
    LaneAuthority, LaneSecuring, LaneEquipment, LaneProving, LaneTesting, LaneFinishing, KeyBar,
    PlaceKept, PlaceInLock, PlaceOnBoard, PlaceOnTable, PlaceHandedOver, MinutesShort,
    MarkSeen, MarkNotMet, MarkStruck, MarkSteppedIn, OutsideProofs, BetweenProofs, ClockStopped, ViewBlocked,
    TimelineTitle, TimelineTable, ColMinute, ColStage, ColAct, ColSign, ColFrom, ColUntil, ColWhat,
    AgainstNone, NoTests, AllInside, SteppedInToo,
    RecordShowsOtherwise, RuleMisapplied, NewEvidence, UnfairConditions, RecordedWrongly,
    English,
}

/// A message that counts something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Counted {
    /// Steps of the attempt that can be unfolded.
    ShowSteps,
    /// Points of the checklist that can be unfolded.
    ShowPoints,
    /// Steps of the attempt; puts in `length`.
    StepsIn,
    /// Steps that bear a finding which is not met.
    Against,
    /// Tests outside of two good proofs.
    Outside,
    /// Hidden causes; puts in how many were `shown`.
    ShownOf,
    /// Hidden causes that the tests show, to be unfolded.
    ShowShown,
}

impl Counted {
    /// Every one.
    pub const ALL: [Self; 7] = [
        Self::ShowSteps,
        Self::ShowPoints,
        Self::StepsIn,
        Self::Against,
        Self::Outside,
        Self::ShownOf,
        Self::ShowShown,
    ];
}

macro_rules! topics {
    ($($topic:ident),* $(,)?) => {
        /// What advice is about: one for each rule, by eye, and one for the rest.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub enum Topic { $($topic,)* }
        impl Topic {
            /// Every one.
            pub const ALL: &'static [Self] = &[$(Self::$topic,)*];
        }
    };
}

topics! {
    Circuit, Sources, Permission, Load, OnlyNamed, LockOff, Locked, KeyKept, Notice, Secured, NothingRemoved, Controls,
    Suitable, Inspected, ProvedBefore, ProvedAfter, Pairs, RoundsTested, LessDangerous, PointClosed, Lamp, LiveReading,
    NoTouch, DeclaredLast, Time, Prompted, SteppedIn, ByEye, Other,
}

/// What one language says.
struct Catalogue {
    /// BCP 47.
    tag: &'static str,
    say: fn(Key) -> &'static str,
    /// Why it matters and what to do next time.
    advise: fn(Topic) -> (&'static str, &'static str),
    /// `None` for a form that the language does not have.
    count: fn(Counted, Category) -> Option<&'static str>,
    /// The months as they stand in a date.
    months: [&'static str; 12],
    /// A date: `{day}`, `{month}` and `{year}`.
    date: &'static str,
    decimal: char,
}

/// What is put into a message.
pub enum Arg<'a> {
    /// Words in the language of the page.
    Plain(&'a str),
    /// A name, of whatever script.
    Name(&'a str),
    /// A time or a code, from left to right.
    Ltr(&'a str),
}

/// A part of a message, and how it is kept apart from what stands around it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Piece {
    pub text: String,
    pub name: bool,
    pub ltr: bool,
}

/// The words of one page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Words(Language);

impl Words {
    /// Of this language.
    pub const fn of(language: Language) -> Self {
        Self(language)
    }

    /// Which language that is.
    pub fn language(self) -> Language {
        self.0
    }

    fn catalogue(self) -> &'static Catalogue {
        match self.0 {
            Language::English => &english::CATALOGUE,
            Language::Welsh => &welsh::CATALOGUE,
            Language::Polish => &polish::CATALOGUE,
            Language::Spanish => &spanish::CATALOGUE,
        }
    }

    /// The language tag (BCP 47).
    pub fn tag(self) -> &'static str {
        self.catalogue().tag
    }

    /// The language's own word, in forms and addresses.
    pub fn word(self) -> &'static str {
        self.0.word()
    }

    /// Which way it is written: `ltr` or `rtl`.
    pub fn dir(self) -> &'static str {
        direction(self.tag())
    }

    /// Whether English parts are foreign to the page.
    pub fn is_foreign(self) -> bool {
        self.0 != Language::English
    }

    /// Every language with its tag, its name in itself, and whether it is this one.
    pub fn choices(self) -> Vec<Choice> {
        let choice = |language: &Language| Choice {
            word: language.word(),
            tag: Self(*language).tag(),
            name: match language {
                Language::English => "English",
                Language::Welsh => "Cymraeg",
                Language::Polish => "Polski",
                Language::Spanish => "Español",
            },
            current: *language == self.0,
        };
        Language::ALL.iter().map(choice).collect()
    }

    /// A message as it is.
    pub fn t(self, key: impl Borrow<Key>) -> &'static str {
        (self.catalogue().say)(*key.borrow())
    }

    /// A message with these put into it.
    pub fn with(self, key: Key, args: &[(&str, Arg<'_>)]) -> Vec<Piece> {
        fill(self.t(key), args)
    }

    /// A message that counts.
    pub fn count(self, what: Counted, n: usize) -> String {
        let forms = self.catalogue().count;
        let form = forms(what, category(self.0, n)).or_else(|| forms(what, Category::Other)).unwrap_or_default();
        form.replace("{n}", &n.to_string())
    }

    /// Why a criterion matters and what to do next time.
    pub fn advice(self, topic: Topic) -> (&'static str, &'static str) {
        (self.catalogue().advise)(topic)
    }

    /// A day: `4 March 2026`.
    pub fn day(self, at: PrimitiveDateTime) -> String {
        let catalogue = self.catalogue();
        let month = catalogue.months[usize::from(u8::from(at.month()) - 1)];
        let date = catalogue.date.replace("{day}", &at.day().to_string());
        date.replace("{month}", month).replace("{year}", &at.year().to_string())
    }

    /// A number with one place.
    pub fn one_place(self, number: f64) -> String {
        format!("{number:.1}").replace('.', &self.catalogue().decimal.to_string())
    }

    /// How an attempt came out, with its shape.
    pub fn verdict(self, outcome: VerdictOutcome) -> Sign {
        let word = match outcome {
            VerdictOutcome::Pass => Key::Pass,
            VerdictOutcome::Fail => Key::Fail,
            VerdictOutcome::AutomaticFail => Key::AutomaticFail,
            VerdictOutcome::Unfinished => Key::Unfinished,
        };
        Sign { word: self.t(word), ..crate::web::show::verdict(outcome) }
    }

    /// What became of a criterion, with its shape.
    pub fn outcome(self, outcome: Outcome) -> Sign {
        let word = match outcome {
            Outcome::Met => Key::Met,
            Outcome::NotMet => Key::NotMet,
            Outcome::NotSeen => Key::NotSeen,
            Outcome::NotApplicable => Key::NotApplicable,
        };
        Sign { word: self.t(word), ..crate::web::show::outcome(outcome) }
    }

    /// Why a finding was changed.
    pub fn code(self, code: Code) -> &'static str {
        self.t(match code {
            Code::RecordShowsOtherwise => Key::RecordShowsOtherwise,
            Code::RuleMisapplied => Key::RuleMisapplied,
            Code::NewEvidence => Key::NewEvidence,
            Code::UnfairConditions => Key::UnfairConditions,
            Code::RecordedWrongly => Key::RecordedWrongly,
        })
    }
}

/// A language to choose.
pub struct Choice {
    pub word: &'static str,
    pub tag: &'static str,
    pub name: &'static str,
    pub current: bool,
}

/// Which way a language is written. No language that is offered is written from right to left yet; the pages are made
/// for one all the same.
pub fn direction(tag: &str) -> &'static str {
    let primary = tag.split('-').next().unwrap_or_default();
    if ["ar", "fa", "he", "ur", "ps", "sd", "ug", "yi", "dv", "ckb"].contains(&primary) { "rtl" } else { "ltr" }
}

/// A message with what stands in braces put in.
fn fill(message: &str, args: &[(&str, Arg<'_>)]) -> Vec<Piece> {
    let mut pieces = Vec::new();
    let mut plain = |text: &str, name, ltr| {
        if !text.is_empty() {
            pieces.push(Piece { text: text.to_owned(), name, ltr });
        }
    };
    let mut rest = message;
    while let Some((before, after)) = rest.split_once('{') {
        let Some((field, behind)) = after.split_once('}') else { break };
        plain(before, false, false);
        match args.iter().find(|(name, _)| *name == field).map(|(_, arg)| arg) {
            Some(Arg::Plain(text)) => plain(text, false, false),
            Some(Arg::Name(text)) => plain(text, true, false),
            Some(Arg::Ltr(text)) => plain(text, false, true),
            None => plain(field, false, false),
        }
        rest = behind;
    }
    plain(rest, false, false);
    pieces
}

#[cfg(test)]
mod tests;
