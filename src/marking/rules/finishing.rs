//! Finishing: the declaration, the time, help given, and judgements by eye.

use crate::marking::answer::Answer;
use crate::marking::known::{Known, Pos, minute};
use crate::marking::observation::Act;
use crate::marking::{Criterion, Outcome};

/// The right circuit was declared isolated, after the last test and the last proof.
///
/// Source: common practice, no source.
pub(super) fn declared_last(known: &Known) -> Answer {
    let declared = known.all(|act| matches!(act, Act::Declared { .. }));
    let Some(&last) = declared.last() else {
        return Answer::owed("Declaring the circuit isolated was not recorded.");
    };
    if !matches!(&known.acts[last].act, Act::Declared { circuit } if *circuit == known.task.bay.isolate.circuit) {
        return Answer::not_met([last], format!("Declared another circuit at {}.", known.minute(last)));
    }
    let tests = known.tests.iter().map(|test| test.pos);
    let later = tests.chain(known.proofs.iter().map(|proof| proof.pos)).find(|&pos| pos > last);
    match later {
        Some(pos) => {
            let says = format!("Declared at {}, but went on testing at {}.", known.minute(last), known.minute(pos));
            Answer::not_met([last, pos], says)
        }
        None => Answer::met([last], format!("Declared it at {}, when all was done.", known.minute(last))),
    }
}

/// The attempt ended within the minutes allowed, pauses left out and adjustments counted in.
///
/// Source: kinds of clock stop are common practice (trade fact E16).
pub(super) fn within_time(known: &Known) -> Answer {
    let allowed = known.task.allowed_ms();
    let ended = known.all(|act| matches!(act, Act::Ended { .. }));
    let (took, allows) = (minute(known.elapsed_ms), minute(allowed));
    if known.elapsed_ms > allowed {
        return Answer::not_met(ended, format!("Took {took} of the {allows} allowed."));
    }
    let so_far = if known.running { " so far" } else { "" };
    Answer::met(ended, format!("Took {took} of the {allows} allowed{so_far}."))
}

/// The assessor never gave help. Source: common practice, no source.
pub(super) fn never_prompted(known: &Known) -> Answer {
    never_by(known, known.all(|act| matches!(act, Act::Prompted { .. })), "Needed no help.", "Was given help")
}

/// The assessor never had to stop something unsafe. Source: common practice, no source.
pub(super) fn never_stepped_in(known: &Known) -> Answer {
    let stepped = known.all(|act| matches!(act, Act::SteppedIn { .. }));
    never_by(known, stepped, "Never had to be stopped.", "Had to be stopped")
}

fn never_by(known: &Known, seen: Vec<Pos>, never: &str, did: &str) -> Answer {
    match seen.first() {
        None => Answer::met([], never),
        Some(&pos) => Answer::not_met(seen, format!("{did} at {}.", known.minute(pos))),
    }
}

/// What the assessor ticked; the later tick counts.
pub(super) fn by_eye(criterion: &Criterion, known: &Known) -> Answer {
    let ticks = known.all(|act| matches!(act, Act::Ticked { criterion: ticked, .. } if *ticked == criterion.id));
    match ticks.last().map(|&pos| (pos, &known.acts[pos].act)) {
        Some((pos, Act::Ticked { outcome: Outcome::Met, .. })) => Answer::met([pos], "Judged by eye: met."),
        Some((pos, Act::Ticked { outcome: Outcome::NotMet, .. })) => Answer::not_met([pos], "Judged by eye: not met."),
        Some((_, Act::Ticked { .. })) => Answer::not_applicable("Judged by eye: not applicable."),
        _ => Answer::Unjudged { says: "Not judged by eye yet.".into() },
    }
}
