//! The form of a criterion: what was typed becomes a criterion, step by step, and a criterion becomes a form again.

use super::rules;
use super::typed::Typed;
use crate::bay::ItemKind;
use crate::marking::act_form::{self, Holds};
use crate::marking::checklist::Pattern;
use crate::marking::observation::{Part, ProvedOn};
use crate::marking::{Criterion, CriterionId, Decided, Fails, Rounds, Rule, draft, write};
use crate::reading::words::word;
use crate::web::form::{self, Faults};
use serde::de::DeserializeOwned;
use serde_json::Value;
use std::collections::BTreeMap;

/// Longest sentence of a criterion and its feedback, in characters; as in files.
const SENTENCE: usize = 2_000;

/// A step of the form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// What it says and how it is decided.
    About,
    /// The rule's parameters; the kind of act for a rule of the centre's own.
    Parameters,
    /// What else the acts must have.
    Fields,
}

/// What follows from what was typed.
#[derive(Debug, Clone, PartialEq)]
pub enum Next {
    /// The step to show, and what is wrong in it.
    Ask(Step, Faults),
    /// A criterion and its stage.
    Done(Box<Criterion>, String),
}

/// The acts that a rule describes, as the form names them; none for most rules.
pub fn acts(rule: &str) -> &'static [(&'static str, &'static str)] {
    match rule {
        "happened" => &[("act", "The act that must be seen")],
        "never" => &[("act", "The act that must never be seen")],
        "before" => &[("first", "The act that must come first"), ("then", "The act that it must come before")],
        _ => &[],
    }
}

/// Whether a rule has a form of its own.
fn has_parameters(rule: &str) -> bool {
    let own = ["notice_posted", "indicator_suitable", "indicator_inspected", "all_rounds_tested"];
    own.contains(&rule) || is_proof(rule) || !acts(rule).is_empty()
}

/// Whether a rule is about proving the indicator.
pub fn is_proof(rule: &str) -> bool {
    ["proved_before_testing", "proved_after_testing"].contains(&rule)
}

/// What was typed as a criterion, or the step that is still to be filled in. `name` is the identifier where it has one
/// already.
pub fn read(typed: &Typed, name: Option<&CriterionId>) -> Next {
    let step = match typed.get("step") {
        "fields" => Step::Fields,
        "parameters" => Step::Parameters,
        _ => Step::About,
    };
    let back = typed.has("back");
    let mut faults = Faults::none();
    let about = about(typed, name, &mut faults);
    if !faults.is_empty() || back && step == Step::Parameters {
        return Next::Ask(Step::About, faults);
    }
    let rule = typed.get("decided");
    if step == Step::About && has_parameters(rule) || back {
        return Next::Ask(Step::Parameters, Faults::none());
    }
    let acts = acts(rule);
    for (prefix, _) in acts {
        let field = format!("{prefix}.kind");
        if act_form::KINDS.iter().all(|(kind, _)| *kind != typed.get(&field)) {
            faults.add(field, "Please choose an act.");
        }
    }
    if !faults.is_empty() {
        return Next::Ask(Step::Parameters, faults);
    }
    let has_fields = |(prefix, _): &(&str, &str)| !act_form::fields(typed.get(&format!("{prefix}.kind"))).is_empty();
    if step == Step::Parameters && acts.iter().any(has_fields) {
        return Next::Ask(Step::Fields, Faults::none());
    }
    let at = if acts.is_empty() { Step::Parameters } else { Step::Fields };
    let decided = decided(typed, rule, &mut faults);
    let Some((criterion, decided)) = about.zip(decided).filter(|_| faults.is_empty()) else {
        return Next::Ask(at, faults);
    };
    whole(Criterion { decided, ..criterion }, typed.get("stage").trim(), at)
}

/// The reader of files has the last word on what a criterion may be.
fn whole(criterion: Criterion, stage: &str, at: Step) -> Next {
    match Criterion::read_toml(&write::criterion(&criterion)) {
        Ok(criterion) => Next::Done(Box::new(criterion), stage.to_owned()),
        Err(why) => {
            let mut faults = Faults::none();
            for fault in why.as_slice() {
                let field = fault.path.strip_prefix("decided.").unwrap_or(&fault.path);
                faults.add(field, format!("{}.", capital(&fault.says)));
            }
            Next::Ask(at, faults)
        }
    }
}

