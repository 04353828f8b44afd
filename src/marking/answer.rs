//! What a rule answers, and how an answer becomes a finding.

use super::known::{Known, Pos};
use super::{Criterion, Finding, Outcome, Owed};

/// What a rule found in the log.
#[derive(Debug, Clone, PartialEq)]
pub enum Answer {
    /// What was asked for was seen (or what must not happen has not happened).
    Met { because: Vec<Pos>, says: String },
    /// Something was seen that the rule forbids, or seen done wrongly.
    NotMet { because: Vec<Pos>, says: String },
    /// Something the rule needs is not in the log. It could have been done from `from` on, until `until`; with no
    /// `until` it can still be done while the log runs.
    Absent { because: Vec<Pos>, from: u64, until: Option<u64>, says: String },
    /// The task lacks what the rule is about.
    NotApplicable { says: String },
    /// Only an eye can judge it, and none has yet: not seen, however the log stands.
    Unjudged { says: String },
}

impl Answer {
    /// Met, resting on these acts.
    pub fn met(because: impl Into<Vec<Pos>>, says: impl Into<String>) -> Self {
        Self::Met { because: because.into(), says: says.into() }
    }

    /// Not met, resting on these acts.
    pub fn not_met(because: impl Into<Vec<Pos>>, says: impl Into<String>) -> Self {
        Self::NotMet { because: because.into(), says: says.into() }
    }

    /// Not recorded, and still possible while the log runs.
    pub fn owed(says: impl Into<String>) -> Self {
        Self::Absent { because: Vec::new(), from: 0, until: None, says: says.into() }
    }

    /// The task lacks the subject.
    pub fn not_applicable(says: impl Into<String>) -> Self {
        Self::NotApplicable { says: says.into() }
    }

    /// The outcome that follows in this log. An absent act is not seen while it may still come, and where the marker
    /// could not see during the time in which it should have come.
    pub fn outcome(&self, known: &Known) -> Outcome {
        match self {
            Self::Met { .. } => Outcome::Met,
            Self::NotMet { .. } => Outcome::NotMet,
            Self::NotApplicable { .. } => Outcome::NotApplicable,
            Self::Unjudged { .. } => Outcome::NotSeen,
            Self::Absent { from, until, .. } => {
                let may_come = known.running && until.is_none();
                let until = until.unwrap_or(known.span.1);
                let unseen = known.blocked.iter().any(|&(blocked, clear)| blocked < until && clear > *from);
                if may_come || unseen { Outcome::NotSeen } else { Outcome::NotMet }
            }
        }
    }

    /// What the finding rests on, and its sentence.
    pub fn parts(&self) -> (&[Pos], &str) {
        match self {
            Self::Met { because, says } | Self::NotMet { because, says } | Self::Absent { because, says, .. } => {
                (because, says)
            }
            Self::NotApplicable { says } | Self::Unjudged { says } => (&[], says),
        }
    }

    /// What is owed under this answer, if an act of the candidate or a judgement by eye can still settle it.
    pub fn owed_by(&self, criterion: &Criterion, known: &Known) -> Option<Owed> {
        let open = match self {
            Self::Absent { until, .. } => known.running && until.is_none(),
            Self::Unjudged { .. } => true,
            _ => false,
        };
        open.then(|| Owed { criterion: criterion.id.clone(), says: self.parts().1.to_owned() })
    }

    /// The finding on `criterion`.
    pub fn finding(&self, criterion: &Criterion, known: &Known) -> Finding {
        let (because, says) = self.parts();
        let mut because = because.to_vec();
        because.sort_unstable();
        because.dedup();
        let outcome = self.outcome(known);
        let settled = if outcome == Outcome::Met { because.last() } else { because.first() };
        Finding {
            criterion: criterion.id.clone(),
            outcome,
            fails: criterion.fails,
            weight: criterion.weight,
            at_ms: settled.map(|&pos| known.at(pos)),
            because: because.into_iter().map(|pos| known.acts[pos].id).collect(),
            says: says.to_owned(),
        }
    }
}
