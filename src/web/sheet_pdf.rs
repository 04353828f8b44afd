//! The result sheet as a file: a tagged PDF that says what the page says. The outcome stands on the first page, the
//! evidence on those after it.

use super::App;
use super::error::WebError;
use super::evidence::About;
use super::extract::{Path, Query, SignedIn};
use super::reviews::after::After;
use super::sessions::load;
use super::sheet::{self, CAUTIONS, Line, SheetPage};
use crate::paper::{self, Block, Cell, Paper, Paragraph, Picture, Row, Size, Table};
use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use uuid::Uuid;

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
    let sheet = sheet::of_session(&mut tx, &who, &loaded, &result, app.clock.now()).await?;
    tx.commit().await?;
    let size = if asked.paper == "letter" { Size::Letter } else { Size::A4 };
    let paper = of(&sheet, size);
    // Setting pages takes a while of computing: it must not hold up the requests beside it.
    let pdf = tokio::task::spawn_blocking(move || paper::write(&paper)).await;
    let pdf = pdf.map_err(|why| WebError::Ours(Box::new(why)))?.map_err(|why| WebError::Ours(Box::new(why)))?;
    // No name goes into the file's name, which browsers keep in their lists of downloads.
    let named = format!("inline; filename=\"result-{id}.pdf\"");
    let heads = [(header::CONTENT_TYPE, "application/pdf".to_owned()), (header::CONTENT_DISPOSITION, named)];
    Ok((heads, pdf).into_response())
}

/// The sheet as blocks.
pub fn of(sheet: &SheetPage, size: Size) -> Paper {
    let mut blocks = outcome(sheet);
    blocks.push(Block::NewPage);
    blocks.push(Block::Heading("Timeline".into()));
    blocks.push(Block::Text(sheet.timeline.says.clone()));
    let (says, sketch) = (sheet.timeline.says.clone(), sheet.timeline.sketch.clone());
    blocks.push(Block::Picture(Picture { says, sketch }));
    blocks.push(Block::Heading("Findings".into()));
    blocks.push(findings(sheet));
    blocks.extend(spoken(sheet));
    blocks.push(Block::Heading("Hidden causes the tests would have shown".into()));
    blocks.push(Block::Text(sheet.causes.summary.clone()));
    for group in &sheet.causes.missed {
        blocks.push(Block::Strong("✕ would have been missed".into()));
        blocks.push(Block::Text(group.causes.join(" ")));
        blocks.push(Block::Text(format!("{} {}", group.missed_at, group.addition)));
    }
    blocks.extend(about(&sheet.about));
    blocks.extend(review(&sheet.after));
    let foot = format!("Evidence code {}", sheet.code);
    Paper { title: format!("Result sheet {}", sheet.reference), language: "en-GB".into(), blocks, foot, size }
}

/// The first page: what the sheet is about, how it came out and why, and what seals it.
fn outcome(sheet: &SheetPage) -> Vec<Block> {
    let mut signs = format!("{} {}", sheet.verdict.shape, sheet.verdict.word);
    if !sheet.about.late.is_empty() {
        signs.push_str(" · ▲ to be reviewed");
    }
    if sheet.sampled {
        signs.push_str(" · ◇ to be sampled");
    }
    let mut blocks = vec![
        Block::Title("Result sheet".into()),
        Block::Text(sheet.task.clone()),
        Block::Text(sheet.centre.clone()),
        Block::Large(format!("{} {signs}", sheet.sentence)),
        facts(sheet),
    ];
    if let Some(now) = sheet.after.amended() {
        blocks.insert(4, Block::Large(format!("Amended on review: {} {}", now.shape, now.word)));
    }
    let mut part = |title: &str, lines: &[Line]| {
        if !lines.is_empty() {
            blocks.push(Block::Heading(title.into()));
            for line in lines {
                let at = if line.minutes.is_empty() { String::new() } else { format!(" ({})", line.minutes) };
                blocks.push(Block::Strong(line.says.clone()));
                blocks.push(Block::Text(format!("{}{at}", line.because)));
                blocks.extend(decided(line).map(Block::Text));
            }
        }
    };
    part("Automatic fails", &sheet.automatic);
    part(if sheet.automatic.is_empty() { "Not met" } else { "Not met as well" }, &sheet.unmet);
    part("Decided otherwise than worked out", &sheet.changed);
    blocks.push(Block::Heading("Evidence code".into()));
    blocks.push(Block::Text(sheet.code.clone()));
    blocks.push(Block::Small(format!(
        "The hash of the last of {} entries. Whoever holds this sheet can check that the record behind it has not been changed.",
        sheet.count
    )));
    blocks.push(Block::Heading("Cautions".into()));
    blocks.extend(CAUTIONS.map(|says| Block::Text(says.into())));
    blocks
}

