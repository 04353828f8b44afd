//! A block of candidates planned in one step: what the planner proposes is shown first, then written whole or not at all.

use super::block_form::{self, Typed, Wanted};
use super::{Choices, Tasks, choices, when};
use crate::planning::Span;
use crate::planning::block::{self, Block, Left, Person, Proposal};
use crate::seal::Digest;
use crate::store::candidates::{self, Candidate};
use crate::store::planning::{self, Plan};
use crate::store::sessions::{self, Length, NewSession, TURN_ROUND};
use crate::store::{CentreId, SessionId, StaffNo};
use crate::web::App;
use crate::web::error::WebError;
use crate::web::extract::{Form, Manager, Query, SignedIn};
use crate::web::form::Faults;
use crate::web::page::{Page, Place, html};
use crate::web::show;
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use serde::Deserialize;
use sqlx::PgConnection;
use time::{Duration, OffsetDateTime};

/// Candidates that one search shows.
const MOST_FOUND: i64 = 50;

/// The page of a block.
#[derive(Template)]
#[template(path = "plan/block.html")]
struct BlockPage {
    page: Page,
    typed: Typed,
    faults: Faults,
    choices: Choices,
    zone: String,
    found: Vec<Candidate>,
    searched: bool,
    proposed: Option<Proposed>,
    /// Whether the plan of the centre changed since the proposal was shown.
    moved_on: bool,
}

/// A proposal in words.
struct Proposed {
    rows: Vec<Row>,
    left: Vec<(String, String, &'static str)>,
    /// Names the proposal, so that nothing is planned but what was shown.
    digest: String,
}

struct Row {
    when: String,
    name: String,
    reference: String,
    task: String,
    bay: String,
    assessor: String,
}

/// What stands in the address.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Asked {
    day: String,
}

/// Shows the empty form.
pub async fn show(
    State(app): State<App>,
    Manager(who): Manager,
    Query(asked): Query<Asked>,
) -> Result<Html<String>, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let today = sessions::local_time(&mut tx, who.centre(), app.clock.now()).await?.date();
    let day = when::parse_day(&asked.day).unwrap_or(today);
    let typed = Typed {
        day: when::day_value(day),
        days: "1".into(),
        opens: "09:00".into(),
        closes: "16:30".into(),
        breaks: "10:30-10:45, 12:30-13:15".into(),
        turn_round: TURN_ROUND.to_string(),
        ..Typed::default()
    };
    let page = page(&mut tx, &who, typed).await?;
    tx.commit().await?;
    html(&page)
}

async fn page(tx: &mut PgConnection, who: &SignedIn, typed: Typed) -> Result<BlockPage, WebError> {
    let centre = crate::store::centres::find(tx, who.centre()).await?.ok_or(WebError::Missing("centre"))?;
    Ok(BlockPage {
        page: Page::at(&who.staff, Place::Plan),
        choices: choices(tx, who.centre()).await?,
        typed,
        faults: Faults::none(),
        zone: centre.time_zone,
        found: Vec::new(),
        searched: false,
        proposed: None,
        moved_on: false,
    })
}

/// Looks for candidates, proposes a plan, or writes the one that was shown.
pub async fn plan(
    State(app): State<App>,
    Manager(who): Manager,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let typed = Typed::read(pairs);
    let mut page = page(&mut tx, &who, typed).await?;
    if page.typed.act == "find" {
        page.found = candidates::search(&mut tx, who.centre(), &page.typed.q, None, MOST_FOUND).await?;
        page.searched = true;
        return Ok(html(&page)?.into_response());
    }
    planning::hold_centre(&mut tx, who.centre()).await?;
    let wanted = block_form::check(&mut tx, who.centre(), &page.typed, &page.choices, &mut page.faults).await?;
    if !page.faults.is_empty() {
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, html(&page)?).into_response());
    }
    let made = propose(&mut tx, who.centre(), &wanted, page.typed.despite_planted).await?;
    let digest = made.digest(&wanted);
    let go_on = page.typed.act == "plan" && !made.proposal.placed.is_empty();
    if go_on && page.typed.seen == digest {
        let first = write(&app, &mut tx, &who, &wanted, &made).await?;
        let day = sessions::local_time(&mut tx, who.centre(), first).await?.date();
        tx.commit().await?;
        let day = when::day_value(day);
        return Ok(Redirect::to(&format!("/plan?span=week&day={day}&done=block")).into_response());
    }
    page.moved_on = go_on;
    page.proposed = Some(words(&mut tx, &page.choices, who.centre(), &wanted, &made, digest).await?);
    tx.commit().await?;
    let status = if page.moved_on { StatusCode::CONFLICT } else { StatusCode::OK };
    Ok((status, html(&page)?).into_response())
}

/// A proposal, with what it was made from.
struct Made {
    proposal: Proposal,
    /// For each person and task: how long, and whether the planted faults are those that they met last.
    lengths: Vec<Vec<(Length, bool)>>,
}

