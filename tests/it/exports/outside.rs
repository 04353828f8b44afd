//! Each file through programs made by others. Which, and what they see, stands in tests/outside; the rules are those of
//! RFC 4180, ECMA-376, JSON Schema 2020-12, xAPI 1.0.3, Open Badges 3.0 and RFC 5545.

use super::{BASE, Centre, FLAWLESS, names};
use crate::support::centre::{NOW, new_id};
use crate::support::outside::{node, python};
use baywitness::export::badge;
use baywitness::export::format::Format;
use baywitness::export::writer::columns_of;
use baywitness::export::{json, schema};
use baywitness::exporter::Order;
use baywitness::store::SessionId;
use baywitness::store::planning;
use baywitness::store::sessions::{self, Ended, NewSession};
use serde_json::{Value, json};
use std::path::Path;
use std::process::Command;
use time::macros::datetime;
use time::{Duration, OffsetDateTime};

fn path(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// The cells of a table that csv read, as objects by the head.
fn objects(rows: &Value) -> Vec<Value> {
    let rows = rows.as_array().unwrap();
    let head: Vec<&str> = rows[0].as_array().unwrap().iter().map(|cell| cell.as_str().unwrap()).collect();
    let object = |row: &Value| {
        head.iter()
            .zip(row.as_array().unwrap())
            .map(|(name, cell)| ((*name).to_owned(), cell.clone()))
            .collect::<serde_json::Map<_, _>>()
    };
    rows[1..].iter().map(|row| Value::Object(object(row))).collect()
}

#[tokio::test]
async fn tables_are_read_by_python_and_frictionless_and_names_come_back() {
    let centre = Centre::new().await;
    let formats = [
        Format::CsvSheet,
        Format::CsvData,
        Format::FindingsSheet,
        Format::FindingsData,
        Format::ObservationsSheet,
        Format::ObservationsData,
    ];
    let mut arguments = Vec::new();
    for format in formats {
        let made = centre.export(Order { names: true, ..centre.order(format) }).await;
        let schema = centre.data.join(format!("{}.schema.json", format.word()));
        let key = matches!(format, Format::CsvSheet | Format::CsvData).then_some("result_id");
        std::fs::write(&schema, schema::table(&columns_of(format, &[], true), key).to_string()).unwrap();
        arguments.extend([path(&made).to_owned(), path(&schema).to_owned()]);
    }
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let read: Value = serde_json::from_str(&python("csv_tables.py", &arguments)).unwrap();
    let table = |format| objects(&read[path(&centre.path(format))]);
    let (data, sheet) = (table(Format::CsvData), table(Format::CsvSheet));
    for (at, name) in names().iter().enumerate() {
        assert_eq!(data[at]["candidate_name"], name.as_str());
        let shown = sheet[at]["candidate_name"].as_str().unwrap();
        assert_eq!(shown.strip_prefix('\'').unwrap_or(shown), name.as_str());
        assert_eq!(shown.starts_with('\''), name.starts_with('='));
        assert_eq!((&data[at]["verdict"], &data[at]["marks"]), (&json!("pass"), &json!("56")));
    }
    assert_eq!(table(Format::FindingsData).len() % 10, 0);
    let observations = table(Format::ObservationsData);
    let flawless = FLAWLESS.lines().count();
    assert_eq!(observations.iter().filter(|one| one["candidate_name"] == "Ng").count(), flawless);
    let first: Value = serde_json::from_str(observations[1]["act"].as_str().unwrap()).unwrap();
    assert_eq!(first["kind"], observations[1]["kind"]);
}

#[tokio::test]
async fn a_workbook_holds_texts_numbers_and_dates_and_no_formula() {
    let centre = Centre::new().await;
    let made = centre.export(Order { names: true, ..centre.order(Format::Spreadsheet) }).await;
    let read: Value = serde_json::from_str(&python("workbook.py", &[path(&made)])).unwrap();
    let rows = objects(&read);
    assert_eq!(rows.len(), 10);
    for (row, name) in rows.iter().zip(names()) {
        assert_eq!(row["candidate_name"], name);
        assert_eq!((&row["marks"], &row["to_review"]), (&json!(56), &json!(false)));
    }
    // A real date cell: openpyxl made a time of it.
    assert_eq!(rows[0]["signed_at"], "2027-02-03T10:00:00");

    // And LibreOffice, where it is installed, opens workbook and sheet alike: as many cells, none of them worked out.
    if Command::new("soffice").arg("--version").output().is_err() {
        assert!(std::env::var_os("CI").is_none(), "soffice is missing; sh tests/run installs it");
        return;
    }
    let sheet = centre.export(Order { names: true, ..centre.order(Format::CsvSheet) }).await;
    for file in [&made, &sheet] {
        // 44 comma, 34 quotation mark, 76 UTF-8; the last part writes what a cell shows.
        let filter = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,1";
        let home = format!("-env:UserInstallation=file://{}/office", path(&centre.data));
        let mut command = Command::new("soffice");
        command.args([
            &home,
            "--headless",
            "--infilter=Text - txt - csv (StarCalc):44,34,76,1",
            "--convert-to",
            filter,
        ]);
        if file.extension().is_some_and(|end| end == "xlsx") {
            command = Command::new("soffice");
            command.args([&home, "--headless", "--convert-to", filter]);
        }
        let folder = centre.data.join("opened");
        let done = command.arg("--outdir").arg(&folder).arg(file).output().unwrap();
        let opened = std::fs::read_dir(&folder).unwrap_or_else(|_| panic!("{done:?}")).next().unwrap().unwrap().path();
        let text = std::fs::read_to_string(&opened).unwrap();
        std::fs::remove_dir_all(&folder).unwrap();
        assert_eq!(text.lines().count(), 11, "{text}");
        assert!(text.contains("=1+1") && names()[..6].iter().all(|name| text.contains(name.as_str())), "{text}");
    }
}

/// Documents that differ from a good one in one thing, each named.
fn mutations(good: &Value) -> Vec<(&'static str, Value)> {
    let with = |change: &dyn Fn(&mut Value)| {
        let mut changed = good.clone();
        change(&mut changed);
        changed
    };
    let result = |change: &dyn Fn(&mut Value)| with(&|all| change(&mut all["results"][0]));
    let finding = |change: &dyn Fn(&mut Value)| result(&|one| change(&mut one["findings"][0]));
    let without = |of: &mut Value, key: &str| _ = of.as_object_mut().unwrap().remove(key);
    vec![
        ("an extra key at the top", with(&|all| all["extra"] = json!(1))),
        ("no centre", with(&|all| without(all, "centre"))),
        ("a centre in capitals", with(&|all| all["centre"] = json!("NORTHGATE"))),
        ("made when it does not say", with(&|all| all["made_at"] = json!("yesterday"))),
        ("results that are no list", with(&|all| all["results"] = json!({}))),
        ("an extra key of a result", result(&|one| one["extra"] = json!(1))),
        ("an extra key of a session", result(&|one| one["session"]["extra"] = json!(1))),
        ("an extra key of a candidate", result(&|one| one["candidate"]["email"] = json!("a@b.example"))),
        ("a session without a name", result(&|one| without(&mut one["session"], "id"))),
        ("a session that is no UUID", result(&|one| one["session"]["id"] = json!("7"))),
        ("the 31st of February", result(&|one| one["signed_at"] = json!("2027-02-31T10:00:00.000Z"))),
        ("a local time", result(&|one| one["signed_at"] = json!("2027-02-03T10:00:00.000+01:00"))),
        ("a day without a time", result(&|one| one["session"]["started_at"] = json!("2027-02-03"))),
        ("a negative length", result(&|one| one["session"]["duration_ms"] = json!(-1))),
        ("an unknown verdict", result(&|one| one["verdict"] = json!("merit"))),
        ("marks in words", result(&|one| one["marks"] = json!("56"))),
        ("half a mark", result(&|one| one["marks"] = json!(0.5))),
        ("more than all", result(&|one| one["percent"] = json!(100.1))),
        ("an assessor by name", result(&|one| one["assessor_ref"] = json!("Rowan"))),
        ("a short code", result(&|one| one["evidence_code"] = json!("abc"))),
        ("a criterion with a space", result(&|one| one["automatic_fails"] = json!(["key kept"]))),
        ("a candidate without a reference", result(&|one| one["candidate"] = json!({}))),
        ("a name too long", result(&|one| one["candidate"]["name"] = json!("Ä".repeat(201)))),
        ("version nought", result(&|one| one["task"]["version"] = json!(0))),
        ("an unknown outcome", finding(&|one| one["outcome"] = json!("nearly"))),
        ("no weight", finding(&|one| one["weight"] = json!(0))),
        ("an extra key of a finding", finding(&|one| one["extra"] = json!(1))),
        ("no reason for a finding", finding(&|one| without(one, "because"))),
    ]
}

#[tokio::test]
async fn two_validators_agree_about_results_and_about_each_thing_that_could_be_wrong() {
    let centre = Centre::new().await;
    let good = centre.text(Order { names: true, ..centre.order(Format::Json) }).await;
    let good: Value = serde_json::from_str(&good).unwrap();
    let plain: Value = serde_json::from_str(&centre.text(centre.order(Format::Json)).await).unwrap();
    let mutated = mutations(&good);
    assert!(mutated.len() >= 20);
    let (shipped, documents) = (centre.data.join("results.schema.json"), centre.data.join("documents.ndjson"));
    std::fs::write(&shipped, json::SCHEMA).unwrap();
    let lines = [&good, &plain].into_iter().chain(mutated.iter().map(|(_, document)| document));
    std::fs::write(&documents, lines.map(|one| format!("{one}\n")).collect::<String>()).unwrap();
    let arguments = [path(&shipped), path(&documents)];
    for (validator, said) in [("Python", python("jsons.py", &arguments)), ("Ajv", node("jsons.mjs", &arguments))] {
        let valid: Vec<&str> = said.lines().collect();
        assert_eq!(valid.len(), mutated.len() + 2, "{validator}");
        assert_eq!(valid[..2], ["true"; 2], "{validator} on what was exported");
        for ((what, _), valid) in mutated.iter().zip(&valid[2..]) {
            assert_eq!(*valid, "false", "{validator} on {what}");
        }
    }
}

#[tokio::test]
async fn statements_are_sound_to_an_independent_validator() {
    let centre = Centre::new().await;
    let made = centre.export(centre.order(Format::Statements)).await;
    assert_eq!(node("statements.mjs", &[path(&made)]).trim(), "10");
    let first = std::fs::read_to_string(&made).unwrap();
    assert_eq!(centre.text(centre.order(Format::Statements)).await, first, "the same each time");
    let statements: Vec<Value> = serde_json::from_str(&first).unwrap();
    let verbs: Vec<&str> = statements.iter().map(|one| one["verb"]["display"]["en"].as_str().unwrap()).collect();
    assert_eq!(&verbs[..8], ["passed"; 8]);
    assert_eq!(verbs[8], "failed");
    assert!(names().iter().all(|name| !first.contains(name.as_str())));
}

#[tokio::test]
async fn credentials_are_verified_expanded_and_hold_to_our_schema() {
    let centre = Centre::new().await;
    let made = centre.export(centre.order(Format::Badges)).await;
    // The worked examples beside the names end in automatic fails.
    let count = names().len();
    assert_eq!(std::fs::read_to_string(&made).unwrap().lines().count(), count);
    assert_eq!(node("credentials.mjs", &[path(&made)]).trim(), count.to_string());
    let claims = python("credentials.py", &[path(&made)]);
    let good: Value = serde_json::from_str(claims.lines().next().unwrap()).unwrap();
    let list = &good["credentialStatus"]["statusListCredential"];
    assert_eq!(list, &json!(format!("{BASE}/credentials/northgate/0")));
    let mut without_criteria = good.clone();
    without_criteria["credentialSubject"]["achievement"].as_object_mut().unwrap().remove("criteria");
    let mut named = good.clone();
    named["credentialSubject"]["identifier"][0]["hashed"] = json!(false);
    let documents = centre.data.join("claims.ndjson");
    std::fs::write(&documents, format!("{claims}{without_criteria}\n{named}\n")).unwrap();
    let shipped = centre.data.join("credential.schema.json");
    std::fs::write(&shipped, badge::SCHEMA).unwrap();
    let arguments = [path(&shipped), path(&documents)];
    for said in [python("jsons.py", &arguments), node("jsons.mjs", &arguments)] {
        let valid: Vec<&str> = said.lines().collect();
        assert!(valid[..count].iter().all(|valid| *valid == "true"), "{said}");
        assert_eq!(valid[count..], ["false"; 2]);
    }
}

#[tokio::test]
async fn plans_over_both_changes_of_the_clocks_are_the_instants_that_were_planned() {
    let centre = Centre::empty().await;
    // Europe/London, tz database: forward at 01:00 UTC on 28 March 2027, back at 01:00 UTC on 31 October 2027.
    let around = [datetime!(2027-03-28 1:00 UTC), datetime!(2027-10-31 1:00 UTC)];
    let mut planned: Vec<OffsetDateTime> = vec![NOW];
    for change in around {
        planned.extend([-90, -60, -1, 0, 1, 59, 60, 90].map(|minutes| change + Duration::minutes(minutes)));
    }
    let mut tx = centre.fixture.begin().await;
    for at in &planned[1..] {
        let session = NewSession {
            id: SessionId(new_id()),
            task: centre.fixture.task_id,
            task_version: 1,
            candidate: centre.fixture.candidate,
            assessor: centre.fixture.assessor,
            bay: "Bay 2; by the stairs, läng 李".into(),
            planned_at: *at,
            extra: Default::default(),
        };
        sessions::plan(&mut tx, &centre.fixture.centre, &session).await.unwrap();
    }
    tx.commit().await.unwrap();
    let made = centre.export(centre.order(Format::Calendar)).await;
    let events: Vec<[String; 6]> = serde_json::from_str(&python("calendar_file.py", &[path(&made)])).unwrap();
    assert_eq!(events.len(), planned.len());
    for ([uid, summary, start, end, sequence, status], at) in events.iter().zip(&planned) {
        let written = |at: OffsetDateTime| baywitness::export::row::moment(at).replace(".000Z", "Z");
        // 25 minutes; the fixture's own session has a quarter and five minutes more, and plans are kept in whole minutes.
        let lasts = Duration::minutes(if *at == NOW { 37 } else { 25 });
        assert_eq!((start, end), (&written(*at), &written(*at + lasts)), "{uid}");
        assert!(uid.ends_with("@northgate"));
        let bay = if *at == NOW { "Bay 1" } else { "Bay 2; by the stairs, läng 李" };
        assert_eq!(*summary, format!("Stairwell, {bay}"));
        assert_eq!((sequence.as_str(), status.as_str()), ("0", "CONFIRMED"));
    }
}

/// RFC 5545, sections 3.8.1.11 and 3.8.7.4: a plan that was given up is cancelled, and each change counts.
#[tokio::test]
async fn a_plan_that_was_cancelled_leaves_as_cancelled_under_the_same_name() {
    let centre = Centre::empty().await;
    let (code, by) = (&centre.fixture.centre, centre.fixture.assessor);
    let mut tx = centre.fixture.begin().await;
    let session = centre.fixture.session;
    let later = NOW + Duration::hours(1);
    assert!(
        planning::give_up(&mut tx, code, session, Ended::Cancelled, Some("The bay is flooded"), by, later)
            .await
            .unwrap()
    );
    tx.commit().await.unwrap();
    let made = centre.export(centre.order(Format::Calendar)).await;
    let events: Vec<[String; 6]> = serde_json::from_str(&python("calendar_file.py", &[path(&made)])).unwrap();
    let [[uid, _, _, _, sequence, status]] = &events[..] else { panic!("{events:?}") };
    assert_eq!(*uid, format!("{}@northgate", session.0));
    assert_eq!((sequence.as_str(), status.as_str()), ("1", "CANCELLED"));
    assert!(!std::fs::read_to_string(&made).unwrap().contains("flooded"));
}
