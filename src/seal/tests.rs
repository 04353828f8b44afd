//! The chain against vectors made outside the program; their source is in `tests/reference/seal/README.md`.

use super::{CommittedAct, Content, Digest, Entry, LineFault, Origin, Salt, chain, commitment};
use crate::bay::{Conductor, PointId};
use crate::marking::observation::{Act, OrderOff, Reading, StrikeReason, Text, Wall};
use crate::marking::{Observation, ObservationId};
use proptest::prelude::*;
use serde::Deserialize;
use uuid::Uuid;

#[derive(Deserialize)]
struct Vectors {
    session: Uuid,
    note_text: String,
    candidate_text: String,
    task_file_text: String,
    lines: Vec<String>,
    heads: Vec<String>,
}

fn vectors() -> Vectors {
    serde_json::from_str(include_str!("../../tests/reference/seal/vectors.json")).unwrap()
}

/// The salt of the vectors: the bytes 00, 01 … 1f.
fn salt() -> Salt {
    Salt::new(std::array::from_fn(|at| u8::try_from(at).unwrap()))
}

fn origin(received: i64) -> Origin {
    Origin { by: 17, device: "d-3".to_owned(), run: "r-1".to_owned(), received, offset: -1830, error: 120 }
}

fn id(last: u128) -> Uuid {
    Uuid::from_u128(0x0198_f3c2_7a41_7000_8000_0000_0000_0000 + last)
}

fn observation(seq: u32, at_ms: u64, wall: i64, act: Act) -> Observation {
    Observation { id: ObservationId(id(u128::from(seq))), seq, at_ms, wall: Wall(wall), act }
}

fn observations(vectors: &Vectors) -> [Observation; 3] {
    let tested = Act::Tested {
        point: PointId::new("lamp").unwrap(),
        first: Conductor::E,
        second: Conductor::Sl,
        reading: Reading::None,
        order_off: OrderOff::SecondFirst,
        item: None,
    };
    let remark = Act::Remark { text: Text::new(&vectors.note_text).unwrap(), criterion: None };
    let struck = Act::Struck { observation: ObservationId(id(2)), reason: StrikeReason::MisTap, text: None };
    [
        observation(2, 91_250, 1_789_378_267_412, tested),
        observation(3, 122_839, 1_789_378_299_001, remark),
        observation(4, 225_393, 1_789_378_401_555, struck),
    ]
}

/// The entries of the vectors, from their parts.
fn entries(vectors: &Vectors) -> Vec<Entry> {
    let opened = Entry {
        id: id(1),
        seq: 1,
        wall: 1_789_378_260_000,
        mono: 83_838,
        origin: origin(1_789_378_258_590),
        content: Content::Opened {
            candidate: commitment::candidate(&salt(), &vectors.candidate_text),
            task: Digest::of(&vectors.task_file_text),
        },
    };
    let received = [1_789_378_266_002, 1_789_378_297_511, 1_789_378_400_100];
    let observed = observations(vectors).into_iter().zip(received);
    let observed = observed.map(|(seen, at)| Entry::observed(&seen, origin(at), &salt()).unwrap().0);
    std::iter::once(opened).chain(observed).collect()
}

#[test]
fn lines_built_from_parts_are_those_of_the_vectors() {
    let vectors = vectors();
    let lines: Vec<_> = entries(&vectors).iter().map(|entry| entry.line().unwrap()).collect();
    assert_eq!(lines, vectors.lines);
}

#[test]
fn heads_are_those_of_the_vectors() {
    let vectors = vectors();
    let mut head = chain::start(vectors.session);
    assert_eq!(head.as_str(), vectors.heads[0]);
    for (line, expected) in vectors.lines.iter().zip(&vectors.heads[1..]) {
        head = chain::next(&head, line);
        assert_eq!(head.as_str(), expected);
    }
    assert_eq!(chain::head(vectors.session, vectors.lines.iter().map(String::as_str)), head);
}

