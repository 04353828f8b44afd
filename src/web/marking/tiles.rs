//! The tiles of the marking page, made from the task and from what has been seen. A tile names an act and says what a
//! tap would record next; none says whether that is right.

use super::state::{State, Tested};
use crate::bay::{Conductor, Item, ItemId, Thing};
use crate::marking::observation::{OnOff, OrderOff, Part, Place, ProvedOn, Reading, Shows};
use crate::marking::{Act, Decided, Log, Marking, Rule, Task};
use crate::web::show;

/// Something to tap: what it records, as the JSON list of acts that both the plain form and the script send.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tile {
    pub label: String,
    /// A word on how it stands, such as `taken` or `OFF`; may be empty.
    pub state: String,
    /// Empty where a tap could record nothing yet.
    pub acts: String,
    /// Whether it gets a thick border.
    pub marked: bool,
    /// Length of the part of the label that others bear too, such as `Two-pole indicator,`; 0 where there is none. On a
    /// narrow tile that part is cut first, so that what tells the items apart stays in sight.
    pub shared: usize,
    /// What the tile says where it is narrow; empty where the task gives no short form.
    pub short: String,
}

impl Tile {
    /// A tile that records `acts`.
    pub fn new(label: impl Into<String>, acts: &[Act]) -> Self {
        Self {
            label: label.into(),
            state: String::new(),
            acts: json(acts),
            marked: false,
            shared: 0,
            short: String::new(),
        }
    }

    /// A tile that first needs something else.
    fn waiting(label: &str, needs: &str) -> Self {
        Self { acts: String::new(), ..Self::new(label, &[]) }.state(needs)
    }

    /// The label as a tile shows it: what it shares with others, and the rest.
    pub fn parts(&self) -> (String, String) {
        let (shared, rest) = self.label.split_at_checked(self.shared).unwrap_or(("", &self.label));
        (breakable(shared), breakable(rest))
    }

    fn short(mut self, short: Option<String>) -> Self {
        self.short = short.unwrap_or_default();
        self
    }

    fn state(mut self, state: impl Into<String>) -> Self {
        self.state = state.into();
        self
    }

    fn marked_if(mut self, marked: bool) -> Self {
        self.marked = marked;
        self
    }
}

/// Letters from which a word may be broken, as a last resort, on a narrow tile.
const LONG_WORD: usize = 10;

/// A label whose long words hold a soft hyphen where they may be broken: between two consonants near the middle, so that
/// `floodlight` becomes `flood-light` and never `floodligh-t`.
pub fn breakable(label: &str) -> String {
    label.split(' ').map(break_word).collect::<Vec<_>>().join(" ")
}

fn break_word(word: &str) -> String {
    let letters: Vec<char> = word.chars().collect();
    let is_consonant = |c: char| c.is_alphabetic() && !"aeiouyAEIOUY".contains(c);
    let middle = letters.len() / 2;
    let between = |at: &usize| is_consonant(letters[at - 1]) && is_consonant(letters[*at]);
    let places = (4..letters.len().saturating_sub(2)).filter(between);
    // Best between doubled letters; worst before what belongs to the letter in front of it, as in `pr` or `th`.
    let rank = |at: usize| match (letters[at - 1], letters[at]) {
        (one, other) if one == other => 0,
        (_, 'r' | 'l' | 'h') => 2,
        _ => 1,
    };
    match places.min_by_key(|at| (rank(*at), at.abs_diff(middle))) {
        Some(at) if letters.len() >= LONG_WORD => {
            let (head, tail) = letters.split_at(at);
            head.iter().chain(&['\u{ad}']).chain(tail).collect()
        }
        _ => word.to_owned(),
    }
}

/// Acts as the value of a button. Acts always serialise; an empty value would make a dead button, not a wrong record.
pub fn json(acts: &[Act]) -> String {
    serde_json::to_string(acts).unwrap_or_default()
}

/// The two halves of a pair: the less dangerous conductor first in the left one, always.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pair {
    pub name: String,
    pub less_dangerous_first: Tile,
    pub more_dangerous_first: Tile,
}

/// The rounds table: one row a pair, one cell a round.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rounds {
    /// Counted from 1; the present one is told apart.
    pub heads: Vec<(usize, bool)>,
    pub rows: Vec<RoundsRow>,
}

/// One pair in all rounds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RoundsRow {
    pub pair: String,
    /// Shape and word; empty where nothing was tested.
    pub cells: Vec<(&'static str, &'static str)>,
}

/// The items on the table.
pub fn items(task: &Task, state: &State) -> Vec<Tile> {
    let tile = |item: &Item| {
        let taken = state.taken.contains(&item.id);
        let last = state.last_item.as_ref() == Some(&item.id);
        let word = match (taken, last) {
            (true, true) => "in hand",
            (true, false) => "taken",
            _ => "",
        };
        let tile = Tile::new(&item.label, &[Act::Picked { item: item.id.clone() }])
            .state(word)
            .marked_if(taken)
            .short(item.short.clone());
        Tile { shared: shared(&item.label, task), ..tile }
    };
    task.bay.table.iter().map(tile).collect()
}

