//! The last line: what was recorded last and, one tap away, what it may have been instead.

use super::state;
use super::tiles::{self, json};
use crate::bay::DeviceId;
use crate::marking::observation::{
    EndReason, OrderOff, Place, ProvedOn, Reading, Shows, StepReason, StrikeReason, Text,
};
use crate::marking::words::{describe, part_words};
use crate::marking::{Act, Log, Observation, ObservationId, Task};
use crate::web::show;

/// One thing that may be tapped.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Chip {
    pub label: String,
    pub acts: String,
    /// The session time that what is recorded takes over, where it corrects something.
    pub at_ms: Option<u64>,
}

/// Several things under one word.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Menu {
    pub label: &'static str,
    pub options: Vec<Chip>,
}

/// The last line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Last {
    pub number: u32,
    pub says: String,
    pub minute: String,
    pub chips: Vec<Chip>,
    pub menus: Vec<Menu>,
    /// What it rarely is, among the rare acts.
    pub rarely: Vec<Chip>,
    pub not_seen: Chip,
    pub strike: Chip,
    /// What puts a note into words: the acts, in which the words that come with the form take the place of the text.
    pub wordless: Option<String>,
    /// Offered instead of the chips once something was struck.
    pub bring_back: Option<Chip>,
}

/// What a note says until it is put into words.
pub const NO_WORDS_YET: &str = "To be put into words";

/// A note with these words; `None` never happens for words of our own.
pub fn remark(words: &str) -> Option<Act> {
    Text::new(words).map(|text| Act::Remark { text, criterion: None })
}

/// The last line of a log that has begun.
pub fn last(log: &Log, task: &Task) -> Option<Last> {
    let struck = state::struck(log);
    let stands = |seen: &&Observation| !struck.contains(&seen.id);
    let recorded = log.observations();
    let bring_back = bring_back(recorded);
    let seen = recorded.iter().filter(stands).rfind(|seen| !is_about_the_record(&seen.act))?;
    let group: Vec<_> = recorded
        .iter()
        .filter(stands)
        .filter(|other| other.at_ms == seen.at_ms && !is_about_the_record(&other.act))
        .collect();
    let makes = Makes { seen, task };
    let (chips, menus) = makes.offers(&group);
    let all_of_tap: Vec<_> = group.iter().map(|one| strike_of(one.id, StrikeReason::MisTap)).collect();
    Some(Last {
        number: seen.seq,
        says: group.iter().map(|one| describe(&one.act, task)).collect::<Vec<_>>().join(". "),
        minute: show::clock(seen.at_ms),
        chips,
        menus,
        rarely: makes.rarely(),
        not_seen: Chip { label: "Not seen".into(), acts: json(&[Act::Unsure { observation: seen.id }]), at_ms: None },
        strike: Chip { label: "Strike".into(), acts: json(&all_of_tap), at_ms: None },
        wordless: makes.wordless(),
        bring_back,
    })
}

/// Undoes the strikes that were recorded last, where they were.
fn bring_back(recorded: &[Observation]) -> Option<Chip> {
    let last = recorded.last()?;
    let of_that_tap = |seen: &&Observation| {
        seen.at_ms == last.at_ms && matches!(seen.act, Act::Struck { reason: StrikeReason::MisTap, .. })
    };
    let strikes = recorded.iter().rev().take_while(of_that_tap);
    let acts: Vec<_> = strikes.map(|seen| strike_of(seen.id, StrikeReason::Other)).collect();
    (!acts.is_empty()).then(|| Chip { label: "Bring back".into(), acts: json(&acts), at_ms: None })
}

/// Whether an act is about the record rather than about what the candidate did.
fn is_about_the_record(act: &Act) -> bool {
    matches!(act, Act::Struck { .. } | Act::Unsure { .. } | Act::Ticked { .. } | Act::Started)
}

/// Takes an observation back.
pub fn strike_of(observation: ObservationId, reason: StrikeReason) -> Act {
    Act::Struck { observation, reason, text: None }
}

/// Makes the chips of one observation.
struct Makes<'a> {
    seen: &'a Observation,
    task: &'a Task,
}

