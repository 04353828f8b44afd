//! Where everything stands: blocks become lines, lines fill pages.

use super::lines::wrap;
use super::{Block, Cell, Faces, Paper, Paragraph, Row, Table};
use krilla::tagging::{TableHeaderScope, Tag, TagKind};
use std::num::NonZeroU16;

/// Space above, below and at least beside the text, in points: 15 mm.
pub(super) const MARGIN: f32 = 42.5;
/// Widest text, in points: 180 mm, which fits both sizes of paper.
pub(super) const WIDEST: f32 = 510.2;
/// Space for the foot, in points.
const FOOT: f32 = 20.0;
/// From a size of letters to the next line.
const STEP: f32 = 1.27;
/// Between columns, and above and below each row.
const GUTTER: f32 = 8.0;
const ROW: f32 = 2.0;
/// Width of a picture as a share of the text's.
const PICTURE: f32 = 0.84;
/// What a heading must have under it on its page.
const KEEP: f32 = 44.0;

/// A document, laid out.
pub(super) struct Layout {
    /// From the upper left corner of each page, in points.
    pub pages: Vec<Vec<Piece>>,
    pub tree: Vec<Node>,
    pub leaves: usize,
    /// Headings with their places.
    pub outline: Vec<Entry>,
}

/// A heading in the outline.
pub(super) struct Entry {
    pub text: String,
    pub page: usize,
    pub y: f32,
}

/// A part of the structure, in the order in which it is read.
pub(super) enum Node {
    Group(TagKind, Vec<Node>),
    Leaf(usize),
}

/// Something in its place. What belongs to no leaf is no content: rules, and heads that are said again.
pub(super) struct Piece {
    pub leaf: Option<usize>,
    pub x: f32,
    pub y: f32,
    pub what: What,
}

pub(super) enum What {
    /// The baseline is at `y`.
    Text { bold: bool, size: f32, text: String },
    /// A line as long as this, and how thick.
    Rule(f32, f32),
    /// The picture of the block with this number, as wide as this.
    Picture(usize, f32),
}

/// How text is set, in points.
#[derive(Clone, Copy)]
struct Look {
    size: f32,
    bold: bool,
    before: f32,
    indent: f32,
}

const fn look(size: f32, bold: bool, before: f32, indent: f32) -> Look {
    Look { size, bold, before, indent }
}

const CELL: Look = look(8.5, false, 0.0, 0.0);
const CELL_STRONG: Look = look(8.5, true, 0.0, 0.0);
const CELL_SMALL: Look = look(7.5, false, 0.5, 0.0);

/// A line of a cell.
struct Line {
    look: Look,
    text: String,
}

impl Line {
    fn height(&self) -> f32 {
        self.look.size * STEP
    }
}

/// Lays a document out.
pub(super) fn of(paper: &Paper, faces: &Faces) -> Layout {
    let (width, height) = paper.size.points();
    let wide = (width - 2.0 * MARGIN).min(WIDEST);
    let left = (width - wide) / 2.0;
    let layout = Layout { pages: vec![Vec::new()], tree: Vec::new(), leaves: 0, outline: Vec::new() };
    let mut setter = Setter { faces, layout, left, wide, end: height - MARGIN - FOOT, y: MARGIN };
    for (at, block) in paper.blocks.iter().enumerate() {
        setter.block(at, block);
    }
    setter.layout
}

struct Setter<'f> {
    faces: &'f Faces,
    layout: Layout,
    left: f32,
    wide: f32,
    end: f32,
    y: f32,
}

