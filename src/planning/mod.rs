//! Plans of sessions: what clashes with what, which tasks a candidate may meet next, and how a block of candidates is
//! spread over bays and assessors. Pure: who and what is named by the identifiers that the caller uses.

pub mod block;

use crate::bay::setup::Setup;
use time::OffsetDateTime;
use uuid::Uuid;

/// The time that a session takes up: from its start to the end of its turn-round, the end not included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span {
    pub from: OffsetDateTime,
    pub until: OffsetDateTime,
}

impl Span {
    /// Whether an instant belongs to both. One that begins when the other ends does not overlap it.
    pub fn overlaps(self, other: Self) -> bool {
        self.from < other.until && other.from < self.until
    }
}

/// Who and what a session takes up, and when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Booking {
    pub session: Uuid,
    pub candidate: Uuid,
    pub assessor: i32,
    pub second_marker: Option<i32>,
    pub bay: String,
    pub span: Span,
}

/// What two overlapping sessions both need.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Shared {
    Candidate,
    /// The person who assesses one of them assesses or marks the other as well.
    Assessor,
    /// The second marker of both.
    SecondMarker,
    Bay,
}

impl Shared {
    /// The spelling in the records.
    pub fn word(self) -> &'static str {
        match self {
            Self::Candidate => "candidate",
            Self::Assessor => "assessor",
            Self::SecondMarker => "second_marker",
            Self::Bay => "bay",
        }
    }

    /// Whether it can be planned all the same: a person can be in one place only, but a bay may be large, an assessor
    /// may take over late, and whoever plans knows.
    pub fn may_be_waived(self) -> bool {
        self != Self::Candidate
    }
}

/// Two sessions that need the same at the same time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Clash {
    /// The other session.
    pub with: Uuid,
    pub over: Shared,
}

/// What two sessions both need where their times overlap; nothing of a session with itself.
pub fn shared(one: &Booking, other: &Booking) -> Vec<Shared> {
    if one.session == other.session || !one.span.overlaps(other.span) {
        return Vec::new();
    }
    let mut both = Vec::new();
    if one.candidate == other.candidate {
        both.push(Shared::Candidate);
    }
    if one.assessor == other.assessor
        || one.second_marker == Some(other.assessor)
        || other.second_marker == Some(one.assessor)
    {
        both.push(Shared::Assessor);
    }
    if one.second_marker.is_some() && one.second_marker == other.second_marker {
        both.push(Shared::SecondMarker);
    }
    if same_bay(&one.bay, &other.bay) {
        both.push(Shared::Bay);
    }
    both
}

/// Every clash of a session with others, in their order.
pub fn clashes(one: &Booking, others: &[Booking]) -> Vec<Clash> {
    let with = |other: &Booking| -> Vec<Clash> {
        shared(one, other).into_iter().map(|over| Clash { with: other.session, over }).collect()
    };
    others.iter().flat_map(with).collect()
}

/// Whether two spellings mean one bay: people type them.
pub fn same_bay(one: &str, other: &str) -> bool {
    let plain = |name: &str| name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
    plain(one) == plain(other)
}

/// The identifiers of the faults planted in a bay, sorted.
pub fn planted(setup: &Setup) -> Vec<String> {
    let mut ids: Vec<String> = setup.planted.iter().map(crate::bay::Fault::id).collect();
    ids.sort();
    ids.dedup();
    ids
}

/// Whether somebody who met the one set of planted faults would know the other: the same faults, and at least one. Where
/// nothing is planted there is nothing to know.
pub fn same_planted(one: &[String], other: &[String]) -> bool {
    !one.is_empty() && one == other
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use time::Duration;
    use time::macros::datetime;

    pub(super) const START: OffsetDateTime = datetime!(2027-02-03 9:00 UTC);

    pub(super) fn booking(number: u128, from: i64, minutes: i64) -> Booking {
        let from = START + Duration::minutes(from);
        Booking {
            session: Uuid::from_u128(number),
            candidate: Uuid::from_u128(1_000 + number),
            assessor: 100 + number as i32,
            second_marker: None,
            bay: format!("Bay {number}"),
            span: Span { from, until: from + Duration::minutes(minutes) },
        }
    }

    #[test]
    fn one_that_begins_when_the_other_ends_does_not_clash() {
        let (one, other) = (booking(1, 0, 30), Booking { candidate: Uuid::from_u128(1_001), ..booking(2, 30, 30) });
        assert_eq!(shared(&one, &other), []);
        let earlier = Booking { candidate: Uuid::from_u128(1_001), ..booking(2, 29, 30) };
        assert_eq!(shared(&one, &earlier), [Shared::Candidate]);
    }

    #[test]
    fn everything_that_both_need_is_named() {
        let one = Booking { second_marker: Some(7), ..booking(1, 0, 30) };
        let with = |change: fn(&mut Booking)| {
            let mut other = booking(2, 10, 30);
            change(&mut other);
            shared(&one, &other)
        };
        assert_eq!(with(|_| ()), []);
        assert_eq!(with(|other| other.assessor = 101), [Shared::Assessor]);
        assert_eq!(with(|other| other.assessor = 7), [Shared::Assessor]);
        assert_eq!(with(|other| other.second_marker = Some(101)), [Shared::Assessor]);
        assert_eq!(with(|other| other.second_marker = Some(7)), [Shared::SecondMarker]);
        assert_eq!(with(|other| other.bay = "  bay  1".into()), [Shared::Bay]);
        assert!(!Shared::Candidate.may_be_waived() && Shared::Bay.may_be_waived());
    }

    #[test]
    fn a_session_does_not_clash_with_itself() {
        let one = booking(1, 0, 30);
        assert_eq!(clashes(&one, &[one.clone(), booking(2, 0, 30)]), []);
    }

    #[test]
    fn the_same_faults_in_any_order_are_the_same_set_and_none_is_none() {
        let ids = |ids: &[&str]| ids.iter().map(|id| (*id).to_owned()).collect::<Vec<_>>();
        assert!(same_planted(&ids(&["lost_earth"]), &ids(&["lost_earth"])));
        assert!(!same_planted(&ids(&["lost_earth"]), &ids(&["broken_neutral", "lost_earth"])));
        assert!(!same_planted(&[], &[]));
    }

    /// A booking among few people and bays, so that clashes are many.
    pub(super) fn any_booking() -> impl Strategy<Value = Booking> {
        (0..40u128, 0..4u128, 0..3i32, proptest::option::of(3..5i32), 0..3u8, 0..200i64, 1..90i64).prop_map(
            |(session, candidate, assessor, second_marker, bay, from, minutes)| Booking {
                session: Uuid::from_u128(session),
                candidate: Uuid::from_u128(candidate),
                assessor,
                second_marker,
                bay: format!("Bay {bay}"),
                ..booking(0, from, minutes)
            },
        )
    }

    proptest! {
        #[test]
        fn clashing_is_mutual(one in any_booking(), other in any_booking()) {
            prop_assert_eq!(shared(&one, &other), shared(&other, &one));
        }

        #[test]
        fn spans_overlap_where_a_minute_is_in_both(one in any_booking(), other in any_booking()) {
            let holds = |span: Span, at: OffsetDateTime| span.from <= at && at < span.until;
            let minute = |at: i64| START + Duration::minutes(at);
            let both = (0..400).any(|at| holds(one.span, minute(at)) && holds(other.span, minute(at)));
            prop_assert_eq!(one.span.overlaps(other.span), both);
        }
    }
}
