//! Candidates from a file, in three steps: the file, its columns, and what taking it would do. Nothing is written before
//! the last; then all of it is, or nothing.

use super::sent::{LARGEST_BODY, Sent, Upload};
use crate::candidates::Details;
use crate::candidates::file::cells::Row;
use crate::candidates::file::rows::{self, Change, RowFault};
use crate::candidates::file::{Column, Encoding, Outcome, Separator, Table, written};
use crate::seal::Digest;
use crate::store::candidates::{self, Changed};
use crate::store::{CandidateId, CentreId, deeds};
use crate::web::App;
use crate::web::error::WebError;
use crate::web::extract::{Form, Manager, SignedIn};
use crate::web::form::Faults;
use crate::web::page::{Page, Place, html};
use askama::Template;
use axum::extract::{DefaultBodyLimit, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use sqlx::PgConnection;
use std::collections::{BTreeMap, HashMap};

/// Rows of the file that are shown where its columns are chosen.
const SHOWN_ROWS: usize = 8;
/// Most rows of each kind that are listed before it is imported.
const LISTED: usize = 200;
/// Most faults that are listed; the file of rows with faults holds them all.
const LISTED_FAULTS: usize = 1_000;

/// The limit of the bodies of these routes.
pub fn limit() -> DefaultBodyLimit {
    DefaultBodyLimit::max(LARGEST_BODY)
}

/// The first step: the file.
#[derive(Template)]
#[template(path = "candidates/import_file.html")]
struct FilePage {
    page: Page,
    text: String,
    faults: Faults,
}

/// The second step: how it is read, and what its columns hold.
#[derive(Template)]
#[template(path = "candidates/import_columns.html")]
struct ColumnsPage {
    page: Page,
    carried: String,
    was: String,
    encodings: Vec<(&'static str, &'static str)>,
    encoding: &'static str,
    separators: Vec<(&'static str, &'static str)>,
    separator: &'static str,
    head: bool,
    meanings: Vec<(&'static str, &'static str)>,
    columns: Vec<ColumnChoice>,
    first: Vec<Row>,
    /// How many rows the file has beside those shown.
    more: usize,
    faults: Faults,
}

/// One column of the file.
struct ColumnChoice {
    name: String,
    head: String,
    means: &'static str,
    /// What stands in it in the first rows.
    samples: Vec<String>,
}

/// The third step: what taking it would do.
#[derive(Template)]
#[template(path = "candidates/import_check.html")]
struct CheckPage {
    page: Page,
    hidden: Vec<(String, String)>,
    add: Vec<Line>,
    add_count: usize,
    change: Vec<Difference>,
    change_count: usize,
    same: usize,
    faults: Vec<RowFault>,
    fault_count: usize,
    faulty: usize,
    /// What has to be said before it can go on.
    says: Option<&'static str>,
}

/// A person who would be added.
struct Line {
    number: usize,
    name: String,
    reference: String,
    adjustments: String,
}

/// A person of whom something would change.
struct Difference {
    number: usize,
    name: String,
    reference: String,
    fields: Vec<(&'static str, String, String)>,
}

/// What came of it.
#[derive(Template)]
#[template(path = "candidates/import_done.html")]
struct DonePage {
    page: Page,
    added: usize,
    changed: usize,
    same: usize,
    left_out: usize,
    hidden: Vec<(String, String)>,
}

/// Asks for the file.
pub async fn start(Manager(who): Manager) -> Result<Response, WebError> {
    let page = Page::at(&who.staff, Place::Candidates);
    Ok(html(&FilePage { page, text: String::new(), faults: Faults::none() })?.into_response())
}

/// Reads the file as it is detected, and shows it.
pub async fn look(Manager(who): Manager, upload: Upload) -> Result<Response, WebError> {
    if upload.bytes.is_empty() {
        let mut faults = Faults::none();
        faults.add("file", "Please choose a file, or paste the text of one.");
        let page = FilePage { page: Page::at(&who.staff, Place::Candidates), text: upload.text, faults };
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, html(&page)?).into_response());
    }
    let sent = Sent::detected(upload.bytes);
    if sent.faults.of("file").is_some() {
        let page = FilePage { page: Page::at(&who.staff, Place::Candidates), text: String::new(), faults: sent.faults };
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, html(&page)?).into_response());
    }
    let faults = sent.faults.clone();
    columns_page(&who, &sent, faults, StatusCode::OK)
}

/// Reads it with another encoding or separator, and shows it anew.
pub async fn read_again(
    Manager(who): Manager,
    Form(form): Form<BTreeMap<String, String>>,
) -> Result<Response, WebError> {
    let (sent, _) = Sent::of_form(form)?;
    let faults = sent.faults.clone();
    columns_page(&who, &sent, faults, StatusCode::OK)
}