impl Makes<'_> {
    /// Strikes the observation and puts another act in its place and time.
    fn instead(&self, label: impl Into<String>, act: Act) -> Chip {
        let acts = [strike_of(self.seen.id, StrikeReason::Corrected), act];
        Chip { label: label.into(), acts: json(&acts), at_ms: Some(self.seen.at_ms) }
    }

    /// Records something more, now.
    fn also(&self, label: &str, acts: &[Act]) -> Chip {
        Chip { label: label.into(), acts: json(acts), at_ms: None }
    }

    fn menu(label: &'static str, options: Vec<Chip>) -> Vec<Menu> {
        if options.is_empty() { Vec::new() } else { vec![Menu { label, options }] }
    }

    fn offers(&self, group: &[&Observation]) -> (Vec<Chip>, Vec<Menu>) {
        match &self.seen.act {
            Act::Tested { .. } => self.of_test(),
            Act::Proved { .. } => self.of_proof(),
            Act::Operated { switch } => {
                (vec![self.also("Thrown back", &[Act::Operated { switch: switch.clone() }])], Vec::new())
            }
            Act::Picked { item } => {
                let back = self.also("Puts back", &[Act::Returned { item: item.clone() }]);
                (vec![back, self.also("Looks over", &tiles::looked_over(self.task, item))], Vec::new())
            }
            Act::Inspected { .. } => (group.iter().filter_map(|one| without(one)).collect(), Vec::new()),
            Act::PermissionGiven { .. } => {
                let acts = [strike_of(self.seen.id, StrikeReason::Corrected)];
                (vec![self.also("Not given", &acts)], Vec::new())
            }
            Act::Identified { circuit, device } => {
                let other = |other: DeviceId| Act::Identified {
                    circuit: self.task.bay.device(&other).and_then(|d| d.feeds.clone()).unwrap_or(circuit.clone()),
                    device: other,
                };
                (Vec::new(), self.other_devices("Other…", device, other))
            }
            _ => self.of_securing(),
        }
    }

    fn of_securing(&self) -> (Vec<Chip>, Vec<Menu>) {
        match &self.seen.act {
            Act::Fitted { item, device } => {
                let other = |device| Act::Fitted { item: item.clone(), device };
                (Vec::new(), self.other_devices("Other device", device, other))
            }
            Act::Locked { item, device, holds } => {
                let (item, holds) = (item.clone(), *holds);
                let not = Act::Locked { item: item.clone(), device: device.clone(), holds: !holds };
                let other = |device| Act::Locked { item: item.clone(), device, holds };
                let label = if holds { "Not tried, or slips" } else { "Holds" };
                (vec![self.instead(label, not)], self.other_devices("Other device", device, other))
            }
            Act::Posted { item, device, filled } => {
                let (item, filled) = (item.clone(), *filled);
                let not = Act::Posted { item: item.clone(), device: device.clone(), filled: !filled };
                let other = |device| Act::Posted { item: item.clone(), device, filled };
                let label = if filled { "Not filled in" } else { "Filled in" };
                (vec![self.instead(label, not)], self.other_devices("Other place", device, other))
            }
            Act::Key { item, place } => {
                let places = [
                    ("In lock", Place::InLock),
                    ("On board", Place::OnBoard),
                    ("On table", Place::OnTable),
                    ("Handed over", Place::HandedOver),
                ];
                let chip = |(label, place)| self.instead(label, Act::Key { item: item.clone(), place });
                (places.into_iter().filter(|(_, other)| other != place).map(chip).collect(), Vec::new())
            }
            _ => self.of_the_rest(),
        }
    }

    fn of_the_rest(&self) -> (Vec<Chip>, Vec<Menu>) {
        match &self.seen.act {
            Act::Declared { circuit } => {
                let others = self.task.bay.circuits.iter().filter(|other| other.id != *circuit);
                let chip = |other: &crate::bay::Circuit| {
                    self.instead(&other.label, Act::Declared { circuit: other.id.clone() })
                };
                (Vec::new(), Self::menu("Other…", others.map(chip).collect()))
            }
            Act::SteppedIn { reason, .. } => {
                let chip = |(label, reason)| self.instead(label, Act::SteppedIn { reason, text: None });
                let first = [("Live part", StepReason::LivePart), ("Unsafe tool", StepReason::UnsafeTool)];
                let more = [
                    ("Unwell", StepReason::Unwell),
                    ("Wrong device", StepReason::WrongDevice),
                    ("At height", StepReason::AtHeight),
                ];
                let other = |(_, one): &(&str, StepReason)| one != reason;
                let first = first.into_iter().filter(other).map(chip).collect();
                (first, Self::menu("More…", more.into_iter().filter(other).map(chip).collect()))
            }
            Act::Ended { reason } => {
                let reasons = [
                    ("Finished", EndReason::Finished),
                    ("Unsafe to go on", EndReason::Unsafe),
                    ("Alarm", EndReason::Alarm),
                    ("Equipment", EndReason::Equipment),
                    ("Unwell", EndReason::Unwell),
                ];
                let chip = |(label, reason)| self.instead(label, Act::Ended { reason });
                let others = reasons.into_iter().filter(|(_, other)| other != reason);
                (Vec::new(), Self::menu("Ended because…", others.map(chip).collect()))
            }
            Act::Remark { .. } => {
                let ready = ["Work at height", "Tools and leads", "Around the board", "Asked to hear it again"];
                let chip = |words: &str| remark(words).map(|act| self.instead(words, act));
                (ready.into_iter().filter_map(chip).collect(), Vec::new())
            }
            _ => (Vec::new(), Vec::new()),
        }
    }

    fn of_test(&self) -> (Vec<Chip>, Vec<Menu>) {
        let Act::Tested { point, first, second, reading, order_off, item } = self.seen.act.clone() else {
            return (Vec::new(), Vec::new());
        };
        let test =
            |reading, order_off, item| Act::Tested { point: point.clone(), first, second, reading, order_off, item };
        let other_order = match order_off {
            OrderOff::SecondFirst => OrderOff::FirstFirst,
            OrderOff::FirstFirst => OrderOff::SecondFirst,
        };
        let other_reading = if reading == Reading::None { Reading::Live } else { Reading::None };
        let off = format!("{} off first", if order_off == OrderOff::SecondFirst { first } else { second });
        let reads = if reading == Reading::None { "Reads live" } else { "Reads nothing" };
        let chips = vec![
            self.instead(off, test(reading, other_order, item.clone())),
            self.instead(reads, test(other_reading, order_off, item.clone())),
        ];
        let instruments =
            self.task.bay.table.iter().filter(|one| one.is_instrument() && Some(&one.id) != item.as_ref());
        let with = |one: &crate::bay::Item| self.instead(&one.label, test(reading, order_off, Some(one.id.clone())));
        (chips, Self::menu("Other item", instruments.map(with).collect()))
    }

    fn wordless(&self) -> Option<String> {
        let Act::Remark { text, .. } = &self.seen.act else { return None };
        (text.as_str() == NO_WORDS_YET)
            .then(|| json(&[strike_of(self.seen.id, StrikeReason::Corrected), self.seen.act.clone()]))
    }

    /// A test that tripped the RCD: live, but rare.
    fn rarely(&self) -> Vec<Chip> {
        let Act::Tested { point, first, second, reading, order_off, item } = self.seen.act.clone() else {
            return Vec::new();
        };
        if reading == Reading::Tripped {
            return Vec::new();
        }
        let act = Act::Tested { point, first, second, reading: Reading::Tripped, order_off, item };
        vec![self.instead("The RCD trips", act)]
    }

    fn of_proof(&self) -> (Vec<Chip>, Vec<Menu>) {
        let Act::Proved { item, on, shows } = self.seen.act.clone() else { return (Vec::new(), Vec::new()) };
        let proof = |item, on, shows| Act::Proved { item, on, shows };
        let ways = [
            ("Proving unit", ProvedOn::ProvingUnit),
            ("Known live", ProvedOn::KnownLive),
            ("Tips together", ProvedOn::TipsTogether),
        ];
        let shown = [("Shows all", Shows::All), ("Shows some", Shows::Some), ("Shows nothing", Shows::Nothing)];
        let chips: Vec<_> = ways
            .into_iter()
            .filter(|(_, other)| *other != on)
            .map(|(label, other)| self.instead(label, proof(item.clone(), other, shows)))
            .collect();
        let others = shown.into_iter().filter(|(_, other)| *other != shows);
        let others = others.map(|(label, other)| self.instead(label, proof(item.clone(), on, other)));
        let instruments = self.task.bay.table.iter().filter(|one| one.is_instrument() && one.id != item);
        let with = |one: &crate::bay::Item| self.instead(&one.label, proof(one.id.clone(), on, shows));
        let mut menus = Self::menu("Shows…", others.collect());
        menus.extend(Self::menu("Other item", instruments.map(with).collect()));
        (chips, menus)
    }

    fn other_devices(&self, label: &'static str, not: &DeviceId, act: impl Fn(DeviceId) -> Act) -> Vec<Menu> {
        let others = self.task.bay.board.devices.iter().filter(|device| device.id != *not);
        let chip = |device: &crate::bay::Device| {
            self.instead(format!("{} {}", device.id, device.label), act(device.id.clone()))
        };
        Self::menu(label, others.map(chip).collect())
    }
}

/// The chip that takes one part back out of a look over.
fn without(seen: &Observation) -> Option<Chip> {
    let Act::Inspected { part, .. } = &seen.act else { return None };
    let acts = [strike_of(seen.id, StrikeReason::Corrected)];
    Some(Chip { label: format!("Not {}", part_words(*part)), acts: json(&acts), at_ms: None })
}
