//! The fixed texts that a candidate reads, in one place. Plain words: a sentence holds 15 words on average and 25 at
//! most; the tests at the end hold that.

use crate::marking::{Decided, Rule, VerdictOutcome};

/// How it came out, said plainly and first.
pub fn outcome(outcome: VerdictOutcome) -> &'static str {
    match outcome {
        VerdictOutcome::Pass => "You passed.",
        VerdictOutcome::Fail | VerdictOutcome::AutomaticFail => "You did not pass this time.",
        VerdictOutcome::Unfinished => "Your attempt was not finished.",
    }
}

/// How it came out, for the result sheet.
pub fn outcome_for_sheet(outcome: VerdictOutcome) -> &'static str {
    match outcome {
        VerdictOutcome::Pass => "The candidate passed.",
        VerdictOutcome::Fail => "The candidate did not pass.",
        VerdictOutcome::AutomaticFail => "The candidate did not pass: an automatic fail stands.",
        VerdictOutcome::Unfinished => "The attempt was not finished.",
    }
}

/// What happens next.
pub fn what_next(outcome: VerdictOutcome) -> &'static str {
    match outcome {
        VerdictOutcome::Pass => "Your centre keeps this result. You do not have to do anything more.",
        VerdictOutcome::Fail | VerdictOutcome::AutomaticFail => {
            "You can try again. Work on the points below first, then ask your centre for a new date."
        }
        VerdictOutcome::Unfinished => "Ask your centre for a new date. What you did so far is listed below.",
    }
}

/// How to ask for a review.
pub const REVIEW: &str = "Do you think that something here is wrong? You may ask for a review. Tell your centre which \
     point you mean and why. Give them the code below. Somebody else will look at the record and answer you.";

/// What this page is not.
pub const CAUTION: &str = "This is feedback on training. It is not a permit to work. At work, follow the local rules \
     and ask a competent person.";

/// Why a criterion matters and the one act to do next time.
pub struct Advice {
    pub why: &'static str,
    pub next: &'static str,
}

const fn advice(why: &'static str, next: &'static str) -> Advice {
    Advice { why, next }
}

/// The advice on a criterion that is not met.
pub fn advice_on(decided: &Decided) -> Advice {
    match decided {
        Decided::ByEye => advice(
            "Your assessor saw this and judged it by eye.",
            "Ask your assessor to show you what they would like to see.",
        ),
        Decided::Rule(rule) => before_work(rule)
            .or_else(|| on_securing(rule))
            .or_else(|| on_equipment(rule))
            .or_else(|| on_testing(rule))
            .unwrap_or(advice(
                "Your centre asks for this in this task.",
                "Read the point again, then do it in that order.",
            )),
    }
}

fn before_work(rule: &Rule) -> Option<Advice> {
    Some(match rule {
        Rule::CircuitIdentified => advice(
            "If you turn off the wrong circuit, the one you work on stays live.",
            "Point to the circuit and its device on the board before you touch a switch.",
        ),
        Rule::SourcesListed => advice(
            "A point can be fed from more than one place. One that you forget can keep it live.",
            "Name each supply out loud before you turn anything off.",
        ),
        Rule::PermissionBeforeSwitching => advice(
            "Other people may need that supply. They can be hurt when it goes off without a word.",
            "Ask the person in charge and wait for the answer before you turn anything off.",
        ),
        Rule::LoadRemovedFirst => {
            advice("A device that breaks a load can arc.", "Turn the load off first, then the device.")
        }
        Rule::OnlyNamedDeviceSwitched => advice(
            "Each device feeds somebody. The wrong one can stop a pump or an alarm.",
            "Read the label, put a finger on it, read it again, then turn it off.",
        ),
        _ => return None,
    })
}

