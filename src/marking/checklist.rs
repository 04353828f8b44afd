//! Checklists: stages of criteria, and the closed set of rules that decide a criterion.

use super::observation::{Part, ProvedOn};
use crate::bay::{ItemKind, plan::Rounds};
use serde::{Deserialize, Serialize};

crate::bay::ids::ids! {
    /// A criterion of a checklist.
    CriterionId;
}

/// A checklist that stands on its own, outside of a task: a file with `format = "baywitness checklist 1"`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChecklistFile {
    pub title: String,
    /// Marks needed to pass, in percent of those that could be had; 0 to 100.
    pub pass_percent: u8,
    pub checklist: Checklist,
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

impl Rule {
    /// The name of every rule in files, in the order of the contract.
    pub const WORDS: [&'static str; 30] = [
        "circuit_identified",
        "sources_listed",
        "permission_before_switching",
        "load_removed_first",
        "only_named_device_switched",
        "lock_off_fits",
        "locked_and_tried",
        "key_kept",
        "notice_posted",
        "secured_before_testing",
        "nothing_removed_early",
        "controls_tried",
        "indicator_suitable",
        "indicator_inspected",
        "proved_before_testing",
        "proved_after_testing",
        "all_pairs_tested",
        "all_rounds_tested",
        "less_dangerous_first",
        "point_closed_between_rounds",
        "lamp_out_before_testing",
        "live_reading_heeded",
        "no_touch_before_proof",
        "declared_last",
        "within_time",
        "never_prompted",
        "never_stepped_in",
        "happened",
        "never",
        "before",
    ];

    /// The instruments that `indicator_suitable` accepts unless it says otherwise.
    pub const ACCEPTS: [ItemKind; 1] = [ItemKind::VoltageIndicator];

    /// The longest bare tip that `indicator_suitable` allows unless it says otherwise, in millimetres: the limit of HSE
    /// GS38, 4th edition (2015), paragraph 9 (trade fact A01).
    pub const MAX_TIP_MM: f64 = 4.0;

    /// What the two proving rules accept unless they say otherwise: what shows the whole range (trade fact A26).
    pub const PROOFS: [ProvedOn; 2] = [ProvedOn::ProvingUnit, ProvedOn::KnownLive];

    /// Its name in files, one of [`Rule::WORDS`].
    pub fn word(&self) -> &'static str {
        match self {
            Self::CircuitIdentified => "circuit_identified",
            Self::SourcesListed => "sources_listed",
            Self::PermissionBeforeSwitching => "permission_before_switching",
            Self::LoadRemovedFirst => "load_removed_first",
            Self::OnlyNamedDeviceSwitched => "only_named_device_switched",
            Self::LockOffFits => "lock_off_fits",
            Self::LockedAndTried => "locked_and_tried",
            Self::KeyKept => "key_kept",
            Self::NoticePosted { .. } => "notice_posted",
            Self::SecuredBeforeTesting => "secured_before_testing",
            Self::NothingRemovedEarly => "nothing_removed_early",
            Self::ControlsTried => "controls_tried",
            Self::IndicatorSuitable { .. } => "indicator_suitable",
            Self::IndicatorInspected { .. } => "indicator_inspected",
            Self::ProvedBeforeTesting { .. } => "proved_before_testing",
            Self::ProvedAfterTesting { .. } => "proved_after_testing",
            Self::AllPairsTested => "all_pairs_tested",
            Self::AllRoundsTested { .. } => "all_rounds_tested",
            Self::LessDangerousFirst => "less_dangerous_first",
            Self::PointClosedBetweenRounds => "point_closed_between_rounds",
            Self::LampOutBeforeTesting => "lamp_out_before_testing",
            Self::LiveReadingHeeded => "live_reading_heeded",
            Self::NoTouchBeforeProof => "no_touch_before_proof",
            Self::DeclaredLast => "declared_last",
            Self::WithinTime => "within_time",
            Self::NeverPrompted => "never_prompted",
            Self::NeverSteppedIn => "never_stepped_in",
            Self::Happened { .. } => "happened",
            Self::Never { .. } => "never",
            Self::Before { .. } => "before",
        }
    }
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
