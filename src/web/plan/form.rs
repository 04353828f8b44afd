//! The fields of one planned session: read, checked, and shown again with what was typed.

use super::when::{self, Typed};
use super::{Choices, Tasks, choices, clash_words, read_staff, read_task_word, task_word};
use crate::marking::ExtraTime;
use crate::planning::{self as pure, Booking, Span};
use crate::store::candidates::Candidate;
use crate::store::planning::{self, Plan};
use crate::store::sessions::{self, Length, NewSession, Session, TURN_ROUND};
use crate::store::{CentreId, SessionId};
use crate::web::error::WebError;
use crate::web::form::{Faults, line, whole};
use crate::web::show;
use serde::Deserialize;
use sqlx::PgConnection;
use time::PrimitiveDateTime;

/// Longest name of a bay.
pub const LONGEST_BAY: usize = 60;

/// What the form sends, as typed.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(default)]
pub struct Fields {
    pub candidate: String,
    pub resit_of: String,
    pub task: String,
    pub bay: String,
    pub assessor: String,
    pub second_marker: String,
    pub day: String,
    pub time: String,
    pub which: String,
    pub percent: String,
    pub minutes: String,
    pub turn_round: String,
    /// `on` where the person plans it although it clashes.
    pub despite_clash: String,
    /// `on` where the candidate shall meet the same planted faults again.
    pub despite_planted: String,
}

impl Fields {
    /// An empty form for a candidate, with what was agreed for them.
    pub fn for_candidate(candidate: &Candidate, now: PrimitiveDateTime) -> Self {
        let extra = candidate.adjustments.extra;
        Self {
            candidate: candidate.id.0.to_string(),
            day: when::day_value(now.date()),
            percent: extra.percent.to_string(),
            minutes: extra.minutes.to_string(),
            turn_round: TURN_ROUND.to_string(),
            ..Self::default()
        }
    }

    /// A form filled in with a plan.
    pub fn of_session(session: &Session, local: PrimitiveDateTime) -> Self {
        Self {
            candidate: session.candidate.0.to_string(),
            resit_of: session.resit_of.map(|earlier| earlier.0.to_string()).unwrap_or_default(),
            task: task_word(session.task, session.task_version),
            bay: session.bay.clone(),
            assessor: session.assessor.0.to_string(),
            second_marker: session.second_marker.map(|marker| marker.0.to_string()).unwrap_or_default(),
            day: when::day_value(local.date()),
            time: show::time_of_day(local),
            percent: session.extra.percent.to_string(),
            minutes: session.extra.minutes.to_string(),
            turn_round: session.length.turn_round.to_string(),
            ..Self::default()
        }
    }
}

/// The form as a page shows it.
pub struct Shown {
    pub fields: Fields,
    pub faults: Faults,
    pub choices: Choices,
    /// What the session would clash with; planned only where the person says so.
    pub clashes: Vec<String>,
    /// Whether the candidate would meet the planted faults of the session before or after again.
    pub planted: bool,
    /// The centre's time zone, to be named beside the time.
    pub zone: String,
    /// The clocks show this time twice on this day.
    pub twice: bool,
}

impl Shown {
    /// Everybody who can be a second marker, and nobody.
    pub fn second_markers(&self) -> Vec<(String, String)> {
        let nobody = (String::new(), "Nobody".to_owned());
        std::iter::once(nobody).chain(self.choices.assessors.iter().cloned()).collect()
    }

    /// The two meanings of a time that the clocks show twice.
    pub fn whiches(&self) -> [(&'static str, &'static str); 3] {
        [("", "Please say"), ("first", "The first, before the clocks go back"), ("second", "The second, after it")]
    }

    /// The tasks, with a first line that chooses none.
    pub fn tasks(&self) -> Vec<(String, String)> {
        with_none("Choose a task", &self.choices.tasks)
    }

    /// The assessors, with a first line that chooses none.
    pub fn assessors(&self) -> Vec<(String, String)> {
        with_none("Choose an assessor", &self.choices.assessors)
    }
}

