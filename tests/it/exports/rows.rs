//! What is in an export: which results, and what each says.

use super::{Centre, FLAWLESS, names};
use baywitness::export::format::Format;
use baywitness::exporter::{self, Order};
use baywitness::marking::{self, VerdictOutcome};
use baywitness::store::StaffNo;
use baywitness::store::exports::Filter;
use serde_json::Value;
use time::Duration;
use time::macros::{date, datetime};

fn lines(csv: &str) -> Vec<&str> {
    csv.split_terminator("\r\n").collect()
}

#[tokio::test]
async fn every_condition_narrows_and_days_are_those_of_the_centre() {
    let centre = Centre::empty().await;
    // 1 July 2027 in London begins at 23:00 UTC the day before.
    for at in [datetime!(2027-06-30 22:59:59 UTC), datetime!(2027-06-30 23:00 UTC), datetime!(2027-07-01 22:59:59 UTC)]
    {
        centre.signed("Ng", FLAWLESS, at).await;
    }
    centre.signed("Ng", super::STEPPED_IN, datetime!(2027-07-01 12:00 UTC)).await;
    let order = centre.order(Format::CsvData);
    let of = |filter: Filter| Order { filter, ..order.clone() };
    let day = Filter { from: date!(2027 - 07 - 01), to: date!(2027 - 07 - 01), ..order.filter.clone() };
    let none = baywitness::store::TaskId(uuid::Uuid::nil());
    for (filter, expected) in [
        (order.filter.clone(), 4),
        (day.clone(), 3),
        (Filter { outcome: Some(VerdictOutcome::Pass), ..day.clone() }, 2),
        (Filter { outcome: Some(VerdictOutcome::AutomaticFail), ..day.clone() }, 1),
        (Filter { outcome: Some(VerdictOutcome::Unfinished), ..day.clone() }, 0),
        (Filter { assessor: Some(centre.fixture.assessor), ..day.clone() }, 3),
        (Filter { task: Some(centre.fixture.task_id), ..day.clone() }, 3),
        (Filter { task: Some(none), ..day.clone() }, 0),
    ] {
        let text = centre.text(of(filter.clone())).await;
        assert_eq!(lines(&text).len(), expected + 1, "{filter:?}");
    }
}

#[tokio::test]
async fn what_makes_no_sense_is_named_field_by_field_and_nothing_is_noted() {
    let centre = Centre::empty().await;
    let store = &centre.fixture.db.store;
    let sound = centre.order(Format::CsvData);
    let check = async |order: &Order, base: &str| {
        let faults = exporter::check(store, &centre.fixture.centre, order, base).await.unwrap();
        faults.into_iter().map(|fault| fault.field).collect::<Vec<_>>()
    };
    assert_eq!(check(&sound, "").await, Vec::<&str>::new());
    let filter = |change: &dyn Fn(&mut Filter)| {
        let mut order = sound.clone();
        change(&mut order.filter);
        order
    };
    let back = filter(&|filter| filter.to = date!(2019 - 12 - 31));
    assert_eq!(check(&back, "").await, ["to"]);
    assert_eq!(check(&filter(&|filter| filter.from = date!(1999 - 12 - 31)), "").await, ["from"]);
    assert_eq!(check(&filter(&|filter| filter.assessor = Some(StaffNo(99))), "").await, ["assessor"]);
    let nowhere = baywitness::store::TaskId(uuid::Uuid::nil());
    assert_eq!(check(&filter(&|filter| filter.task = Some(nowhere)), "").await, ["task"]);
    let columns = Order { columns: vec!["marks".into(), "shoe_size".into()], ..sound.clone() };
    assert_eq!(check(&columns, "").await, ["columns"]);
    let badges = Order { format: Format::Badges, names: true, ..sound.clone() };
    assert_eq!(check(&badges, "").await, ["names", "format"]);
    assert_eq!(check(&Order { names: false, ..badges }, super::BASE).await, Vec::<&str>::new());
}

#[tokio::test]
async fn names_are_left_out_unless_asked_for_and_columns_are_those_chosen() {
    let centre = Centre::new().await;
    let plain = centre.order(Format::CsvData);
    let text = centre.text(plain.clone()).await;
    assert!(!text.contains("candidate_name") && names().iter().all(|name| !text.contains(name.as_str())));
    let json: Value = serde_json::from_str(&centre.text(centre.order(Format::Json)).await).unwrap();
    assert!(json["results"].as_array().unwrap().iter().all(|one| one["candidate"].get("name").is_none()));
    let chosen = Order { columns: vec!["marks".into(), "candidate_ref".into()], names: true, ..plain };
    let text = centre.text(chosen).await;
    assert_eq!(lines(&text)[0], "candidate_ref,candidate_name,marks");
    assert!(names().iter().all(|name| text.contains(name.as_str())), "{text}");
    let sheet = centre.text(Order { names: true, ..centre.order(Format::CsvSheet) }).await;
    assert!(sheet.starts_with('\u{feff}') && sheet.contains("\"'=1+1\""), "{sheet}");
}