impl Made {
    fn digest(&self, wanted: &Wanted) -> String {
        let mut text = format!("{:?}", self.proposal);
        for person in &wanted.people {
            text.push_str(&person.id.0.to_string());
        }
        text.push_str(&format!("{:?}{:?}", wanted.tasks, self.lengths));
        Digest::of(&text).as_str().to_owned()
    }
}

async fn propose(
    tx: &mut PgConnection,
    centre: &CentreId,
    wanted: &Wanted,
    despite_planted: bool,
) -> Result<Made, WebError> {
    let mut tasks = Tasks::default();
    let mut people = Vec::new();
    let mut lengths = Vec::new();
    let start = wanted.open.first().map_or(OffsetDateTime::UNIX_EPOCH, |span| span.from);
    let end = wanted.open.last().map_or(start, |span| span.until);
    for person in &wanted.people {
        let mut of_person = Vec::new();
        for &(id, version) in &wanted.tasks {
            let task = tasks.get(tx, centre, id, version).await?.ok_or(WebError::Missing("task"))?.clone();
            let length = Length::of(&task.with_extra(person.adjustments.extra), wanted.turn_round);
            let who = (person.id, SessionId(uuid::Uuid::nil()));
            let met = tasks.met_before(tx, centre, who, start, (id, version)).await?
                || tasks.met_before(tx, centre, who, end, (id, version)).await?;
            of_person.push((length, met));
        }
        let may_take = |&(length, met): &(Length, bool)| {
            (!met || despite_planted).then(|| Duration::minutes(i64::from(length.minutes + length.turn_round)))
        };
        people.push(Person { candidate: person.id.0, tasks: of_person.iter().map(may_take).collect() });
        lengths.push(of_person);
    }
    let longest = people.iter().flat_map(|person| person.tasks.iter().flatten()).max().copied();
    let asked = Block {
        people,
        bays: wanted.bays.clone(),
        assessors: wanted.assessors.iter().map(|assessor| assessor.0).collect(),
        open: wanted.open.clone(),
        slot: wanted.slot.or(longest).unwrap_or(Duration::HOUR),
        booked: planning::booked(tx, centre, Span { from: start, until: end }).await?,
    };
    Ok(Made { proposal: block::propose(&asked), lengths })
}

async fn words(
    tx: &mut PgConnection,
    choices: &Choices,
    centre: &CentreId,
    wanted: &Wanted,
    made: &Made,
    digest: String,
) -> Result<Proposed, WebError> {
    let named = |all: &[(String, String)], word: &str| {
        all.iter().find(|(value, _)| value == word).map_or_else(String::new, |(_, name)| name.clone())
    };
    let mut rows = Vec::new();
    for placed in &made.proposal.placed {
        let from = sessions::local_time(tx, centre, placed.span.from).await?;
        let (length, _) = made.lengths[placed.person][placed.task];
        let until = from + Duration::minutes(length.minutes.into());
        let person = &wanted.people[placed.person];
        let (task, version) = wanted.tasks[placed.task];
        rows.push(Row {
            when: format!("{} to {}", show::moment(from), show::time_of_day(until)),
            name: person.name.clone(),
            reference: person.reference.clone(),
            task: named(&choices.tasks, &super::task_word(task, version)),
            bay: placed.bay.clone(),
            assessor: named(&choices.assessors, &placed.assessor.to_string()),
        });
    }
    let left = made.proposal.left.iter().map(|&(person, why)| {
        let person = &wanted.people[person];
        (person.name.clone(), person.reference.clone(), left_words(why))
    });
    Ok(Proposed { rows, left: left.collect(), digest })
}

fn left_words(why: Left) -> &'static str {
    match why {
        Left::SamePlanted => "their session before or after has the planted faults of every task ticked here",
        Left::TooLong => "their session is longer than any time between two breaks",
        Left::NoRoom => "every bay, every assessor or they themselves are taken in every slot",
    }
}

/// Writes every session of a proposal and answers when the first begins.
async fn write(
    app: &App,
    tx: &mut PgConnection,
    who: &SignedIn,
    wanted: &Wanted,
    made: &Made,
) -> Result<OffsetDateTime, WebError> {
    let now = app.clock.now();
    let mut first = now;
    for (number, placed) in made.proposal.placed.iter().enumerate() {
        if number == 0 {
            first = placed.span.from;
        }
        let person = &wanted.people[placed.person];
        let (task, task_version) = wanted.tasks[placed.task];
        let (length, met) = made.lengths[placed.person][placed.task];
        let plan = Plan {
            session: NewSession {
                id: SessionId(app.clock.new_id()),
                task,
                task_version,
                candidate: person.id,
                assessor: StaffNo(placed.assessor),
                bay: placed.bay.clone(),
                planned_at: placed.span.from,
                extra: person.adjustments.extra,
            },
            length,
            second_marker: None,
            resit_of: None,
            despite: if met { vec!["planted"] } else { Vec::new() },
        };
        planning::plan(tx, who.centre(), &plan, Some(who.staff.number), now).await?;
    }
    Ok(first)
}
