//! Planning: the plan of a day or week, one session, a block of them, and the calendar that programs fetch.

pub mod block;
pub mod block_form;
pub mod calendar;
pub mod change;
pub mod day;
pub mod form;
pub mod new;
pub mod when;

use super::error::WebError;
use super::show;
use crate::marking::Task;
use crate::planning::{Clash, Shared, planted, same_planted};
use crate::store::{CandidateId, CentreId, SessionId, StaffNo, TaskId, candidates, planning, sessions, tasks};
use sqlx::PgConnection;
use std::collections::HashMap;
use std::collections::hash_map::Entry;
use time::OffsetDateTime;

/// What can be chosen for a session.
pub struct Choices {
    /// The newest version of every task: its word in forms and its title.
    pub tasks: Vec<(String, String)>,
    pub bays: Vec<String>,
    /// Number and name of everybody who can assess.
    pub assessors: Vec<(String, String)>,
}

/// Reads what can be chosen.
pub async fn choices(tx: &mut PgConnection, centre: &CentreId) -> Result<Choices, WebError> {
    let tasks = tasks::list(tx, centre).await?;
    let assessors = planning::assessors(tx, centre).await?;
    Ok(Choices {
        tasks: tasks.into_iter().map(|task| (task_word(task.id, task.version), task.title)).collect(),
        bays: planning::bays(tx, centre).await?,
        assessors: assessors.into_iter().map(|(number, name)| (number.0.to_string(), name)).collect(),
    })
}

/// A version of a task as forms name it.
pub fn task_word(id: TaskId, version: i32) -> String {
    format!("{}/{version}", id.0)
}

/// Reads what [`task_word`] wrote.
pub fn read_task_word(word: &str) -> Option<(TaskId, i32)> {
    let (id, version) = word.split_once('/')?;
    Some((TaskId(id.parse().ok()?), version.parse().ok()?))
}

/// Task versions that were read already, so that each is parsed once in a request.
#[derive(Default)]
pub struct Tasks(HashMap<(TaskId, i32), Option<Task>>);

impl Tasks {
    /// A version of a task, where it is there.
    pub async fn get(
        &mut self,
        tx: &mut PgConnection,
        centre: &CentreId,
        id: TaskId,
        version: i32,
    ) -> Result<Option<&Task>, WebError> {
        let task = match self.0.entry((id, version)) {
            Entry::Occupied(known) => known.into_mut(),
            Entry::Vacant(new) => {
                let found = tasks::find(tx, centre, id, version).await?;
                new.insert(found.map(|published| published.task))
            }
        };
        Ok(task.as_ref())
    }

    /// Whether a candidate would meet the planted faults of a task twice in a row, with the session before or after.
    pub async fn met_before(
        &mut self,
        tx: &mut PgConnection,
        centre: &CentreId,
        who: (CandidateId, SessionId),
        at: OffsetDateTime,
        proposed: (TaskId, i32),
    ) -> Result<bool, WebError> {
        let Some(task) = self.get(tx, centre, proposed.0, proposed.1).await? else { return Ok(false) };
        let mine = planted(&task.bay.setup);
        if mine.is_empty() {
            return Ok(false);
        }
        for (id, version) in planning::neighbours(tx, centre, who.0, at, who.1).await? {
            let Some(other) = self.get(tx, centre, id, version).await? else { continue };
            if same_planted(&mine, &planted(&other.bay.setup)) {
                return Ok(true);
            }
        }
        Ok(false)
    }
}

/// A clash in words: what is needed twice, when, and by which candidate.
pub async fn clash_words(tx: &mut PgConnection, centre: &CentreId, clash: &Clash) -> Result<String, WebError> {
    let Some(other) = sessions::find(tx, centre, SessionId(clash.with)).await? else {
        return Ok(String::new());
    };
    let from = sessions::local_time(tx, centre, other.planned_at).await?;
    let until = sessions::local_time(tx, centre, other.length.until(other.planned_at)).await?;
    let whom = candidates::find(tx, centre, other.candidate).await?.map_or_else(String::new, |whom| whom.name);
    let what = match clash.over {
        Shared::Candidate => "The candidate has another session".to_owned(),
        Shared::Bay => format!("{} is taken", other.bay),
        Shared::Assessor => "The assessor or second marker has another session".to_owned(),
        Shared::SecondMarker => "The second marker has another session".to_owned(),
    };
    let (day, from, until) = (show::day(from), show::time_of_day(from), show::time_of_day(until));
    Ok(format!("{what} on {day} from {from} to {until}: {whom}, {}.", other.bay))
}

/// A member of staff as forms name them.
pub fn read_staff(word: &str) -> Option<StaffNo> {
    word.trim().parse().ok().filter(|number| *number > 0).map(StaffNo)
}
