//! The indicator: whether it is fit for proving dead, looked over, and proved before and after.

use super::words::listed;
use crate::bay::{ItemId, ItemKind};
use crate::marking::answer::Answer;
use crate::marking::known::{Known, Pos, Proof, Test};
use crate::marking::observation::{Act, Part, ProvedOn, Shows};
use crate::marking::suits::unfit;

/// An instrument with its first and last test.
struct Used<'a> {
    item: &'a ItemId,
    first: Pos,
    last: Pos,
}

/// The instruments that tests were made with, in order of first use; and a test of which the instrument is unknown.
fn used<'k, 'a>(known: &'k Known<'a>) -> (Vec<Used<'a>>, Option<&'k Test<'a>>) {
    let mut used: Vec<Used> = Vec::new();
    let mut unknown = None;
    for test in &known.tests {
        match test.item {
            None => unknown = unknown.or(Some(test)),
            Some(item) => match used.iter_mut().find(|there| there.item == item) {
                Some(there) => there.last = test.pos,
                None => used.push(Used { item, first: test.pos, last: test.pos }),
            },
        }
    }
    (used, unknown)
}

/// With no test made there is nothing to judge an indicator by.
fn no_test() -> Answer {
    Answer::owed("Not recorded: no test was made.")
}

/// Which instrument a test was made with was not recorded.
fn unknown_instrument(known: &Known, test: &Test) -> Answer {
    let says = format!("Which indicator made the test at {} was not recorded.", known.minute(test.pos));
    Answer::Absent { because: vec![test.pos], from: known.span.0, until: Some(known.at(test.pos)), says }
}

/// Every test was made with an instrument of an accepted kind: tips within the limit, finger guards, sound leads, fused
/// or current-limited, in date, rated for the supply.
///
/// Source: HSE GS38 4th edition (2015) paragraph 9, at most 4 mm of bare tip (trade facts A01, A04, A05, A08, A28;
/// kinds not accepted A18, A21, A22). Advice of 2 mm (A02) is never a fail.
pub(super) fn indicator_suitable(known: &Known, accepts: &[ItemKind], max_tip_mm: f64) -> Answer {
    let (used, unknown) = used(known);
    if let Some(test) = unknown {
        return unknown_instrument(known, test);
    }
    if used.is_empty() {
        return no_test();
    }
    for one in &used {
        let faults = unsuitable(known, one.item, accepts, max_tip_mm);
        if !faults.is_empty() {
            let (name, at) = (known.name_item(one.item), known.minute(one.first));
            let because: Vec<Pos> = tests_with(known, one.item);
            return Answer::not_met(because, format!("Tested with “{name}” from {at}: {}.", listed(&faults)));
        }
    }
    let names: Vec<String> = used.iter().map(|one| format!("“{}”", known.name_item(one.item))).collect();
    Answer::met(
        used.iter().map(|one| one.first).collect::<Vec<_>>(),
        format!("Tested with {}, which is fit for it.", listed(&names)),
    )
}

fn tests_with(known: &Known, item: &ItemId) -> Vec<Pos> {
    known.tests.iter().filter(|test| test.item == Some(item)).map(|test| test.pos).collect()
}

fn unsuitable(known: &Known, id: &ItemId, accepts: &[ItemKind], max_tip_mm: f64) -> Vec<String> {
    let bay = &known.task.bay;
    bay.item(id).map_or_else(|| vec!["not on the table".into()], |item| unfit(bay, item, accepts, max_tip_mm))
}

/// The parts asked for were looked over, on each instrument used, before its first test.
///
/// Source: HSE GS38 (trade facts A04, A05); look over before use, 29 CFR 1910.334(c)(2) (A27, read).
pub(super) fn indicator_inspected(known: &Known, parts: &[Part]) -> Answer {
    let (used, unknown) = used(known);
    if let Some(test) = unknown {
        return unknown_instrument(known, test);
    }
    if used.is_empty() {
        return ready_or_owed(known, |item| looked_over(known, item, parts, known.acts.len()));
    }
    let mut because = Vec::new();
    for one in &used {
        match looked_over(known, one.item, parts, one.first) {
            Ok(acts) => because.extend(acts),
            Err(missing) => return absent_by(known, one.first, missing),
        }
    }
    Answer::met(because, "Looked the indicator over before the first test.")
}

fn looked_over(known: &Known, wanted: &ItemId, parts: &[Part], before: Pos) -> Result<Vec<Pos>, String> {
    let inspected = known.all(|act| matches!(act, Act::Inspected { item, .. } if item == wanted));
    let at = |part: Part| {
        inspected.iter().copied().find(|&pos| {
            pos < before && matches!(known.acts[pos].act, Act::Inspected { part: seen, .. } if seen == part)
        })
    };
    let missing: Vec<String> =
        parts.iter().filter(|part| at(**part).is_none()).map(|part| part.word().to_owned()).collect();
    if missing.is_empty() {
        return Ok(parts.iter().filter_map(|part| at(*part)).collect());
    }
    Err(format!(
        "Looking over {} of “{}” before the first test was not recorded.",
        listed(&missing),
        known.name_item(wanted)
    ))
}

