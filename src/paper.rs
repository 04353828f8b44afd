//! A few pages of text as a tagged PDF: headings and paragraphs that a reader of screens can follow, with the title and the
//! language of the document set (PDF 1.7, ISO 32000-1, sections 14.8 and 14.9, by the crate that writes it).
//!
//! The letters are DejaVu Sans, which comes with the program: Latin, Greek, Cyrillic, Arabic, Hebrew and signs. What it has
//! no shape for, such as Chinese, prints as a box, can still be copied as text, and is named at the end by its numbers.

mod lines;

use krilla::Document;
use krilla::error::KrillaError;
use krilla::geom::Point;
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, Node, SpanTag, Tag, TagGroup, TagKind, TagTree};
use krilla::text::TextDirection;
use lines::{Face, runs, wrap};
use std::collections::BTreeSet;
use std::num::NonZeroU16;

/// A part of a document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Block {
    /// The heading of the document.
    Title(String),
    /// The heading of a part.
    Heading(String),
    /// A paragraph that carries weight.
    Strong(String),
    Text(String),
    /// What is said about the paragraph before.
    Small(String),
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

/// Space around the text, in points: 15 mm.
const MARGIN: f32 = 42.5;
/// Space for the foot, in points.
const FOOT: f32 = 24.0;
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
    fn text(&self) -> &str {
        match self {
            Self::Title(text) | Self::Heading(text) | Self::Strong(text) | Self::Text(text) | Self::Small(text) => text,
        }
    }

    fn look(&self) -> Look {
        let look = |size, bold, before, indent| Look { size, bold, before, indent };
        match self {
            Self::Title(_) => look(17.0, true, 0.0, 0.0),
            Self::Heading(_) => look(12.0, true, 9.0, 0.0),
            Self::Strong(_) => look(9.0, true, 3.5, 0.0),
            Self::Text(_) => look(9.0, false, 2.0, 0.0),
            Self::Small(_) => look(8.0, false, 0.5, 12.0),
        }
    }

    fn tag(&self) -> TagKind {
        let level = match self {
            Self::Title(_) => 1,
            Self::Heading(_) => 2,
            _ => return Tag::P.into(),
        };
        Tag::Hn(NonZeroU16::new(level).unwrap_or(NonZeroU16::MIN), Some(self.text().to_owned())).into()
    }
}

/// How a block is set, in points.
struct Look {
    size: f32,
    bold: bool,
    before: f32,
    indent: f32,
}

/// A line in its place.
struct Placed {
    block: usize,
    x: f32,
    y: f32,
    text: String,
}

/// Writes the document.
///
/// # Errors
/// Where the letters cannot be read or the PDF cannot be written, both of which are faults of ours.
pub fn write(paper: &Paper) -> Result<Vec<u8>, PaperFault> {
    let plain = Face::new(dejavu::sans::regular()).ok_or(PaperFault::Letters)?;
    let bold = Face::new(dejavu::sans::bold()).ok_or(PaperFault::Letters)?;
    let mut paper = paper.clone();
    paper.blocks.extend(without_shape(&paper, &plain).map(Block::Small));
    let pages = pages(&paper, &plain, &bold);
    let (width, height) = paper.size.points();
    let settings = PageSettings::from_wh(width, height).ok_or(PaperFault::Letters)?;
    let mut document = Document::new();
    document.set_metadata(Metadata::new().title(paper.title.clone()).language(paper.language.clone()));
    let mut children: Vec<Vec<Node>> = paper.blocks.iter().map(|_| Vec::new()).collect();
    for (at, lines) in pages.iter().enumerate() {
        let mut page = document.start_page_with(settings.clone());
        let mut surface = page.surface();
        for line in lines {
            let look = paper.blocks[line.block].look();
            let face = if look.bold { &bold } else { &plain };
            children[line.block].push(surface.start_tagged(ContentTag::Span(SpanTag::empty())).into());
            draw(&mut surface, face, look.size, (line.x, line.y), &line.text);
            surface.end_tagged();
        }
        surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(ArtifactType::Footer)));
        let foot = format!("{} · page {} of {}", paper.foot, at + 1, pages.len());
        draw(&mut surface, &plain, 7.5, (MARGIN, height - MARGIN), &foot);
        surface.end_tagged();
        surface.finish();
        page.finish();
    }
    let mut tree = TagTree::new().with_lang(Some(paper.language.clone()));
    for (block, children) in paper.blocks.iter().zip(children).filter(|(_, children)| !children.is_empty()) {
        tree.push(TagGroup::with_children(block.tag(), children));
    }
    document.set_tag_tree(tree);
    document.finish().map_err(PaperFault::Writing)
}

