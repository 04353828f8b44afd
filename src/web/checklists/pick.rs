//! Picking criteria for a stage of a draft.

use crate::bay::Standards;
use crate::marking::CriterionId;
use crate::store::{ChecklistId, criteria as own_criteria, drafts};
use crate::web::App;
use crate::web::criteria::{self, Group};
use crate::web::error::WebError;
use crate::web::extract::{Author, Path, Query};
use crate::web::form::Faults;
use crate::web::page::{Page, Place, html};
use askama::Template;
use axum::extract::State;
use axum::response::Html;
use serde::Deserialize;
use uuid::Uuid;

/// The criteria that a stage can take.
#[derive(Template)]
#[template(path = "checklists/pick.html")]
struct PickPage {
    page: Page,
    id: Uuid,
    title: String,
    stage: usize,
    stage_title: String,
    revision: u32,
    q: String,
    scheme: &'static str,
    schemes: Vec<(&'static str, String)>,
    /// Where from, the heading, and the criteria by stage.
    sources: Vec<(&'static str, String, Vec<Group>)>,
    /// What the checklist holds already.
    held: Vec<CriterionId>,
    faults: Faults,
}

impl PickPage {
    fn has(&self, id: &CriterionId) -> bool {
        self.held.contains(id)
    }
}

/// What the page is asked for.
#[derive(Deserialize)]
pub struct Asked {
    #[serde(default)]
    stage: usize,
    #[serde(default)]
    q: String,
    #[serde(default)]
    scheme: String,
}

/// Shows what can be picked.
pub async fn show(
    State(app): State<App>,
    Author(who): Author,
    Path(id): Path<Uuid>,
    Query(asked): Query<Asked>,
) -> Result<Html<String>, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let draft = drafts::find(&mut tx, who.centre(), ChecklistId(id)).await?.ok_or(WebError::Missing("draft"))?;
    let stage = draft.content.checklist.stages.get(asked.stage).ok_or(WebError::Missing("stage"))?;
    let own = own_criteria::list(&mut tx, who.centre()).await?;
    let scheme: Standards = match criteria::scheme_of_word(&asked.scheme) {
        Some(scheme) => scheme,
        None => criteria::scheme_of_centre(&mut tx, who.centre()).await?,
    };
    tx.commit().await?;
    let q: String = asked.q.trim().chars().take(200).collect();
    let word = criteria::scheme_word(scheme);
    let starter = criteria::starter_groups(scheme, &own, &q);
    html(&PickPage {
        page: Page::at(&who.staff, Place::Checklists),
        id,
        stage: asked.stage,
        stage_title: stage.title.clone(),
        revision: draft.revision,
        sources: vec![
            ("own", "The centre’s criteria".to_owned(), criteria::own_groups(&own, &q, false)),
            (word, format!("Starter library, {word}"), starter),
        ],
        held: draft.content.checklist.criteria().map(|criterion| criterion.id.clone()).collect(),
        title: draft.content.title,
        q,
        scheme: word,
        schemes: criteria::scheme_options(),
        faults: Faults::none(),
    })
}
