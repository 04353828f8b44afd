use super::super::tests::places;
use super::phrases::Phrase;
use super::*;
use crate::marking::{Observation, words};

const TASK: &str = include_str!("../../../../../tests/reference/examples/stairwell.toml");

/// Every kind of act in every variety that has words of its own.
fn acts() -> Vec<Act> {
    let plain = [
        r#""kind":"started""#,
        r#""kind":"resumed""#,
        r#""kind":"identified","circuit":"stairs","device":"Q2""#,
        r#""kind":"source_listed","source":"mains""#,
        r#""kind":"permission_asked","circuit":"stairs""#,
        r#""kind":"permission_given","circuit":"stairs""#,
        r#""kind":"picked","item":"pl-a""#,
        r#""kind":"picked","item":"gone""#,
        r#""kind":"returned","item":"pl-a""#,
        r#""kind":"load_off","circuit":"stairs""#,
        r#""kind":"fitted","item":"lo-a","device":"Q2""#,
        r#""kind":"removed","item":"pl-a","device":"Q2""#,
        r#""kind":"opened","point":"lamp""#,
        r#""kind":"closed","point":"lamp""#,
        r#""kind":"lamp_out","point":"lamp""#,
        r#""kind":"lamp_in","point":"lamp""#,
        r#""kind":"operated","switch":"S1""#,
        r#""kind":"touched","point":"lamp""#,
        r#""kind":"declared","circuit":"stairs""#,
        r#""kind":"prompted""#,
        r#""kind":"ended""#,
        r#""kind":"tested","point":"flood","first":"L","second":"E","reading":"live","order_off":"first_first","item":"mm-a""#,
    ];
    let varied: [(&str, &[&str]); 13] = [
        (r#""kind":"paused","reason":"#, &["alarm", "equipment", "unwell", "other"]),
        (r#""kind":"ended","reason":"#, &["finished", "unsafe", "alarm", "equipment", "unwell", "other"]),
        (
            r#""kind":"stepped_in","reason":"#,
            &["live_part", "wrong_device", "unsafe_tool", "at_height", "unwell", "other"],
        ),
        (r#""kind":"inspected","item":"vi-a","part":"#, &["tips", "guards", "leads", "body", "date", "rating", "fit"]),
        (r#""kind":"switched","device":"Q2","to":"#, &["off", "on"]),
        (r#""kind":"key","item":"key-a","place":"#, &["kept", "in_lock", "on_board", "on_table", "handed_over"]),
        (r#""kind":"control_tried","device":"Q2","result":"#, &["nothing", "started"]),
        (r#""kind":"control_tried","switch":"S1","result":"#, &["nothing", "started"]),
        (
            r#""kind":"proved","item":"vi-a","shows":"all","on":"#,
            &["proving_unit", "known_live", "tips_together", "self_test", "other"],
        ),
        (r#""kind":"proved","item":"vi-a","on":"other","shows":"#, &["all", "some", "nothing"]),
        (r#""kind":"tested","point":"lamp","first":"E","second":"N","reading":"#, &["none", "live", "tripped"]),
        (r#""kind":"locked","item":"pl-a","device":"Q2","holds":"#, &["true", "false"]),
        (r#""kind":"posted","item":"no-a","device":"Q2","filled":"#, &["true", "false"]),
    ];
    let quoted = |word: &str| if ["true", "false"].contains(&word) { word.into() } else { format!("\"{word}\"") };
    let varied = varied.iter().flat_map(|(act, words)| words.iter().map(move |word| format!("{act}{}", quoted(word))));
    plain.iter().map(|act| (*act).to_owned()).chain(varied).map(|act| read_act(&act)).collect()
}

fn read_act(act: &str) -> Act {
    let text = format!(
        r#"{{"id":"01938c1e-0000-7000-8000-000000000001","seq":1,"at_ms":0,"wall":"2027-02-03T10:00:00.000Z","act":{{{act}}}}}"#
    );
    Observation::read_json(&text).unwrap_or_else(|faults| panic!("{act}: {faults}")).act
}

/// What staff read, and what the candidate reads in English, come from two places.
#[test]
fn in_english_an_act_reads_as_staff_read_it() {
    let task = Task::read_toml(TASK).unwrap();
    for act in acts() {
        let says = describe(&act, &task, Words::of(Language::English)).unwrap_or_else(|| panic!("{act:?}"));
        assert_eq!(says, words::describe(&act, &task));
    }
}

#[test]
fn acts_that_read_otherwise_in_english_do_so_in_every_language() {
    let task = Task::read_toml(TASK).unwrap();
    let all = |language| -> std::collections::BTreeSet<String> {
        acts().iter().filter_map(|act| describe(act, &task, Words::of(language))).collect()
    };
    for language in Language::ALL {
        let said = all(*language);
        assert_eq!(said.len(), all(Language::English).len(), "{language:?}");
        assert!(said.iter().all(|says| !says.contains('{')), "{said:?}");
    }
}

/// A label may hold what looks like a place of a phrase.
#[test]
fn what_is_put_in_is_not_read_again() {
    let mut task = Task::read_toml(TASK).unwrap();
    for device in &mut task.bay.board.devices {
        device.label = "{item}".into();
    }
    let act = read_act(r#""kind":"fitted","item":"lo-a","device":"Q2""#);
    let says = describe(&act, &task, Words::of(Language::Spanish)).unwrap();
    assert!(says.ends_with("en Q2 ({item})"), "{says}");
}

#[test]
fn every_phrase_is_there_in_every_language_and_puts_in_the_same() {
    for phrase in Phrase::ALL {
        let english = phrase.say(Language::English);
        for language in Language::ALL {
            let own = phrase.say(*language);
            assert_eq!(places(own), places(english), "{language:?} {phrase:?}");
            // Some words are the same in two languages.
            let same = own == english && *language != Language::English && *phrase != Phrase::Alarm;
            assert!(!same, "{language:?} {phrase:?}");
        }
    }
}