impl Setter<'_> {
    fn block(&mut self, at: usize, block: &Block) {
        match block {
            Block::Title(text) => self.heading(1, text, look(17.0, true, 0.0, 0.0)),
            Block::Heading(text) => self.heading(2, text, look(12.0, true, 12.0, 0.0)),
            Block::Large(text) => self.paragraph(text, look(12.5, true, 8.0, 0.0)),
            Block::Strong(text) => self.paragraph(text, look(9.5, true, 6.0, 0.0)),
            Block::Text(text) => self.paragraph(text, look(9.5, false, 3.0, 0.0)),
            Block::Small(text) => self.paragraph(text, look(8.0, false, 1.0, 0.0)),
            Block::Table(table) => self.table(table),
            Block::Picture(picture) => {
                let size = &picture.sketch;
                let wide = self.wide * PICTURE;
                let high = wide * size.height as f32 / size.width.max(1) as f32;
                self.y += 6.0;
                self.room(high);
                let leaf = self.leaf();
                self.put(Some(leaf), self.left, What::Picture(at, wide));
                self.y += high;
                let figure = Tag::Figure(Some(picture.says.clone())).into();
                self.layout.tree.push(Node::Group(figure, vec![Node::Leaf(leaf)]));
            }
            Block::NewPage => self.turn(),
        }
    }

    fn leaf(&mut self) -> usize {
        self.layout.leaves += 1;
        self.layout.leaves - 1
    }

    /// Goes on to a new page, unless this one is empty.
    fn turn(&mut self) {
        if self.layout.pages.last().is_some_and(|page| !page.is_empty()) {
            self.layout.pages.push(Vec::new());
        }
        self.y = MARGIN;
    }

    /// Sees to it that this much fits under what is there.
    fn room(&mut self, high: f32) {
        if self.y + high > self.end {
            self.turn();
        }
    }

    fn put(&mut self, leaf: Option<usize>, x: f32, what: What) {
        if let Some(page) = self.layout.pages.last_mut() {
            page.push(Piece { leaf, x, y: self.y, what });
        }
    }

    fn heading(&mut self, level: u16, text: &str, look: Look) {
        self.y += look.before;
        self.room(look.size * STEP + KEEP);
        let entry = Entry { text: text.to_owned(), page: self.layout.pages.len() - 1, y: self.y };
        self.layout.outline.push(entry);
        let leaf = self.lines(text, Look { before: 0.0, ..look });
        let tag = Tag::Hn(NonZeroU16::new(level).unwrap_or(NonZeroU16::MIN), Some(text.to_owned()));
        self.layout.tree.push(Node::Group(tag.into(), vec![Node::Leaf(leaf)]));
    }

    fn paragraph(&mut self, text: &str, look: Look) {
        let leaf = self.lines(text, look);
        self.layout.tree.push(Node::Group(Tag::P.into(), vec![Node::Leaf(leaf)]));
    }

    fn lines(&mut self, text: &str, look: Look) -> usize {
        let leaf = self.leaf();
        self.y += look.before;
        for text in wrap(self.faces.of(look.bold), text, look.size, self.wide - look.indent) {
            self.room(look.size * STEP);
            self.y += look.size * STEP;
            self.put(Some(leaf), self.left + look.indent, What::Text { bold: look.bold, size: look.size, text });
        }
        leaf
    }

    fn table(&mut self, table: &Table) {
        self.y += 4.0;
        let columns = self.columns(&table.shares);
        let heads: Vec<Vec<Line>> =
            table.heads.iter().zip(&columns).map(|(head, column)| self.set(head, CELL_STRONG, column.1)).collect();
        let mut parts = Vec::new();
        if !heads.is_empty() {
            self.room(tall(&heads) + KEEP);
            let cells = self.row(&heads, &columns, true, None);
            let cells = cells.into_iter().map(|leaf| head(TableHeaderScope::Column, leaf)).collect();
            parts.push(Node::Group(Tag::THead.into(), vec![Node::Group(Tag::TR.into(), cells)]));
            self.rule(0.9);
        }
        let mut rows = Vec::new();
        for row in &table.rows {
            rows.push(match row {
                Row::Group(text) => self.group(text, &heads, &columns),
                Row::Cells(cells) => self.cells(cells, &heads, &columns),
            });
            self.rule(0.35);
        }
        if !rows.is_empty() {
            parts.push(Node::Group(Tag::TBody.into(), rows));
        }
        self.layout.tree.push(Node::Group(Tag::Table.into(), parts));
    }

    /// Left end and width of each column.
    fn columns(&self, shares: &[f32]) -> Vec<(f32, f32)> {
        let (sum, mut x) = (shares.iter().sum::<f32>().max(f32::EPSILON), self.left);
        let column = |share: &f32| {
            let wide = self.wide * share / sum;
            x += wide;
            (x - wide, wide - GUTTER)
        };
        shares.iter().map(column).collect()
    }

    /// A text as lines of a cell.
    fn set(&self, text: &str, look: Look, width: f32) -> Vec<Line> {
        let lines = wrap(self.faces.of(look.bold), text, look.size, width);
        lines.into_iter().map(|text| Line { look, text }).collect()
    }

    /// A row that heads those after it, over the whole width.
    fn group(&mut self, text: &str, heads: &[Vec<Line>], columns: &[(f32, f32)]) -> Node {
        let lines = vec![self.set(text, look(9.5, true, 0.0, 0.0), self.wide)];
        self.fit(tall(&lines) + KEEP, heads, columns);
        self.y += 3.0;
        let leaves = self.row(&lines, &[(self.left, self.wide)], true, None);
        let span = std::num::NonZeroU32::new(u32::try_from(columns.len()).unwrap_or(1));
        let group = |leaf| {
            let tag = Tag::TH(TableHeaderScope::Row).with_col_span(span);
            Node::Group(tag.into(), vec![Node::Leaf(leaf)])
        };
        Node::Group(Tag::TR.into(), leaves.into_iter().map(group).collect())
    }

    fn cells(&mut self, cells: &[Cell], heads: &[Vec<Line>], columns: &[(f32, f32)]) -> Node {
        let set = |(cell, column): (&Cell, &(f32, f32))| -> Vec<Line> {
            let paragraph = |paragraph: &Paragraph| match paragraph {
                Paragraph::Strong(text) => self.set(text, CELL_STRONG, column.1),
                Paragraph::Text(text) => self.set(text, CELL, column.1),
                Paragraph::Small(text) => self.set(text, CELL_SMALL, column.1),
            };
            cell.iter().flat_map(paragraph).collect()
        };
        let lines: Vec<Vec<Line>> = cells.iter().zip(columns).map(set).collect();
        self.fit(tall(&lines) + 2.0 * ROW, heads, columns);
        let leaves = self.row(&lines, columns, true, Some(heads));
        let cell = |(at, leaf)| match at == 0 && heads.is_empty() {
            true => head(TableHeaderScope::Row, leaf),
            false => Node::Group(Tag::TD.into(), vec![Node::Leaf(leaf)]),
        };
        Node::Group(Tag::TR.into(), leaves.into_iter().enumerate().map(cell).collect())
    }

    /// Sees to it that a row is not broken, with the heads again on a new page.
    fn fit(&mut self, high: f32, heads: &[Vec<Line>], columns: &[(f32, f32)]) {
        if self.y + high > self.end {
            self.again(heads, columns);
        }
    }

    fn again(&mut self, heads: &[Vec<Line>], columns: &[(f32, f32)]) {
        self.turn();
        if !heads.is_empty() {
            self.row(heads, columns, false, None);
            self.rule(0.9);
        }
    }

    /// Lines side by side, and the leaf of each column. A row that is longer than a page goes on on the next.
    fn row(
        &mut self,
        lines: &[Vec<Line>],
        columns: &[(f32, f32)],
        content: bool,
        heads: Option<&[Vec<Line>]>,
    ) -> Vec<usize> {
        let leaves: Vec<usize> = lines.iter().map(|_| if content { self.leaf() } else { 0 }).collect();
        let mut from = vec![0; lines.len()];
        loop {
            self.y += ROW;
            let (top, mut lowest) = (self.y, self.y);
            for (at, cell) in lines.iter().enumerate() {
                self.y = top;
                while let Some(line) = cell.get(from[at]) {
                    let y = self.y + line.look.before + line.height();
                    if y > self.end {
                        break;
                    }
                    self.y = y;
                    let (bold, size, text) = (line.look.bold, line.look.size, line.text.clone());
                    self.put(content.then_some(leaves[at]), columns[at].0, What::Text { bold, size, text });
                    from[at] += 1;
                }
                lowest = f32::max(lowest, self.y);
            }
            self.y = lowest + ROW;
            if lines.iter().zip(&from).all(|(cell, from)| *from == cell.len()) {
                return leaves;
            }
            match heads {
                Some(heads) => self.again(heads, columns),
                None => self.turn(),
            }
        }
    }

    fn rule(&mut self, thick: f32) {
        self.put(None, self.left, What::Rule(self.wide, thick));
    }
}

fn head(scope: TableHeaderScope, leaf: usize) -> Node {
    Node::Group(Tag::TH(scope).into(), vec![Node::Leaf(leaf)])
}

/// The height of the highest cell.
fn tall(cells: &[Vec<Line>]) -> f32 {
    let cell = |lines: &Vec<Line>| lines.iter().map(|line| line.look.before + line.height()).sum();
    cells.iter().map(cell).fold(0.0, f32::max)
}
