//! The page itself: what it shows, to whom, in which words.

use super::words::{self, Wordless};
use crate::marking::decision::Open;
use crate::marking::{CriterionId, Outcome, Task};
use crate::store::sessions::Session;
use crate::store::{entries, second_factors};
use crate::web::cards::{Card, card, open_words};
use crate::web::causes::Causes;
use crate::web::error::WebError;
use crate::web::evidence::{About, Lost};
use crate::web::extract::SignedIn;
use crate::web::marking::tiles::{self, Rounds};
use crate::web::page::{Page, Place};
use crate::web::sessions::{Loaded, Marked, may_mark, may_sign};
use crate::web::show::{self, Sign};
use crate::web::spoken::{Spoken, spoken};
use crate::web::timeline;
use askama::Template;
use sqlx::PgConnection;
use uuid::Uuid;

/// The decide page.
#[derive(Template)]
#[template(path = "decide/show.html")]
pub struct DecidePage {
    pub page: Page,
    pub part: Part,
    pub session: String,
    pub candidate: String,
    pub task: String,
    pub bay: String,
    pub verdict: Sign,
    pub marks: String,
    pub cards: Cards,
    pub causes: Causes,
    pub rounds: Rounds,
    pub timeline: timeline::View,
    /// Stepping in, help and notes that still want words.
    pub wordless: Vec<Wordless>,
    /// Those that have words.
    pub spoken: Vec<Spoken>,
    /// What still stands in the way of signing.
    pub open: Vec<String>,
    pub ended: bool,
    /// What the evidence says of itself.
    pub about: About,
    pub head: String,
    pub signer: String,
    /// For the browser's password keeper.
    pub sign_in_name: String,
    /// Whether a one-time code does instead of the password.
    pub by_code: bool,
    pub fault: Option<Fault>,
}

/// What somebody does on the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// The session's assessor decides and signs.
    Decides,
    /// A second marker judges by eye, in their own log, and nothing else.
    Ticks,
    /// A verifier or manager looks on.
    Reads,
}

impl Part {
    fn of(who: &SignedIn, session: &Session) -> Self {
        match () {
            () if may_sign(who, session) => Self::Decides,
            () if may_mark(who, session) => Self::Ticks,
            () => Self::Reads,
        }
    }

    /// Whether this person decides and signs.
    pub fn decides(self) -> bool {
        self == Self::Decides
    }

    /// Whether this person has a say on this card: all of it, or only what the eye judges.
    pub fn answers(self, card: &Card) -> bool {
        self.decides() || self == Self::Ticks && card.by_eye
    }

    /// Whether this person has a marking page to go back to.
    pub fn marks(self) -> bool {
        self != Self::Reads
    }

    /// What the page is called.
    pub fn title(self) -> &'static str {
        match self {
            Self::Decides => "Decide",
            Self::Ticks => "Your ticks",
            Self::Reads => "Findings so far",
        }
    }

    /// What there is nothing of before the end.
    pub fn nothing_yet(self) -> &'static str {
        match self {
            Self::Decides => "nothing to decide yet",
            Self::Ticks => "nothing to tick yet",
            Self::Reads => "nothing to see yet",
        }
    }

    /// What becomes of proposed automatic fails.
    pub fn confirm_words(self) -> &'static str {
        match self {
            Self::Decides => "Each ends the attempt if you confirm it. Overruling one needs a reason.",
            Self::Ticks => "Worked out from what you recorded. They need nothing from you.",
            Self::Reads => "The assessor confirms or overrules each.",
        }
    }

    /// The heading over what only an eye can judge, and a line under it.
    pub fn judge_words(self) -> (&'static str, &'static str) {
        match self {
            Self::Decides => ("For you to judge", "Only you saw these. No record can settle them."),
            Self::Ticks => ("For you to tick", "Only an eye can judge these."),
            Self::Reads => ("For the assessor to judge", "Only the assessor saw these."),
        }
    }

    /// What stands under the heading of what was not seen.
    pub fn unseen_words(self) -> &'static str {
        match self {
            Self::Decides => "The record does not settle these. Say what you saw.",
            Self::Ticks => "Your record does not settle these. They need nothing from you.",
            Self::Reads => "The record does not settle these. The assessor says what they saw.",
        }
    }

    /// The heading over what somebody has had their say on.
    pub fn decided_words(self) -> &'static str {
        match self {
            Self::Ticks => "Ticked by you",
            _ => "Decided by the assessor",
        }
    }

    /// Whose reason stands on a card.
    pub fn reason_words(self) -> &'static str {
        match self {
            Self::Reads => "Reason",
            _ => "Your reason",
        }
    }
}

/// The findings as cards, by what they need.
#[derive(Default)]
pub struct Cards {
    /// Automatic fails to confirm or overrule.
    pub confirm: Vec<Card>,
    /// Not seen, or not settled by the record.
    pub unseen: Vec<Card>,
    /// By eye, and not judged yet.
    pub judge: Vec<Card>,
    pub decided: Vec<Card>,
    pub rest: Vec<Card>,
}

