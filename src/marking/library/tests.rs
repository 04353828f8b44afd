//! The shipped files are whole, and their texts are easy to read.

use super::read::{library, shipped};
use super::{Starter, checklist, checklist_file, criteria, criterion, stages};
use crate::bay::Standards;
use crate::marking::{ChecklistFile, CriterionId, write};
use std::collections::BTreeSet;

#[test]
fn the_shipped_files_are_read_without_a_fault() {
    assert_eq!(shipped().map(|schemes| schemes.len()).map_err(|faults| faults.to_string()), Ok(5));
}

#[test]
fn names_are_unique_in_a_scheme_and_mean_the_same_in_every_scheme() {
    let mut all = BTreeSet::new();
    for standards in Standards::ALL {
        let ids: BTreeSet<&str> = criteria(standards).iter().map(|one| one.criterion.id.as_str()).collect();
        assert_eq!(ids.len(), criteria(standards).len(), "{}", standards.word());
        assert!((40..=60).contains(&ids.len()), "{}: {}", standards.word(), ids.len());
        all.extend(ids);
    }
    assert!((45..=65).contains(&all.len()), "{}", all.len());
    for id in all {
        let id = CriterionId::new(id).unwrap();
        let stages: BTreeSet<String> = Standards::ALL
            .into_iter()
            .filter_map(|one| criterion(one, &id))
            .map(|one| format!("{:?}", one.stage))
            .collect();
        assert_eq!(stages.len(), 1, "{id} stands in {stages:?}");
    }
}

#[test]
fn every_criterion_has_feedback_a_source_and_a_reason() {
    for (standards, starter) in starters() {
        let (id, one) = (&starter.criterion.id, &starter.criterion);
        assert!(one.when_met.is_some() && one.when_not_met.is_some(), "{id}");
        let names_them = |text: &str| text.to_lowercase().contains("you");
        assert!(one.when_met.as_deref().is_some_and(names_them), "{id} praises no act of theirs");
        assert!(starter.why.ends_with('.') && !starter.rests_on.is_empty(), "{id}");
        match &starter.edition {
            Some(edition) => assert!(one.source.ends_with(&format!("({edition})")), "{id}: {}", one.source),
            None => assert_eq!(one.source, "common practice", "{id} of {}", standards.word()),
        }
        assert_eq!(
            starter.edition.is_none(),
            starter.status == super::Status::Practice,
            "{id} of {}",
            standards.word()
        );
    }
}

#[test]
fn a_ready_made_checklist_holds_the_ready_made_criteria_in_the_order_of_the_stages() {
    for standards in Standards::ALL {
        let ready: Vec<&str> =
            criteria(standards).iter().filter(|one| one.ready_made).map(|one| one.criterion.id.as_str()).collect();
        let made = checklist(standards);
        let ids: Vec<&str> = made.criteria().map(|one| one.id.as_str()).collect();
        assert_eq!(ids, ready, "{}", standards.word());
        let order: Vec<&str> = stages(standards).iter().map(|stage| stage.title.as_str()).collect();
        let titles: Vec<&str> = made.stages.iter().map(|stage| stage.title.as_str()).collect();
        let kept: Vec<&str> = order.into_iter().filter(|title| titles.contains(title)).collect();
        assert_eq!(titles, kept);
    }
}

#[test]
fn a_ready_made_checklist_reads_as_it_is_written() {
    for standards in Standards::ALL {
        let file = checklist_file(standards);
        assert_eq!(ChecklistFile::read_toml(&write::checklist_file(&file)), Ok(file));
    }
}

fn starters() -> impl Iterator<Item = (Standards, &'static Starter)> {
    Standards::ALL.into_iter().flat_map(|one| criteria(one).iter().map(move |starter| (one, starter)))
}

/// What a candidate reads of one scheme.
fn feedback(standards: Standards) -> Vec<&'static str> {
    let of = |one: &'static Starter| {
        [one.criterion.when_met.as_deref(), one.criterion.when_not_met.as_deref(), Some(one.why.as_str())]
    };
    criteria(standards).iter().flat_map(of).flatten().collect()
}

fn sentences<'a>(texts: &[&'a str]) -> Vec<&'a str> {
    texts
        .iter()
        .flat_map(|text| text.split_inclusive(['.', '?']))
        .map(str::trim)
        .filter(|one| !one.is_empty())
        .collect()
}

fn words(text: &str) -> usize {
    text.split_whitespace().count()
}

