//! Differences in words.

use super::{Change, Difference};
use crate::marking::write;
use crate::marking::{Decided, Fails};

impl Difference {
    /// What differs, as a sentence that a person who writes no files reads.
    pub fn says(&self) -> String {
        match self {
            Self::Title { from, to } => format!("The title was “{from}” and is “{to}”."),
            Self::PassPercent { from, to } => format!("The pass mark was {from} % and is {to} %."),
            Self::StageAdded { title } => format!("New stage: “{title}”."),
            Self::StageRemoved { title } => format!("The stage “{title}” is gone."),
            Self::StageRenamed { from, to } => format!("The stage “{from}” is now called “{to}”."),
            Self::StageMoved { title } => format!("The stage “{title}” stands in another place."),
            Self::Added { criterion, stage } => {
                format!("New in “{stage}”: “{}” ({}).", criterion.says, weighed(criterion.weight, criterion.fails))
            }
            Self::Removed { criterion, stage } => format!("Gone from “{stage}”: “{}”.", criterion.says),
            Self::Moved { says, from, to, .. } => format!("“{says}” moved from “{from}” to “{to}”."),
            Self::Reordered { says, stage, .. } => format!("“{says}” stands in another place in “{stage}”."),
            Self::Changed { says, change, .. } => format!("“{says}”: {}", change.says()),
        }
    }

    /// A word for the kind of difference.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Title { .. } | Self::StageRenamed { .. } => "renamed",
            Self::PassPercent { .. } => "pass mark",
            Self::StageAdded { .. } | Self::Added { .. } => "added",
            Self::StageRemoved { .. } | Self::Removed { .. } => "removed",
            Self::StageMoved { .. } | Self::Moved { .. } | Self::Reordered { .. } => "moved",
            Self::Changed { change, .. } => change.word(),
        }
    }
}

impl Change {
    fn says(&self) -> String {
        match self {
            Self::Says { from, .. } => format!("it said “{from}” before."),
            Self::Weight { from, to } => format!("its weight was {from} and is {to}."),
            Self::Fails { from, to } => format!("it was {} and is {}.", fails(*from), fails(*to)),
            Self::Decided { from, to } => format!("it was decided {} and is decided {}.", how(from), how(to)),
            Self::WhenMet { from, to } => text("the feedback when it is met", from, to),
            Self::WhenNotMet { from, to } => text("the feedback when it is not met", from, to),
            Self::Source { from, to } => format!("its source was “{from}” and is “{to}”."),
        }
    }

    fn word(&self) -> &'static str {
        match self {
            Self::Says { .. } => "reworded",
            Self::Weight { .. } => "weight",
            Self::Fails { .. } => "if not met",
            Self::Decided { .. } => "rule",
            Self::WhenMet { .. } | Self::WhenNotMet { .. } => "feedback",
            Self::Source { .. } => "source",
        }
    }
}

fn text(what: &str, from: &Option<String>, to: &Option<String>) -> String {
    match (from, to) {
        (None, Some(to)) => format!("{what} is new: “{to}”."),
        (Some(from), None) => format!("{what} is gone; it was “{from}”."),
        (from, to) => {
            let (from, to) = (from.as_deref().unwrap_or_default(), to.as_deref().unwrap_or_default());
            format!("{what} was “{from}” and is “{to}”.")
        }
    }
}

fn weighed(weight: u16, fails_as: Fails) -> String {
    format!("weight {weight}, {}", fails(fails_as))
}

fn fails(fails: Fails) -> &'static str {
    match fails {
        Fails::Ordinary => "ordinary",
        Fails::Must => "a must",
        Fails::Automatic => "an automatic fail",
    }
}

/// A rule as its file writes it, without the quotes and braces that only a file needs.
fn how(decided: &Decided) -> String {
    match decided {
        Decided::ByEye => "by eye".into(),
        Decided::Rule(_) => {
            let written = write::decided(decided);
            let inner = written.trim_start_matches('{').trim_end_matches('}').trim();
            let plain = inner.replacen("rule = ", "", 1).replace('"', "").replace('_', " ").replace(" = ", ": ");
            format!("by the rule “{plain}”")
        }
    }
}