/// Shows what taking it would do.
pub async fn check(
    State(app): State<App>,
    Manager(who): Manager,
    Form(form): Form<BTreeMap<String, String>>,
) -> Result<Response, WebError> {
    let (sent, _) = Sent::of_form(form)?;
    let table = match sent.whole() {
        Ok(table) => table,
        Err(faults) => return columns_page(&who, &sent, faults, StatusCode::UNPROCESSABLE_ENTITY),
    };
    let mut tx = app.store.begin(who.centre()).await?;
    let (outcome, _) = work_out(&mut tx, who.centre(), &sent, table).await?;
    tx.commit().await?;
    check_page(&who, &sent, &outcome, None, StatusCode::OK)
}

/// Takes the file: all rows, or all but the faulty ones where the person says so.
pub async fn take(
    State(app): State<App>,
    Manager(who): Manager,
    Form(form): Form<BTreeMap<String, String>>,
) -> Result<Response, WebError> {
    let (sent, rest) = Sent::of_form(form)?;
    let table = match sent.whole() {
        Ok(table) => table,
        Err(faults) => return columns_page(&who, &sent, faults, StatusCode::UNPROCESSABLE_ENTITY),
    };
    let mut tx = app.store.begin(who.centre()).await?;
    let (outcome, there) = work_out(&mut tx, who.centre(), &sent, table).await?;
    let refused = if digest(&outcome) != rest.seen {
        Some("Something has changed since this was shown. Look at it again. Nothing was imported.")
    } else if !outcome.faults.is_empty() && !rest.leave_out {
        Some(
            "Some rows have faults. Say that they are to be left out, or put them right in the file. Nothing was imported.",
        )
    } else {
        None
    };
    if refused.is_some() {
        return check_page(&who, &sent, &outcome, refused, StatusCode::CONFLICT);
    }
    write(&app, &mut tx, &who, &outcome, &there).await?;
    tx.commit().await?;
    tracing::info!(staff = who.staff.number.0, added = outcome.add.len(), "candidates imported");
    let page = DonePage {
        page: Page::at(&who.staff, Place::Candidates),
        added: outcome.add.len(),
        changed: outcome.change.len(),
        same: outcome.same.len(),
        left_out: outcome.faulty().len(),
        hidden: hidden(&sent),
    };
    Ok(html(&page)?.into_response())
}

/// Gives the faulty rows back as a file, with what is wrong with each.
pub async fn left_out(
    State(app): State<App>,
    Manager(who): Manager,
    Form(form): Form<BTreeMap<String, String>>,
) -> Result<Response, WebError> {
    let (sent, _) = Sent::of_form(form)?;
    let table = match sent.whole() {
        Ok(table) => table,
        Err(faults) => return columns_page(&who, &sent, faults, StatusCode::UNPROCESSABLE_ENTITY),
    };
    let mut tx = app.store.begin(who.centre()).await?;
    let (outcome, _) = work_out(&mut tx, who.centre(), &sent, table).await?;
    tx.commit().await?;
    let rows = rows::left_out(table, &sent.columns, &outcome);
    let file = written::file(rows.iter().map(Vec::as_slice), sent.separator);
    let headers = [
        (header::CONTENT_TYPE, "text/csv; charset=utf-8"),
        (header::CONTENT_DISPOSITION, "attachment; filename=\"not-imported.csv\""),
    ];
    Ok((headers, file).into_response())
}

/// What taking the file would do now, and who is there of those it names.
async fn work_out(
    tx: &mut PgConnection,
    centre: &CentreId,
    sent: &Sent,
    table: &Table,
) -> Result<(Outcome, HashMap<String, CandidateId>), WebError> {
    let named = rows::references(table, &sent.columns);
    let there = candidates::by_references(tx, centre, &named).await?;
    let ids = there.iter().map(|one| (one.reference.clone(), one.id)).collect();
    let details = there.iter().map(|one| (one.reference.clone(), one.details())).collect();
    Ok((rows::work_out(table, &sent.columns, &details), ids))
}

/// Writes what the outcome says, all in the caller's transaction.
async fn write(
    app: &App,
    tx: &mut PgConnection,
    who: &SignedIn,
    outcome: &Outcome,
    there: &HashMap<String, CandidateId>,
) -> Result<(), WebError> {
    const MEANWHILE: WebError =
        WebError::Stale("Somebody else changed candidates just now. Nothing was imported. Try again.");
    let (centre, now) = (who.centre(), app.clock.now());
    let new: Vec<(CandidateId, Details)> =
        outcome.add.iter().map(|row| (CandidateId(app.clock.new_id()), row.details.clone())).collect();
    if !candidates::add_all(tx, centre, &new, now).await? {
        return Err(MEANWHILE);
    }
    for change in &outcome.change {
        let id = there.get(&change.before.reference).copied().ok_or(MEANWHILE)?;
        if candidates::change(tx, centre, id, &change.after).await? != Changed::Done {
            return Err(MEANWHILE);
        }
    }
    let (added, changed, left) = (outcome.add.len(), outcome.change.len(), outcome.faulty().len());
    let about = format!("{added} added, {changed} changed, {left} left out");
    Ok(deeds::note(tx, centre, Some(who.staff.number), "candidates_imported", &about, now).await?)
}