/// The review that was asked for, with both outcomes.
fn review(after: &After) -> Vec<Block> {
    let Some(review) = &after.review else { return Vec::new() };
    let mut blocks =
        vec![Block::Heading("Review".into()), Block::Text(format!("Asked on {}: {}", review.asked, review.reason))];
    let Some(end) = &review.end else {
        blocks.push(Block::Text("▲ waits for a verifier".into()));
        return blocks;
    };
    match &end.amended {
        None => blocks.push(Block::Strong(format!("Upheld by {}, {}.", end.by, end.at))),
        Some(now) => {
            let verdict = format!("{} {} with {}", now.verdict.shape, now.verdict.word, now.marks);
            blocks.push(Block::Strong(format!("Amended by {}, {}: {verdict}.", end.by, end.at)));
            for change in &now.changes {
                let to = format!("{} {}", change.to.shape, change.to.word);
                blocks.push(Block::Text(format!("{}: {to}. {}. {}", change.says, change.because, change.words)));
            }
            blocks.push(Block::Small(format!("Evidence code over {} entries: {}", now.count, now.code)));
        }
    }
    blocks.push(Block::Text(format!("The candidate was told: {}", end.words)));
    blocks
}

fn facts(sheet: &SheetPage) -> Block {
    let fact = |name: &str, says: String| Row::Cells(vec![vec![strong(name)], vec![text(&says)]]);
    let rows = vec![
        fact("Candidate", format!("{} ({})", sheet.candidate, sheet.reference)),
        fact("Marks", format!("{}; {} % passes", sheet.marks, sheet.pass_percent)),
        fact("Time", format!("{} of {}", sheet.used, sheet.allowed)),
        fact("Bay", sheet.bay.clone()),
        fact("Task version", sheet.task_version.to_string()),
        fact("Signed by", format!("{}, {}", sheet.assessor, sheet.signed)),
    ];
    Block::Table(Table { heads: Vec::new(), shares: vec![1.0, 4.0], rows })
}

/// Every finding, by stage.
fn findings(sheet: &SheetPage) -> Block {
    let mut rows = Vec::new();
    for stage in &sheet.stages {
        rows.push(Row::Group(stage.title.clone()));
        rows.extend(stage.lines.iter().map(|line| Row::Cells(finding(line))));
    }
    let heads = ["Outcome", "Criterion and what was seen", "Minute", "Weight"].map(str::to_owned).to_vec();
    Block::Table(Table { heads, shares: vec![1.9, 5.4, 1.2, 0.8], rows })
}

/// What the assessor put into words.
fn spoken(sheet: &SheetPage) -> Vec<Block> {
    if sheet.spoken.is_empty() {
        return Vec::new();
    }
    let row = |one: &super::spoken::Spoken| {
        let says = if one.words.is_empty() { "not put into words" } else { &one.words };
        Row::Cells(vec![vec![text(&one.minute)], vec![text(&one.what)], vec![text(says)]])
    };
    let heads = ["Minute", "What", "In words"].map(str::to_owned).to_vec();
    let rows = sheet.spoken.iter().map(row).collect();
    let table = Block::Table(Table { heads, shares: vec![0.8, 2.0, 5.0], rows });
    vec![Block::Heading("Stepping in, help and notes".into()), table]
}

fn finding(line: &Line) -> Vec<Cell> {
    let mut says = vec![strong(&line.says), text(&line.because)];
    says.extend(decided(line).map(Paragraph::Text));
    let sign = format!("{} {}", line.sign.shape, line.sign.word);
    vec![
        vec![text(&sign), Paragraph::Small(line.fails.into())],
        says,
        vec![text(&line.minutes)],
        vec![text(&line.weight.to_string())],
    ]
}

/// What the assessor decided, and why.
fn decided(line: &Line) -> Option<String> {
    match (line.instead_of, line.reason.as_deref()) {
        (Some(was), Some(reason)) => Some(format!("Worked out as {was}; decided by the assessor: {reason}")),
        (Some(was), None) => Some(format!("Worked out as {was}; decided by the assessor")),
        (None, Some(reason)) => Some(format!("Assessor: {reason}")),
        (None, None) => None,
    }
}

fn strong(says: &str) -> Paragraph {
    Paragraph::Strong(says.to_owned())
}

fn text(says: &str) -> Paragraph {
    Paragraph::Text(says.to_owned())
}

/// What the evidence says of itself.
fn about(about: &About) -> Vec<Block> {
    if about.is_empty() {
        return Vec::new();
    }
    let mut blocks = vec![Block::Heading("About the record".into())];
    if !about.late.is_empty() {
        let says = "The verdict is to be reviewed. Recorded before the signature, received after it, and not part of what \
                    was signed:";
        blocks.push(Block::Strong(says.into()));
        blocks.extend(about.late.iter().map(|line| Block::Text(format!("{} {}", line.minute, line.says))));
    }
    blocks.extend(about.stated.iter().chain(&about.clocks).cloned().map(Block::Text));
    if let Some(second) = &about.second {
        let (verdict, marks) = (second.verdict.word, &second.marks);
        blocks.push(Block::Text(format!(
            "Second marking by {}, without knowing of the first: {verdict} with {marks}.",
            second.name
        )));
        if second.differs.is_empty() {
            blocks.push(Block::Text("Both records lead to the same findings.".into()));
        } else {
            let row = |line: &super::evidence::Difference| {
                let cell = |says: &str| vec![text(says)];
                Row::Cells(vec![vec![strong(&line.says)], cell(line.assessor.word), cell(line.second.word)])
            };
            let heads = ["Criterion", "Assessor's record", "Second marker's record"].map(str::to_owned).to_vec();
            let rows = second.differs.iter().map(row).collect();
            blocks.push(Block::Table(Table { heads, shares: vec![3.0, 1.0, 1.2], rows }));
        }
    }
    blocks
}
