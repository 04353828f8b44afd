//! The rule of a criterion with its parameters.

use super::checklist::Named;
use super::pattern;
use crate::bay::ItemKind;
use crate::marking::Rule;
use crate::marking::observation::ProvedOn;
use crate::reading::{At, Fields};

/// Reads a rule. Parameters have the defaults of the contract; those that a rule does not have are faults.
pub(super) fn read(at: &At<'_>, named: &Named<'_>) -> Option<Rule> {
    let mut fields = at.fields()?;
    let name = fields.required("rule")?.word_of(&Rule::WORDS)?;
    let rule = plain(name).or_else(|| with_parameters(name, &mut fields, named));
    fields.finish();
    rule
}

/// The rules without parameters.
fn plain(name: &str) -> Option<Rule> {
    Some(match name {
        "circuit_identified" => Rule::CircuitIdentified,
        "sources_listed" => Rule::SourcesListed,
        "permission_before_switching" => Rule::PermissionBeforeSwitching,
        "load_removed_first" => Rule::LoadRemovedFirst,
        "only_named_device_switched" => Rule::OnlyNamedDeviceSwitched,
        "lock_off_fits" => Rule::LockOffFits,
        "locked_and_tried" => Rule::LockedAndTried,
        "key_kept" => Rule::KeyKept,
        "secured_before_testing" => Rule::SecuredBeforeTesting,
        "nothing_removed_early" => Rule::NothingRemovedEarly,
        "controls_tried" => Rule::ControlsTried,
        "all_pairs_tested" => Rule::AllPairsTested,
        "less_dangerous_first" => Rule::LessDangerousFirst,
        "point_closed_between_rounds" => Rule::PointClosedBetweenRounds,
        "lamp_out_before_testing" => Rule::LampOutBeforeTesting,
        "live_reading_heeded" => Rule::LiveReadingHeeded,
        "no_touch_before_proof" => Rule::NoTouchBeforeProof,
        "declared_last" => Rule::DeclaredLast,
        "within_time" => Rule::WithinTime,
        "never_prompted" => Rule::NeverPrompted,
        "never_stepped_in" => Rule::NeverSteppedIn,
        _ => return None,
    })
}

fn with_parameters(name: &str, fields: &mut Fields<'_>, named: &Named<'_>) -> Option<Rule> {
    Some(match name {
        "notice_posted" => Rule::NoticePosted { filled: fields.maybe("filled", |at| at.bool())?.unwrap_or(true) },
        "indicator_suitable" => {
            let accepts = fields.maybe("accepts", |at| instruments(&at));
            // No tip is longer than a decimetre.
            let max_tip_mm = fields.maybe("max_tip_mm", |at| at.number(0.0..=100.0));
            let accepts = accepts?.unwrap_or_else(|| Rule::ACCEPTS.to_vec());
            Rule::IndicatorSuitable { accepts, max_tip_mm: max_tip_mm?.unwrap_or(Rule::MAX_TIP_MM) }
        }
        "indicator_inspected" => {
            let parts = fields.required("parts")?;
            Rule::IndicatorInspected { parts: some(&parts, At::word)? }
        }
        "proved_before_testing" => Rule::ProvedBeforeTesting { accepts: proofs(fields)? },
        "proved_after_testing" => Rule::ProvedAfterTesting { accepts: proofs(fields)? },
        "all_rounds_tested" => {
            Rule::AllRoundsTested { rounds: fields.maybe("rounds", |at| at.word())?.unwrap_or_default() }
        }
        "happened" => Rule::Happened { act: pattern::read(&fields.required("act")?, named)? },
        "never" => Rule::Never { act: pattern::read(&fields.required("act")?, named)? },
        "before" => {
            let first = fields.required("first").and_then(|at| pattern::read(&at, named));
            let then = fields.required("then").and_then(|at| pattern::read(&at, named));
            Rule::Before { first: first?, then: then? }
        }
        _ => return None,
    })
}

/// What a proof may be made on.
fn proofs(fields: &mut Fields<'_>) -> Option<Vec<ProvedOn>> {
    let accepts = fields.maybe("accepts", |at| some(&at, At::word))?;
    Some(accepts.unwrap_or_else(|| Rule::PROOFS.to_vec()))
}

fn instruments(at: &At<'_>) -> Option<Vec<ItemKind>> {
    some(at, |at| {
        let kind: ItemKind = at.word()?;
        if !kind.is_instrument() {
            at.fault("no instrument, expected one of voltage_indicator, multimeter or non_contact_indicator");
            return None;
        }
        Some(kind)
    })
}

/// A list of different words with at least one in it.
fn some<'a, T: Eq + std::hash::Hash + Clone>(at: &At<'a>, read: impl Fn(&At<'a>) -> Option<T>) -> Option<Vec<T>> {
    let list = at.distinct(crate::bay::read::MANY, read)?;
    if list.is_empty() {
        at.fault("expected at least one in this list, found none");
        return None;
    }
    Some(list)
}
