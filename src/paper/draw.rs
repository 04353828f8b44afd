//! What is laid out, drawn: text, rules and pictures, and the structure of the document.

use super::layout::{Layout, MARGIN, Node, Piece, What};
use super::lines::{Face, parts, runs};
use super::{Block, Faces, Paper, PaperFault};
use crate::marking::timeline::Shape;
use crate::marking::timeline::picture::{Anchor, Ink, Sketch};
use krilla::color::luma;
use krilla::configure::Configuration;
use krilla::destination::XyzDestination;
use krilla::geom::{Path, PathBuilder, Point, Rect, Transform};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, LineCap, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, Identifier, SpanTag, TagGroup, TagTree};
use krilla::text::TextDirection;
use krilla::{Document, SerializeSettings};

/// The circle as four curves: how far their handles reach, in radii.
const HANDLE: f32 = 0.552_285;
/// Letters of a sketch, in its pixels.
const SKETCH_LETTERS: f32 = 13.0;

/// Draws the document under a configuration.
pub(super) fn document(
    paper: &Paper,
    layout: &Layout,
    faces: &Faces,
    configuration: Configuration,
) -> Result<Vec<u8>, PaperFault> {
    let (width, height) = paper.size.points();
    let settings = PageSettings::from_wh(width, height).ok_or(PaperFault::Letters)?;
    let mut document = Document::new_with(SerializeSettings { configuration, ..SerializeSettings::default() });
    document.set_metadata(Metadata::new().title(paper.title.clone()).language(paper.language.clone()));
    let mut ids: Vec<Vec<Identifier>> = vec![Vec::new(); layout.leaves];
    for (at, pieces) in layout.pages.iter().enumerate() {
        let mut page = document.start_page_with(settings.clone());
        let mut surface = page.surface();
        for one in pieces {
            let made = piece(&mut surface, paper, faces, one);
            if let Some(leaf) = one.leaf {
                ids[leaf].extend(made);
            }
        }
        surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(ArtifactType::Footer)));
        let left = (width - super::layout::WIDEST.min(width - 2.0 * MARGIN)) / 2.0;
        let foot = format!("{} · page {} of {}", paper.foot, at + 1, layout.pages.len());
        text(&mut surface, &faces.plain, 7.0, (left, height - MARGIN), &foot);
        surface.end_tagged();
        surface.finish();
        page.finish();
    }
    document.set_outline(outline(layout));
    let mut tree = TagTree::new().with_lang(Some(paper.language.clone()));
    for node in &layout.tree {
        tree.push(group(node, &mut ids));
    }
    document.set_tag_tree(tree);
    document.finish().map_err(PaperFault::Writing)
}

fn outline(layout: &Layout) -> Outline {
    let mut outline = Outline::new();
    for entry in &layout.outline {
        let place = XyzDestination::new(entry.page, Point::from_xy(0.0, entry.y));
        outline.push_child(OutlineNode::new(entry.text.clone(), place));
    }
    outline
}

/// A part of the structure with what was drawn for it.
fn group(node: &Node, ids: &mut [Vec<Identifier>]) -> TagGroup {
    match node {
        Node::Group(tag, children) => {
            let mut made = TagGroup::new(tag.clone());
            for child in children {
                match child {
                    Node::Leaf(leaf) => std::mem::take(&mut ids[*leaf]).into_iter().for_each(|id| made.push(id)),
                    child @ Node::Group(..) => made.push(group(child, ids)),
                }
            }
            made
        }
        Node::Leaf(leaf) => {
            let mut made = TagGroup::new(krilla::tagging::Tag::P);
            std::mem::take(&mut ids[*leaf]).into_iter().for_each(|id| made.push(id));
            made
        }
    }
}

/// Draws one piece, and answers under which numbers it can be read; none for what is no content.
fn piece(surface: &mut Surface, paper: &Paper, faces: &Faces, piece: &Piece) -> Vec<Identifier> {
    if let (Some(_), What::Text { bold, size, text: says }) = (piece.leaf, &piece.what) {
        return content(surface, faces.of(*bold), *size, (piece.x, piece.y), says);
    }
    let tag = match piece.leaf {
        None => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Other)),
        Some(_) => ContentTag::Other,
    };
    let id = surface.start_tagged(tag);
    match &piece.what {
        What::Text { bold, size, text: says } => text(surface, faces.of(*bold), *size, (piece.x, piece.y), says),
        What::Rule(wide, thick) => {
            line(surface, (piece.x, piece.y), (piece.x + wide, piece.y), stroke(*thick, 0.55));
        }
        What::Picture(at, wide) => {
            if let Some(Block::Picture(picture)) = paper.blocks.get(*at) {
                let scale = wide / picture.sketch.width.max(1) as f32;
                surface.push_transform(&Transform::from_row(scale, 0.0, 0.0, scale, piece.x, piece.y));
                sketch(surface, &faces.plain, &picture.sketch);
                surface.pop();
            }
        }
    }
    surface.end_tagged();
    piece.leaf.map(|_| id).into_iter().collect()
}

/// One line that can be read. All characters without a shape share one box, which says nothing of which it stands for:
/// that is said beside each.
fn content(surface: &mut Surface, face: &Face, size: f32, (mut x, y): (f32, f32), says: &str) -> Vec<Identifier> {
    let mut ids = Vec::new();
    for (part, lacking) in parts(says, |letter| face.lacks(letter)) {
        let span = SpanTag::empty().with_actual_text(lacking.then_some(part));
        ids.push(surface.start_tagged(ContentTag::Span(span)));
        text(surface, face, size, (x, y), part);
        surface.end_tagged();
        x += face.width(part, size);
    }
    ids
}

