//! Every rule's form: a criterion becomes a form and the form the same criterion, step by step as a browser sends it.

use super::form::{Next, Step, read, slug, typed, with_defaults};
use super::typed::Typed;
use crate::marking::{Criterion, CriterionId, Rule, act_form, library};

fn criterion(decided: &str) -> Criterion {
    let rest =
        "id = \"a\"\nsays = \"Says\\nso\"\nweight = 2\nfails = \"must\"\nsource = \"s\"\nwhen_not_met = \"Do it.\"\n";
    Criterion::read_toml(&format!("{rest}decided = {decided}\n")).unwrap_or_else(|why| panic!("{decided}: {why}"))
}

/// Sends the form on from step to step, as the pages carry it along, until a criterion comes out.
fn sent(mut form: Typed) -> Criterion {
    for step in ["about", "parameters", "fields", "never"] {
        form.set("step", step);
        match read(&form, None) {
            Next::Done(criterion, stage) => {
                assert_eq!(stage, "Stage");
                return *criterion;
            }
            Next::Ask(next, faults) => {
                assert!(faults.is_empty(), "{faults:?}");
                if next == Step::Parameters {
                    form.set("step", "about");
                    form = with_defaults(form);
                }
            }
        }
    }
    panic!("the form does not end: {form:?}")
}

/// A criterion for every rule, and for every kind of act with every field at every value.
fn every_criterion() -> Vec<Criterion> {
    let mut all = vec![criterion("\"by_eye\"")];
    for word in Rule::WORDS {
        let parameters: &[&str] = match word {
            "notice_posted" => &["", ", filled = false"],
            "indicator_suitable" => &["", ", accepts = [\"multimeter\", \"voltage_indicator\"], max_tip_mm = 2.5"],
            "indicator_inspected" => &[", parts = [\"tips\"]", ", parts = [\"fit\", \"leads\", \"date\"]"],
            "proved_before_testing" | "proved_after_testing" => &["", ", accepts = [\"self_test\"]"],
            "all_rounds_tested" => &["", ", rounds = \"minimum\"", ", rounds = \"every_setting\""],
            "happened" | "never" => &[", act = { kind = \"touched\" }"],
            "before" => &[", first = { kind = \"opened\", point = \"P1\" }, then = { kind = \"started\" }"],
            _ => &[""],
        };
        all.extend(parameters.iter().map(|with| criterion(&format!("{{ rule = \"{word}\"{with} }}"))));
    }
    for (kind, _) in act_form::KINDS {
        let mut acts = vec![String::new()];
        for field in act_form::fields(kind) {
            let values: Vec<String> = match field.holds {
                act_form::Holds::YesNo => vec!["true".into(), "false".into()],
                act_form::Holds::Name(_) => vec!["\"n-1\"".into()],
                act_form::Holds::Word(words) => words.iter().map(|word| format!("\"{word}\"")).collect(),
            };
            acts.extend(values.iter().map(|value| format!(", {} = {value}", field.name)));
        }
        let of = |act: &String| criterion(&format!("{{ rule = \"never\", act = {{ kind = \"{kind}\"{act} }} }}"));
        all.extend(acts.iter().map(of));
    }
    for (scheme, ..) in super::SCHEMES {
        all.extend(library::criteria(scheme).iter().map(|starter| starter.criterion.clone()));
    }
    all
}

#[test]
fn every_criterion_comes_back_from_its_form_as_it_was() {
    let all = every_criterion();
    assert!(all.len() > 200, "only {}", all.len());
    for one in all {
        assert_eq!(sent(typed(&one, "Stage")), one);
    }
}

#[test]
fn a_rule_with_parameters_asks_for_them_in_a_step_of_its_own() {
    let mut form = typed(&criterion("\"by_eye\""), "Stage");
    form.set("decided", "indicator_suitable");
    let Next::Ask(Step::Parameters, faults) = read(&form, None) else { panic!("the next step") };
    assert!(faults.is_empty());
    form.set("step", "parameters");
    form.set("max_tip_mm", "x");
    let Next::Ask(Step::Parameters, faults) = read(&form, None) else { panic!("the same step") };
    assert!(faults.of("accepts").is_some() && faults.of("max_tip_mm").is_some(), "{faults:?}");
    form.set("max_tip_mm", "2,5");
    form.set("accepts", "multimeter");
    assert!(matches!(read(&form, None), Next::Done(..)));
    form.set("back", "on");
    assert!(matches!(read(&form, None), Next::Ask(Step::About, _)));
}

#[test]
fn what_no_file_may_hold_is_a_fault_beside_its_field() {
    let mut form = typed(&criterion("{ rule = \"never\", act = { kind = \"control_tried\" } }"), "Stage");
    form.set("step", "fields");
    form.set("act.device", "Q1");
    form.set("act.switch", "S1");
    let Next::Ask(Step::Fields, faults) = read(&form, None) else { panic!("faults") };
    assert!(faults.of("act.switch").is_some_and(|says| says.contains("found both")), "{faults:?}");
    form.set("act.switch", "no name");
    let Next::Ask(Step::Fields, faults) = read(&form, None) else { panic!("faults") };
    assert!(faults.of("act.switch").is_some(), "{faults:?}");
}

#[test]
fn what_is_missing_is_said_field_by_field() {
    let Next::Ask(Step::About, faults) = read(&Typed::default(), None) else { panic!("faults") };
    let fields: Vec<&str> = faults.all().iter().map(|(field, _)| field.as_str()).collect();
    assert_eq!(fields, ["says", "stage", "source", "weight", "fails", "decided"]);
}

#[test]
fn a_short_name_is_made_of_the_sentence() {
    let name = |says: &str| slug(says, "criterion");
    assert_eq!(name("Keeps the key, always!"), "keeps-the-key-always");
    assert_eq!(name("漢字"), "criterion");
    assert!(name(&"word ".repeat(100)).len() <= 48);
    assert!(CriterionId::new(&name("É à ü")).is_some());
}
