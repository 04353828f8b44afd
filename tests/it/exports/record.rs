//! Who exported what; one at a time; what is left of an export that was given up.

use super::{BASE, Centre, FLAWLESS};
use crate::support::centre::NOW;
use baywitness::export::format::Format;
use baywitness::exporter::{ExportError, Order, Target};
use baywitness::store::exports::{self, End};
use time::Duration;

#[tokio::test]
async fn an_export_is_noted_with_who_what_and_how_it_ended() {
    let centre = Centre::new().await;
    let by = Some(centre.fixture.assessor);
    let columns = vec!["marks".to_owned()];
    let order = Order { by, columns, names: true, ..centre.order(Format::CsvSheet) };
    let path = centre.export(order.clone()).await;
    let mut tx = centre.fixture.begin().await;
    let [listed] = &exports::list(&mut tx, &centre.fixture.centre, None, 10).await.unwrap()[..] else { panic!("one") };
    assert_eq!((listed.id, listed.by, listed.format.as_str(), listed.names), (order.id, by, "csv-sheet", true));
    assert_eq!(listed.columns, ["candidate_name", "marks"]);
    assert_eq!((&listed.filter, listed.rows_to_do), (&order.filter, 10));
    let ended = listed.ended.unwrap();
    assert_eq!((ended.how, ended.rows), (End::Finished, 10));
    assert_eq!(ended.bytes, std::fs::metadata(path).unwrap().len());
}

#[tokio::test]
async fn an_export_given_up_half_way_is_noted_and_leaves_no_file() {
    let centre = Centre::empty().await;
    for at in 0..60 {
        centre.signed("Ng", FLAWLESS, NOW + Duration::minutes(at)).await;
    }
    for format in [Format::Json, Format::CsvData, Format::Spreadsheet] {
        let order = centre.order(format);
        let id = order.id;
        let started = centre.start(order).await.unwrap();
        assert_eq!(started.rows(), 60);
        let progress = std::sync::Arc::clone(&started.progress);
        // After the first page of logs, or at once.
        let watched = std::sync::Arc::clone(&progress);
        let cancel = tokio::spawn(async move {
            while format == Format::Json && watched.done() == 0 {
                tokio::task::yield_now().await;
            }
            watched.cancel();
        });
        if format != Format::Json {
            cancel.await.unwrap();
        }
        let given_up = started.carry(Target::File(centre.path(format)), &centre.data, &centre.data, BASE).await;
        assert!(matches!(given_up, Err(ExportError::Cancelled)), "{format:?}: {given_up:?}");
        assert_eq!(centre.files(), Vec::<String>::new());
        let mut tx = centre.fixture.begin().await;
        let listed = exports::list(&mut tx, &centre.fixture.centre, Some(id), 1).await.unwrap();
        let ended = listed[0].ended.unwrap();
        assert_eq!((ended.how, ended.bytes), (End::Cancelled, 0), "{format:?}");
        // The last page may have been under way when it was given up.
        let some = if format == Format::Json { 50..=60 } else { 0..=0 };
        assert!(some.contains(&ended.rows), "{ended:?}");
    }
}

#[tokio::test]
async fn a_centre_exports_one_thing_at_a_time() {
    let centre = Centre::new().await;
    let first = centre.start(centre.order(Format::CsvData)).await.unwrap();
    assert!(matches!(centre.start(centre.order(Format::CsvData)).await, Err(ExportError::Running)));
    drop(first);
    // The reading ends after the page that it is at.
    let mut tries = 0;
    let again = loop {
        match centre.start(centre.order(Format::CsvData)).await {
            Ok(started) => break started,
            Err(ExportError::Running) if tries < 500 => tries += 1,
            Err(why) => panic!("{why}"),
        }
        tokio::time::sleep(std::time::Duration::from_millis(10)).await;
    };
    assert_eq!(again.rows(), 10);
}

#[tokio::test]
async fn a_file_that_is_there_is_never_written_over() {
    let centre = Centre::new().await;
    let path = centre.path(Format::CsvData);
    std::fs::write(&path, "mine").unwrap();
    let started = centre.start(centre.order(Format::CsvData)).await.unwrap();
    let refused = started.carry(Target::File(path.clone()), &centre.data, &centre.data, BASE).await;
    assert!(matches!(refused, Err(ExportError::There(_))), "{refused:?}");
    assert_eq!(std::fs::read_to_string(path).unwrap(), "mine");
    assert_eq!(centre.files(), [Format::CsvData.ending()]);
}

#[tokio::test]
async fn columns_are_remembered_for_each_person() {
    let centre = Centre::empty().await;
    let (code, who) = (&centre.fixture.centre, centre.fixture.assessor);
    let mut tx = centre.fixture.begin().await;
    assert_eq!(exports::remembered_columns(&mut tx, code, who).await.unwrap(), Vec::<String>::new());
    for chosen in [vec!["marks".to_owned()], vec!["verdict".to_owned(), "marks".to_owned()]] {
        exports::remember_columns(&mut tx, code, who, &chosen).await.unwrap();
        assert_eq!(exports::remembered_columns(&mut tx, code, who).await.unwrap(), chosen);
    }
}