/// One line, run by run: a run of one direction each.
fn text(surface: &mut Surface, face: &Face, size: f32, (mut x, y): (f32, f32), text: &str) {
    surface.set_stroke(None);
    surface.set_fill(Some(ink(1.0)));
    for (run, right_to_left) in runs(text) {
        let direction = if right_to_left { TextDirection::RightToLeft } else { TextDirection::LeftToRight };
        surface.draw_text(Point::from_xy(x, y), face.font.clone(), size, run, false, direction);
        x += face.width(run, size);
    }
}

/// Black that covers this much.
fn ink(depth: f32) -> Fill {
    Fill { paint: luma::Color::black().into(), opacity: covers(depth), ..Fill::default() }
}

fn covers(depth: f32) -> NormalizedF32 {
    NormalizedF32::new(depth).unwrap_or(NormalizedF32::ONE)
}

fn stroke(width: f32, depth: f32) -> Stroke {
    Stroke { width, opacity: covers(depth), ..Stroke::default() }
}

fn path(surface: &mut Surface, fill: Option<Fill>, stroke: Option<Stroke>, path: Option<Path>) {
    let Some(path) = path else { return };
    surface.set_fill(fill);
    surface.set_stroke(stroke);
    surface.draw_path(&path);
}

fn line(surface: &mut Surface, from: (f32, f32), to: (f32, f32), stroke: Stroke) {
    path(surface, None, Some(stroke), through(&[from, to], false));
}

/// A path from corner to corner.
fn through(corners: &[(f32, f32)], closed: bool) -> Option<Path> {
    let mut path = PathBuilder::new();
    for (at, (x, y)) in corners.iter().enumerate() {
        if at == 0 { path.move_to(*x, *y) } else { path.line_to(*x, *y) }
    }
    if closed {
        path.close();
    }
    path.finish()
}

fn circle((x, y): (f32, f32), r: f32) -> Option<Path> {
    let h = r * HANDLE;
    let mut path = PathBuilder::new();
    path.move_to(x + r, y);
    path.cubic_to(x + r, y + h, x + h, y + r, x, y + r);
    path.cubic_to(x - h, y + r, x - r, y + h, x - r, y);
    path.cubic_to(x - r, y - h, x - h, y - r, x, y - r);
    path.cubic_to(x + h, y - r, x + r, y - h, x + r, y);
    path.close();
    path.finish()
}

/// A drawing, in its own pixels.
fn sketch(surface: &mut Surface, face: &Face, sketch: &Sketch) {
    for one in &sketch.inks {
        match one {
            Ink::Words { x, y, anchor, text: says } => {
                let wide = face.width(says, SKETCH_LETTERS);
                let back = match anchor {
                    Anchor::Left => 0.0,
                    Anchor::Middle => wide / 2.0,
                    Anchor::Right => wide,
                };
                // The space keeps it apart from what is written next, for whoever copies from the file.
                text(surface, face, SKETCH_LETTERS, (*x as f32 - back, *y as f32), &format!("{says} "));
            }
            Ink::Block { x, y, width, height, look } => {
                let corners = Rect::from_xywh(*x as f32, *y as f32, *width as f32, *height as f32);
                let dash =
                    look.dash.map(|(dash, gap)| StrokeDash { array: vec![dash as f32, gap as f32], offset: 0.0 });
                let edge = Stroke { dash, ..stroke(look.edge, 1.0) };
                let mut block = PathBuilder::new();
                corners.into_iter().for_each(|corners| block.push_rect(corners));
                path(surface, (look.fill > 0.0).then(|| ink(look.fill)), Some(edge), block.finish());
            }
            Ink::Line { from, to, width, depth } => {
                let place = |(x, y): (u32, u32)| (x as f32, y as f32);
                line(surface, place(*from), place(*to), stroke(*width, *depth));
            }
            Ink::Marks { shape, spots, y } => spots.iter().for_each(|x| mark(surface, *shape, (*x as f32, *y as f32))),
            Ink::Rings { spots, y } => {
                for x in spots {
                    path(surface, None, Some(stroke(2.0, 1.0)), circle((*x as f32, *y as f32), 11.0));
                }
            }
        }
    }
}

/// One mark, of the size that the page's picture gives it.
fn mark(surface: &mut Surface, shape: Shape, (x, y): (f32, f32)) {
    let full = Some(ink(1.0));
    match shape {
        Shape::Seen => path(surface, full, None, circle((x, y), 4.5)),
        Shape::NotMet => {
            let corners = [(x, y - 8.0), (x + 8.0, y), (x, y + 8.0), (x - 8.0, y)];
            path(surface, full, None, through(&corners, true));
        }
        Shape::Struck => {
            let cross = Stroke { line_cap: LineCap::Butt, ..stroke(2.5, 1.0) };
            line(surface, (x - 5.0, y - 5.0), (x + 5.0, y + 5.0), cross.clone());
            line(surface, (x + 5.0, y - 5.0), (x - 5.0, y + 5.0), cross);
        }
        Shape::SteppedIn => {
            let corners = [
                (x - 4.0, y - 8.0),
                (x + 5.0, y - 8.0),
                (x + 10.0, y),
                (x + 5.0, y + 8.0),
                (x - 4.0, y + 8.0),
                (x - 9.0, y),
            ];
            path(surface, full, None, through(&corners, true));
        }
    }
}
