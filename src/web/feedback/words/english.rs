//! English.

use super::plural::Category;
use super::{Catalogue, Counted, Key, Topic};

pub(super) const CATALOGUE: Catalogue = Catalogue {
    tag: "en-GB",
    say,
    advise,
    count,
    months: [
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    ],
    date: "{day} {month} {year}",
    decimal: '.',
};

fn say(key: Key) -> &'static str {
    match key {
        Key::Title => "Your feedback",
        Key::Skip => "Go to the content",
        Key::Footer => {
            "This is feedback on training. It is not a permit to work. At work, follow the local rules and ask a competent person."
        }
        Key::LanguageLabel => "Language",
        Key::AskLead => "Type the code that your assessor gave you.",
        Key::CodeLabel => "Code",
        Key::CodeHint => "Eight letters and digits. Spaces and small letters do not matter.",
        Key::CodeRefused => {
            "That link and code do not open anything. Check the code. After five wrong codes the link is locked; then ask your assessor for a new one."
        }
        Key::Open => "Open my feedback",
        Key::Code => "Code of the record: {code}",
        Key::EndedTitle => "Open your link again",
        Key::Ended => {
            "Your feedback stays open for half an hour at a time. Open the link that your assessor gave you and type the code."
        }
        Key::NotYetTitle => "Your feedback is not here yet",
        Key::NotYet => "Your centre has not opened it yet. Keep your link and your code. You can use them again later.",
        Key::NotYetUntil => "It opens on {day} at {time}.",
        Key::NotYetTold => "Somebody will tell you in person first. Then it opens.",
        Key::Passed => "You passed.",
        Key::NotPassed => "You did not pass this time.",
        Key::NotFinished => "Your attempt was not finished.",
        Key::About => "{name}, this is your feedback on: {task}. It was signed on {day}.",
        Key::OfficialWord => "The official word is:",
        Key::Pass => "pass",
        Key::Fail => "fail",
        Key::AutomaticFail => "automatic fail",
        Key::Unfinished => "unfinished",
        Key::NextTitle => "What happens next",
        Key::NextPassed => "Your centre keeps this result. You do not have to do anything more.",
        Key::NextNotPassed => "You can try again. Work on the points below first, then ask your centre for a new date.",
        Key::NextNotFinished => "Ask your centre for a new date. What you did so far is listed below.",
        Key::OpenUntil => "You can open this page until {day}.",
        Key::ReviewUntil => "You can ask for a review until {day}.",
        Key::ChangeFirst => "What to change first",
        Key::DoBetter => "What to do better",
        Key::Seen => "What was seen",
        Key::Why => "Why it matters",
        Key::NextTime => "Next time",
        Key::Minute => "Minute {minute}",
        Key::WentWell => "What went well",
        Key::At => "at {minute}",
        Key::Steps => "What you did, minute by minute",
        Key::Rounds => "Your tests, round by round",
        Key::Missed => "What your tests would have missed",
        Key::MissedLead => {
            "A point can look dead and still be live. Here is what your tests would have shown in each case."
        }
        Key::Points => "Every point that was marked",
        Key::Marks => "{marks} of {of} marks ({percent} %)",
        Key::Met => "met",
        Key::NotMet => "not met",
        Key::NotSeen => "not seen",
        Key::NotApplicable => "not applicable",
        Key::ReviewTitle => "Ask for a review",
        Key::ReviewHow => {
            "Do you think that something here is wrong? Ask for a review. Somebody who did not mark you will look at the record and answer you here. You can ask once."
        }
        Key::ReviewField => "Which point do you mean, and why?",
        Key::ReviewHint => "1 to 2,000 characters.",
        Key::ReviewButton => "Ask for a review",
        Key::ReviewEmpty => "Say which point you mean and why. Nothing was sent yet.",
        Key::ReviewLong => "That is too long. Use at most 2,000 characters. Nothing was sent yet.",
        Key::ReviewOver => "The last day to ask for a review was {day}.",
        Key::ReviewAsked => "You asked for a review on {day}. Somebody who did not mark you will answer you here.",
        Key::ReviewWrote => "What you wrote",
        Key::ReviewUpheld => "The review is done. Your result stays as it was.",
        Key::ReviewAmended => "The review is done. It changed your result.",
        Key::ReviewPoints => "The review is done. It changed points, but not the outcome.",
        Key::ReviewRead => "Read the answer",
        Key::ReviewBy => "{name} decided this on {day}:",
        Key::ReviewFirst => "Your first result was: {word}. {name} signed it on {day}.",
        Key::ReviewChanged => "What was changed",
        Key::FromCentre => "From your centre",
        Key::NothingSeen => "No step for this was seen.",
        Key::WithdrawnTitle => "Your feedback was withdrawn",
        Key::Withdrawn => "Your centre withdrew your feedback on {day}. What you read here before may change.",
        Key::WithdrawnLater => {
            "Keep your link and your code. They work again when your centre opens the feedback. Ask your centre when that will be."
        }
        Key::NextPlanned => "Your next attempt is on {day} at {time}, in {bay}: {task}.",
        Key::NextNotPlanned => "No new date is set yet.",
        Key::RoundsPair => "Pair",
        Key::RoundsRound => "Round {number}",
        Key::TestDead => "dead",
        Key::TestOrder => "other order",
        Key::TestLive => "live",
        Key::TestUnsure => "not seen",
        Key::TestNone => "not tested",
        Key::RoundsScroll => "Your tests as a table",
        Key::NoCauses => "This bay has no hidden cause that tests at the point could show.",
        Key::WouldMiss => "would have been missed",
        Key::WouldShow => "shown",
        Key::Circuit => "The circuit",
        Key::LaneAuthority => "Leave and circuit",
        Key::LaneSecuring => "Turning off and locking",
        Key::LaneEquipment => "Equipment",
        Key::LaneProving => "Proving the indicator",
        Key::LaneTesting => "Testing",
        Key::LaneFinishing => "Finishing",
        Key::KeyBar => "Key",
        Key::PlaceKept => "kept on you",
        Key::PlaceInLock => "left in the lock",
        Key::PlaceOnBoard => "left on the board",
        Key::PlaceOnTable => "left on the table",
        Key::PlaceHandedOver => "handed over",
        Key::MinutesShort => "min",
        Key::MarkSeen => "seen",
        Key::MarkNotMet => "goes with a point not met",
        Key::MarkStruck => "taken back",
        Key::MarkSteppedIn => "your assessor stepped in",
        Key::OutsideProofs => "test outside two good proofs",
        Key::BetweenProofs => "between two good proofs",
        Key::ClockStopped => "clock stopped",
        Key::ViewBlocked => "view blocked",
        Key::TimelineTitle => "Timeline of your attempt",
        Key::TimelineTable => "The timeline as a table",
        Key::ColMinute => "Minute",
        Key::ColStage => "Stage",
        Key::ColAct => "What was seen",
        Key::ColSign => "Sign",
        Key::ColFrom => "From",
        Key::ColUntil => "Until",
        Key::ColWhat => "What lasted",
        Key::AgainstNone => "No step goes with a point that was not met.",
        Key::NoTests => "You made no test.",
        Key::AllInside => "Every test lies between two good proofs.",
        Key::SteppedInToo => "Your assessor stepped in.",
        Key::RecordShowsOtherwise => "The record shows something else",
        Key::RuleMisapplied => "The point was marked by a wrong reading of it",
        Key::NewEvidence => "Something new came to light",
        Key::UnfairConditions => "The bay was not as it should have been",
        Key::RecordedWrongly => "It was recorded wrongly",
        Key::English => "Some parts of this page are in English.",
    }
}

