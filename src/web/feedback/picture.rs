//! What the candidate's page shows beside sentences: the timeline, the rounds, and the hidden causes, in its language.

use super::story::Part;
use super::words::{Counted, Key, Words};
use crate::marking::Coverage;
use crate::marking::observation::Place;
use crate::marking::timeline::picture::{Frame, Words as Written};
use crate::marking::timeline::{Shape, Timeline};
use crate::store::centres::Language;
use crate::web::causes::Causes;
use crate::web::marking::tiles;
use crate::web::sessions::{Loaded, Marked};
use crate::web::show;
use crate::web::timeline::{Heads, Texts, View};

/// Narrow enough for a phone in the hand, where its text is not shrunk.
const WIDTH: u32 = 316;

/// The timeline in the reader's language; what an act is called comes from `act`.
pub fn timeline(loaded: &Loaded, marked: &Marked, w: Words, act: &dyn Fn(&crate::marking::Act) -> String) -> View {
    let timeline = Timeline::of(&loaded.task, &marked.log, &marked.decided.findings);
    let texts = Texts { words: written(&timeline, w), heads: heads(w), act };
    let frame = Frame { id: "timeline", width: WIDTH, right_to_left: w.dir() == "rtl" };
    View::of(&timeline, &loaded.task, &marked.log, &texts, frame)
}

fn written(timeline: &Timeline, w: Words) -> Written {
    let own = |key: Key| w.t(key).to_owned();
    Written {
        title: own(Key::TimelineTitle),
        says: sentence(timeline, w),
        lanes: [
            Key::LaneAuthority,
            Key::LaneSecuring,
            Key::LaneEquipment,
            Key::LaneProving,
            Key::LaneTesting,
            Key::LaneFinishing,
        ]
        .map(own),
        key: own(Key::KeyBar),
        place: place(w),
        minutes: own(Key::MinutesShort),
        shapes: [Key::MarkSeen, Key::MarkNotMet, Key::MarkStruck, Key::MarkSteppedIn].map(own),
        outside: own(Key::OutsideProofs),
        band: own(Key::BetweenProofs),
        pause: own(Key::ClockStopped),
        blocked: own(Key::ViewBlocked),
    }
}

/// Where a key was. A plain function, because the picture carries nothing of its reader but words.
fn place(w: Words) -> fn(Place) -> String {
    fn words(language: Language, place: Place) -> String {
        let key = match place {
            Place::Kept => Key::PlaceKept,
            Place::InLock => Key::PlaceInLock,
            Place::OnBoard => Key::PlaceOnBoard,
            Place::OnTable => Key::PlaceOnTable,
            Place::HandedOver => Key::PlaceHandedOver,
        };
        Words::of(language).t(key).to_owned()
    }
    match w.language() {
        Language::English => |place| words(Language::English, place),
        Language::Welsh => |place| words(Language::Welsh, place),
        Language::Polish => |place| words(Language::Polish, place),
        Language::Spanish => |place| words(Language::Spanish, place),
    }
}

fn heads(w: Words) -> Heads {
    let own = |key: Key| w.t(key).to_owned();
    Heads {
        table: own(Key::TimelineTable),
        minute: own(Key::ColMinute),
        stage: own(Key::ColStage),
        act: own(Key::ColAct),
        sign: own(Key::ColSign),
        from: own(Key::ColFrom),
        until: own(Key::ColUntil),
        what: own(Key::ColWhat),
    }
}

/// What the picture shows, as sentences beside each other, each a message of its own.
fn sentence(timeline: &Timeline, w: Words) -> String {
    let standing = timeline.marks.len() - timeline.count(Shape::Struck);
    let length = show::clock(timeline.span.1 - timeline.span.0);
    let mut says = vec![w.count(Counted::StepsIn, standing).replace("{length}", &length)];
    says.push(match timeline.count(Shape::NotMet) {
        0 => w.t(Key::AgainstNone).to_owned(),
        number => w.count(Counted::Against, number),
    });
    says.push(match (timeline.tests, timeline.outside().count()) {
        (0, _) => w.t(Key::NoTests).to_owned(),
        (_, 0) => w.t(Key::AllInside).to_owned(),
        (_, number) => w.count(Counted::Outside, number),
    });
    if timeline.count(Shape::SteppedIn) > 0 {
        says.push(w.t(Key::SteppedInToo).to_owned());
    }
    says.join(" ")
}