impl Cards {
    fn of(task: &Task, marked: &Marked, fault: Option<&Fault>) -> Self {
        let mut cards = Self::default();
        for standing in &marked.decided.findings {
            let card = card(task, &marked.log, standing, &marked.decided.open, fault);
            let to = Open::Confirm(standing.proposed.criterion.clone());
            let group = match card.open {
                true if marked.decided.open.contains(&to) => &mut cards.confirm,
                true if card.by_eye => &mut cards.judge,
                true => &mut cards.unseen,
                false if card.decided || (card.by_eye && standing.outcome != Outcome::NotSeen) => &mut cards.decided,
                false => &mut cards.rest,
            };
            group.push(card);
        }
        cards
    }
}

/// A field that was refused, and why.
pub struct Fault {
    at: String,
    pub says: String,
    /// What was typed, so that it need not be typed again.
    pub typed: String,
}

impl Fault {
    /// The decision on a criterion.
    pub fn at(criterion: &CriterionId, says: &str, typed: &str) -> Self {
        Self { at: criterion.to_string(), says: says.into(), typed: typed.into() }
    }

    /// The words for an act.
    pub fn at_words(act: Uuid, says: &str, typed: &str) -> Self {
        Self { at: format!("words {act}"), says: says.into(), typed: typed.into() }
    }

    /// The reason for a gap in a device's numbers. No criterion's name holds a space.
    pub fn at_gap(device: &str, says: &str, typed: &str) -> Self {
        Self { at: format!("gap {device}"), says: says.into(), typed: typed.into() }
    }

    /// The signature.
    pub fn at_signature(says: &str) -> Self {
        Self { at: "the signature".into(), says: says.into(), typed: String::new() }
    }

    /// What is wrong with the decision on this criterion, where something is.
    pub fn on(&self, criterion: &CriterionId) -> Option<&str> {
        (self.at == criterion.as_str()).then_some(self.says.as_str())
    }
}

impl DecidePage {
    /// The page of a session as this person may see it, with what was refused.
    pub async fn of(
        tx: &mut PgConnection,
        who: &SignedIn,
        loaded: &Loaded,
        fault: Option<Fault>,
    ) -> Result<Self, WebError> {
        let marked = loaded.marked(tx, who.centre()).await?;
        let head = entries::head(tx, who.centre(), loaded.session.id).await?;
        let about = About::of(tx, who, loaded, &marked).await?;
        Ok(Self {
            page: Page::at(&who.staff, Place::Sessions),
            part: Part::of(who, &loaded.session),
            session: loaded.session.id.0.to_string(),
            candidate: loaded.candidate.name.clone(),
            task: loaded.task.title.clone(),
            bay: loaded.session.bay.clone(),
            verdict: show::verdict(marked.decided.verdict.outcome),
            marks: show::marks(&marked.decided.verdict),
            cards: Cards::of(&loaded.task, &marked, fault.as_ref()),
            causes: Causes::of(&loaded.task, &marked.log, &marked.marking),
            rounds: tiles::rounds_made(&loaded.task, &marked.log, &marked.marking),
            timeline: timeline::View::for_staff(&loaded.task, &marked.log, &marked.decided.findings, "timeline"),
            wordless: words::wordless(&loaded.task, &marked.log),
            spoken: spoken(&loaded.task, &marked.log).into_iter().filter(|one| !one.words.is_empty()).collect(),
            open: open_lines(&loaded.task, &marked.decided.open, &about),
            ended: !marked.decided.open.contains(&Open::NotEnded),
            about,
            head: head.hash,
            signer: loaded.assessor.name.clone(),
            sign_in_name: format!("{}@{}", loaded.assessor.sign_in_name, loaded.assessor.centre.as_str()),
            by_code: second_factors::is_set_up(tx, who.centre(), who.staff.number).await?,
            fault,
        })
    }

    /// Whether the field that was refused is among these, which are folded away.
    pub fn fault_among(&self, cards: &[Card]) -> bool {
        cards.iter().any(|card| card.fault.is_some())
    }

    /// What is wrong with the reason given for a device, where something is.
    pub fn gap_fault(&self, device: &str) -> Option<&Fault> {
        let of_device = |fault: &&Fault| fault.at.strip_prefix("gap ") == Some(device);
        self.fault.as_ref().filter(of_device)
    }

    /// What is wrong with the words for an act, where something is.
    pub fn words_fault(&self, act: &str) -> Option<&Fault> {
        self.fault.as_ref().filter(|fault| fault.at.strip_prefix("words ") == Some(act))
    }

    /// What is wrong with the signature, where something is.
    pub fn signature_fault(&self) -> Option<&str> {
        self.fault.as_ref().filter(|fault| fault.at == "the signature").map(|fault| fault.says.as_str())
    }
}

fn open_lines(task: &Task, open: &[Open], about: &About) -> Vec<String> {
    let gap = |lost: &Lost| format!("Wait for {} of {}, or say why.", lost.numbers, lost.device);
    open.iter().map(|open| open_words(task, open)).chain(about.missing.iter().map(gap)).collect()
}