fn count(what: Counted, form: Category) -> Option<&'static str> {
    use Counted::*;
    Some(match (what, form) {
        (ShowSteps, Category::One) => "Show the {n} step",
        (ShowSteps, Category::Other) => "Show all {n} steps",
        (ShowPoints, Category::One) => "Show the {n} point",
        (ShowPoints, Category::Other) => "Show all {n} points",
        (StepsIn, Category::One) => "You took {n} step in {length}.",
        (StepsIn, Category::Other) => "You took {n} steps in {length}.",
        (Against, Category::One) => "{n} step goes with a point that was not met.",
        (Against, Category::Other) => "{n} steps go with points that were not met.",
        (Outside, Category::One) => "{n} test lies outside two good proofs.",
        (Outside, Category::Other) => "{n} tests lie outside two good proofs.",
        (ShownOf, Category::One) => "There is {n} hidden cause to think of here. Your tests would have shown {shown}.",
        (ShownOf, Category::Other) => {
            "There are {n} hidden causes to think of here. Your tests would have shown {shown}."
        }
        (ShowShown, Category::One) => "Show the {n} that your tests show",
        (ShowShown, Category::Other) => "Show the {n} that your tests show",
        _ => return None,
    })
}

fn advise(topic: Topic) -> (&'static str, &'static str) {
    match topic {
        Topic::Circuit => (
            "If you turn off the wrong circuit, the one you work on stays live.",
            "Point to the circuit and its device on the board before you touch a switch.",
        ),
        Topic::Sources => (
            "A point can be fed from more than one place. One that you forget can keep it live.",
            "Name each supply out loud before you turn anything off.",
        ),
        Topic::Permission => (
            "Other people may need that supply. They can be hurt when it goes off without a word.",
            "Ask the person in charge and wait for the answer before you turn anything off.",
        ),
        Topic::Load => ("A device that breaks a load can arc.", "Turn the load off first, then the device."),
        Topic::OnlyNamed => (
            "Each device feeds somebody. The wrong one can stop a pump or an alarm.",
            "Read the label, put a finger on it, read it again, then turn it off.",
        ),
        Topic::LockOff => (
            "A lock-off that does not fit can slip, and then the device can be turned on.",
            "Try the lock-off on the device and pull at it before you lock it.",
        ),
        Topic::Locked => ("A padlock that is not closed holds nothing.", "Close the padlock, then pull at it once."),
        Topic::KeyKept => (
            "Whoever has the key can turn the supply on while your hands are in there.",
            "Put the key in your pocket as soon as the padlock is closed. Leave it there.",
        ),
        Topic::Notice => (
            "A notice tells others that you are at work, and who you are.",
            "Fill in the notice and hang it on the device before you walk away.",
        ),
        Topic::Secured => (
            "While you test, somebody could turn the supply on again.",
            "Turn off, fit the lock-off and lock it. Only then start to test.",
        ),
        Topic::NothingRemoved => (
            "Once the lock is off, anybody can turn the supply on.",
            "Leave lock and notice in place until you have handed over.",
        ),
        Topic::Controls => (
            "If it still starts, you have turned off the wrong thing.",
            "Try to start it after you have locked it off.",
        ),
        Topic::Suitable => (
            "Long tips can bridge two parts. Bad leads or a worn meter can show nothing on a live part.",
            "Pick a two-pole indicator with short tips, guards and sound leads. Check its date.",
        ),
        Topic::Inspected => (
            "A nick in a lead or a loose guard can hurt you before you notice it.",
            "Look at tips, guards and leads each time you pick up an indicator.",
        ),
        Topic::ProvedBefore => (
            "An indicator that does not work shows nothing, and so does a dead circuit.",
            "Prove the indicator on a proving unit just before the first test.",
        ),
        Topic::ProvedAfter => (
            "It could have stopped working while you tested. Then your tests would mean nothing.",
            "Prove the same indicator again straight after the last test.",
        ),
        Topic::Pairs => (
            "One live wire shows only in the tests that it is part of.",
            "Say the pairs out loud as you test, and count them.",
        ),
        Topic::RoundsTested => (
            "A switch can hide a live wire. Throw it and the wire is live again.",
            "Throw one switch, then test each pair again. Do that for each switch.",
        ),
        Topic::LessDangerous => (
            "If the live wire comes first, the other tip can be live in your hand.",
            "Put the tip on earth first, then on neutral, then on the line. Take them off the other way round.",
        ),
        Topic::PointClosed => (
            "Somebody can touch an open point while you are away from it.",
            "Close the point before you walk to a switch.",
        ),
        Topic::Lamp => (
            "A lamp joins two wires, so your test may not show what you think.",
            "Take the lamp out before the first test.",
        ),
        Topic::LiveReading => (
            "A live reading means that it is live, even if you did not expect it.",
            "Stop. Find out what feeds it, turn that off, and test each pair again.",
        ),
        Topic::NoTouch => (
            "Until the tests are done you do not know that a wire is dead.",
            "Keep your hands off each wire until you have proved the indicator again.",
        ),
        Topic::DeclaredLast => (
            "Others start work when you say so. Your word must come last.",
            "Say that it is dead only after the last test and the last proof.",
        ),
        Topic::Time => (
            "The time is part of the task.",
            "Practise the steps until you do not have to think about what comes next.",
        ),
        Topic::Prompted => {
            ("At work there may be nobody who can help you.", "Practise the steps until you can do them alone.")
        }
        Topic::SteppedIn => (
            "Your assessor had to stop you so that nobody was hurt.",
            "Ask your assessor what they saw. Do that step slowly the next time.",
        ),
        Topic::ByEye => (
            "Your assessor saw this and judged it by eye.",
            "Ask your assessor to show you what they would like to see.",
        ),
        Topic::Other => ("Your centre asks for this in this task.", "Read the point again, then do it in that order."),
    }
}
