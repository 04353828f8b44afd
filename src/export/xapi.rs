//! Results as statements of the Experience API: 1.0.3 and 2.0 (IEEE 9274.1.1) alike, so no `version` stands in them.
//!
//! Verbs and types are those that the standard's profile published; identifiers of our own lie under the centre's address.

use super::row::{Row, assessor_ref, moment};
use crate::marking::VerdictOutcome;
use serde_json::{Value, json};
use time::Duration;

/// How the names of published verbs and types begin.
const PUBLISHED: &str = "http://adlnet.gov/expapi";

/// What became of an attempt: the statement, and before it the one that voids the verdict it takes the place of.
/// `base` is the centre's own address, without a slash at its end.
pub fn statements(row: &Row, base: &str) -> Vec<Value> {
    let voided = row.supersedes().map(|old| {
        json!({
            "id": uuid::Uuid::new_v5(&row.result_id(), b"void"),
            "actor": account(base, &assessor_ref(row.assessor)),
            "verb": verb("voided"),
            "object": { "objectType": "StatementRef", "id": old },
            "timestamp": moment(row.signed_at),
        })
    });
    voided.into_iter().chain([statement(row, base)]).collect()
}

fn statement(row: &Row, base: &str) -> Value {
    let (verb, completed) = match row.outcome {
        VerdictOutcome::Pass => (verb("passed"), true),
        VerdictOutcome::Fail | VerdictOutcome::AutomaticFail => (verb("failed"), true),
        VerdictOutcome::Unfinished => {
            (json!({ "id": "https://w3id.org/xapi/adl/verbs/abandoned", "display": { "en": "abandoned" } }), false)
        }
    };
    let mut result = json!({ "completion": completed });
    if completed {
        result["success"] = json!(row.outcome == VerdictOutcome::Pass);
    }
    if row.out_of > 0 {
        let scaled = f64::from(row.marks) / f64::from(row.out_of);
        // To four places: more would be noise.
        let scaled = (scaled * 10_000.0).round() / 10_000.0;
        result["score"] = json!({ "raw": row.marks, "min": 0, "max": row.out_of, "scaled": scaled });
    }
    if let Some(lasted) = row.lasted {
        result["duration"] = json!(duration(lasted));
    }
    if !row.automatic_fails().is_empty() {
        result["extensions"] = json!({ format!("{base}/xapi/automatic-fails"): row.automatic_fails() });
    }
    json!({
        "id": row.result_id(),
        "actor": account(base, &row.candidate_ref),
        "verb": verb,
        "object": {
            "objectType": "Activity",
            "id": task(row, base),
            "definition": {
                "type": format!("{PUBLISHED}/activities/performance"),
                "name": { "en": row.task_title },
            },
        },
        "result": result,
        "context": { "registration": row.session, "instructor": account(base, &assessor_ref(row.assessor)) },
        "timestamp": moment(row.ended_at().unwrap_or(row.signed_at)),
    })
}

/// The address of a version of a task: a name, at which nothing needs to answer.
pub fn task(row: &Row, base: &str) -> String {
    format!("{base}/tasks/{}/versions/{}", row.task, row.task_version)
}

fn verb(word: &str) -> Value {
    json!({ "id": format!("{PUBLISHED}/verbs/{word}"), "display": { "en": word } })
}

fn account(base: &str, name: &str) -> Value {
    json!({ "objectType": "Agent", "account": { "homePage": base, "name": name } })
}

/// A length of time as ISO 8601 to a hundredth of a second, such as `PT4M34.25S`.
fn duration(lasted: Duration) -> String {
    let hundredths = lasted.whole_milliseconds().max(0) / 10;
    format!("PT{}M{}.{:02}S", hundredths / 6_000, hundredths / 100 % 60, hundredths % 100)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::samples;

    const BASE: &str = "https://northgate.example";

    #[test]
    fn a_statement_names_its_verdict_the_same_each_time_and_no_candidate() {
        let row = samples::row("=1+1");
        let [statement] = &statements(&row, BASE)[..] else { panic!("one statement") };
        assert_eq!(statement, &statements(&row, BASE)[0]);
        assert!(!statement.to_string().contains("=1+1"));
        assert_eq!(statement["verb"]["id"], "http://adlnet.gov/expapi/verbs/passed");
        assert_eq!(statement["result"]["duration"], "PT4M34.31S");
        assert_eq!(statement["result"]["score"]["scaled"], 0.9643);
        // Over the end of summer time: the start and what the steady clock counted.
        assert_eq!(statement["timestamp"], "2026-10-25T01:03:04.560Z");
        assert!(statement.get("version").is_none());
    }

    #[test]
    fn an_amended_verdict_voids_the_one_before_it() {
        let first = samples::row("Ng");
        let second = Row { ordinal: 1, outcome: VerdictOutcome::Fail, ..first.clone() };
        let [voided, after] = &statements(&second, BASE)[..] else { panic!("two statements") };
        assert_eq!(voided["verb"]["id"], "http://adlnet.gov/expapi/verbs/voided");
        assert_eq!(voided["object"]["id"], statements(&first, BASE)[0]["id"]);
        assert_eq!(after["result"]["success"], false);
    }

    #[test]
    fn what_was_broken_off_is_abandoned_and_neither_passed_nor_failed() {
        let row = Row { outcome: VerdictOutcome::Unfinished, out_of: 0, marks: 0, ..samples::row("Ng") };
        let statement = &statements(&row, BASE)[0];
        assert_eq!(statement["result"]["completion"], false);
        assert!(statement["result"].get("success").is_none() && statement["result"].get("score").is_none());
    }
}