#[tokio::test]
async fn a_session_over_a_change_of_the_clocks_shows_its_true_length() {
    // 25 October 2026, 01:00 UTC: London goes from 01:59 back to 01:00. This tablet's wall clock goes back with it,
    // as one that was set to local time would.
    let centre = Centre::empty().await;
    let mut log = String::new();
    for line in FLAWLESS.lines() {
        let mut seen: Value = serde_json::from_str(line).unwrap();
        let at = datetime!(2026-10-25 0:58 UTC) + Duration::milliseconds(seen["at_ms"].as_i64().unwrap());
        let shown = if at < datetime!(2026-10-25 1:00 UTC) { at } else { at - Duration::hours(1) };
        seen["wall"] = baywitness::export::row::moment(shown).into();
        log.push_str(&format!("{seen}\n"));
    }
    let length = serde_json::from_str::<Value>(log.lines().last().unwrap()).unwrap()["at_ms"].as_i64().unwrap();
    assert!(length > 120_000, "the example ends before the change");
    centre.signed("Ng", &log, datetime!(2026-10-25 1:30 UTC)).await;
    let columns = ["started_at", "ended_at", "duration_s"].map(str::to_owned).to_vec();
    let text = centre.text(Order { columns, ..centre.order(Format::CsvData) }).await;
    let end = baywitness::export::row::moment(datetime!(2026-10-25 0:58 UTC) + Duration::milliseconds(length));
    let expected = format!("2026-10-25T00:58:00.000Z,{end},{}", length as f64 / 1_000.0);
    assert_eq!(lines(&text)[1], expected);
}

#[tokio::test]
async fn findings_and_observations_are_those_of_the_one_marking() {
    let centre = Centre::new().await;
    let json: Value = serde_json::from_str(&centre.text(centre.order(Format::Json)).await).unwrap();
    let results = json["results"].as_array().unwrap();
    assert_eq!(results.len(), names().len() + 2);
    let task = &centre.fixture.task;
    for (result, log) in results.iter().zip([FLAWLESS; 8].into_iter().chain([super::STEPPED_IN, super::LONG_TIPS])) {
        let marking = marking::mark(task, &marking::Log::read(log.as_bytes(), task).unwrap());
        let criteria: Vec<_> = marking.findings.iter().map(|one| one.criterion.as_str()).collect();
        let found: Vec<_> = result["findings"].as_array().unwrap().iter().map(|one| &one["criterion"]).collect();
        assert_eq!(found, criteria);
        for (one, finding) in result["findings"].as_array().unwrap().iter().zip(&marking.findings) {
            assert_eq!(one["proposed"], serde_json::to_value(finding.outcome).unwrap());
            assert_eq!(one["because"], finding.says.as_str());
        }
        assert_eq!(result["session"]["worked_ms"], marking.clock.elapsed_ms);
    }
    let verdicts: Vec<_> = results.iter().map(|one| one["verdict"].as_str().unwrap()).collect();
    assert_eq!(&verdicts[..8], ["pass"; 8]);
    assert_eq!(verdicts[8], "automatic_fail");
    assert!(!results[8]["automatic_fails"].as_array().unwrap().is_empty());
    // The log as it is: what marks it from the command line marks it again.
    let order = centre.order(Format::Logs);
    let last =
        Filter { outcome: Some(VerdictOutcome::AutomaticFail), from: date!(2027 - 02 - 04), ..order.filter.clone() };
    let log = centre.text(Order { filter: last, ..order }).await;
    let log = log.lines().take(super::STEPPED_IN.lines().count()).map(|line| format!("{line}\n")).collect::<String>();
    let again = marking::mark(task, &marking::Log::read(log.as_bytes(), task).unwrap());
    assert_eq!(again, marking::mark(task, &marking::Log::read(super::STEPPED_IN.as_bytes(), task).unwrap()));
}

#[tokio::test]
async fn another_centre_exports_nothing_of_this_one() {
    let centre = Centre::new().await;
    let other = baywitness::store::CentreId::new("southgate").unwrap();
    let store = &centre.fixture.db.store;
    let mut tx = store.begin(&other).await.unwrap();
    let named = baywitness::store::centres::Centre {
        id: other.clone(),
        name: "Southgate (invented)".into(),
        time_zone: "UTC".into(),
    };
    baywitness::store::centres::add(&mut tx, &named).await.unwrap();
    tx.commit().await.unwrap();
    for format in Format::ALL {
        let started = exporter::start(store, &centre.clock(), &other, centre.order(format)).await.unwrap();
        assert_eq!(started.rows(), 0, "{format:?}");
        let path = centre.data.join(format!("other-{}", format.ending()));
        let ended =
            started.carry(exporter::Target::File(path.clone()), &centre.data, &centre.data, super::BASE).await.unwrap();
        assert_eq!(ended.rows, 0);
        let bytes = std::fs::read(&path).unwrap();
        assert!(!String::from_utf8_lossy(&bytes).contains("REG-"), "{format:?}");
    }
    let nowhere = baywitness::store::CentreId::new("nowhere").unwrap();
    let refused = exporter::start(store, &centre.clock(), &nowhere, centre.order(Format::Json)).await;
    assert!(matches!(refused, Err(exporter::ExportError::NoCentre(_))));
}
