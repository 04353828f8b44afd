use super::picture::{Frame, Ink, Words, draw, sketch};
use super::*;
use crate::marking::observation::Wall;
use crate::marking::{decision, examples, mark_without_coverage};
use proptest::prelude::*;
use uuid::Uuid;

const TASK: &str = include_str!("../../demo/tasks/stairwell.toml");

fn task() -> Task {
    Task::read_toml(TASK).unwrap()
}

/// A log from seconds and acts.
fn log(acts: &[(u64, &str)]) -> Log {
    let seen = |(at, (seconds, act)): (usize, &(u64, &str))| {
        let id = Uuid::from_u128(0x01ba_1d3d_5000_7000_8000_0000_0000_0000 | at as u128);
        let (at_ms, wall) = (seconds * 1_000, Wall(1_898_848_800_000).rfc3339());
        let seq = at + 1;
        let text = format!(r#"{{"id":"{id}","seq":{seq},"at_ms":{at_ms},"wall":"{wall}","act":{act}}}"#);
        Observation::read_json(&text).unwrap()
    };
    Log::of_stored(acts.iter().enumerate().map(seen).collect())
}

fn timeline(log: &Log) -> Timeline {
    let task = task();
    let marking = mark_without_coverage(&task, log);
    Timeline::of(&task, log, &decision::decide(&task, &marking, &[]).findings)
}

fn words() -> Words {
    Words {
        title: "T".into(),
        says: "Says.".into(),
        lanes: ["Authority", "Securing", "Equipment", "Proving", "Testing", "Finishing"].map(str::to_owned),
        key: "Key".into(),
        place: |place| place.word().to_owned(),
        minutes: "min".into(),
        shapes: ["seen", "not met", "struck", "stepped in"].map(str::to_owned),
        outside: "outside".into(),
        band: "between two good proofs".into(),
        pause: "clock stopped".into(),
        blocked: "view blocked".into(),
    }
}

fn svg(timeline: &Timeline, width: u32, right_to_left: bool) -> String {
    draw(timeline, &words(), Frame { id: "t1", width, right_to_left })
}

fn proof(shows: &str) -> String {
    format!(r#"{{"kind":"proved","item":"vi-a","on":"proving_unit","shows":"{shows}"}}"#)
}

const PICK: &str = r#"{"kind":"picked","item":"vi-a"}"#;
const TEST: &str = r#"{"kind":"tested","point":"lamp","first":"E","second":"N","reading":"none"}"#;
const STARTED: &str = r#"{"kind":"started"}"#;
const ENDED: &str = r#"{"kind":"ended"}"#;

#[test]
fn acts_stand_on_the_lane_of_their_stage_in_the_order_of_their_times() {
    let (task, log) = examples::named("extractor-knock").unwrap().read().unwrap();
    let marking = mark_without_coverage(&task, &log);
    let timeline = Timeline::of(&task, &log, &decision::decide(&task, &marking, &[]).findings);
    assert!(timeline.marks.is_sorted_by_key(|mark| mark.at_ms));
    for lane in Lane::ALL {
        assert!(timeline.marks.iter().any(|mark| mark.lane == lane), "{lane:?} is empty");
    }
    let at = |seconds: u64| timeline.marks.iter().find(|mark| mark.at_ms == seconds * 1_000).unwrap();
    let lanes = [14, 113, 219, 245, 286, 366].map(|seconds| at(seconds).lane);
    assert_eq!(lanes, Lane::ALL);
    // A judgement by eye is the assessor's and stands on no lane.
    assert_eq!(timeline.marks.iter().filter(|mark| mark.at_ms == 369_000).count(), 1);
    assert_eq!(at(102).shape, Shape::NotMet, "the other device that was switched");
    assert_eq!(timeline.keys.len(), 1);
    assert_eq!(timeline.keys[0].span, (143_000, 369_000));
    // Proved once only, so that every test lies outside.
    assert!(timeline.bands.is_empty());
    assert_eq!((timeline.tests, timeline.outside().count()), (10, 10));
}

#[test]
fn what_the_assessor_overruled_leaves_no_mark() {
    let (task, log) = examples::named("extractor-knock").unwrap().read().unwrap();
    let marking = mark_without_coverage(&task, &log);
    let overruled: Vec<_> = marking
        .findings
        .iter()
        .filter(|finding| finding.outcome == Outcome::NotMet)
        .map(|finding| decision::Decision {
            criterion: finding.criterion.clone(),
            outcome: Outcome::Met,
            reason: Some("seen otherwise".into()),
        })
        .collect();
    assert!(!overruled.is_empty());
    let timeline = Timeline::of(&task, &log, &decision::decide(&task, &marking, &overruled).findings);
    assert_eq!(timeline.count(Shape::NotMet), 0);
}

#[test]
fn a_band_lies_between_two_good_proofs_and_a_failed_one_ends_it() {
    let (good, bad) = (proof("all"), proof("nothing"));
    let sound =
        timeline(&log(&[(0, STARTED), (5, PICK), (10, &good), (20, TEST), (30, &good), (40, TEST), (50, ENDED)]));
    assert_eq!(sound.bands, [(10_000, 30_000)]);
    let outside: Vec<u64> = sound.outside().map(|mark| mark.at_ms).collect();
    assert_eq!(outside, [40_000]);
    let broken =
        timeline(&log(&[(0, STARTED), (5, PICK), (10, &good), (20, TEST), (30, &bad), (40, &good), (50, ENDED)]));
    assert!(broken.bands.is_empty(), "an indicator that failed proves nothing about the test before");
    assert_eq!(broken.outside().count(), 1);
    let tips = r#"{"kind":"proved","item":"vi-a","on":"tips_together","shows":"all"}"#;
    let weak = timeline(&log(&[(0, STARTED), (5, PICK), (10, &good), (20, TEST), (30, tips), (50, ENDED)]));
    assert!(weak.bands.is_empty(), "what the task does not accept as a proof makes no band");
    let other = r#"{"kind":"proved","item":"other","on":"proving_unit","shows":"all"}"#;
    let two = timeline(&log(&[(0, STARTED), (5, PICK), (10, &good), (20, TEST), (30, other), (50, ENDED)]));
    assert!(two.bands.is_empty(), "another instrument proves nothing about this one");
}

#[test]
fn struck_stepped_in_pauses_and_blocked_views_are_there() {
    let strike = r#"{"kind":"struck","observation":"01ba1d3d-5000-7000-8000-000000000001","reason":"mis_tap"}"#;
    let step = r#"{"kind":"stepped_in","reason":"live_part"}"#;
    let stop = r#"{"kind":"paused","reason":"alarm"}"#;
    let (resume, blocked, clear) = (r#"{"kind":"resumed"}"#, r#"{"kind":"view_blocked"}"#, r#"{"kind":"view_clear"}"#);
    let timeline = timeline(&log(&[
        (0, STARTED),
        (5, PICK),
        (6, strike),
        (7, TEST),
        (8, step),
        (20, stop),
        (30, resume),
        (40, blocked),
        (45, clear),
        (60, ENDED),
    ]));
    let of = |shape| timeline.marks.iter().find(|mark| mark.shape == shape).map(|mark| (mark.at_ms, mark.lane));
    assert_eq!(of(Shape::Struck), Some((5_000, Lane::Equipment)));
    assert_eq!(of(Shape::SteppedIn), Some((8_000, Lane::Testing)), "where the candidate was just then");
    assert_eq!(timeline.pauses, [(20_000, 30_000)]);
    assert_eq!(timeline.blocked, [(40_000, 45_000)]);
    let picture = svg(&timeline, 360, false);
    for says in ["seen", "struck", "stepped in", "clock stopped", "view blocked"] {
        assert!(picture.contains(&format!(">{says}</text>")), "{says}");
    }
    assert!(!picture.contains("between two good proofs"), "the legend names what stands there and nothing else");
}

#[test]
fn a_key_that_moves_has_a_bar_for_each_place() {
    let key = |place: &str| format!(r#"{{"kind":"key","item":"key-a","place":"{place}"}}"#);
    let (kept, table) = (key("kept"), key("on_table"));
    let timeline = timeline(&log(&[(0, STARTED), (10, &kept), (20, &kept), (30, &table), (60, ENDED)]));
    let spans: Vec<_> = timeline.keys.iter().map(|key| (key.place, key.span)).collect();
    assert_eq!(spans, [(Place::Kept, (10_000, 30_000)), (Place::OnTable, (30_000, 60_000))]);
}

#[test]
fn time_runs_the_other_way_in_pages_that_are_read_from_the_right() {
    let good = proof("all");
    let timeline = timeline(&log(&[(0, STARTED), (10, &good), (30, &good), (60, ENDED)]));
    let (left, right) = (svg(&timeline, 320, false), svg(&timeline, 320, true));
    let disc = |picture: &str| -> Vec<u32> {
        let path = picture.split("M").skip(1).find(|part| part.contains("h.01"));
        path.map(|part| part.split(' ').next().unwrap().parse().unwrap()).into_iter().collect()
    };
    assert_eq!(disc(&left), [16], "the start stands at the left");
    assert_eq!(disc(&right), [304], "the start stands at the right");
    assert!(right.contains("text-anchor=\"end\">Authority"));
}

#[test]
fn texts_are_escaped_and_ids_are_the_callers() {
    let mut words = words();
    words.title = "<b>&\"".into();
    words.says = "</desc><script>".into();
    words.lanes[0] = "a<b".into();
    let picture =
        draw(&timeline(&log(&[(0, STARTED), (9, ENDED)])), &words, Frame { id: "x", width: 360, right_to_left: false });
    assert!(picture.contains("<title id=\"x-t\">&lt;b&gt;&amp;&quot;</title>"));
    assert!(!picture.contains("<script>") && picture.contains("a&lt;b"));
    let first_child = picture.split_once(">\n").unwrap().1;
    assert!(first_child.starts_with("<title"), "the title comes first");
    assert!(!picture.contains("style="), "a page that forbids inline styles shows it");
    assert!(!picture.contains('#'), "ink is the page's own");
}

#[test]
fn a_long_session_stays_under_twenty_kilobytes() {
    let good = proof("all");
    let mut acts = vec![(0, STARTED), (5, PICK)];
    for n in 0..116_u64 {
        let act: &str = match n % 4 {
            0 => &good,
            1 => r#"{"kind":"key","item":"key-a","place":"kept"}"#,
            _ => TEST,
        };
        acts.push((10 + n * 9, act));
    }
    acts.extend([(1_100, r#"{"kind":"declared","circuit":"stairs"}"#), (1_110, ENDED)]);
    let timeline = timeline(&log(&acts));
    assert_eq!(acts.len(), 120);
    for width in [320, 720] {
        let picture = svg(&timeline, width, false);
        assert!(picture.len() <= 20_000, "{} bytes at {width}", picture.len());
    }
}

#[test]
fn an_empty_log_and_a_day_long_one_are_drawn() {
    let nothing = timeline(&Log::default());
    assert!(nothing.marks.is_empty());
    assert!(svg(&nothing, 320, false).contains("<text"));
    let long = timeline(&log(&[(0, STARTED), (86_400, ENDED)]));
    let picture = svg(&long, 320, true);
    assert!(picture.len() < 6_000, "{}", picture.len());
}

/// One of the acts that a timeline is made of, and the seconds since the one before.
fn step() -> impl Strategy<Value = (u64, String)> {
    let key = |place: &str| format!(r#"{{"kind":"key","item":"key-a","place":"{place}"}}"#);
    let acts = vec![
        PICK.to_owned(),
        TEST.to_owned(),
        proof("all"),
        proof("nothing"),
        key("kept"),
        key("on_table"),
        r#"{"kind":"stepped_in","reason":"live_part"}"#.to_owned(),
        r#"{"kind":"paused","reason":"alarm"}"#.to_owned(),
        r#"{"kind":"resumed"}"#.to_owned(),
        r#"{"kind":"view_blocked"}"#.to_owned(),
        r#"{"kind":"view_clear"}"#.to_owned(),
    ];
    (0..90_u64, prop::sample::select(acts))
}

fn of_steps(steps: &[(u64, String)]) -> Timeline {
    let mut at = 0;
    let mut acts = vec![(0, STARTED)];
    for (after, act) in steps {
        at += after;
        acts.push((at, act.as_str()));
    }
    acts.push((at + 1, ENDED));
    timeline(&log(&acts))
}

/// The places of everything drawn, from the left and from the right.
fn reaches(ink: &Ink) -> Vec<u32> {
    match ink {
        Ink::Words { x, .. } => vec![*x],
        Ink::Block { x, width, .. } => vec![*x, x + width],
        Ink::Line { from, to, .. } => vec![from.0, to.0],
        Ink::Marks { spots, .. } | Ink::Rings { spots, .. } => spots.clone(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(64) })]

    #[test]
    fn whatever_is_recorded_the_timeline_keeps_its_laws(steps in prop::collection::vec(step(), 0..60)) {
        let timeline = of_steps(&steps);
        let (start, end) = timeline.span;
        prop_assert!(timeline.marks.is_sorted_by_key(|mark| mark.at_ms));
        prop_assert!(timeline.marks.iter().all(|mark| (start..=end).contains(&mark.at_ms)));
        prop_assert_eq!(timeline.tests, steps.iter().filter(|(_, act)| act == TEST).count());
        prop_assert_eq!(timeline.count(Shape::SteppedIn), steps.iter().filter(|(_, act)| act.contains("stepped_in")).count());

        // A band begins and ends with a proof, and of one instrument no two overlap.
        let proved: Vec<u64> = timeline.marks.iter().filter(|mark| mark.lane == Lane::Proving).map(|mark| mark.at_ms).collect();
        prop_assert!(timeline.bands.iter().all(|(from, until)| proved.contains(from) && proved.contains(until)));
        prop_assert!(timeline.bands.windows(2).all(|pair| pair[0].1 <= pair[1].0));
        // A test strictly within a band is never outside, one at a time that no band reaches always is.
        for mark in timeline.marks.iter().filter(|mark| mark.lane == Lane::Testing && mark.shape != Shape::SteppedIn) {
            let within = timeline.bands.iter().any(|(from, until)| *from < mark.at_ms && mark.at_ms < *until);
            let reached = timeline.bands.iter().any(|(from, until)| *from <= mark.at_ms && mark.at_ms <= *until);
            prop_assert!(!(within && mark.outside), "{:?}", mark);
            prop_assert!(reached || mark.outside, "{:?}", mark);
        }
        // A key is in one place at a time, from when it is first known to the end.
        prop_assert!(timeline.keys.windows(2).all(|pair| pair[0].span.1 == pair[1].span.0));
        prop_assert!(timeline.keys.last().is_none_or(|key| key.span.1 == end));

        for (width, right_to_left) in [(300, false), (720, true)] {
            let drawn = sketch(&timeline, &words(), Frame { id: "t", width, right_to_left });
            prop_assert!(drawn.inks.iter().flat_map(reaches).all(|x| x <= width), "within the picture");
        }
    }
}
