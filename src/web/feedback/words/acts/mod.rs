//! Acts in the languages of candidates, phrase by phrase. In English they read as staff read them.

use super::{Arg, Words};
use crate::bay::{CircuitId, DeviceId, ItemId, PointId, SwitchId};
use crate::marking::observation::{
    Control, ControlResult, EndReason, OnOff, OrderOff, Part, PauseReason, Place, ProvedOn, Reading, Shows, StepReason,
};
use crate::marking::{Act, Task};
use crate::store::centres::Language;

/// An act of this task in words; `None` for what is about the record and no act of the candidate.
pub fn describe(act: &Act, task: &Task, words: Words) -> Option<String> {
    let say = Say { task, language: words.language() };
    say.opening(act).or_else(|| say.securing(act)).or_else(|| say.testing(act))
}

struct Say<'t> {
    task: &'t Task,
    language: Language,
}

impl Say<'_> {
    /// A phrase with these put into it.
    fn fill(&self, phrase: Phrase, args: &[(&str, &str)]) -> String {
        let args: Vec<_> = args.iter().map(|(name, text)| (*name, Arg::Plain(text))).collect();
        super::fill(phrase.say(self.language), &args).into_iter().map(|piece| piece.text).collect()
    }

    fn opening(&self, act: &Act) -> Option<String> {
        use Phrase as P;
        Some(match act {
            Act::Started => self.fill(P::Started, &[]),
            Act::Resumed => self.fill(P::Resumed, &[]),
            Act::Paused { reason, .. } => self.fill(P::Paused, &[("why", self.plain(pause(*reason)))]),
            Act::Ended { reason: EndReason::Finished } => self.fill(P::Ended, &[]),
            Act::Ended { reason } => self.fill(P::EndedEarly, &[("why", self.plain(end(*reason)))]),
            Act::Identified { circuit, device } => {
                self.fill(P::Identified, &[("circuit", self.circuit(circuit)), ("device", &self.device(device))])
            }
            Act::SourceListed { source } => {
                let label = self.task.bay.source(source).map_or(source.as_str(), |source| &source.label);
                self.fill(P::SourceListed, &[("source", label)])
            }
            Act::PermissionAsked { .. } => self.fill(P::PermissionAsked, &[]),
            Act::PermissionGiven { .. } => self.fill(P::PermissionGiven, &[]),
            Act::Picked { item } => self.fill(P::Picked, &[("item", self.item(item))]),
            Act::Returned { item } => self.fill(P::Returned, &[("item", self.item(item))]),
            Act::Inspected { item, part: which } => {
                self.fill(P::Inspected, &[("part", self.plain(part(*which))), ("item", self.item(item))])
            }
            Act::LoadOff { circuit } => self.fill(P::LoadOff, &[("circuit", self.circuit(circuit))]),
            _ => return None,
        })
    }

    fn securing(&self, act: &Act) -> Option<String> {
        use Phrase as P;
        let on = |phrase, item: &ItemId, device: &DeviceId| {
            self.fill(phrase, &[("item", self.item(item)), ("device", &self.device(device))])
        };
        Some(match act {
            Act::Switched { device, to: OnOff::Off } => self.fill(P::SwitchedOff, &[("device", &self.device(device))]),
            Act::Switched { device, to: OnOff::On } => self.fill(P::SwitchedOn, &[("device", &self.device(device))]),
            Act::Fitted { item, device } => on(P::Fitted, item, device),
            Act::Locked { item, device, holds: true } => on(P::LockedHolds, item, device),
            Act::Locked { item, device, holds: false } => on(P::LockedNot, item, device),
            Act::Posted { item, device, filled: true } => on(P::PostedFilled, item, device),
            Act::Posted { item, device, filled: false } => on(P::PostedEmpty, item, device),
            Act::Key { item, place } => self.fill(key(*place), &[("item", self.item(item))]),
            Act::Removed { item, device } => on(P::Removed, item, device),
            Act::ControlTried { control, result } => {
                let what = match control {
                    Control::Device(device) => self.device(device),
                    Control::Switch(switch) => self.switch(switch),
                };
                let phrase = match result {
                    ControlResult::Nothing => P::ControlNothing,
                    ControlResult::Started => P::ControlStarted,
                };
                self.fill(phrase, &[("what", &what)])
            }
            _ => return None,
        })
    }

    fn testing(&self, act: &Act) -> Option<String> {
        use Phrase as P;
        Some(match act {
            Act::Proved { item, on, shows } => {
                let (on, shows) = (self.plain(proved(*on)), self.plain(shown(*shows)));
                self.fill(P::Proved, &[("item", self.item(item)), ("on", on), ("shows", shows)])
            }
            Act::Opened { point } => self.fill(P::Opened, &[("point", self.point(point))]),
            Act::Closed { point } => self.fill(P::Closed, &[("point", self.point(point))]),
            Act::LampOut { point } => self.fill(P::LampOut, &[("point", self.point(point))]),
            Act::LampIn { point } => self.fill(P::LampIn, &[("point", self.point(point))]),
            Act::Operated { switch } => self.fill(P::Operated, &[("switch", &self.switch(switch))]),
            Act::Tested { point, first, second, reading, order_off, item } => {
                let (first, second) = (first.to_string(), second.to_string());
                let reading = self.plain(read(*reading));
                let mut says = self.fill(P::Tested, &[("first", &first), ("second", &second), ("reading", reading)]);
                if *order_off == OrderOff::FirstFirst {
                    says += &self.fill(P::FirstOff, &[("first", &first)]);
                }
                if *point != self.task.bay.isolate.point {
                    says += &self.fill(P::AtPoint, &[("point", self.point(point))]);
                }
                if let Some(item) = item {
                    says += &self.fill(P::WithItem, &[("item", self.item(item))]);
                }
                says
            }
            Act::Touched { point } => self.fill(P::Touched, &[("point", self.point(point))]),
            Act::Declared { circuit } => self.fill(P::Declared, &[("circuit", self.circuit(circuit))]),
            Act::Prompted { .. } => self.fill(P::Prompted, &[]),
            Act::SteppedIn { reason, .. } => self.fill(P::SteppedIn, &[("why", self.plain(step(*reason)))]),
            _ => return None,
        })
    }

    fn plain(&self, phrase: Phrase) -> &'static str {
        phrase.say(self.language)
    }

    fn item<'s>(&'s self, id: &'s ItemId) -> &'s str {
        self.task.bay.item(id).map_or(id.as_str(), |item| &item.label)
    }

    fn circuit<'s>(&'s self, id: &'s CircuitId) -> &'s str {
        self.task.bay.circuit(id).map_or(id.as_str(), |circuit| &circuit.label)
    }

    fn point<'s>(&'s self, id: &'s PointId) -> &'s str {
        self.task.bay.point(id).map_or(id.as_str(), |point| &point.label)
    }

    fn device(&self, id: &DeviceId) -> String {
        self.task.bay.device(id).map_or_else(|| id.to_string(), |device| format!("{id} ({})", device.label))
    }

    fn switch(&self, id: &SwitchId) -> String {
        self.task.bay.switch(id).map_or_else(|| id.to_string(), |switch| format!("{id} ({})", switch.label))
    }
}

