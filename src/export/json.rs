//! Results as JSON, described by the JSON Schema that is shipped beside it ([`SCHEMA`]); and observations as NDJSON, the
//! contract for logs as it is.

use super::row::{Found, Row, assessor_ref, fails_word, moment, outcome_word, verdict_word};
use serde_json::{Value, json};

/// The JSON Schema (2020-12) of a file of results.
pub const SCHEMA: &str = include_str!("results.schema.json");

/// How the file begins, up to the first result.
pub fn begin(centre: &str, made_at: time::OffsetDateTime) -> String {
    let head = json!({ "centre": centre, "made_at": moment(made_at) }).to_string();
    format!("{},\"results\":[", head.trim_end_matches('}'))
}

/// How it ends.
pub const END: &str = "\n]}\n";

/// A result with its findings.
pub fn result(row: &Row) -> Value {
    let mut candidate = json!({ "ref": row.candidate_ref });
    if let Some(name) = &row.candidate_name {
        candidate["name"] = json!(name);
    }
    let marked = row.marked.as_ref();
    json!({
        "result": { "id": row.result_id(), "supersedes": row.supersedes() },
        "session": {
            "id": row.session,
            "bay": row.bay,
            "planned_at": moment(row.planned_at),
            "started_at": row.started_at.map(moment),
            "ended_at": row.ended_at().map(moment),
            "duration_ms": row.lasted.map(|lasted| lasted.whole_milliseconds() as i64),
            "worked_ms": marked.map(|marked| marked.worked_ms),
            "allowed_ms": marked.map(|marked| marked.allowed_ms),
        },
        "candidate": candidate,
        "task": { "id": row.task, "title": row.task_title, "version": row.task_version },
        "assessor_ref": assessor_ref(row.assessor),
        "verdict": verdict_word(row.outcome),
        "marks": row.marks,
        "out_of": row.out_of,
        "percent": row.percent,
        "automatic_fails": row.automatic_fails(),
        "reasons": row.reasons,
        "to_review": row.to_review,
        "signed_at": moment(row.signed_at),
        "evidence_code": row.evidence_code,
        "findings": marked.map(|marked| marked.findings.iter().map(finding).collect::<Vec<_>>()).unwrap_or_default(),
    })
}

fn finding(one: &Found) -> Value {
    json!({
        "criterion": one.criterion,
        "stage": one.stage,
        "says": one.says,
        "outcome": outcome_word(one.outcome),
        "proposed": outcome_word(one.proposed),
        "fails": fails_word(one.fails),
        "weight": one.weight,
        "at_ms": one.at_ms,
        "because": one.because,
        "reason": one.reason,
    })
}

/// The log of a session: one observation a line, each with the session it belongs to.
pub fn log(row: &Row) -> String {
    let observations = row.marked.iter().flat_map(|marked| &marked.observations);
    let line = |seen| {
        let mut line = serde_json::to_string(seen).unwrap_or_default();
        line.push('\n');
        line
    };
    observations.map(line).collect()
}