/// One line, run by run: a run of one direction each.
fn draw(surface: &mut krilla::surface::Surface, face: &Face, size: f32, (mut x, y): (f32, f32), text: &str) {
    for (run, right_to_left) in runs(text) {
        let direction = if right_to_left { TextDirection::RightToLeft } else { TextDirection::LeftToRight };
        surface.draw_text(Point::from_xy(x, y), face.font.clone(), size, run, false, direction);
        x += face.width(run, size);
    }
}

/// The lines of each page. A heading never stands at the foot of one.
fn pages(paper: &Paper, plain: &Face, bold: &Face) -> Vec<Vec<Placed>> {
    let (width, height) = paper.size.points();
    let end = height - MARGIN - FOOT;
    let mut pages = vec![Vec::new()];
    let mut y = MARGIN;
    for (at, block) in paper.blocks.iter().enumerate() {
        let look = block.look();
        let face = if look.bold { bold } else { plain };
        let step = look.size * 1.32;
        let lines = wrap(face, block.text(), look.size, width - 2.0 * MARGIN - look.indent);
        let keep = if matches!(block, Block::Heading(_) | Block::Strong(_)) { 40.0 } else { 0.0 };
        y += look.before;
        for text in lines {
            if y + step + keep > end {
                pages.push(Vec::new());
                y = MARGIN;
            }
            y += step;
            if let Some(page) = pages.last_mut() {
                page.push(Placed { block: at, x: MARGIN + look.indent, y, text });
            }
        }
    }
    pages
}

/// The letters for which there is no shape, in a sentence.
fn without_shape(paper: &Paper, face: &Face) -> Option<String> {
    let missing: BTreeSet<char> =
        paper.blocks.iter().flat_map(|block| block.text().chars()).filter(|letter| face.lacks(*letter)).collect();
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

#[cfg(test)]
mod tests {
    use super::*;

    fn paper(text: &str) -> Paper {
        Paper {
            title: "A sheet".into(),
            language: "en-GB".into(),
            blocks: vec![Block::Title("A sheet".into()), Block::Text(text.into())],
            foot: "0123".into(),
            size: Size::A4,
        }
    }

    #[test]
    fn it_is_tagged_and_says_its_title_and_language() {
        let pdf = write(&paper("Words")).unwrap();
        let text = String::from_utf8_lossy(&pdf);
        assert!(text.starts_with("%PDF-1."));
        assert!(text.contains("/MarkInfo") && text.contains("/StructTreeRoot") && text.contains("en-GB"));
    }

    #[test]
    fn what_has_no_shape_is_named_and_nothing_else() {
        let face = Face::new(dejavu::sans::regular()).unwrap();
        assert_eq!(without_shape(&paper("Zażółć محمد"), &face), None);
        let says = without_shape(&paper("李小龍"), &face).unwrap();
        assert!(says.contains("U+5C0F, U+674E, U+9F8D."), "{says}");
    }

    #[test]
    fn a_long_text_goes_on_to_further_pages_and_loses_nothing() {
        let (plain, bold) = (Face::new(dejavu::sans::regular()).unwrap(), Face::new(dejavu::sans::bold()).unwrap());
        let text = "word ".repeat(4_000);
        let pages = pages(&paper(&text), &plain, &bold);
        assert!(pages.len() > 2);
        let words: usize = pages.iter().flatten().map(|line| line.text.matches("word").count()).sum();
        assert_eq!(words, 4_000);
        let lowest = pages.iter().flatten().map(|line| line.y).fold(0.0, f32::max);
        assert!(lowest < 841.89 - MARGIN - FOOT, "{lowest}");
    }
}
