//! Proving dead at the point of work: pairs, order, care at the point, and what a live reading demands.

pub(super) mod rounds;

use super::words::{listed, pair_name};
use crate::bay::{Conductor, PointId};
use crate::marking::answer::Answer;
use crate::marking::known::{Known, Pos, Test};
use crate::marking::observation::{Act, OnOff, OrderOff, ProvedOn, Reading, Shows};

/// The pairs that none of `tests` is of.
fn untested<'t, 'a: 't>(pairs: &[[Conductor; 2]], tests: impl Iterator<Item = &'t Test<'a>>) -> Vec<[Conductor; 2]> {
    let mut left = pairs.to_vec();
    for test in tests {
        left.retain(|&pair| !test.is_of(pair));
    }
    left
}

fn pair_names(pairs: &[[Conductor; 2]]) -> String {
    listed(&pairs.iter().map(|&pair| pair_name(pair)).collect::<Vec<_>>())
}

/// Every pair of the conductors at the point was tested at least once.
///
/// Source: n(n−1)/2 pairs by counting (trade fact C01); steps of GB guidance (B09, read second-hand).
pub(super) fn all_pairs_tested(known: &Known) -> Answer {
    let pairs = known.pairs();
    let left = untested(&pairs, known.tests_at_point());
    if !left.is_empty() {
        return Answer::owed(format!("Testing {} at the point was not recorded.", pair_names(&left)));
    }
    let first_of = |pair: &[Conductor; 2]| known.tests_at_point().find(|test| test.is_of(*pair)).map(|test| test.pos);
    let because: Vec<Pos> = pairs.iter().filter_map(first_of).collect();
    let done = because.iter().max().map(|&pos| known.minute(pos)).unwrap_or_default();
    Answer::met(because, format!("Tested all {} pairs by {done}.", pairs.len()))
}

/// In every test the less dangerous conductor went on first and came off last: E before N before a line. Lines among
/// themselves are equal.
///
/// Source: earth first so that the free probe cannot become live (trade facts B17 and C14, read second-hand).
pub(super) fn less_dangerous_first(known: &Known) -> Answer {
    if known.tests.is_empty() {
        return Answer::owed("Not recorded: no test was made.");
    }
    let is_wrong = |test: &&Test| {
        let (first, second) = (test.first.danger(), test.second.danger());
        first > second || (first < second && test.order_off == OrderOff::FirstFirst)
    };
    let wrong: Vec<&Test> = known.tests.iter().filter(is_wrong).collect();
    match wrong.first() {
        None => Answer::met(
            known.tests.iter().map(|test| test.pos).collect::<Vec<_>>(),
            "Put the less dangerous conductor on first and took it off last in every test.",
        ),
        Some(test) => {
            let at = known.minute(test.pos);
            let how = if test.first.danger() > test.second.danger() {
                format!("{} went on before {}", test.first, test.second)
            } else {
                format!("{} came off before {}", test.first, test.second)
            };
            let because: Vec<Pos> = wrong.iter().map(|test| test.pos).collect();
            let tests = if because.len() == 1 { "1 test".to_owned() } else { format!("{} tests", because.len()) };
            Answer::not_met(because, format!("At {at}, {how}; {tests} in the wrong order."))
        }
    }
}

/// The point was closed before each switch was thrown. A throw before the point was ever opened asks for nothing.
///
/// Source: common practice, no source.
pub(super) fn point_closed_between_rounds(known: &Known) -> Answer {
    if known.circuit().is_none_or(|circuit| circuit.switches.is_empty()) {
        return Answer::not_applicable("The circuit has no switches to walk to.");
    }
    if known.tests_at_point().next().is_none() {
        return Answer::owed("Not recorded: no test was made.");
    }
    if let Some((throw, opened)) = known.throws.iter().find_map(|throw| Some((throw, throw.open_since?))) {
        let switch = known.name_switch(throw.switch);
        let says =
            format!("Closing the point before throwing {switch} at {} was not recorded.", known.minute(throw.pos));
        let (from, until) = (known.at(opened), Some(known.at(throw.pos)));
        return Answer::Absent { because: vec![throw.pos], from, until, says };
    }
    let closed = known.all(|act| matches!(act, Act::Closed { .. }));
    Answer::met(closed, "Closed the point before each switch was thrown.")
}