/// What stands for an outcome, so that one is never taken that was not shown.
fn digest(outcome: &Outcome) -> String {
    Digest::of(format!("{outcome:?}")).to_string()
}

/// Everything chosen so far, for the next form.
fn hidden(sent: &Sent) -> Vec<(String, String)> {
    let mut fields = vec![
        ("file".to_owned(), sent.carried()),
        ("was".to_owned(), sent.was()),
        ("encoding".to_owned(), sent.encoding.word().to_owned()),
        ("separator".to_owned(), sent.separator.word().to_owned()),
    ];
    if sent.columns.head {
        fields.push(("head".to_owned(), "on".to_owned()));
    }
    let columns = sent.columns.mean.iter().enumerate();
    fields.extend(columns.map(|(at, column)| (format!("column_{at}"), column.word().to_owned())));
    fields
}

fn columns_page(who: &SignedIn, sent: &Sent, faults: Faults, status: StatusCode) -> Result<Response, WebError> {
    let none = Table::default();
    let table = sent.table.as_ref().unwrap_or(&none);
    let people = rows::of_people(table, &sent.columns);
    let choice = |(at, column): (usize, &Column)| ColumnChoice {
        name: format!("column_{at}"),
        head: rows::head_of(table, &sent.columns, at),
        means: column.word(),
        samples: people
            .iter()
            .filter_map(|row| row.cells.get(at).map(|cell| cell.trim().to_owned()))
            .filter(|cell| !cell.is_empty())
            .take(3)
            .collect(),
    };
    let first = table.rows.iter().take(SHOWN_ROWS);
    let width = sent.columns.mean.len();
    let page = ColumnsPage {
        page: Page::at(&who.staff, Place::Candidates),
        carried: sent.carried(),
        was: sent.was(),
        encodings: Encoding::ALL.map(|one| (one.word(), one.label())).to_vec(),
        encoding: sent.encoding.word(),
        separators: Separator::ALL.map(|one| (one.word(), one.label())).to_vec(),
        separator: sent.separator.word(),
        head: sent.columns.head,
        meanings: Column::all().into_iter().map(|one| (one.word(), one.label())).collect(),
        columns: sent.columns.mean.iter().enumerate().map(choice).collect(),
        first: first.map(|row| even(row, width)).collect(),
        more: table.rows.len().saturating_sub(SHOWN_ROWS),
        faults,
    };
    Ok((status, html(&page)?).into_response())
}

/// A row as wide as the others, but for what stands in it past the last column.
fn even(row: &Row, width: usize) -> Row {
    let mut cells = row.cells.clone();
    while cells.len() > width && cells.last().is_some_and(|cell| cell.trim().is_empty()) {
        cells.pop();
    }
    cells.resize(cells.len().max(width), String::new());
    Row { number: row.number, cells }
}

fn check_page(
    who: &SignedIn,
    sent: &Sent,
    outcome: &Outcome,
    says: Option<&'static str>,
    status: StatusCode,
) -> Result<Response, WebError> {
    let mut hidden = hidden(sent);
    hidden.push(("seen".to_owned(), digest(outcome)));
    let line = |row: &rows::Taken| Line {
        number: row.number,
        name: row.details.name.clone(),
        reference: row.details.reference.clone(),
        adjustments: row.details.adjustments.words().join(", "),
    };
    let difference = |change: &Change| Difference {
        number: change.number,
        name: change.before.name.clone(),
        reference: change.before.reference.clone(),
        fields: change.fields().into_iter().map(|(field, before, after)| (field.label(), before, after)).collect(),
    };
    let page = CheckPage {
        page: Page::at(&who.staff, Place::Candidates),
        hidden,
        add: outcome.add.iter().take(LISTED).map(line).collect(),
        add_count: outcome.add.len(),
        change: outcome.change.iter().take(LISTED).map(difference).collect(),
        change_count: outcome.change.len(),
        same: outcome.same.len(),
        faults: outcome.faults.iter().take(LISTED_FAULTS).cloned().collect(),
        fault_count: outcome.faults.len(),
        faulty: outcome.faulty().len(),
        says,
    };
    Ok((status, html(&page)?).into_response())
}
