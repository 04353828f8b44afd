//! A block: many candidates spread over bays and assessors, slot after slot.
//!
//! Slots are gone through in order of time. In each, the next candidate who fits takes the first free bay and the free
//! assessor who has fewest sessions so far, with the task that was used least. The same question always gets the same
//! answer.

use super::{Booking, Span, same_bay, shared};
use time::{Duration, OffsetDateTime};
use uuid::Uuid;

/// Most slots that are looked through.
pub const MOST_SLOTS: usize = 2_000;

/// A candidate to place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    pub candidate: Uuid,
    /// For each task of the block what it would take this person, turn-round included; `None` where they should not meet
    /// it now, because its planted faults are those that they met last.
    pub tasks: Vec<Option<Duration>>,
}

/// What is to be planned.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Block {
    /// In the order in which they should come.
    pub people: Vec<Person>,
    pub bays: Vec<String>,
    pub assessors: Vec<i32>,
    /// When sessions may take place, in order of time and apart: breaks and nights are what lies between. A session
    /// begins and ends in one of them.
    pub open: Vec<Span>,
    /// From the start of one slot to that of the next; positive.
    pub slot: Duration,
    /// What is planned already.
    pub booked: Vec<Booking>,
}

/// A session that the planner proposes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Placed {
    /// Which of the people, counted from 0.
    pub person: usize,
    /// Which of the tasks.
    pub task: usize,
    pub bay: String,
    pub assessor: i32,
    pub span: Span,
}

/// Why somebody was not placed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Left {
    /// Every task of the block has the planted faults that they met last.
    SamePlanted,
    /// No task that they may meet fits between two breaks.
    TooLong,
    /// Everything is taken.
    NoRoom,
}

/// What the planner proposes.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Proposal {
    /// In order of time.
    pub placed: Vec<Placed>,
    /// Who is left over, in the order of the people.
    pub left: Vec<(usize, Left)>,
}

/// Spreads the block. Nobody is placed twice and nothing clashes, neither within the block nor with what is booked.
pub fn propose(block: &Block) -> Proposal {
    let mut work = Work::new(block);
    for (start, close) in slots(block) {
        work.fill(start, close);
        if work.waiting.is_empty() {
            break;
        }
    }
    work.finish()
}

/// Every start with the end of the span it lies in.
fn slots(block: &Block) -> impl Iterator<Item = (OffsetDateTime, OffsetDateTime)> {
    let step = block.slot.max(Duration::MINUTE);
    let of_span = move |span: &Span| {
        let span = *span;
        std::iter::successors(Some(span.from), move |at| at.checked_add(step))
            .take_while(move |at| *at < span.until)
            .map(move |at| (at, span.until))
    };
    block.open.iter().flat_map(of_span).take(MOST_SLOTS)
}

/// A proposal in the making.
struct Work<'b> {
    block: &'b Block,
    /// People who are not placed yet, in order.
    waiting: Vec<usize>,
    placed: Vec<Placed>,
    /// What is booked, with what was placed.
    taken: Vec<Booking>,
    /// Sessions so far of each assessor and of each task.
    of_assessor: Vec<usize>,
    of_task: Vec<usize>,
}

impl<'b> Work<'b> {
    fn new(block: &'b Block) -> Self {
        let tasks = block.people.iter().map(|person| person.tasks.len()).max().unwrap_or(0);
        Self {
            block,
            waiting: (0..block.people.len()).collect(),
            placed: Vec::new(),
            taken: block.booked.clone(),
            of_assessor: vec![0; block.assessors.len()],
            of_task: vec![0; tasks],
        }
    }

    /// Places as many as fit from this start on.
    fn fill(&mut self, start: OffsetDateTime, close: OffsetDateTime) {
        let mut at = 0;
        while at < self.waiting.len() {
            match self.place(self.waiting[at], start, close) {
                Some(placed) => {
                    self.take(placed);
                    self.waiting.remove(at);
                }
                None => at += 1,
            }
        }
    }