/// Length of what stands before a label's comma, with it, where another item begins the same way.
fn shared(label: &str, task: &Task) -> usize {
    let Some(comma) = label.find(", ") else { return 0 };
    let begins = |item: &&Item| item.label.starts_with(&label[..=comma]);
    if task.bay.table.iter().filter(begins).count() > 1 { comma + 1 } else { 0 }
}

/// The devices on the board: a tap records the switch to the other position.
pub fn devices(task: &Task, state: &State) -> Vec<Tile> {
    let tile = |device: &crate::bay::Device| {
        let off = state.off.contains(&device.id);
        let to = if off { OnOff::On } else { OnOff::Off };
        let label = format!("{} {}", device.id, device.label);
        let short = device.short.as_ref().map(|short| format!("{} {short}", device.id));
        let act = Act::Switched { device: device.id.clone(), to };
        Tile::new(label, &[act]).state(if off { "OFF" } else { "ON" }).marked_if(off).short(short)
    };
    task.bay.board.devices.iter().map(tile).collect()
}

/// The wall switches of the circuit to isolate. Up and down are counted from where each was found.
pub fn switches(task: &Task, state: &State) -> Vec<Tile> {
    let Some(circuit) = task.bay.circuit(&task.bay.isolate.circuit) else { return Vec::new() };
    let tile = |switch: &crate::bay::Switch| {
        let thrown = state.thrown.get(&switch.id).copied().unwrap_or(0);
        let word = if thrown % 2 == 0 { "as found" } else { "thrown" };
        let label = format!("{} {}", switch.id, switch.label);
        Tile::new(label, &[Act::Operated { switch: switch.id.clone() }]).state(word).marked_if(thrown % 2 == 1)
    };
    circuit.switches.iter().map(tile).collect()
}

/// Pairs beyond which the rounds table is out of sight, so that the tiles carry its marks as well.
const PAIRS_BESIDE_TABLE: usize = 3;

/// Every pair of the conductors at the point of work, the most dangerous pairs last.
pub fn pairs(task: &Task, state: &State, planned: u32) -> Vec<Pair> {
    let Some(point) = task.bay.point(state.point(task)) else { return Vec::new() };
    let test = |first, second| {
        let act = Act::Tested {
            point: point.id.clone(),
            first,
            second,
            reading: Reading::None,
            order_off: OrderOff::SecondFirst,
            item: None,
        };
        Tile::new(format!("{first} then {second}"), &[act])
    };
    let rows = rounds(task, state, planned).rows;
    let many = rows.len() > PAIRS_BESIDE_TABLE;
    let pair = |([low, high], row): ([Conductor; 2], RoundsRow)| {
        let marks: Vec<_> = row.cells.iter().map(|(shape, _)| *shape).filter(|shape| !shape.is_empty()).collect();
        Pair {
            name: row.pair,
            less_dangerous_first: test(low, high).state(if many { marks.join(" ") } else { String::new() }),
            more_dangerous_first: test(high, low),
        }
    };
    crate::bay::plan::pairs(point).into_iter().zip(rows).map(pair).collect()
}

/// The rounds table of a whole log.
pub fn rounds_made(task: &Task, log: &Log, marking: &Marking) -> Rounds {
    rounds(task, &State::of(log, task), marking.plan.rounds)
}

/// What has been tested in which round.
pub fn rounds(task: &Task, state: &State, planned: u32) -> Rounds {
    let count = (planned.clamp(1, 12) as usize).max(state.round + 1);
    let heads = (0..count).map(|round| (round + 1, round == state.round)).collect();
    let Some(point) = task.bay.point(state.point(task)) else { return Rounds { heads, rows: Vec::new() } };
    let row = |[low, high]: [Conductor; 2]| {
        let of_pair =
            |test: &&Tested| (test.first, test.second) == (low, high) || (test.first, test.second) == (high, low);
        let cell = |round: usize| {
            let last = state.tests.iter().filter(of_pair).rfind(|test| test.round == round);
            last.map_or(("", "not tested"), cell_of)
        };
        RoundsRow { pair: format!("{low}–{high}"), cells: (0..count).map(cell).collect() }
    };
    Rounds { heads, rows: crate::bay::plan::pairs(point).into_iter().map(row).collect() }
}

fn cell_of(test: &Tested) -> (&'static str, &'static str) {
    if test.unsure {
        ("?", "not seen")
    } else if test.reading != Reading::None {
        ("●", "live")
    } else if test.first.danger() > test.second.danger() {
        ("▲", "other order")
    } else {
        ("✓", "dead")
    }
}