/// What had to be done before the test at `first` and was not.
fn absent_by(known: &Known, first: Pos, says: String) -> Answer {
    Answer::Absent { because: vec![first], from: known.span.0, until: Some(known.at(first)), says }
}

/// Before any test: met for now where the instrument in hand is ready, else owed. An ended log without a test is not met.
fn ready_or_owed(known: &Known, ready: impl Fn(&ItemId) -> Result<Vec<Pos>, String>) -> Answer {
    let picked = known.all(
        |act| matches!(act, Act::Picked { item } if known.task.bay.item(item).is_some_and(|item| item.is_instrument())),
    );
    let in_hand = picked.last().and_then(|&pos| match &known.acts[pos].act {
        Act::Picked { item } => Some(item),
        _ => None,
    });
    match in_hand.filter(|_| known.running).map(ready) {
        Some(Ok(because)) => Answer::met(because, "Done for the indicator in hand; no test yet."),
        Some(Err(says)) => Answer::owed(says),
        None => no_test(),
    }
}

/// Each instrument used proved good, showing all it should on an accepted source, before its first test. The latest such
/// trial before the test counts; a self-test exercises neither leads nor measuring path and is not accepted by default.
///
/// Source: HSE GS38 (trade facts B09, A19, A26, read second-hand).
pub(super) fn proved_before_testing(known: &Known, accepts: &[ProvedOn]) -> Answer {
    let (used, unknown) = used(known);
    if let Some(test) = unknown {
        return unknown_instrument(known, test);
    }
    if used.is_empty() {
        return ready_or_owed(known, |item| proved(known, item, accepts, 0..known.acts.len(), "before the first test"));
    }
    let mut because = Vec::new();
    for one in &used {
        match proved(known, one.item, accepts, 0..one.first, "before the first test") {
            Ok(proof) => because.extend(proof),
            Err(says) => return failed_or_absent(known, one.item, accepts, 0..one.first, says, Some(one.first)),
        }
    }
    Answer::met(
        because.clone(),
        format!("Proved the indicator at {}, before the first test.", minutes(known, &because)),
    )
}

/// Each instrument used proved good again after its last test.
///
/// Source: HSE GS38 (trade facts B09, B27, B49); required by law in the US only above 600 V,
/// 29 CFR 1910.333(b)(2)(iv)(B) (B39, read); guidance asks for it always, and so does this rule.
pub(super) fn proved_after_testing(known: &Known, accepts: &[ProvedOn]) -> Answer {
    let (used, unknown) = used(known);
    if let Some(test) = unknown {
        return unknown_instrument(known, test);
    }
    if used.is_empty() {
        return no_test();
    }
    let end = known.acts.len();
    let mut because = Vec::new();
    for one in &used {
        match proved(known, one.item, accepts, one.last..end, "after the last test") {
            Ok(proof) => because.extend(proof),
            Err(says) => return failed_or_absent(known, one.item, accepts, one.last..end, says, None),
        }
    }
    Answer::met(
        because.clone(),
        format!("Proved the same indicator at {}, after the last test.", minutes(known, &because)),
    )
}

fn minutes(known: &Known, because: &[Pos]) -> String {
    listed(&because.iter().map(|&pos| known.minute(pos)).collect::<Vec<_>>())
}

fn last_trial<'k, 'a>(
    known: &'k Known<'a>,
    item: &ItemId,
    accepts: &[ProvedOn],
    within: std::ops::Range<Pos>,
) -> Option<&'k Proof<'a>> {
    known.proofs.iter().rfind(|proof| proof.item == item && accepts.contains(&proof.on) && within.contains(&proof.pos))
}

fn proved(
    known: &Known,
    item: &ItemId,
    accepts: &[ProvedOn],
    within: std::ops::Range<Pos>,
    when: &str,
) -> Result<Vec<Pos>, String> {
    match last_trial(known, item, accepts, within) {
        Some(proof) if proof.shows == Shows::All => Ok(vec![proof.pos]),
        Some(proof) => Err(format!("Tried at {}, the indicator did not show all it should.", known.minute(proof.pos))),
        None => Err(format!("Proving “{}” {when} was not recorded.", known.name_item(item))),
    }
}

/// A trial that failed is a fault that was seen; no trial is an absence, closed by the test at `first` if there is one.
fn failed_or_absent(
    known: &Known,
    item: &ItemId,
    accepts: &[ProvedOn],
    within: std::ops::Range<Pos>,
    says: String,
    first: Option<Pos>,
) -> Answer {
    let from = if first.is_some() { known.span.0 } else { known.at(within.start) };
    match last_trial(known, item, accepts, within.clone()) {
        Some(proof) => Answer::not_met([proof.pos], says),
        None => {
            let because = vec![first.unwrap_or(within.start)];
            Answer::Absent { because, from, until: first.map(|pos| known.at(pos)), says }
        }
    }
}