fn part(part: Part) -> Phrase {
    match part {
        Part::Tips => Phrase::PartTips,
        Part::Guards => Phrase::PartGuards,
        Part::Leads => Phrase::PartLeads,
        Part::Body => Phrase::PartBody,
        Part::Date => Phrase::PartDate,
        Part::Rating => Phrase::PartRating,
        Part::Fit => Phrase::PartFit,
    }
}

fn pause(reason: PauseReason) -> Phrase {
    match reason {
        PauseReason::Alarm => Phrase::Alarm,
        PauseReason::Equipment => Phrase::Equipment,
        PauseReason::Unwell => Phrase::Unwell,
        PauseReason::Other => Phrase::OtherReason,
    }
}

fn end(reason: EndReason) -> Phrase {
    match reason {
        EndReason::Unsafe => Phrase::UnsafeToGoOn,
        EndReason::Alarm => Phrase::Alarm,
        EndReason::Equipment => Phrase::Equipment,
        EndReason::Unwell => Phrase::Unwell,
        EndReason::Finished | EndReason::Other => Phrase::OtherReason,
    }
}

fn step(reason: StepReason) -> Phrase {
    match reason {
        StepReason::LivePart => Phrase::LivePart,
        StepReason::WrongDevice => Phrase::WrongDevice,
        StepReason::UnsafeTool => Phrase::UnsafeTool,
        StepReason::AtHeight => Phrase::AtHeight,
        StepReason::Unwell => Phrase::Unwell,
        StepReason::Other => Phrase::OtherReason,
    }
}

fn key(place: Place) -> Phrase {
    match place {
        Place::Kept => Phrase::KeyKept,
        Place::InLock => Phrase::KeyInLock,
        Place::OnBoard => Phrase::KeyOnBoard,
        Place::OnTable => Phrase::KeyOnTable,
        Place::HandedOver => Phrase::KeyHandedOver,
    }
}

fn proved(on: ProvedOn) -> Phrase {
    match on {
        ProvedOn::ProvingUnit => Phrase::OnProvingUnit,
        ProvedOn::KnownLive => Phrase::OnKnownLive,
        ProvedOn::TipsTogether => Phrase::OnTipsTogether,
        ProvedOn::SelfTest => Phrase::OnSelfTest,
        ProvedOn::Other => Phrase::OnOther,
    }
}

fn shown(shows: Shows) -> Phrase {
    match shows {
        Shows::All => Phrase::ShowsAll,
        Shows::Some => Phrase::ShowsSome,
        Shows::Nothing => Phrase::ShowsNothing,
    }
}

fn read(reading: Reading) -> Phrase {
    match reading {
        Reading::None => Phrase::ReadsNothing,
        Reading::Live => Phrase::ReadsLive,
        Reading::Tripped => Phrase::ReadsTripped,
    }
}

mod phrases;
#[cfg(test)]
mod tests;

use phrases::Phrase;