/// The acts, each in its fixed place.
pub fn acts(task: &Task, state: &State) -> Vec<Tile> {
    let isolate = &task.bay.isolate;
    let circuit = isolate.circuit.clone();
    let leave = [Act::PermissionAsked { circuit: circuit.clone() }, Act::PermissionGiven { circuit: circuit.clone() }];
    let finds = [Act::Identified { circuit: circuit.clone(), device: isolate.device.clone() }];
    vec![
        done(Tile::new("Asks leave", &leave), state, "permission"),
        done(Tile::new("Finds circuit", &finds), state, "identified"),
        looks_over(task, state),
        proves(state),
        with_item("Fits lock-off", "fitted", "take a lock-off", &state.lock_off, state, |item| Act::Fitted {
            item,
            device: state.device(task).clone(),
        }),
        with_item("Locks", "locked", "take a padlock", &state.padlock, state, |item| Act::Locked {
            item,
            device: state.device(task).clone(),
            holds: true,
        }),
        with_item("Hangs notice", "posted", "take a notice", &state.notice, state, |item| Act::Posted {
            item,
            device: state.device(task).clone(),
            filled: true,
        }),
        with_item("Key kept", "key", "take a padlock", &key_of(task, state), state, |item| Act::Key {
            item,
            place: Place::Kept,
        }),
        takes_off(state),
        opens(task, state),
        lamp(task, state),
        done(Tile::new("Touches", &[Act::Touched { point: state.point(task).clone() }]), state, "touched"),
        done(Tile::new("Declares", &[Act::Declared { circuit }]), state, "declared"),
        note(state),
    ]
}

/// Puts the minute at which an act was last seen on its tile.
fn done(tile: Tile, state: &State, kind: &str) -> Tile {
    match state.seen.get(kind) {
        Some((at_ms, 1)) => tile.state(show::clock(*at_ms)),
        Some((at_ms, times)) => tile.state(format!("×{times} {}", show::clock(*at_ms))),
        None => tile,
    }
}

fn with_item(
    label: &str,
    kind: &str,
    needs: &str,
    item: &Option<ItemId>,
    state: &State,
    act: impl Fn(ItemId) -> Act,
) -> Tile {
    match item {
        Some(item) => done(Tile::new(label, &[act(item.clone())]), state, kind),
        None => Tile::waiting(label, needs),
    }
}

/// The key of the padlock last taken.
fn key_of(task: &Task, state: &State) -> Option<ItemId> {
    match &task.bay.item(state.padlock.as_ref()?)?.thing {
        Thing::Padlock { key } => Some(key.clone()),
        _ => None,
    }
}

/// The parts that the checklist asks to be looked over; tips, guards and leads where it asks for none.
pub fn parts(task: &Task) -> Vec<Part> {
    let asked = task.checklist.criteria().find_map(|criterion| match &criterion.decided {
        Decided::Rule(Rule::IndicatorInspected { parts }) => Some(parts.clone()),
        _ => None,
    });
    asked.unwrap_or_else(|| vec![Part::Tips, Part::Guards, Part::Leads])
}

fn looks_over(task: &Task, state: &State) -> Tile {
    let Some(item) = &state.last_item else { return Tile::waiting("Looks over", "take an item") };
    done(Tile::new("Looks over", &looked_over(task, item)), state, "inspected")
}

/// The acts of looking an item over.
pub fn looked_over(task: &Task, item: &ItemId) -> Vec<Act> {
    let instrument = task.bay.item(item).is_some_and(Item::is_instrument);
    let parts = if instrument { parts(task) } else { vec![Part::Fit] };
    parts.into_iter().map(|part| Act::Inspected { item: item.clone(), part }).collect()
}

fn proves(state: &State) -> Tile {
    with_item("Proves", "proved", "take an indicator", &state.instrument, state, |item| Act::Proved {
        item,
        on: ProvedOn::ProvingUnit,
        shows: Shows::All,
    })
}

/// Takes off what was put on last.
fn takes_off(state: &State) -> Tile {
    let Some((item, device)) = state.on.last().cloned() else { return Tile::waiting("Takes off", "nothing on yet") };
    done(Tile::new("Takes off", &[Act::Removed { item, device }]), state, "removed")
}

fn opens(task: &Task, state: &State) -> Tile {
    match &state.open {
        Some(point) => Tile::new("Closes point", &[Act::Closed { point: point.clone() }]).state("open").marked_if(true),
        None => Tile::new("Opens point", &[Act::Opened { point: task.bay.isolate.point.clone() }]).state("closed"),
    }
}

fn lamp(task: &Task, state: &State) -> Tile {
    let point = state.point(task);
    if !task.bay.point(point).is_some_and(|point| point.lamp) {
        return Tile::waiting("Lamp out", "no lamp here");
    }
    let point = point.clone();
    if state.lamp_out.contains(&point) {
        Tile::new("Lamp in", &[Act::LampIn { point }]).state("out").marked_if(true)
    } else {
        Tile::new("Lamp out", &[Act::LampOut { point }]).state("in")
    }
}

/// A note is stamped now and put into words afterwards, by a chip.
fn note(state: &State) -> Tile {
    let acts: Vec<_> = super::chips::remark(super::chips::NO_WORDS_YET).into_iter().collect();
    done(Tile::new("Note", &acts), state, "remark")
}

#[cfg(test)]
#[path = "tiles_tests.rs"]
mod tests;
