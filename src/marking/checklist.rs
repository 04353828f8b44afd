//! Checklists: stages of criteria, and the closed set of rules that decide a criterion.

use super::observation::{Part, ProvedOn};
use crate::bay::{ItemKind, plan::Rounds};
use serde::{Deserialize, Serialize};

crate::bay::ids::ids! {
    /// A criterion of a checklist.
    CriterionId;
}

/// Criteria in stages.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Checklist {
    pub stages: Vec<Stage>,
}

impl Checklist {
    /// Every criterion, in the order of the stages.
    pub fn criteria(&self) -> impl Iterator<Item = &Criterion> {
        self.stages.iter().flat_map(|stage| &stage.criteria)
    }

    /// The rounds that its rule asks for; each switch once where it has no such rule.
    pub fn rounds(&self) -> Rounds {
        let asked = self.criteria().find_map(|criterion| match criterion.decided {
            Decided::Rule(Rule::AllRoundsTested { rounds }) => Some(rounds),
            _ => None,
        });
        asked.unwrap_or_default()
    }

    /// The criterion with this identifier.
    pub fn criterion(&self, id: &CriterionId) -> Option<&Criterion> {
        self.criteria().find(|criterion| criterion.id == *id)
    }
}

/// Criteria that belong together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stage {
    pub title: String,
    pub criteria: Vec<Criterion>,
}

/// One thing that is decided about an attempt.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Criterion {
    pub id: CriterionId,
    pub says: String,
    /// Marks it carries when met; at least 1.
    pub weight: u16,
    pub fails: Fails,
    pub decided: Decided,
    /// Feedback where it is met.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub when_met: Option<String>,
    /// Feedback where it is not met.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub when_not_met: Option<String>,
    /// The published source, or "common practice".
    pub source: String,
}

/// What a criterion that is not met does to the verdict.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Fails {
    /// Costs its marks.
    Ordinary,
    /// Fails the attempt.
    Must,
    /// Ends the matter whatever the marks.
    Automatic,
}

/// How a criterion is decided.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Decided {
    /// By the assessor's eye: a `ticked` observation.
    #[serde(serialize_with = "by_eye")]
    ByEye,
    /// Worked out from the log.
    Rule(Rule),
}

fn by_eye<S: serde::Serializer>(to: S) -> Result<S::Ok, S::Error> {
    to.serialize_str("by_eye")
}

/// The closed set of rules, with their parameters. What each means, and its source, stands where it is decided:
/// [`super::rules`].
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "rule", rename_all = "snake_case")]
pub enum Rule {
    CircuitIdentified,
    SourcesListed,
    PermissionBeforeSwitching,
    LoadRemovedFirst,
    OnlyNamedDeviceSwitched,
    LockOffFits,
    LockedAndTried,
    KeyKept,
    NoticePosted {
        filled: bool,
    },
    SecuredBeforeTesting,
    NothingRemovedEarly,
    ControlsTried,
    IndicatorSuitable {
        accepts: Vec<ItemKind>,
        max_tip_mm: f64,
    },
    IndicatorInspected {
        parts: Vec<Part>,
    },
    ProvedBeforeTesting {
        accepts: Vec<ProvedOn>,
    },
    ProvedAfterTesting {
        accepts: Vec<ProvedOn>,
    },
    AllPairsTested,
    AllRoundsTested {
        rounds: Rounds,
    },
    LessDangerousFirst,
    PointClosedBetweenRounds,
    LampOutBeforeTesting,
    LiveReadingHeeded,
    NoTouchBeforeProof,
    DeclaredLast,
    WithinTime,
    NeverPrompted,
    NeverSteppedIn,
    /// At least one observation matches.
    Happened {
        act: Pattern,
    },
    /// No observation matches.
    Never {
        act: Pattern,
    },
    /// An observation matches `first`, before any that matches `then`.
    Before {
        first: Pattern,
        then: Pattern,
    },
}

/// An act, or any act of a kind with some of its fields.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Pattern {
    /// The `kind` of the act.
    pub kind: String,
    /// Fields that must have exactly these values.
    #[serde(flatten)]
    pub fields: std::collections::BTreeMap<String, serde_json::Value>,
}