fn capital(says: &str) -> String {
    let mut letters = says.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// Everything but the rule; decided by eye until that is known.
fn about(typed: &Typed, name: Option<&CriterionId>, faults: &mut Faults) -> Option<Criterion> {
    let says = sentences(faults, "says", typed.get("says"));
    form::line(faults, "stage", typed.get("stage"), draft::LONGEST_TITLE);
    let source = form::line(faults, "source", typed.get("source"), draft::LONGEST_TITLE);
    let weight = form::whole(faults, "weight", typed.get("weight"), 1, i64::from(draft::HEAVIEST));
    let fails = word::<Fails>(typed.get("fails")).ok();
    if fails.is_none() {
        faults.add("fails", "Please choose what follows if it is not met.");
    }
    let id = match (name, typed.get("id").trim()) {
        (Some(name), _) => Some(name.clone()),
        (None, "") => CriterionId::new(&slug(&says, "criterion")),
        (None, id) => CriterionId::new(id),
    };
    if id.is_none() {
        faults.add("id", "A short name has up to 64 letters (A to Z), digits, dots, colons, hyphens or underscores.");
    }
    let mut feedback = |field: &str| {
        let text = typed.get(field).trim();
        (!text.is_empty()).then(|| sentences(faults, field, text))
    };
    let (when_met, when_not_met) = (feedback("when_met"), feedback("when_not_met"));
    if typed.get("decided") != "by_eye" && rules::named(typed.get("decided")).is_none() {
        faults.add("decided", "Please choose how it is decided.");
    }
    let weight = weight.and_then(|weight| u16::try_from(weight).ok());
    let decided = Decided::ByEye;
    Some(Criterion { id: id?, says, weight: weight?, fails: fails?, decided, when_met, when_not_met, source })
}

/// Text of one or more lines.
fn sentences(faults: &mut Faults, field: &str, typed: &str) -> String {
    let text = typed.trim().replace("\r\n", "\n");
    form::line(faults, field, &text.replace('\n', " "), SENTENCE);
    text
}

/// A short name made from a sentence: its first words, in letters that every file takes; `otherwise` where it has none.
pub fn slug(says: &str, otherwise: &str) -> String {
    let mut name = String::new();
    for part in says.to_lowercase().split(|c: char| !c.is_ascii_alphanumeric()).filter(|part| !part.is_empty()) {
        if name.len() + part.len() > 40 {
            break;
        }
        if !name.is_empty() {
            name.push('-');
        }
        name.push_str(part);
    }
    if name.is_empty() { otherwise.to_owned() } else { name }
}

fn decided(typed: &Typed, rule: &str, faults: &mut Faults) -> Option<Decided> {
    let read = match rule {
        "by_eye" => return Some(Decided::ByEye),
        "notice_posted" => Rule::NoticePosted { filled: typed.get("filled") != "no" },
        "indicator_suitable" => {
            let accepts = some::<ItemKind>(typed, "accepts", faults);
            let typed_mm = typed.get("max_tip_mm").trim().replace(',', ".");
            let max_tip_mm = typed_mm.parse::<f64>().ok().filter(|mm| (0.0..=100.0).contains(mm));
            if max_tip_mm.is_none() {
                faults.add("max_tip_mm", "Please give millimetres from 0 to 100.");
            }
            Rule::IndicatorSuitable { accepts: accepts?, max_tip_mm: max_tip_mm? }
        }
        "indicator_inspected" => Rule::IndicatorInspected { parts: some::<Part>(typed, "parts", faults)? },
        "proved_before_testing" => Rule::ProvedBeforeTesting { accepts: some::<ProvedOn>(typed, "accepts", faults)? },
        "proved_after_testing" => Rule::ProvedAfterTesting { accepts: some::<ProvedOn>(typed, "accepts", faults)? },
        "all_rounds_tested" => match word::<Rounds>(typed.get("rounds")) {
            Ok(rounds) => Rule::AllRoundsTested { rounds },
            Err(_) => {
                faults.add("rounds", "Please choose the rounds.");
                return None;
            }
        },
        "happened" => Rule::Happened { act: act(typed, "act", faults) },
        "never" => Rule::Never { act: act(typed, "act", faults) },
        "before" => Rule::Before { first: act(typed, "first", faults), then: act(typed, "then", faults) },
        plain => {
            // Without parameters its name is all there is to it.
            let text =
                format!("id=\"a\"\nsays=\"a\"\nweight=1\nfails=\"must\"\nsource=\"a\"\ndecided={{rule=\"{plain}\"}}");
            return Criterion::read_toml(&text).ok().map(|criterion| criterion.decided);
        }
    };
    Some(Decided::Rule(read))
}

/// The words that were ticked, at least one.
fn some<T: DeserializeOwned>(typed: &Typed, field: &str, faults: &mut Faults) -> Option<Vec<T>> {
    let chosen: Result<Vec<T>, String> = typed.all(field).iter().map(|text| word(text)).collect();
    match chosen {
        Ok(chosen) if !chosen.is_empty() => Some(chosen),
        _ => {
            faults.add(field, "Please tick at least one.");
            None
        }
    }
}

fn act(typed: &Typed, prefix: &str, faults: &mut Faults) -> Pattern {
    let kind = typed.get(&format!("{prefix}.kind")).to_owned();
    let mut fields = BTreeMap::new();
    for field in act_form::fields(&kind) {
        let name = format!("{prefix}.{}", field.name);
        let value = typed.get(&name).trim();
        if value.is_empty() {
            continue;
        }
        let value = match field.holds {
            Holds::YesNo => Value::Bool(value == "yes"),
            Holds::Name(_) if !crate::bay::ids::well_formed(value) => {
                faults
                    .add(name, "A name in a task has up to 64 letters, digits, dots, colons, hyphens or underscores.");
                continue;
            }
            Holds::Word(_) | Holds::Name(_) => Value::String(value.to_owned()),
        };
        fields.insert(field.name.to_owned(), value);
    }
    Pattern { kind, fields }
}

/// A criterion as its form.
pub fn typed(criterion: &Criterion, stage: &str) -> Typed {
    let mut typed = Typed::default();
    let fails = match criterion.fails {
        Fails::Ordinary => "ordinary",
        Fails::Must => "must",
        Fails::Automatic => "automatic",
    };
    for (name, value) in [
        ("id", criterion.id.as_str()),
        ("says", &criterion.says),
        ("stage", stage),
        ("source", &criterion.source),
        ("weight", &criterion.weight.to_string()),
        ("fails", fails),
        ("when_met", criterion.when_met.as_deref().unwrap_or_default()),
        ("when_not_met", criterion.when_not_met.as_deref().unwrap_or_default()),
    ] {
        typed.set(name, value);
    }
    match &criterion.decided {
        Decided::ByEye => typed.set("decided", "by_eye"),
        Decided::Rule(rule) => {
            typed.set("decided", rule.word());
            parameters(rule, &mut typed);
        }
    }
    typed
}

fn parameters(rule: &Rule, typed: &mut Typed) {
    match rule {
        Rule::NoticePosted { filled } => typed.set("filled", yes_no(*filled)),
        Rule::IndicatorSuitable { accepts, max_tip_mm } => {
            accepts.iter().for_each(|kind| typed.add("accepts", kind.word()));
            typed.set("max_tip_mm", &max_tip_mm.to_string());
        }
        Rule::IndicatorInspected { parts } => parts.iter().for_each(|part| typed.add("parts", part.word())),
        Rule::ProvedBeforeTesting { accepts } | Rule::ProvedAfterTesting { accepts } => {
            accepts.iter().for_each(|on| typed.add("accepts", on.word()));
        }
        Rule::AllRoundsTested { rounds } => typed.set("rounds", rules::rounds_word(*rounds)),
        Rule::Happened { act } | Rule::Never { act } => put_act(typed, "act", act),
        Rule::Before { first, then } => {
            put_act(typed, "first", first);
            put_act(typed, "then", then);
        }
        _ => {}
    }
}

fn put_act(typed: &mut Typed, prefix: &str, act: &Pattern) {
    typed.set(&format!("{prefix}.kind"), &act.kind);
    for (field, value) in &act.fields {
        let value = match value {
            Value::Bool(yes) => yes_no(*yes),
            other => other.as_str().unwrap_or_default(),
        };
        typed.set(&format!("{prefix}.{field}"), value);
    }
}

fn yes_no(yes: bool) -> &'static str {
    if yes { "yes" } else { "no" }
}

/// What the form of a rule shows before anybody filled it in: the values that files take for granted.
pub fn with_defaults(mut typed: Typed) -> Typed {
    let rule = typed.get("decided").to_owned();
    let fresh = typed.get("step") != "parameters" && typed.get("step") != "fields";
    let mut default = |field: &str, words: &[&str]| {
        if fresh && !typed.has(field) {
            words.iter().for_each(|word| typed.add(field, word));
        }
    };
    match rule.as_str() {
        "notice_posted" => default("filled", &["yes"]),
        "indicator_suitable" => {
            default("accepts", &Rule::ACCEPTS.map(ItemKind::word));
            default("max_tip_mm", &[&Rule::MAX_TIP_MM.to_string()]);
        }
        "indicator_inspected" => default("parts", &["tips", "guards", "leads"]),
        "all_rounds_tested" => default("rounds", &["each_switch"]),
        proof if is_proof(proof) => default("accepts", &Rule::PROOFS.map(ProvedOn::word)),
        _ => {}
    }
    typed
}
