//! The centre's record: who did what, and when.

use super::super::error::WebError;
use super::super::extract::{Manager, Query};
use super::super::page::{Page, Place, html};
use super::super::{App, show};
use crate::store::deeds::{self, Deed};
use crate::store::{StaffNo, sessions, staff};
use askama::Template;
use axum::extract::State;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use std::collections::HashMap;

#[derive(Template)]
#[template(path = "centre/record.html")]
struct RecordPage {
    page: Page,
    rows: Vec<Row>,
    /// Where the older ones begin.
    older: Option<i64>,
    newest: bool,
}

struct Row {
    n: i64,
    at: String,
    by: String,
    what: String,
    about: String,
}

/// From where on to show.
#[derive(Deserialize, Default)]
#[serde(default)]
pub struct From {
    before: Option<i64>,
}

/// Shows a page of the record, newest first.
pub async fn show(
    State(app): State<App>,
    Manager(who): Manager,
    Query(from): Query<From>,
) -> Result<Response, WebError> {
    let centre = who.centre();
    let mut tx = app.store.begin(centre).await?;
    let mut found = deeds::page(&mut tx, centre, from.before).await?;
    let more = i64::try_from(found.len()).is_ok_and(|count| count > deeds::PAGE);
    found.truncate(usize::try_from(deeds::PAGE).unwrap_or(usize::MAX));
    let mut names: HashMap<i32, String> = HashMap::new();
    for number in found.iter().filter_map(|deed| person_in(&deed.about)) {
        if let std::collections::hash_map::Entry::Vacant(free) = names.entry(number) {
            let person = staff::find(&mut tx, centre, StaffNo(number)).await?;
            free.insert(person.map(|person| person.name).unwrap_or_default());
        }
    }
    let mut rows = Vec::with_capacity(found.len());
    for deed in &found {
        let at = show::moment(sessions::local_time(&mut tx, centre, deed.at).await?);
        rows.push(row(deed, at, &names));
    }
    tx.commit().await?;
    let older = more.then(|| found.last().map(|deed| deed.n)).flatten();
    let page = Page::at(&who.staff, Place::Centre);
    Ok(html(&RecordPage { page, rows, older, newest: from.before.is_none() })?.into_response())
}

fn row(deed: &Deed, at: String, names: &HashMap<i32, String>) -> Row {
    let about = match person_in(&deed.about).and_then(|number| names.get(&number)) {
        Some(name) if !name.is_empty() => format!("{} {}", name, deed.about),
        _ => deed.about.clone(),
    };
    Row {
        n: deed.n,
        at,
        by: deed.by.as_ref().map(|(_, name)| name.clone()).unwrap_or_else(|| "–".to_owned()),
        what: words(&deed.what),
        about,
    }
}

/// The staff number that `about` begins with, as in `u-17: Assessor`.
fn person_in(about: &str) -> Option<i32> {
    about.strip_prefix("u-")?.split(|c: char| !c.is_ascii_digit()).next()?.parse().ok()
}

/// What was done, as a person would say it. A word that is not known here is shown as it is.
fn words(what: &str) -> String {
    let known = match what {
        "centre_begun" => "Began the centre",
        "signed_in" => "Signed in",
        "sign_in_refused" => "Sign-in refused: name and password did not fit",
        "code_refused" => "One-time code refused",
        "sign_in_ended" => "Ended a sign-in of their own",
        "invited" => "Made an invitation",
        "invitation_used" => "Used an invitation",
        "link_withdrawn" => "Withdrew a link",
        "reset_link_made" => "Made a link to a new password",
        "password_reset" => "Set a new password with a link",
        "password_changed" => "Changed their password",
        "roles_changed" => "Changed roles",
        "disabled" => "Disabled a person",
        "enabled" => "Let a person sign in again",
        "second_factor_set_up" => "Set up one-time codes",
        "second_factor_forgotten" => "Made the service forget one-time codes",
        "recovery_codes_made" => "Made new recovery codes",
        "tablet_enrolled" => "Enrolled a tablet",
        "tablet_revoked" => "Revoked a tablet",
        "setting_changed" => "Changed a setting",
        "periods_confirmed" => "Confirmed how long records are kept",
        "hold_set" => "Held records",
        "hold_lifted" => "Lifted a hold",
        "records_erased" => "The service erased what was due",
        "candidate_added" => "Added a candidate",
        "candidate_changed" => "Changed the details of a candidate",
        other => {
            let mut letters = other.replace('_', " ");
            if let Some(first) = letters.get_mut(0..1) {
                first.make_ascii_uppercase();
            }
            return letters;
        }
    };
    known.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whom_it_is_about_is_read_off_the_front() {
        assert_eq!(person_in("u-17: Assessor"), Some(17));
        assert_eq!(person_in("u-3"), Some(3));
        assert_eq!((person_in("time zone: u-3"), person_in("u-"), person_in("u-99999999999")), (None, None, None));
    }

    #[test]
    fn an_unknown_word_is_still_read() {
        assert_eq!(words("candidate_erased"), "Candidate erased");
        assert_eq!(words(""), "");
    }
}
