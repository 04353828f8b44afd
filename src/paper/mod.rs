//! A few pages as a tagged PDF: headings, paragraphs, tables and a picture that a reader of screens can follow, with the
//! title, the language and the outline of the document set (PDF 1.7, ISO 32000-1, sections 14.8 and 14.9).
//!
//! The file says that it is PDF/UA-1 (ISO 14289-1) wherever each character has a shape. The letters are DejaVu Sans, which
//! comes with the program: Latin, Greek, Cyrillic, Arabic, Hebrew and signs. What it has no shape for, such as Chinese,
//! prints as a box, can still be copied as text, and is named at the end by its numbers.

mod draw;
mod layout;
mod lines;
#[cfg(test)]
mod tests;

use crate::marking::timeline::picture::Sketch;
use krilla::configure::{Accessibility, Configuration, ConfigurationBuilder};
use krilla::error::KrillaError;
use lines::Face;
use std::collections::BTreeSet;

/// A part of a document.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// The heading of the document.
    Title(String),
    /// The heading of a part.
    Heading(String),
    /// A sentence in large letters.
    Large(String),
    /// A paragraph that carries weight.
    Strong(String),
    Text(String),
    /// What is said about the paragraph before.
    Small(String),
    Table(Table),
    Picture(Picture),
    /// What follows begins on a new page.
    NewPage,
}

/// A table. Its head stands on each page that it reaches.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Over the columns; empty where each row is headed by its first cell instead.
    pub heads: Vec<String>,
    /// Shares of the width, one for each column.
    pub shares: Vec<f32>,
    pub rows: Vec<Row>,
}

/// A row of a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Row {
    /// Heads the rows up to the next.
    Group(String),
    /// One cell for each column.
    Cells(Vec<Cell>),
}

impl Row {
    /// Every text in it.
    fn texts(&self) -> Vec<&str> {
        match self {
            Self::Group(text) => vec![text],
            Self::Cells(cells) => cells.iter().flatten().map(Paragraph::text).collect(),
        }
    }
}

/// The paragraphs of a cell.
pub type Cell = Vec<Paragraph>;

/// A paragraph in a cell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Paragraph {
    Strong(String),
    Text(String),
    Small(String),
}

impl Paragraph {
    fn text(&self) -> &str {
        match self {
            Self::Strong(text) | Self::Text(text) | Self::Small(text) => text,
        }
    }
}

/// A picture, and the same in words for whoever does not see it.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    pub says: String,
    pub sketch: Sketch,
}

/// The size of the paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Size {
    A4,
    Letter,
}

/// A document.
#[derive(Debug, Clone)]
pub struct Paper {
    pub title: String,
    /// A tag of BCP 47, such as `en-GB`.
    pub language: String,
    pub blocks: Vec<Block>,
    /// At the foot of each page, before its number.
    pub foot: String,
    pub size: Size,
}

/// Why there is no PDF.
#[derive(Debug, thiserror::Error)]
pub enum PaperFault {
    #[error("the letters that come with the program cannot be read")]
    Letters,
    #[error("the PDF cannot be written: {0:?}")]
    Writing(KrillaError),
}

/// Most letters without a shape that are named.
const MOST_NAMED: usize = 24;

impl Size {
    /// Width and height in points.
    fn points(self) -> (f32, f32) {
        match self {
            Self::A4 => (595.28, 841.89),
            Self::Letter => (612.0, 792.0),
        }
    }
}

impl Block {
    /// Every text in it.
    fn texts(&self) -> Vec<&str> {
        match self {
            Self::Title(text)
            | Self::Heading(text)
            | Self::Large(text)
            | Self::Strong(text)
            | Self::Text(text)
            | Self::Small(text) => vec![text],
            Self::Table(table) => {
                table.heads.iter().map(String::as_str).chain(table.rows.iter().flat_map(Row::texts)).collect()
            }
            Self::Picture(picture) => vec![&picture.says],
            Self::NewPage => Vec::new(),
        }
    }
}

/// The letters, plain and bold.
struct Faces {
    plain: Face,
    bold: Face,
}

impl Faces {
    fn new() -> Option<Self> {
        Some(Self { plain: Face::new(dejavu::sans::regular())?, bold: Face::new(dejavu::sans::bold())? })
    }

    fn of(&self, bold: bool) -> &Face {
        if bold { &self.bold } else { &self.plain }
    }
}

/// Writes the document.
///
/// # Errors
/// Where the letters cannot be read or the PDF cannot be written, both of which are faults of ours.
pub fn write(paper: &Paper) -> Result<Vec<u8>, PaperFault> {
    let faces = Faces::new().ok_or(PaperFault::Letters)?;
    let mut paper = paper.clone();
    paper.blocks.extend(without_shape(&paper, &faces.plain).map(Block::Small));
    let layout = layout::of(&paper, &faces);
    let accessible = ConfigurationBuilder::new().with_accessibility_validator(Accessibility::UA1).finish();
    match draw::document(&paper, &layout, &faces, accessible.unwrap_or_default()) {
        // A character without a shape, or one for private use: the same file without the claim.
        Err(PaperFault::Writing(KrillaError::Validation(_))) => {
            draw::document(&paper, &layout, &faces, Configuration::default())
        }
        done => done,
    }
}

/// The letters for which there is no shape, in a sentence.
fn without_shape(paper: &Paper, face: &Face) -> Option<String> {
    let texts = paper.blocks.iter().flat_map(Block::texts);
    let missing: BTreeSet<char> = texts.flat_map(str::chars).filter(|letter| face.lacks(*letter)).collect();
    if missing.is_empty() {
        return None;
    }
    let named: Vec<String> =
        missing.iter().take(MOST_NAMED).map(|letter| format!("U+{:04X}", u32::from(*letter))).collect();
    let more = if missing.len() > MOST_NAMED { ", and others" } else { "" };
    Some(format!(
        "Boxes stand for characters that the letters of this file have no shape for. Copied from this file, or on the page \
         in a browser, they can be read. They are: {}{more}.",
        named.join(", "),
    ))
}
