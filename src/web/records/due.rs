//! What of a kind is due in a month, one by one.

use super::{month_name, month_of, month_word, words};
use crate::store::keeping::{self, After, Kind, Thing, When};
use crate::store::{CentreId, sessions};
use crate::web::App;
use crate::web::error::WebError;
use crate::web::extract::{Manager, Query};
use crate::web::page::{Page, Place, html};
use crate::web::show;
use askama::Template;
use axum::extract::State;
use axum::response::Html;
use serde::Deserialize;
use sqlx::PgConnection;
use std::collections::HashMap;
use time::OffsetDateTime;
use time::format_description::well_known::Rfc3339;
use uuid::Uuid;

/// The list.
#[derive(Template)]
#[template(path = "records/due.html")]
struct DuePage {
    page: Page,
    label: &'static str,
    goes: &'static str,
    month: String,
    rows: Vec<Row>,
    /// Where the next page goes on, where there is one.
    next: Option<String>,
}

/// One record.
struct Row {
    /// What a person calls it.
    name: String,
    href: Option<String>,
    since: String,
    due: String,
    held: Option<&'static str>,
}

/// What is asked for.
#[derive(Deserialize)]
pub struct Asked {
    kind: String,
    month: String,
    /// The last one of the page before: when it is due, a space, and which it is.
    after: Option<String>,
}

/// Lists what is due.
pub async fn show(
    State(app): State<App>,
    Manager(who): Manager,
    Query(asked): Query<Asked>,
) -> Result<Html<String>, WebError> {
    let nowhere = || WebError::Missing("page");
    let kind = Kind::of_word(&asked.kind).ok_or_else(nowhere)?;
    let when = month_of(&asked.month).ok_or_else(nowhere)?;
    let after = asked.after.as_deref().map(|after| read_after(after).ok_or_else(nowhere)).transpose()?;
    let (centre, now) = (who.centre(), app.clock.now());
    let mut tx = app.store.begin(centre).await?;
    let (from, until) = span(&mut tx, centre, when, now).await?;
    let mut found = keeping::list(&mut tx, centre, kind, from, until, after).await?;
    let more = i64::try_from(found.len()).is_ok_and(|count| count > keeping::PAGE);
    found.truncate(usize::try_from(keeping::PAGE).unwrap_or(usize::MAX));
    let next = found.last().filter(|_| more).map(|last| {
        let at = last.due_at.format(&Rfc3339).unwrap_or_default();
        let after = show::percent(&format!("{at} {}", last.id));
        format!("/centre/records/due?kind={}&month={}&after={after}", kind.word(), month_word(when))
    });
    let names = names(&mut tx, centre, kind, &found).await?;
    let mut rows = Vec::with_capacity(found.len());
    for thing in found {
        let since = show::day(sessions::local_time(&mut tx, centre, thing.since).await?);
        let due = show::day(sessions::local_time(&mut tx, centre, thing.due_at).await?);
        rows.push(row(kind, thing, since, due, &names));
    }
    tx.commit().await?;
    html(&DuePage {
        page: Page::at(&who.staff, Place::Centre),
        label: words::label(kind),
        goes: words::goes(kind),
        month: month_name(when),
        rows,
        next,
    })
}

/// From when and until when: what is due now goes back without an end.
async fn span(
    tx: &mut PgConnection,
    centre: &CentreId,
    when: When,
    now: OffsetDateTime,
) -> Result<(Option<OffsetDateTime>, OffsetDateTime), WebError> {
    // A moment after now counts as later: what is due at this very moment is due.
    let later = now + time::Duration::MICROSECOND;
    let When::Month(day) = when else { return Ok((None, later)) };
    let months = keeping::months(tx, centre, day.midnight().assume_utc() + time::Duration::days(2), 1).await?;
    let [(_, from), (_, until)] = months[..] else { return Err(WebError::ours("a month without an end")) };
    Ok((Some(from.max(later)), until))
}

fn read_after(typed: &str) -> Option<After> {
    let (at, id) = typed.split_once(' ')?;
    Some(After { due_at: OffsetDateTime::parse(at, &Rfc3339).ok()?, id: id.to_owned() })
}

/// What persons call the sessions or candidates among these.
async fn names(
    tx: &mut PgConnection,
    centre: &CentreId,
    kind: Kind,
    found: &[Thing],
) -> Result<HashMap<String, String>, WebError> {
    let ids: Vec<Uuid> = found.iter().filter_map(|thing| thing.id.parse().ok()).collect();
    let named = match kind {
        Kind::Passes | Kind::Fails | Kind::Words => {
            let all = keeping::names_of_sessions(tx, centre, &ids).await?.into_iter();
            all.map(|(id, (name, title))| (id.to_string(), format!("{name}, {title}"))).collect()
        }
        Kind::Candidates => {
            let all = keeping::names_of_candidates(tx, centre, &ids).await?.into_iter();
            all.map(|(id, name)| (id.to_string(), name)).collect()
        }
        _ => HashMap::new(),
    };
    Ok(named)
}

fn row(kind: Kind, thing: Thing, since: String, due: String, names: &HashMap<String, String>) -> Row {
    let (name, href) = match kind {
        Kind::Passes | Kind::Fails | Kind::Words => ("A session", Some(format!("/sessions/{}", thing.id))),
        Kind::Candidates => ("A candidate", Some(format!("/candidates/{}", thing.id))),
        Kind::Exports => ("An export", Some(format!("/exports/{}", thing.id))),
        Kind::Links => ("A feedback link", None),
        Kind::Invitations => ("A link or an address", None),
        Kind::SignIns => ("A sign-in", None),
        Kind::Deeds => ("A row of the record", None),
    };
    let name = match kind {
        Kind::Deeds => format!("Row {} of the record", thing.id),
        _ => names.get(&thing.id).cloned().unwrap_or_else(|| name.to_owned()),
    };
    let held = thing.held.as_deref().map(|held| match held {
        "running" => "a session is open and not signed",
        "review" => "a review goes on",
        _ => "a hold is set",
    });
    Row { name, href, since, due, held }
}