    /// Where a person would go from this start on.
    fn place(&self, person: usize, start: OffsetDateTime, close: OffsetDateTime) -> Option<Placed> {
        let who = &self.block.people[person];
        let mut tasks: Vec<usize> = (0..who.tasks.len()).collect();
        tasks.sort_by_key(|&task| (self.of_task[task], task));
        let mut assessors: Vec<usize> = (0..self.block.assessors.len()).collect();
        assessors.sort_by_key(|&assessor| (self.of_assessor[assessor], assessor));
        for task in tasks {
            let Some(until) = who.tasks[task].and_then(|takes| start.checked_add(takes)) else { continue };
            if until > close {
                continue;
            }
            let span = Span { from: start, until };
            let near: Vec<&Booking> = self.taken.iter().filter(|taken| taken.span.overlaps(span)).collect();
            for bay in &self.block.bays {
                if near.iter().any(|taken| same_bay(&taken.bay, bay)) {
                    continue;
                }
                for &assessor in &assessors {
                    let placed =
                        Placed { person, task, bay: bay.clone(), assessor: self.block.assessors[assessor], span };
                    let booking = self.booking(&placed);
                    if near.iter().all(|taken| shared(&booking, taken).is_empty()) {
                        return Some(placed);
                    }
                }
            }
        }
        None
    }

    fn take(&mut self, placed: Placed) {
        self.taken.push(self.booking(&placed));
        if let Some(at) = self.block.assessors.iter().position(|&assessor| assessor == placed.assessor) {
            self.of_assessor[at] += 1;
        }
        self.of_task[placed.task] += 1;
        self.placed.push(placed);
    }

    fn booking(&self, placed: &Placed) -> Booking {
        Booking {
            // A name that no stored session has: of version 8, which is ours to fill (RFC 9562, section 5.8).
            session: uuid::Builder::from_custom_bytes((placed.person as u128 + 1).to_be_bytes()).into_uuid(),
            candidate: self.block.people[placed.person].candidate,
            assessor: placed.assessor,
            second_marker: None,
            bay: placed.bay.clone(),
            span: placed.span,
        }
    }

    fn finish(self) -> Proposal {
        let left = self.waiting.iter().map(|&person| (person, self.why(person))).collect();
        let mut placed = self.placed;
        placed.sort_by_key(|placed| (placed.span.from, placed.person));
        Proposal { placed, left }
    }

