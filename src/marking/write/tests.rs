//! What is written reads as the same again, and looks as if a person had written it.

use super::{checklist, checklist_file, criterion, decided};
use crate::bay::ItemKind;
use crate::bay::plan::Rounds;
use crate::marking::checklist::Pattern;
use crate::marking::observation::{Part, ProvedOn};
use crate::marking::{Checklist, ChecklistFile, Criterion, CriterionId, Decided, Fails, Rule, Stage, Task};
use proptest::prelude::*;
use serde_json::{Value, json};

const STAIRWELL: &str = include_str!("../../../tests/reference/examples/stairwell.toml");

/// Source: the worked example, which was written by hand.
#[test]
fn the_worked_example_is_written_as_it_was_by_hand() {
    let by_hand = &STAIRWELL[STAIRWELL.find("[[checklist.stages]]").unwrap()..];
    assert_eq!(checklist(&Task::read_toml(STAIRWELL).unwrap().checklist), by_hand);
}

/// Words of a closed set, some of them in any order.
fn some<T: Clone + std::fmt::Debug + 'static>(all: &'static [T]) -> impl Strategy<Value = Vec<T>> {
    prop::sample::subsequence(all, 1..=all.len()).prop_shuffle()
}

/// An identifier as task files allow it.
pub(super) fn name() -> impl Strategy<Value = String> {
    "[A-Za-z0-9._:-]{1,12}"
}

fn pattern() -> impl Strategy<Value = Pattern> {
    let kind = |kind: &'static str, fields: Value| Pattern {
        kind: kind.to_owned(),
        fields: fields.as_object().cloned().unwrap_or_default().into_iter().collect(),
    };
    prop_oneof![
        prop::sample::select(vec!["opened", "prompted", "tested", "key"]).prop_map(move |word| kind(word, json!({}))),
        (name(), any::<bool>()).prop_map(move |(item, filled)| kind("posted", json!({"item": item, "filled": filled}))),
        name().prop_map(move |device| kind("control_tried", json!({"device": device, "result": "nothing"}))),
        name().prop_map(move |point| kind(
            "tested",
            json!({"point": point, "first": "E", "second": "SL", "reading": "none"})
        )),
        prop::sample::select(vec!["met", "not_met"])
            .prop_map(move |outcome| kind("ticked", json!({"outcome": outcome}))),
    ]
}

/// Every rule, with any parameters it may have.
fn rule() -> impl Strategy<Value = Rule> {
    let bare = Rule::WORDS.into_iter().filter_map(|word| match Criterion::read_toml(&with_rule(word)) {
        Ok(Criterion { decided: Decided::Rule(rule), .. }) => Some(rule),
        _ => None,
    });
    let tip = prop_oneof![0.0..=100.0f64, (0..=100u8).prop_map(f64::from), Just(f64::MIN_POSITIVE)];
    prop_oneof![
        prop::sample::select(bare.collect::<Vec<_>>()),
        any::<bool>().prop_map(|filled| Rule::NoticePosted { filled }),
        (some(&ItemKind::INSTRUMENTS), tip)
            .prop_map(|(accepts, max_tip_mm)| Rule::IndicatorSuitable { accepts, max_tip_mm }),
        some(Part::ALL).prop_map(|parts| Rule::IndicatorInspected { parts }),
        some(ProvedOn::ALL).prop_map(|accepts| Rule::ProvedBeforeTesting { accepts }),
        some(ProvedOn::ALL).prop_map(|accepts| Rule::ProvedAfterTesting { accepts }),
        prop::sample::select(vec![Rounds::EachSwitch, Rounds::Minimum, Rounds::EverySetting])
            .prop_map(|rounds| Rule::AllRoundsTested { rounds }),
        pattern().prop_map(|act| Rule::Happened { act }),
        pattern().prop_map(|act| Rule::Never { act }),
        (pattern(), pattern()).prop_map(|(first, then)| Rule::Before { first, then }),
    ]
}

fn with_rule(word: &str) -> String {
    format!(
        "id = \"a\"\nsays = \"b\"\nweight = 1\nfails = \"must\"\ndecided = {{ rule = \"{word}\" }}\nsource = \"c\"\n"
    )
}

/// Any text that a task file may hold: no NUL, not only blanks, up to 60 characters.
pub(super) fn text() -> impl Strategy<Value = String> {
    let odd = prop::sample::select(vec![
        '"',
        '\'',
        '\\',
        '\n',
        '\r',
        '\t',
        '\u{8}',
        '\u{1b}',
        '\u{7f}',
        '\u{85}',
        '\u{a0}',
        '\u{2028}',
        '\u{feff}',
        '\u{202e}',
        '#',
        '=',
        '[',
        '{',
        'é',
        'ž',
        '\u{301}',
        '漢',
        'ع',
        '🙂',
        '\u{10ffff}',
        ' ',
        'a',
    ]);
    let letter = prop_oneof![3 => odd, 1 => any::<char>()];
    prop::collection::vec(letter, 1..60)
        .prop_map(String::from_iter)
        .prop_filter("text that may be read", |text| !text.contains('\0') && !text.trim().is_empty())
}

fn any_criterion() -> impl Strategy<Value = Criterion> {
    let how = prop_oneof![1 => Just(Decided::ByEye), 5 => rule().prop_map(Decided::Rule)];
    let fails = prop::sample::select(vec![Fails::Ordinary, Fails::Must, Fails::Automatic]);
    let feedback = (prop::option::of(text()), prop::option::of(text()));
    (name(), text(), 1..=1_000u16, fails, how, feedback, text()).prop_map(
        |(id, says, weight, fails, decided, (when_met, when_not_met), source)| Criterion {
            id: CriterionId::new(&id).unwrap(),
            says,
            weight,
            fails,
            decided,
            when_met,
            when_not_met,
            source,
        },
    )
}