/// Pairs and rounds.
pub struct Rounds {
    /// The numbers of the rounds.
    pub heads: Vec<usize>,
    pub rows: Vec<RoundsRow>,
}

/// One pair, with the shape and the word of each round.
pub struct RoundsRow {
    pub pair: String,
    pub cells: Vec<(&'static str, &'static str)>,
}

/// What a test came to, by its shape.
pub const TESTS: [(&str, Key); 5] =
    [("✓", Key::TestDead), ("▲", Key::TestOrder), ("●", Key::TestLive), ("?", Key::TestUnsure), ("·", Key::TestNone)];

/// The rounds table in the reader's language.
pub fn rounds(loaded: &Loaded, marked: &Marked, w: Words) -> Rounds {
    let made = tiles::rounds_made(&loaded.task, &marked.log, &marked.marking);
    let cell = |(shape, _): (&'static str, &'static str)| {
        let (shape, key) = TESTS.into_iter().find(|(one, _)| *one == shape).unwrap_or(TESTS[4]);
        (shape, w.t(key))
    };
    let row = |row: tiles::RoundsRow| RoundsRow { pair: row.pair, cells: row.cells.into_iter().map(cell).collect() };
    Rounds {
        heads: made.heads.into_iter().map(|(number, _)| number).collect(),
        rows: made.rows.into_iter().map(row).collect(),
    }
}

/// How many hidden causes the tests show, in the reader's language; why nothing could be worked out, in English.
pub fn causes_summary(causes: &Causes, coverage: &Coverage, w: Words) -> Part {
    let own = |text: String| Part { text, lang: None };
    if coverage.why_not.is_some() {
        return Part { text: causes.summary.clone(), lang: w.is_foreign().then_some("en-GB") };
    }
    match coverage.of {
        0 => own(w.t(Key::NoCauses).to_owned()),
        of => {
            let of = usize::try_from(of).unwrap_or(usize::MAX);
            own(w.count(Counted::ShownOf, of).replace("{shown}", &coverage.shown.to_string()))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::marking::{Act, decision, examples, mark_without_coverage};

    fn drawn(name: &str, w: Words) -> String {
        let (task, log) = examples::named(name).unwrap().read().unwrap();
        let marking = mark_without_coverage(&task, &log);
        let timeline = Timeline::of(&task, &log, &decision::decide(&task, &marking, &[]).findings);
        let texts = Texts { words: written(&timeline, w), heads: heads(w), act: &|_: &Act| String::new() };
        let frame = Frame { id: "t", width: WIDTH, right_to_left: false };
        View::of(&timeline, &task, &log, &texts, frame).picture.to_string()
    }

    #[test]
    fn the_picture_speaks_the_language_of_its_reader() {
        for language in Language::ALL.iter().copied() {
            let w = Words::of(language);
            let picture = drawn("extractor-knock", w);
            for key in [Key::TimelineTitle, Key::LaneProving, Key::PlaceKept, Key::MarkNotMet, Key::OutsideProofs] {
                assert!(picture.contains(&crate::bay::drawing::escaped(w.t(key))), "{language:?} {key:?}");
            }
            assert!(picture.contains(&w.count(Counted::Outside, 10)), "{language:?}: {picture}");
            assert!(!picture.contains('{'), "{language:?}: {picture}");
        }
    }

    #[test]
    fn tests_between_two_good_proofs_are_said_to_be() {
        let w = Words::of(Language::English);
        assert!(drawn("stairwell-sound", w).contains(w.t(Key::AllInside)));
    }
}