fn with_none(says: &str, all: &[(String, String)]) -> Vec<(String, String)> {
    std::iter::once((String::new(), says.to_owned())).chain(all.iter().cloned()).collect()
}

/// A form with nothing wrong so far.
pub async fn shown(tx: &mut PgConnection, centre: &CentreId, fields: Fields) -> Result<Shown, WebError> {
    let named = crate::store::centres::find(tx, centre).await?.ok_or(WebError::Missing("centre"))?;
    Ok(Shown {
        choices: offer_chosen(tx, centre, &fields).await?,
        zone: named.time_zone,
        fields,
        faults: Faults::none(),
        clashes: Vec::new(),
        planted: false,
        twice: false,
    })
}

/// What can be chosen, with the version of the task that is chosen even where it is not the newest any more.
async fn offer_chosen(tx: &mut PgConnection, centre: &CentreId, fields: &Fields) -> Result<Choices, WebError> {
    let mut choices = choices(tx, centre).await?;
    let chosen = read_task_word(&fields.task).filter(|_| choices.tasks.iter().all(|(word, _)| *word != fields.task));
    if let Some((id, version)) = chosen
        && let Some(older) = crate::store::tasks::find(tx, centre, id, version).await?
    {
        choices.tasks.insert(0, (fields.task.clone(), format!("{} (version {version})", older.task.title)));
    }
    Ok(choices)
}

/// Reads and checks a form under the centre's held plan. Either a plan that may be written, or the form to show again.
pub async fn check(
    tx: &mut PgConnection,
    centre: &CentreId,
    fields: Fields,
    id: SessionId,
    candidate: &Candidate,
    tasks: &mut Tasks,
) -> Result<Result<Plan, Box<Shown>>, WebError> {
    planning::hold_centre(tx, centre).await?;
    let mut shown = shown(tx, centre, fields).await?;
    let mut faults = Faults::none();
    let plan = read(tx, centre, &shown, id, candidate, tasks, &mut faults).await?;
    shown.twice = faults.of("which").is_some() || !shown.fields.which.is_empty();
    let Some(mut plan) = plan.filter(|_| faults.is_empty()) else {
        shown.faults = faults;
        return Ok(Err(Box::new(shown)));
    };
    warn(tx, centre, &mut plan, &mut shown, tasks).await?;
    Ok(if shown.faults.is_empty() { Ok(plan) } else { Err(Box::new(shown)) })
}

async fn read(
    tx: &mut PgConnection,
    centre: &CentreId,
    shown: &Shown,
    id: SessionId,
    candidate: &Candidate,
    tasks: &mut Tasks,
    faults: &mut Faults,
) -> Result<Option<Plan>, WebError> {
    let fields = &shown.fields;
    let offered = |all: &[(String, String)], word: &str| all.iter().any(|(value, _)| value == word);
    let task = read_task_word(&fields.task).filter(|_| offered(&shown.choices.tasks, &fields.task));
    let published = match task {
        Some((id, version)) => tasks.get(tx, centre, id, version).await?.cloned(),
        None => None,
    };
    if published.is_none() {
        faults.add("task", "Please choose a task.");
    }
    if fields.bay.trim().is_empty() {
        faults.add("bay", "Please choose or type a bay.");
    }
    let bay = line(faults, "bay", &fields.bay, LONGEST_BAY);
    let assessor = read_staff(&fields.assessor).filter(|_| offered(&shown.choices.assessors, fields.assessor.trim()));
    if assessor.is_none() {
        faults.add("assessor", "Please choose an assessor.");
    }
    let second_marker = second_marker(shown, faults);
    let typed = Typed { day: &fields.day, time: &fields.time, which: &fields.which };
    let planned_at = when::instant(tx, centre, &typed, faults).await?;
    let extra = ExtraTime {
        percent: number(faults, "percent", &fields.percent, 300),
        minutes: number(faults, "minutes", &fields.minutes, 600),
    };
    let turn_round = number(faults, "turn_round", &fields.turn_round, 240);
    let (Some(published), Some((task, task_version)), Some(assessor), Some(planned_at)) =
        (published, task, assessor, planned_at)
    else {
        return Ok(None);
    };
    let length = Length::of(&published.with_extra(extra), turn_round.into());
    let session = NewSession { id, task, task_version, candidate: candidate.id, assessor, bay, planned_at, extra };
    let resit_of = fields.resit_of.parse().ok().map(SessionId);
    Ok(Some(Plan { session, length, second_marker, resit_of, despite: Vec::new() }))
}