fn on_securing(rule: &Rule) -> Option<Advice> {
    Some(match rule {
        Rule::LockOffFits => advice(
            "A lock-off that does not fit can slip, and then the device can be turned on.",
            "Try the lock-off on the device and pull at it before you lock it.",
        ),
        Rule::LockedAndTried => {
            advice("A padlock that is not closed holds nothing.", "Close the padlock, then pull at it once.")
        }
        Rule::KeyKept => advice(
            "Whoever has the key can turn the supply on while your hands are in there.",
            "Put the key in your pocket as soon as the padlock is closed. Leave it there.",
        ),
        Rule::NoticePosted { .. } => advice(
            "A notice tells others that you are at work, and who you are.",
            "Fill in the notice and hang it on the device before you walk away.",
        ),
        Rule::SecuredBeforeTesting => advice(
            "While you test, somebody could turn the supply on again.",
            "Turn off, fit the lock-off and lock it. Only then start to test.",
        ),
        Rule::NothingRemovedEarly => advice(
            "Once the lock is off, anybody can turn the supply on.",
            "Leave lock and notice in place until you have handed over.",
        ),
        Rule::ControlsTried => advice(
            "If it still starts, you have turned off the wrong thing.",
            "Try to start it after you have locked it off.",
        ),
        _ => return None,
    })
}

fn on_equipment(rule: &Rule) -> Option<Advice> {
    Some(match rule {
        Rule::IndicatorSuitable { .. } => advice(
            "Long tips can bridge two parts. Bad leads or a worn meter can show nothing on a live part.",
            "Pick a two-pole indicator with short tips, guards and sound leads. Check its date.",
        ),
        Rule::IndicatorInspected { .. } => advice(
            "A nick in a lead or a loose guard can hurt you before you notice it.",
            "Look at tips, guards and leads each time you pick up an indicator.",
        ),
        Rule::ProvedBeforeTesting { .. } => advice(
            "An indicator that does not work shows nothing, and so does a dead circuit.",
            "Prove the indicator on a proving unit just before the first test.",
        ),
        Rule::ProvedAfterTesting { .. } => advice(
            "It could have stopped working while you tested. Then your tests would mean nothing.",
            "Prove the same indicator again straight after the last test.",
        ),
        _ => return None,
    })
}