/// Automated Readability Index (Smith and Senter 1967): 4.71 characters a word + 0.5 words a sentence − 21.43.
fn readability(texts: &[&str]) -> f64 {
    let sentences = sentences(texts);
    let count: usize = sentences.iter().map(|one| words(one)).sum();
    let letters = sentences.iter().flat_map(|one| one.chars()).filter(|c| c.is_alphanumeric()).count();
    4.71 * letters as f64 / count as f64 + 0.5 * count as f64 / sentences.len() as f64 - 21.43
}

/// The limits for what a candidate reads: 15 words a sentence in the mean and 25 at most; an index of 8 with the trade's
/// terms in it.
#[test]
fn feedback_is_short_and_easy_to_read() {
    for standards in Standards::ALL {
        let texts = feedback(standards);
        let sentences = sentences(&texts);
        let longest = sentences.iter().max_by_key(|one| words(one)).unwrap();
        assert!(words(longest) <= 25, "{longest}");
        let mean = sentences.iter().map(|one| words(one)).sum::<usize>() as f64 / sentences.len() as f64;
        assert!(mean <= 15.0, "{}: {mean}", standards.word());
        assert!(readability(&texts) <= 8.0, "{}: {}", standards.word(), readability(&texts));
    }
}

#[test]
fn criteria_fit_a_line_or_two() {
    for (_, starter) in starters() {
        let says = &starter.criterion.says;
        assert!(words(says) <= 25 && !says.ends_with('.'), "{says}");
    }
}

#[test]
fn no_text_consoles_shouts_or_praises_in_general() {
    for (_, starter) in starters() {
        let one = &starter.criterion;
        let texts = [Some(&one.says), one.when_met.as_ref(), one.when_not_met.as_ref(), Some(&starter.why)];
        for text in texts.into_iter().flatten() {
            let lower = text.to_lowercase();
            for banned in
                ["unfortunately", "!", "sorry", "well done", "good", "great", "excellent", "safe to", "is safe"]
            {
                assert!(!lower.contains(banned), "{banned} in {text}");
            }
        }
    }
}

const CRITERION: &str = "[[criteria]]\nid = \"a\"\nschemes = [\"GB\", \"US\"]\nstage = \"off\"\nsays = \"b\"\nweight = 1\nfails = \"must\"\n\
    decided = \"by_eye\"\nwhy = \"c.\"\nrests_on = [\"B09\"]\nsource = \"d\"\nedition = \"e\"\nstatus = \"read\"\n";

fn schemes() -> String {
    let one = |scheme: &str| {
        format!(
            "[[schemes]]\nscheme = \"{scheme}\"\ntitle = \"T\"\npass_percent = 70\nstages = [{{ stage = \"off\", title = \"Off\" }}]\n"
        )
    };
    ["GB", "IE", "EU", "US", "AU"].map(one).concat()
}

fn faults(schemes: &str, criteria: &str) -> String {
    library(schemes, &[criteria]).map(|_| "no fault".to_owned()).unwrap_or_else(|faults| faults.to_string())
}

#[test]
fn a_scheme_has_its_own_values_and_else_the_general_ones() {
    let differs = "[[criteria.differs]]\nschemes = [\"US\"]\nsays = \"otherwise\"\nedition = \"\"\n";
    let read = library(&schemes(), &[&format!("{CRITERION}{differs}")]).unwrap();
    let of = |standards| read.iter().find(|one| one.standards == standards).map(|one| one.criteria.as_slice()).unwrap();
    let says =
        |standards| of(standards).first().map(|one| (one.criterion.says.as_str(), one.criterion.source.as_str()));
    assert_eq!(says(Standards::Gb), Some(("b", "d (e)")));
    assert_eq!(says(Standards::Us), Some(("otherwise", "d")));
    assert_eq!(says(Standards::Au), None);
}

#[test]
fn what_is_wrong_with_a_library_is_named() {
    assert_eq!(faults(&schemes(), CRITERION), "no fault");
    let twice = faults(&schemes(), &format!("{CRITERION}{CRITERION}"));
    assert!(twice.contains("`a` stands twice in GB"), "{twice}");
    let stage = faults(&schemes(), &CRITERION.replace("\"off\"", "\"proving\""));
    assert!(stage.contains("GB has no stage for `a`"), "{stage}");
    let missing = faults(&schemes().replace("scheme = \"AU\"", "scheme = \"US\""), CRITERION);
    assert!(missing.contains("AU is missing"), "{missing}");
    let other = faults(&schemes(), &format!("{CRITERION}[[criteria.differs]]\nschemes = [\"EU\"]\nsays = \"x\"\n"));
    assert!(other.contains("criteria[0].differs[0]: a scheme that the criterion does not have"), "{other}");
    let key = faults(&schemes(), &CRITERION.replace("why =", "wy ="));
    assert!(key.contains("`why` is missing") && key.contains("`wy` is not known here"), "{key}");
}