/// Any checklist; identifiers in it differ.
pub(super) fn any_checklist() -> impl Strategy<Value = Checklist> {
    let stage = (text(), prop::collection::vec(any_criterion(), 1..5));
    prop::collection::vec(stage, 1..4).prop_map(|stages| {
        let mut count = 0;
        let mut stage = |(title, mut criteria): (String, Vec<Criterion>)| {
            for criterion in &mut criteria {
                count += 1;
                criterion.id = CriterionId::new(&format!("{}.{count}", criterion.id)).unwrap();
            }
            Stage { title, criteria }
        };
        Checklist { stages: stages.into_iter().map(&mut stage).collect() }
    })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(192) })]

    #[test]
    fn a_checklist_reads_as_it_was_written(title in text(), pass_percent in 0..=100u8, checklist in any_checklist()) {
        let file = ChecklistFile { title, pass_percent, checklist };
        let written = checklist_file(&file);
        prop_assert_eq!(Checklist::read_toml(&written).map_err(|faults| faults.to_string()), Ok(file.checklist.clone()));
        prop_assert_eq!(ChecklistFile::read_toml(&written), Ok(file));
    }

    #[test]
    fn a_criterion_reads_as_it_was_written_and_as_json(one in any_criterion()) {
        let written = criterion(&one);
        prop_assert_eq!(Criterion::read_toml(&written), Ok(one.clone()), "{}", written);
        prop_assert_eq!(Criterion::read_json(&serde_json::to_string(&one).unwrap()), Ok(one));
    }

    /// The toml crate's own types, which share nothing with our reader but the parser, hold the same texts.
    #[test]
    fn another_reader_finds_the_same_texts(one in any_criterion()) {
        let table: toml::Table = criterion(&one).parse().unwrap();
        prop_assert_eq!(table["says"].as_str(), Some(one.says.as_str()));
        prop_assert_eq!(table["source"].as_str(), Some(one.source.as_str()));
        prop_assert_eq!(table.get("when_met").and_then(|text| text.as_str()), one.when_met.as_deref());
        prop_assert_eq!(table["weight"].as_integer(), Some(i64::from(one.weight)));
    }
}

/// One rule of every name went through the properties above; this names them, so that a new one is not forgotten.
#[test]
fn every_rule_is_written_under_its_name() {
    for word in Rule::WORDS {
        let parameters = match word {
            "indicator_inspected" => ", parts = [\"tips\", \"leads\"]",
            "happened" | "never" => ", act = { kind = \"touched\", point = \"lamp\" }",
            "before" => ", first = { kind = \"lamp_out\" }, then = { kind = \"tested\", reading = \"none\" }",
            _ => "",
        };
        let value = format!("{{ rule = \"{word}\"{parameters} }}");
        let read = Criterion::read_toml(&with_rule(word).replace(&format!("{{ rule = \"{word}\" }}"), &value)).unwrap();
        assert_eq!(decided(&read.decided), value);
    }
}

#[test]
fn parameters_that_are_not_the_default_are_written() {
    let multimeter = vec![ItemKind::VoltageIndicator, ItemKind::Multimeter];
    let suitable = Rule::IndicatorSuitable { accepts: multimeter, max_tip_mm: 2.5 };
    assert_eq!(
        decided(&Decided::Rule(suitable)),
        r#"{ rule = "indicator_suitable", accepts = ["voltage_indicator", "multimeter"], max_tip_mm = 2.5 }"#
    );
    assert_eq!(
        decided(&Decided::Rule(Rule::NoticePosted { filled: false })),
        r#"{ rule = "notice_posted", filled = false }"#
    );
    let rounds = Rule::AllRoundsTested { rounds: Rounds::EverySetting };
    assert_eq!(decided(&Decided::Rule(rounds)), r#"{ rule = "all_rounds_tested", rounds = "every_setting" }"#);
}

#[test]
fn a_checklist_file_needs_its_format_title_and_pass_mark() {
    let faults =
        ChecklistFile::read_toml("format = \"baywitness task 1\"\npass_percent = 101\nminutes = 5\n").unwrap_err();
    let faults: Vec<String> = faults.as_slice().iter().map(ToString::to_string).collect();
    assert_eq!(
        faults,
        [
            "line 1, checklist: `checklist` is missing",
            "line 1, format: expected `baywitness checklist 1`, found `baywitness task 1`",
            "line 1, title: `title` is missing",
            "line 2, pass_percent: expected a whole number from 0 to 100, found 101",
            "line 3, minutes: `minutes` is not known here, expected one of format, title, pass_percent or checklist",
        ]
    );
}

#[test]
fn outside_of_a_task_a_name_need_not_be_there_but_must_be_one() {
    let act = |act: &str| with_rule("never").replace("\"never\"", &format!("\"never\", act = {act}"));
    assert!(Criterion::read_toml(&act(r#"{ kind = "switched", device = "Q7" }"#)).is_ok());
    let fault = Criterion::read_toml(&act(r#"{ kind = "switched", device = "Q 7" }"#)).unwrap_err().to_string();
    assert!(fault.starts_with("line 5, decided.act.device: `Q 7`: an identifier is"), "{fault}");
    let twice = checklist_file(&ChecklistFile {
        title: "Two of a name".into(),
        pass_percent: 70,
        checklist: Checklist {
            stages: vec![Stage {
                title: "One".into(),
                criteria: vec![Criterion::read_toml(&with_rule("key_kept")).unwrap(); 2],
            }],
        },
    });
    assert!(Checklist::read_toml(&twice).unwrap_err().to_string().contains("already the name of a criterion"));
}