fn on_testing(rule: &Rule) -> Option<Advice> {
    Some(match rule {
        Rule::AllPairsTested => advice(
            "One live wire shows only in the tests that it is part of.",
            "Say the pairs out loud as you test, and count them.",
        ),
        Rule::AllRoundsTested { .. } => advice(
            "A switch can hide a live wire. Throw it and the wire is live again.",
            "Throw one switch, then test each pair again. Do that for each switch.",
        ),
        Rule::LessDangerousFirst => advice(
            "If the live wire comes first, the other tip can be live in your hand.",
            "Put the tip on earth first, then on neutral, then on the line. Take them off the other way round.",
        ),
        Rule::PointClosedBetweenRounds => advice(
            "Somebody can touch an open point while you are away from it.",
            "Close the point before you walk to a switch.",
        ),
        Rule::LampOutBeforeTesting => advice(
            "A lamp joins two wires, so your test may not show what you think.",
            "Take the lamp out before the first test.",
        ),
        Rule::LiveReadingHeeded => advice(
            "A live reading means that it is live, even if you did not expect it.",
            "Stop. Find out what feeds it, turn that off, and test each pair again.",
        ),
        Rule::NoTouchBeforeProof => advice(
            "Until the tests are done you do not know that a wire is dead.",
            "Keep your hands off each wire until you have proved the indicator again.",
        ),
        Rule::DeclaredLast => advice(
            "Others start work when you say so. Your word must come last.",
            "Say that it is dead only after the last test and the last proof.",
        ),
        Rule::WithinTime => advice(
            "The time is part of the task.",
            "Practise the steps until you do not have to think about what comes next.",
        ),
        Rule::NeverPrompted => {
            advice("At work there may be nobody who can help you.", "Practise the steps until you can do them alone.")
        }
        Rule::NeverSteppedIn => advice(
            "Your assessor had to stop you so that nobody was hurt.",
            "Ask your assessor what they saw. Do that step slowly the next time.",
        ),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::marking::Rounds;

    fn rules() -> Vec<Rule> {
        use Rule::*;
        vec![
            CircuitIdentified,
            SourcesListed,
            PermissionBeforeSwitching,
            LoadRemovedFirst,
            OnlyNamedDeviceSwitched,
            LockOffFits,
            LockedAndTried,
            KeyKept,
            NoticePosted { filled: true },
            SecuredBeforeTesting,
            NothingRemovedEarly,
            ControlsTried,
            IndicatorSuitable { accepts: vec![], max_tip_mm: 4.0 },
            IndicatorInspected { parts: vec![] },
            ProvedBeforeTesting { accepts: vec![] },
            ProvedAfterTesting { accepts: vec![] },
            AllPairsTested,
            AllRoundsTested { rounds: Rounds::EachSwitch },
            LessDangerousFirst,
            PointClosedBetweenRounds,
            LampOutBeforeTesting,
            LiveReadingHeeded,
            NoTouchBeforeProof,
            DeclaredLast,
            WithinTime,
            NeverPrompted,
            NeverSteppedIn,
        ]
    }

    fn plain() -> Vec<&'static str> {
        let outcomes =
            [VerdictOutcome::Pass, VerdictOutcome::Fail, VerdictOutcome::AutomaticFail, VerdictOutcome::Unfinished];
        let mut texts: Vec<_> = outcomes.iter().flat_map(|one| [outcome(*one), what_next(*one)]).collect();
        texts.extend([REVIEW, CAUTION]);
        texts
    }

    fn of_the_trade() -> Vec<&'static str> {
        let of = |decided: Decided| {
            let Advice { why, next } = advice_on(&decided);
            [why, next]
        };
        let mut texts: Vec<_> = rules().into_iter().flat_map(|rule| of(Decided::Rule(rule))).collect();
        texts.extend(of(Decided::ByEye));
        texts
    }

    fn sentences(texts: &[&'static str]) -> Vec<&'static str> {
        let split = |text: &'static str| text.split_inclusive(['.', '?']).map(str::trim).filter(|one| !one.is_empty());
        texts.iter().flat_map(|text| split(text)).collect()
    }

    fn words(text: &str) -> usize {
        text.split_whitespace().count()
    }

    /// Automated Readability Index (Smith and Senter 1967): 4.71 characters a word + 0.5 words a sentence − 21.43.
    fn readability(texts: &[&'static str]) -> f64 {
        let sentences = sentences(texts);
        let words: usize = sentences.iter().map(|one| words(one)).sum();
        let letters = sentences.iter().flat_map(|one| one.chars()).filter(|c| c.is_alphanumeric()).count();
        4.71 * letters as f64 / words as f64 + 0.5 * words as f64 / sentences.len() as f64 - 21.43
    }

    #[test]
    fn sentences_are_short() {
        for texts in [plain(), of_the_trade()] {
            let sentences = sentences(&texts);
            let longest = sentences.iter().max_by_key(|one| words(one)).unwrap();
            assert!(words(longest) <= 25, "{longest}");
            let mean = sentences.iter().map(|one| words(one)).sum::<usize>() as f64 / sentences.len() as f64;
            assert!(mean <= 15.0, "{mean}");
        }
    }

    #[test]
    fn fixed_texts_are_easy_to_read() {
        assert!(readability(&plain()) <= 6.0, "{}", readability(&plain()));
        assert!(readability(&of_the_trade()) <= 8.0, "{}", readability(&of_the_trade()));
    }

    #[test]
    fn no_text_consoles_shouts_or_praises_in_general() {
        for text in plain().into_iter().chain(of_the_trade()) {
            let lower = text.to_lowercase();
            for banned in ["unfortunately", "!", "sorry", "well done", "good job", "safe to"] {
                assert!(!lower.contains(banned), "{banned} in {text}");
            }
        }
    }

    #[test]
    fn every_rule_has_advice_of_its_own() {
        let general = "Your centre asks for this in this task.";
        for rule in rules() {
            assert_ne!(advice_on(&Decided::Rule(rule.clone())).why, general, "{rule:?}");
        }
    }
}