/// The lamp was out before the first test at the point; not applicable where the point has no lamp.
///
/// Source: a lamp left in ties switched line to neutral and hides a live line from that pair (circuit law; trade matrix).
pub(super) fn lamp_out_before_testing(known: &Known) -> Answer {
    if known.point().is_none_or(|point| !point.lamp) {
        return Answer::not_applicable("There is no lamp to take out.");
    }
    let point = &known.task.bay.isolate.point;
    let first = known.tests_at_point().next().map(|test| test.pos);
    let moved = known.all(|act| matches!(act, Act::LampOut { point: at } | Act::LampIn { point: at } if at == point));
    let last = moved.into_iter().rfind(|&pos| first.is_none_or(|first| pos < first));
    let out = last.filter(|&pos| matches!(known.acts[pos].act, Act::LampOut { .. }));
    match (out, first) {
        (Some(pos), Some(_)) => {
            Answer::met([pos], format!("Took the lamp out at {}, before testing.", known.minute(pos)))
        }
        (Some(pos), None) if known.running => Answer::met([pos], "The lamp is out; no test yet."),
        (_, None) => Answer::owed("Not recorded: no test was made with the lamp out."),
        (None, Some(first)) => Answer::Absent {
            because: vec![first],
            from: known.span.0,
            until: Some(known.at(first)),
            says: "Taking the lamp out before the first test was not recorded.".into(),
        },
    }
}

/// After a live or tripped reading at the point nothing was declared, unless something was switched off in between and
/// every pair tested again.
///
/// Source: an unexpected indication is treated as live (trade facts A16 and A30, read second-hand).
pub(super) fn live_reading_heeded(known: &Known) -> Answer {
    let pairs = known.pairs();
    let mut live: Option<Pos> = None;
    // The pairs to test afresh, once something was switched off after the live reading.
    let mut left: Option<Vec<[Conductor; 2]>> = None;
    for (pos, seen) in known.acts.iter().enumerate() {
        match &seen.act {
            Act::Tested { point, reading, .. } if is_at_point(known, point) && *reading != Reading::None => {
                (live, left) = (Some(pos), None);
            }
            Act::Tested { point, first, second, .. } if is_at_point(known, point) => {
                strike_off(&mut left, *first, *second)
            }
            Act::Switched { to: OnOff::Off, .. } if live.is_some() => left = left.or_else(|| Some(pairs.clone())),
            Act::Declared { .. } if left.as_ref().is_none_or(|left| !left.is_empty()) => {
                let Some(live) = live else { continue };
                let (at, declared) = (known.minute(live), known.minute(pos));
                let says = format!(
                    "Declared it dead at {declared} after a live reading at {at}, not isolated and tested afresh."
                );
                return Answer::not_met([live, pos], says);
            }
            _ => {}
        }
    }
    match live {
        None => Answer::met([], "No reading was live."),
        Some(live) => Answer::met([live], format!("Heeded the live reading at {}.", known.minute(live))),
    }
}

fn is_at_point(known: &Known, point: &PointId) -> bool {
    *point == known.task.bay.isolate.point
}

fn strike_off(left: &mut Option<Vec<[Conductor; 2]>>, first: Conductor, second: Conductor) {
    if let Some(left) = left {
        left.retain(|pair| *pair != [first, second] && *pair != [second, first]);
    }
}

/// No conductor was touched before every pair at the point had been tested and the indicator proved again, with the
/// named device off.
///
/// Source: EAWR 1989 regulation 14 (trade fact B05, from memory); parts not secured count as live (B31, read).
pub(super) fn no_touch_before_proof(known: &Known) -> Answer {
    let mut left = Some(known.pairs());
    let mut proved = false;
    let (mut early, mut safe) = (Vec::new(), Vec::new());
    for (pos, seen) in known.acts.iter().enumerate() {
        match &seen.act {
            Act::Tested { point, first, second, .. } if is_at_point(known, point) => {
                strike_off(&mut left, *first, *second);
                proved = false;
            }
            Act::Proved { on: ProvedOn::ProvingUnit | ProvedOn::KnownLive, shows, .. } => proved = *shows == Shows::All,
            Act::Touched { point } => {
                let all_tested = left.as_ref().is_some_and(Vec::is_empty);
                let is_safe = is_at_point(known, point) && all_tested && proved && known.guard_before(pos).off;
                if is_safe { safe.push(pos) } else { early.push(pos) }
            }
            _ => {}
        }
    }
    match early.first() {
        Some(&pos) => {
            let says = format!("Touched a conductor at {}, before it was proved dead.", known.minute(pos));
            Answer::not_met(early, says)
        }
        None if safe.is_empty() => Answer::met([], "Touched no conductor."),
        None => Answer::met(safe, "Touched conductors only after they were proved dead."),
    }
}