#[test]
fn a_line_read_and_written_again_is_the_same() {
    for (line, entry) in vectors().lines.iter().zip(entries(&vectors())) {
        assert_eq!(Entry::read(line).as_ref(), Ok(&entry));
    }
    let outcome = Entry {
        content: Content::Outcome { outcome: crate::marking::VerdictOutcome::AutomaticFail, marks: 31, of: 40 },
        ..entries(&vectors()).remove(0)
    };
    assert_eq!(Entry::read(&outcome.line().unwrap()), Ok(outcome));
}

/// The bytes follow from the rules for entries alone: keys in the order of their bytes, no spaces, integers and words.
#[test]
fn an_erasure_says_how_many_texts_went_and_nothing_about_anybody() {
    let erasure = Entry { content: Content::Erasure { texts: 3 }, ..entries(&vectors()).remove(0) };
    let line = r#"{"by":"u-17","dev":"d-3","err":120,"id":"0198f3c2-7a41-7000-8000-000000000001","kind":"erasure","mono":83838,"off":-1830,"recv":1789378258590,"run":"r-1","seq":1,"texts":3,"v":1,"wall":1789378260000}"#;
    assert_eq!(erasure.line().as_deref(), Ok(line));
    assert_eq!(Entry::read(line), Ok(erasure.clone()));
    assert_eq!((erasure.kind(), erasure.observation(None)), ("erasure", Ok(None)));
    for bad in [
        line.replace(r#""texts":3"#, r#""texts":-1"#),
        line.replace(r#""texts":3,"#, ""),
        line.replace("3,\"v", "true,\"v"),
    ] {
        assert!(Entry::read(&bad).is_err(), "{bad}");
    }
}

#[test]
fn an_observation_comes_back_from_its_entry_and_text() {
    let vectors = vectors();
    let texts = [None, Some(vectors.note_text.as_str()), None];
    for ((entry, seen), text) in entries(&vectors)[1..].iter().zip(observations(&vectors)).zip(texts) {
        assert_eq!(entry.observation(text), Ok(Some(seen)));
    }
    assert_eq!(entries(&vectors)[0].observation(None), Ok(None), "an opened entry holds no observation");
    assert_eq!(entries(&vectors)[2].observation(None), Err(LineFault::Text));
}

#[test]
fn an_entry_knows_the_observation_it_holds_from_any_other() {
    let vectors = vectors();
    let remark = &entries(&vectors)[2];
    let [tested, same, _] = observations(&vectors);
    assert!(remark.holds(&same, Some(&salt())));
    assert!(!remark.holds(&tested, Some(&salt())));
    let other = Act::Remark { text: Text::new("another remark").unwrap(), criterion: None };
    let other = Observation { act: other, ..same.clone() };
    assert!(!remark.holds(&other, Some(&salt())));
    assert!(remark.holds(&other, None), "erased text can no longer be told apart");
    assert!(!remark.holds(&Observation { at_ms: 1, ..same.clone() }, Some(&salt())));
    assert!(!remark.holds(&Observation { wall: Wall(1), ..same.clone() }, Some(&salt())));
    assert!(!remark.holds(&Observation { seq: 9, ..same }, Some(&salt())));
}

#[test]
fn every_field_changed_removed_or_added_gives_another_head() {
    let vectors = vectors();
    let honest = vectors.heads.last().unwrap();
    for (at, line) in vectors.lines.iter().enumerate() {
        let object: serde_json::Map<String, serde_json::Value> = serde_json::from_str(line).unwrap();
        let mut forged: Vec<serde_json::Map<_, _>> = Vec::new();
        for field in object.keys() {
            forged.push(object.clone());
            forged.last_mut().unwrap().remove(field);
            forged.push(object.clone());
            forged.last_mut().unwrap().insert(field.clone(), serde_json::json!("other"));
        }
        forged.push(object.clone());
        forged.last_mut().unwrap().insert("extra".to_owned(), serde_json::json!(1));
        for object in forged {
            let mut lines = vectors.lines.clone();
            lines[at] = serde_json::Value::Object(object).to_string();
            assert_ne!(chain::head(vectors.session, lines.iter().map(String::as_str)).as_str(), honest);
            assert!(Entry::read(&lines[at]).as_ref() != Ok(&entries(&vectors)[at]), "{}", lines[at]);
        }
    }
}

#[test]
fn lines_swapped_dropped_or_moved_to_another_session_give_another_head() {
    let vectors = vectors();
    let honest = vectors.heads.last().unwrap();
    let head = |session, lines: &[String]| chain::head(session, lines.iter().map(String::as_str)).to_string();
    assert_eq!(&head(vectors.session, &vectors.lines), honest);
    for at in 1..vectors.lines.len() {
        let mut lines = vectors.lines.clone();
        lines.swap(at - 1, at);
        assert_ne!(&head(vectors.session, &lines), honest);
        lines.remove(at);
        assert_ne!(&head(vectors.session, &lines), honest);
    }
    assert_ne!(&head(id(77), &vectors.lines), honest);
    let with_returns: Vec<_> = vectors.lines.iter().map(|line| format!("{line}\r")).collect();
    assert_ne!(&head(vectors.session, &with_returns), honest);
}

#[test]
fn lines_in_any_other_spelling_are_refused() {
    let line = vectors().lines[1].clone();
    let changed = |from: &str, to: &str| {
        let changed = line.replacen(from, to, 1);
        assert_ne!(changed, line, "{from} is not in the line");
        changed
    };
    let bad = [
        String::new(),
        "[]".to_owned(),
        "{}".to_owned(),
        format!("{line}\n"),
        format!(" {line}"),
        line[..line.len() - 1].to_owned(),
        changed(",\"by\"", ", \"by\""),
        changed("\"seq\":2", "\"seq\":2.0"),
        changed("\"seq\":2", "\"seq\":-0"),
        changed("\"seq\":2", "\"seq\":-2"),
        changed("\"seq\":2", "\"seq\":4294967296"),
        changed("\"wall\":1789378267412", "\"wall\":9007199254740992"),
        changed("\"v\":1", "\"v\":2"),
        changed("\"v\":1", "\"v\":1,\"v\":1"),
        changed("\"v\":1", "\"v\":1,\"zz\":1"),
        changed("u-17", "u-017"),
        changed("u-17", "u-0"),
        changed("u-17", "17"),
        changed("\"d-3\"", "\"\""),
        changed("\"d-3\"", "\"d 3\""),
        changed("\"d-3\"", "\"d\\u002d3\""),
        changed("\"d-3\"", "null"),
        changed("\"kind\":\"observation\"", "\"kind\":\"amendment\""),
        changed("\"kind\":\"observation\"", "\"kind\":\"opened\""),
        changed("0198f3c2-7a41", "0198F3C2-7A41"),
        changed("\"reading\":\"none\"", "\"reading\":{\"deep\":1}"),
        changed("\"reading\":\"none\"", "\"reading\":[]"),
    ];
    for bad in bad {
        assert!(Entry::read(&bad).is_err(), "accepted: {bad}");
    }
}

#[test]
fn what_does_not_fit_an_entry_is_refused_when_written() {
    let vectors = vectors();
    let opened = entries(&vectors).remove(0);
    let unfit = [
        Entry { wall: 1 << 53, ..opened.clone() },
        Entry { mono: u64::MAX, ..opened.clone() },
        Entry { origin: Origin { device: "a\"b".to_owned(), ..opened.origin.clone() }, ..opened.clone() },
        Entry { origin: Origin { run: String::new(), ..opened.origin.clone() }, ..opened },
    ];
    for entry in unfit {
        assert!(entry.line().is_err(), "{entry:?}");
    }
}

#[test]
fn commitments_differ_by_purpose_salt_and_text() {
    let (one, two) = (salt(), Salt::new([7; 32]));
    let all = [
        commitment::note(&one, "a"),
        commitment::note(&two, "a"),
        commitment::note(&one, "b"),
        commitment::candidate(&one, "a"),
    ];
    let distinct: std::collections::HashSet<_> = all.iter().collect();
    assert_eq!(distinct.len(), all.len());
}

proptest! {
    #[test]
    fn reading_never_panics(line in ".{0,300}") {
        let _ = Entry::read(&line);
    }

    #[test]
    fn a_mutated_byte_never_reads_as_the_same_entry(at in 0usize..400, byte in 0u8..128) {
        let line = vectors().lines.remove(1);
        let at = at % line.len();
        let mut bytes = line.clone().into_bytes();
        bytes[at] = byte;
        let mutated = String::from_utf8(bytes).unwrap();
        prop_assume!(mutated != line);
        prop_assert!(Entry::read(&mutated) != Entry::read(&line));
    }

    #[test]
    fn whatever_is_written_reads_back(
        seq in any::<u32>(), wall in -(1i64 << 52)..(1i64 << 52), mono in 0u64..(1 << 52),
        by in 1i32.., device in "[A-Za-z0-9._:-]{1,64}", offset in -100_000i64..100_000, text in "\\PC{1,40}",
    ) {
        let seen = Observation {
            seq, at_ms: mono, wall: Wall(wall),
            act: Act::Remark { text: Text::new(&text).unwrap(), criterion: None },
            ..observation(1, 0, 0, Act::Started)
        };
        let from = Origin { by, device, offset, ..origin(5) };
        let (entry, kept) = Entry::observed(&seen, from, &salt()).unwrap();
        prop_assert_eq!(kept.as_deref(), Some(text.as_str()));
        let back = Entry::read(&entry.line().unwrap()).unwrap();
        prop_assert!(back.holds(&seen, Some(&salt())));
        let Content::Observed { act } = &back.content else { panic!("another kind") };
        let expected = commitment::note(&salt(), &text);
        prop_assert_eq!(CommittedAct::commitment(act), Some(expected.as_str()));
        prop_assert_eq!(back, entry);
    }
}

#[test]
fn late_and_gap_entries_have_lines_of_their_own_and_come_back() {
    let vectors = vectors();
    let [seen, remark, _] = observations(&vectors);
    let late = Entry::observed(&seen, origin(7), &salt()).unwrap().0.late();
    let line = late.line().unwrap();
    assert!(line.starts_with("{\"act\":{") && line.contains("\"kind\":\"late\""), "{line}");
    assert_eq!(Entry::read(&line).unwrap(), late);
    assert_eq!(late.observation(None).unwrap(), Some(seen.clone()));
    assert!(late.holds(&seen, None) && !late.holds(&remark, None), "sent again, it is the same observation");
    let other = Observation { at_ms: seen.at_ms + 1, ..seen };
    assert!(!late.holds(&other, None));

    let reason = commitment::note(&salt(), "left in the van");
    let content = Content::Gap { device: "d-3".to_owned(), first: 3, last: 4, reason: reason.clone() };
    let gap = Entry { id: id(9), seq: 0, wall: 5, mono: 0, origin: origin(5), content };
    let line = gap.line().unwrap();
    let expected = format!(
        "{{\"by\":\"u-17\",\"dev\":\"d-3\",\"device\":\"d-3\",\"err\":120,\"first\":3,\"id\":\"{}\",\"kind\":\"gap\",\
         \"last\":4,\"mono\":0,\"off\":-1830,\"recv\":5,\"run\":\"r-1\",\"seq\":0,\"text\":\"{reason}\",\"v\":1,\"wall\":5}}",
        id(9)
    );
    assert_eq!(line, expected);
    assert_eq!(Entry::read(&line).unwrap(), gap);
    assert!(Entry::read(&line.replace("\"first\":3,", "")).is_err());
    assert_eq!(gap.observation(None).unwrap(), None);
}
