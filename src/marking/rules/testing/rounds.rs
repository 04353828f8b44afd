//! Repeating the pair tests at different settings of the switches.

use super::{pair_names, untested};
use crate::bay::plan::{self, Rounds};
use crate::bay::{Conductor, SwitchId};
use crate::marking::answer::Answer;
use crate::marking::known::{Known, Pos, Test};

/// The tests made between two throws of the circuit's switches.
struct Round<'k, 'a> {
    /// The throw that began it; none for the round before the first throw.
    throw: Option<(Pos, &'a SwitchId)>,
    tests: Vec<&'k Test<'a>>,
    /// Which switches stand otherwise than at the first test: one bit each, in the order of the circuit.
    setting: u64,
}

impl Round<'_, '_> {
    fn left(&self, pairs: &[[Conductor; 2]]) -> Vec<[Conductor; 2]> {
        untested(pairs, self.tests.iter().copied())
    }
}

/// Every pair was tested in every round asked for. Throws before the first test only set how the switches stand.
///
/// - `each_switch`: every pair before the first throw, and again after some throw of each switch, before the next throw;
/// - `minimum`: every pair before the first throw and again after some throw (once, where the permanent line reaches the
///   point);
/// - `every_setting`: every pair at each of the 2ⁿ settings.
///
/// Not applicable to a circuit without switches. Source: truth tables of two-way and intermediate switching (trade facts,
/// computed); the repetition itself is common practice.
pub(in crate::marking::rules) fn all_rounds_tested(known: &Known, rounds: Rounds) -> Answer {
    let (Some(circuit), Some(point)) = (known.circuit(), known.point()) else {
        return Answer::not_applicable("There is no point to test.");
    };
    if circuit.switches.is_empty() {
        return Answer::not_applicable("The circuit has no switches to throw.");
    }
    let pairs = known.pairs();
    let made = rounds_made(known);
    let wanted = plan::round_count(circuit, point, rounds);
    let missing = match rounds {
        Rounds::EverySetting => every_setting(&made, &pairs, wanted),
        _ => first_round(known, &made, &pairs).or_else(|| match rounds {
            Rounds::Minimum => (wanted > 1 && !made.iter().skip(1).any(|round| round.left(&pairs).is_empty()))
                .then(|| Answer::owed("Testing every pair again after throwing a switch was not recorded.")),
            _ => each_switch(known, &made, &pairs),
        }),
    };
    missing.unwrap_or_else(|| {
        let tests: Vec<Pos> = made.iter().flat_map(|round| round.tests.iter().map(|test| test.pos)).collect();
        Answer::met(tests, format!("Tested every pair in each of the {wanted} rounds asked for."))
    })
}

fn rounds_made<'k, 'a>(known: &'k Known<'a>) -> Vec<Round<'k, 'a>> {
    let switches: Vec<&SwitchId> = known.circuit().into_iter().flat_map(|c| c.switches.iter().map(|s| &s.id)).collect();
    let Some(first) = known.tests_at_point().next().map(|test| test.pos) else { return Vec::new() };
    let mut made = vec![Round { throw: None, tests: Vec::new(), setting: 0 }];
    let mut setting = 0u64;
    let mut throws = known.throws.iter().filter(|throw| throw.pos > first).peekable();
    for test in known.tests_at_point() {
        while let Some(throw) = throws.next_if(|throw| throw.pos < test.pos) {
            setting = thrown(setting, &switches, throw.switch);
            made.push(Round { throw: Some((throw.pos, throw.switch)), tests: Vec::new(), setting });
        }
        if let Some(round) = made.last_mut() {
            round.tests.push(test);
        }
    }
    for throw in throws {
        setting = thrown(setting, &switches, throw.switch);
        made.push(Round { throw: Some((throw.pos, throw.switch)), tests: Vec::new(), setting });
    }
    made
}

fn thrown(setting: u64, switches: &[&SwitchId], switch: &SwitchId) -> u64 {
    let bit = switches.iter().position(|there| *there == switch).and_then(|at| 1u64.checked_shl(at as u32));
    setting ^ bit.unwrap_or(0)
}

/// What is missing from the round before the first throw; it cannot be made good once a switch is thrown.
fn first_round(known: &Known, made: &[Round], pairs: &[[Conductor; 2]]) -> Option<Answer> {
    let left = made.first().map_or_else(|| pairs.to_vec(), |round| round.left(pairs));
    if left.is_empty() {
        return None;
    }
    let says = format!("Testing {} before the first switch was thrown was not recorded.", pair_names(&left));
    let next = made.get(1).and_then(|round| round.throw).map(|(pos, _)| pos);
    let because = next.into_iter().collect();
    Some(Answer::Absent { because, from: known.span.0, until: next.map(|pos| known.at(pos)), says })
}

fn each_switch(known: &Known, made: &[Round], pairs: &[[Conductor; 2]]) -> Option<Answer> {
    let is_done = |id: &SwitchId| {
        made.iter().any(|round| round.throw.is_some_and(|(_, thrown)| thrown == id) && round.left(pairs).is_empty())
    };
    let switches = known.circuit().into_iter().flat_map(|circuit| &circuit.switches);
    let missing: Vec<String> =
        switches.filter(|switch| !is_done(&switch.id)).map(|switch| known.name_switch(&switch.id)).collect();
    (!missing.is_empty()).then(|| {
        Answer::owed(format!("Testing every pair after throwing {} was not recorded.", super::listed(&missing)))
    })
}

fn every_setting(made: &[Round], pairs: &[[Conductor; 2]], wanted: u32) -> Option<Answer> {
    let mut settings: Vec<u64> =
        made.iter().filter(|round| round.left(pairs).is_empty()).map(|round| round.setting).collect();
    settings.sort_unstable();
    settings.dedup();
    (settings.len() < wanted as usize).then(|| {
        Answer::owed(format!(
            "Testing every pair at {} of {wanted} settings was not recorded.",
            wanted as usize - settings.len()
        ))
    })
}