    fn why(&self, person: usize) -> Left {
        let may_meet: Vec<Duration> = self.block.people[person].tasks.iter().copied().flatten().collect();
        let longest = self.block.open.iter().map(|span| span.until - span.from).max().unwrap_or(Duration::ZERO);
        match may_meet.iter().min() {
            None => Left::SamePlanted,
            Some(&shortest) if shortest > longest => Left::TooLong,
            Some(_) => Left::NoRoom,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::clashes;
    use super::super::tests::{START, any_booking};
    use super::*;
    use proptest::prelude::*;

    fn minutes(minutes: i64) -> Duration {
        Duration::minutes(minutes)
    }

    fn span(from: i64, until: i64) -> Span {
        Span { from: START + minutes(from), until: START + minutes(until) }
    }

    fn person(number: u128, tasks: &[Option<i64>]) -> Person {
        let tasks = tasks.iter().map(|takes| takes.map(minutes)).collect();
        Person { candidate: Uuid::from_u128(0x8_000 + number), tasks }
    }

    fn block(people: usize, open: Vec<Span>) -> Block {
        Block {
            people: (0..people).map(|number| person(number as u128, &[Some(40)])).collect(),
            bays: vec!["Bay 1".into(), "Bay 2".into()],
            assessors: vec![1, 2],
            open,
            slot: minutes(45),
            booked: Vec::new(),
        }
    }

    #[test]
    fn two_bays_and_two_assessors_take_two_at_a_time_and_nobody_in_the_break() {
        let proposal = propose(&block(6, vec![span(0, 90), span(105, 150)]));
        let starts: Vec<i64> =
            proposal.placed.iter().map(|placed| (placed.span.from - START).whole_minutes()).collect();
        assert_eq!(starts, [0, 0, 45, 45, 105, 105]);
        assert_eq!(proposal.left, []);
        let people: Vec<_> = proposal.placed.iter().map(|placed| placed.person).collect();
        assert_eq!(people, [0, 1, 2, 3, 4, 5]);
    }

    #[test]
    fn who_is_left_over_is_told_why() {
        let mut asked = block(4, vec![span(0, 50)]);
        asked.people[0] = person(0, &[None]);
        asked.people[1] = person(1, &[Some(60)]);
        asked.bays.truncate(1);
        let proposal = propose(&asked);
        assert_eq!(proposal.placed.iter().map(|placed| placed.person).collect::<Vec<_>>(), [2]);
        assert_eq!(proposal.left, [(0, Left::SamePlanted), (1, Left::TooLong), (3, Left::NoRoom)]);
    }

    #[test]
    fn tasks_are_used_evenly_and_one_that_was_met_last_is_passed_over() {
        let mut asked = block(4, vec![span(0, 90)]);
        for (number, one) in asked.people.iter_mut().enumerate() {
            *one = person(number as u128, &[Some(40), Some(40)]);
        }
        asked.people[0].tasks[0] = None;
        let proposal = propose(&asked);
        assert_eq!(proposal.placed.iter().map(|placed| placed.task).collect::<Vec<_>>(), [1, 0, 0, 1]);
    }

    #[test]
    fn a_slot_that_is_no_length_does_not_go_on_for_ever() {
        let asked = Block { slot: Duration::ZERO, ..block(300, vec![span(0, 600)]) };
        let proposal = propose(&asked);
        assert_eq!(proposal.placed.len() + proposal.left.len(), 300);
    }

    fn any_block() -> impl Strategy<Value = Block> {
        let tasks = proptest::collection::vec(proptest::option::weighted(0.8, 10..80i64), 2);
        let people = proptest::collection::vec(tasks, 0..14);
        let open = proptest::collection::vec((5..120i64, 0..60i64), 1..4);
        (people, open, 1..4usize, 1..4usize, 5..60i64, proptest::collection::vec(any_booking(), 0..6)).prop_map(
            |(people, open, bays, assessors, slot, booked)| {
                let mut from = 0;
                let spans = open.into_iter().map(|(long, pause)| {
                    let one = span(from, from + long);
                    from += long + pause;
                    one
                });
                Block {
                    open: spans.collect(),
                    people: people.iter().enumerate().map(|(at, tasks)| person(at as u128, tasks)).collect(),
                    bays: (0..bays).map(|bay| format!("Bay {bay}")).collect(),
                    assessors: (0..assessors as i32).collect(),
                    slot: minutes(slot),
                    booked,
                }
            },
        )
    }

    /// The proposal as bookings, by its own account and not the planner's.
    fn bookings(block: &Block, proposal: &Proposal) -> Vec<Booking> {
        let made = |(at, placed): (usize, &Placed)| Booking {
            session: Uuid::from_u128(0x10_000 + at as u128),
            candidate: block.people[placed.person].candidate,
            assessor: placed.assessor,
            second_marker: None,
            bay: placed.bay.clone(),
            span: placed.span,
        };
        proposal.placed.iter().enumerate().map(made).collect()
    }

    proptest! {
        #[test]
        fn everybody_is_placed_once_or_left_over_once(block in any_block()) {
            let proposal = propose(&block);
            let placed = proposal.placed.iter().map(|placed| placed.person);
            let mut all: Vec<usize> = placed.chain(proposal.left.iter().map(|(person, _)| *person)).collect();
            all.sort_unstable();
            prop_assert_eq!(all, (0..block.people.len()).collect::<Vec<_>>());
        }

        #[test]
        fn nothing_clashes_and_all_lies_within_opening_times(block in any_block()) {
            let proposal = propose(&block);
            let mut all = block.booked.clone();
            for (booking, placed) in bookings(&block, &proposal).into_iter().zip(&proposal.placed) {
                prop_assert_eq!(clashes(&booking, &all), []);
                let inside = |open: &Span| open.from <= booking.span.from && booking.span.until <= open.until;
                prop_assert!(block.open.iter().any(inside));
                let takes = block.people[placed.person].tasks[placed.task];
                prop_assert_eq!(Some(placed.span.until - placed.span.from), takes);
                all.push(booking);
            }
        }

        #[test]
        fn the_same_question_gets_the_same_answer(block in any_block()) {
            prop_assert_eq!(propose(&block), propose(&block.clone()));
        }

        #[test]
        fn who_is_left_for_want_of_room_fits_nowhere(block in any_block()) {
            let proposal = propose(&block);
            let mut all = block.booked.clone();
            all.extend(bookings(&block, &proposal));
            for (person, why) in &proposal.left {
                let mut fits = false;
                for (start, close) in slots(&block) {
                    for (bay, assessor) in block.bays.iter().flat_map(|bay| block.assessors.iter().map(move |a| (bay, *a))) {
                        for takes in block.people[*person].tasks.iter().flatten() {
                            let one = Booking {
                                session: Uuid::from_u128(0x20_000),
                                candidate: block.people[*person].candidate,
                                assessor,
                                second_marker: None,
                                bay: bay.clone(),
                                span: Span { from: start, until: start + *takes },
                            };
                            fits |= one.span.until <= close && clashes(&one, &all).is_empty();
                        }
                    }
                }
                prop_assert!(!fits, "{person} fits, but was left over: {why:?}");
            }
        }
    }
}
