//! The result sheet as a file: a tagged PDF that says what the page says.

use super::App;
use super::error::WebError;
use super::evidence::About;
use super::extract::{Path, Query, SignedIn};
use super::sessions::load;
use super::sheet::{self, Line, SheetPage};
use crate::paper::{self, Block, Paper, Size};
use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use uuid::Uuid;

/// What stands on each sheet: it is no permit.
const CAUTION: &str =
    "Training material, not a permit to work. Local rules and a competent licensed person decide.";

/// What stands in the address.
#[derive(Deserialize)]
pub struct Asked {
    /// `letter` for that size of paper; anything else is A4.
    #[serde(default)]
    paper: String,
}

/// The sheet of a signed session as a PDF.
pub async fn show(
    State(app): State<App>,
    who: SignedIn,
    Path(id): Path<Uuid>,
    Query(asked): Query<Asked>,
) -> Result<Response, WebError> {
    let mut tx = app.store.begin(who.centre()).await?;
    let loaded = load(&mut tx, &who, id).await?;
    let Some(result) = loaded.result.clone() else {
        return Ok(Redirect::to(&format!("/sessions/{id}")).into_response());
    };
    let sheet = sheet::of_session(&mut tx, &who, &loaded, &result).await?;
    tx.commit().await?;
    let size = if asked.paper == "letter" { Size::Letter } else { Size::A4 };
    let paper = of(&sheet, size);
    // Setting pages takes a while of computing: it must not hold up the requests beside it.
    let pdf = tokio::task::spawn_blocking(move || paper::write(&paper)).await;
    let pdf = pdf.map_err(|why| WebError::Ours(Box::new(why)))?.map_err(|why| WebError::Ours(Box::new(why)))?;
    // No name goes into the file's name, which browsers keep in their lists of downloads.
    let named = format!("inline; filename=\"result-{id}.pdf\"");
    Ok(([(header::CONTENT_TYPE, "application/pdf".to_owned()), (header::CONTENT_DISPOSITION, named)], pdf).into_response())
}

/// The sheet as blocks of text.
pub fn of(sheet: &SheetPage, size: Size) -> Paper {
    let mut blocks = vec![Block::Title("Result sheet".into())];
    blocks.extend(outcome(sheet));
    if !sheet.automatic.is_empty() {
        blocks.push(Block::Heading("Automatic fails".into()));
        for line in &sheet.automatic {
            blocks.push(Block::Strong(line.says.clone()));
            blocks.extend(because(line));
        }
    }
    blocks.push(Block::Heading("Findings".into()));
    for stage in &sheet.stages {
        blocks.push(Block::Strong(stage.title.clone()));
        blocks.extend(stage.lines.iter().flat_map(finding));
    }
    blocks.push(Block::Heading("Hidden causes the tests would have shown".into()));
    blocks.push(Block::Text(sheet.causes.summary.clone()));
    for group in &sheet.causes.missed {
        blocks.push(Block::Text(format!("✕ would have been missed: {}", group.causes.join(" "))));
        blocks.push(Block::Small(format!("{} {}", group.missed_at, group.addition)));
    }
    blocks.push(Block::Heading("Timeline".into()));
    blocks.push(Block::Text(sheet.timeline.says.clone()));
    blocks.extend(about(&sheet.about));
    blocks.push(Block::Heading("Evidence code".into()));
    blocks.push(Block::Text(sheet.code.clone()));
    blocks.push(Block::Small(format!(
        "The hash of the last of {} entries. Whoever holds this sheet can check that the record behind it has not been changed.",
        sheet.count
    )));
    blocks.push(Block::Text(CAUTION.into()));
    Paper {
        title: format!("Result sheet {}", sheet.reference),
        language: "en-GB".into(),
        blocks,
        foot: format!("Evidence code {}", sheet.code.get(..17).unwrap_or(&sheet.code)),
        size,
    }
}

/// What the sheet is about, and how it came out.
fn outcome(sheet: &SheetPage) -> Vec<Block> {
    let mut signs = format!("{} {}", sheet.verdict.shape, sheet.verdict.word);
    if !sheet.about.late.is_empty() {
        signs.push_str(" · ▲ to be reviewed");
    }
    if sheet.sampled {
        signs.push_str(" · ◇ to be sampled");
    }
    let mut blocks = vec![
        Block::Text(sheet.task.clone()),
        Block::Text(sheet.centre.clone()),
        Block::Strong(format!("{} {signs}", sheet.sentence)),
        Block::Text(format!("Candidate: {} ({})", sheet.candidate, sheet.reference)),
        Block::Text(format!("Marks: {}; {} % passes", sheet.marks, sheet.pass_percent)),
        Block::Text(format!("Time: {} of {}", sheet.used, sheet.allowed)),
        Block::Text(format!("Bay: {}. Task version: {}", sheet.bay, sheet.task_version)),
        Block::Text(format!("Signed by: {}, {}", sheet.assessor, sheet.signed)),
    ];
    if sheet.overruled > 0 {
        blocks.push(Block::Text(format!("Decided otherwise than worked out: {}", sheet.overruled)));
    }
    blocks
}

fn finding(line: &Line) -> Vec<Block> {
    let head = format!("{} {} · {} ({})", line.sign.shape, line.sign.word, line.says, line.fails);
    let at = if line.minutes.is_empty() { String::new() } else { format!(" · minute {}", line.minutes) };
    let mut blocks = vec![Block::Text(format!("{head} · weight {}{at}", line.weight))];
    blocks.extend(because(line));
    blocks
}

/// What was seen, and what the assessor said to it.
fn because(line: &Line) -> Vec<Block> {
    let mut blocks = vec![Block::Small(line.because.clone())];
    let reason = line.reason.as_deref();
    match (line.instead_of, reason) {
        (Some(was), Some(reason)) => {
            blocks.push(Block::Small(format!("Worked out as {was}; decided by the assessor: {reason}")));
        }
        (Some(was), None) => blocks.push(Block::Small(format!("Worked out as {was}; decided by the assessor"))),
        (None, Some(reason)) => blocks.push(Block::Small(format!("Assessor: {reason}"))),
        (None, None) => {}
    }
    blocks
}

/// What the evidence says of itself.
fn about(about: &About) -> Vec<Block> {
    if about.is_empty() {
        return Vec::new();
    }
    let mut blocks = vec![Block::Heading("About the record".into())];
    if !about.late.is_empty() {
        let says = "The verdict is to be reviewed. Recorded before the signature, received after it, and not part of what was signed:";
        blocks.push(Block::Strong(says.into()));
        blocks.extend(about.late.iter().map(|line| Block::Text(format!("{} {}", line.minute, line.says))));
    }
    blocks.extend(about.stated.iter().chain(&about.clocks).cloned().map(Block::Text));
    if let Some(second) = &about.second {
        let verdict = second.verdict.word;
        blocks.push(Block::Text(format!("Second marking by {}: {verdict} with {}.", second.name, second.marks)));
        blocks.extend(second.differs.iter().map(|line| {
            Block::Small(format!("{}: {} / {}", line.says, line.assessor.word, line.second.word))
        }));
    }
    blocks
}