/// A small number; an empty field is none.
fn number(faults: &mut Faults, field: &str, typed: &str, most: u16) -> u16 {
    if typed.trim().is_empty() {
        return 0;
    }
    whole(faults, field, typed, 0, most.into()).and_then(|number| u16::try_from(number).ok()).unwrap_or(0)
}

fn second_marker(shown: &Shown, faults: &mut Faults) -> Option<crate::store::StaffNo> {
    let typed = shown.fields.second_marker.trim();
    if typed.is_empty() {
        return None;
    }
    if typed == shown.fields.assessor.trim() {
        faults.add("second_marker", "The second marker works apart from the assessor: choose somebody else.");
    }
    let known = shown.choices.assessors.iter().any(|(number, _)| number == typed);
    if !known {
        faults.add("second_marker", "Please choose a second marker, or nobody.");
    }
    read_staff(typed)
}

/// What a plan takes up.
pub fn booking(plan: &Plan) -> Booking {
    let session = &plan.session;
    Booking {
        session: session.id.0,
        candidate: session.candidate.0,
        assessor: session.assessor.0,
        second_marker: plan.second_marker.map(|marker| marker.0),
        bay: session.bay.clone(),
        span: Span { from: session.planned_at, until: plan.length.until(session.planned_at) },
    }
}

/// Looks for what speaks against a plan. What can be waived and was goes into `despite`; all else becomes a fault.
async fn warn(
    tx: &mut PgConnection,
    centre: &CentreId,
    plan: &mut Plan,
    shown: &mut Shown,
    tasks: &mut Tasks,
) -> Result<(), WebError> {
    let mine = booking(plan);
    let booked = planning::booked(tx, centre, mine.span).await?;
    let mut waived = Vec::new();
    for clash in pure::clashes(&mine, &booked) {
        let says = clash_words(tx, centre, &clash).await?;
        if clash.over.may_be_waived() {
            shown.clashes.push(says);
            waived.push(clash.over.word());
        } else {
            shown.faults.add("time", says);
        }
    }
    if !shown.clashes.is_empty() && shown.fields.despite_clash != "on" {
        shown.faults.add("despite_clash", "It clashes with another session: change it, or say that it is meant.");
    }
    let session = &plan.session;
    let proposed = (session.task, session.task_version);
    let who = (session.candidate, session.id);
    shown.planted = tasks.met_before(tx, centre, who, session.planned_at, proposed).await?;
    if shown.planted && shown.fields.despite_planted != "on" {
        let says = "The candidate's session before or after has the same planted faults: choose another task, or say that it is meant.";
        shown.faults.add("despite_planted", says);
    }
    if shown.planted {
        waived.push("planted");
    }
    waived.sort_unstable();
    waived.dedup();
    plan.despite = waived;
    Ok(())
}

/// The candidate that a form names.
pub async fn candidate_of(tx: &mut PgConnection, centre: &CentreId, word: &str) -> Result<Option<Candidate>, WebError> {
    let Ok(id) = word.trim().parse() else { return Ok(None) };
    let found = crate::store::candidates::find(tx, centre, crate::store::CandidateId(id)).await?;
    Ok(found.filter(|candidate| candidate.erased_at.is_none()))
}

/// The session that a form says is repeated, where it is one of this candidate's and over.
pub async fn resit_of(tx: &mut PgConnection, centre: &CentreId, word: &str) -> Result<Option<Session>, WebError> {
    let Ok(id) = word.trim().parse() else { return Ok(None) };
    let Some(session) = sessions::find(tx, centre, SessionId(id)).await? else { return Ok(None) };
    let signed = crate::store::results::find(tx, centre, session.id).await?.is_some();
    Ok((signed || session.given_up.is_some()).then_some(session))
}
