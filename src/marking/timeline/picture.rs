//! The timeline as a drawing: where each line, block and mark stands. Nothing is told by colour, so that it reads in
//! forced colours and in black and white print. [`svg`] writes it for pages; whoever makes paper draws the same.

pub mod svg;

use super::{Lane, Shape, Span, Timeline};
use crate::marking::observation::Place;
use std::collections::HashSet;
pub use svg::draw;

/// What is written in the picture, in the language of its reader.
#[derive(Debug, Clone)]
pub struct Words {
    /// What the picture is called.
    pub title: String,
    /// What it shows, in a sentence.
    pub says: String,
    /// The names of the lanes, in the order of [`Lane::ALL`].
    pub lanes: [String; 6],
    /// Over the bar of a key.
    pub key: String,
    /// `kept in person` and so on.
    pub place: fn(Place) -> String,
    /// After the last number of the axis, such as `min`.
    pub minutes: String,
    /// The meaning of each shape, in the order of [`Shape::ALL`].
    pub shapes: [String; 4],
    /// A disc in a ring: a test outside of the band.
    pub outside: String,
    /// The band.
    pub band: String,
    pub pause: String,
    pub blocked: String,
}

/// How it is drawn.
#[derive(Debug, Clone, Copy)]
pub struct Frame<'f> {
    /// Begins the identifiers, so that several pictures can stand on one page; fit for an XML identifier.
    pub id: &'f str,
    /// Width in pixels; at least 280. Text is 13 pixels high as long as the picture is not shrunk.
    pub width: u32,
    /// Whether time runs from right to left.
    pub right_to_left: bool,
}

/// Space at both sides, so that a mark at the start or the end is whole.
const SIDE: u32 = 16;
/// From one lane to the next.
const LANE: u32 = 42;
/// From a lane's name down to its line.
const NAME: u32 = 20;
/// Marks of one shape on one lane nearer than this are one mark: the table beside the picture has each.
const NEAR: u32 = 4;

/// Where words stand about their place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    Left,
    Middle,
    Right,
}

/// Edge and inside of a block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look {
    /// How much of the ink covers the inside, from 0 to 1.
    pub fill: f32,
    /// Width of the edge, in pixels.
    pub edge: f32,
    /// Lengths of dash and gap, where the edge is dashed.
    pub dash: Option<(u32, u32)>,
}

/// One thing drawn. Lengths are pixels from the upper left corner.
#[derive(Debug, Clone, PartialEq)]
pub enum Ink {
    /// Words 13 pixels high, their baseline at `y`.
    Words {
        x: u32,
        y: u32,
        anchor: Anchor,
        text: String,
    },
    Block {
        x: u32,
        y: u32,
        width: u32,
        height: u32,
        look: Look,
    },
    /// A line along or down, `depth` being how much of the ink covers it.
    Line {
        from: (u32, u32),
        to: (u32, u32),
        width: f32,
        depth: f32,
    },
    /// Marks of one shape along a line.
    Marks {
        shape: Shape,
        spots: Vec<u32>,
        y: u32,
    },
    /// Rings around marks.
    Rings {
        spots: Vec<u32>,
        y: u32,
    },
}

/// A drawing: its size in pixels, and all that stands in it from back to front.
#[derive(Debug, Clone, PartialEq)]
pub struct Sketch {
    pub width: u32,
    pub height: u32,
    pub inks: Vec<Ink>,
}

const BAND: Look = Look { fill: 0.12, edge: 1.5, dash: None };
/// Pauses and blocked views have dashed edges, each their own.
const PAUSE: Look = Look { fill: 0.06, edge: 1.0, dash: Some((2, 3)) };
const BLOCKED: Look = Look { fill: 0.06, edge: 1.0, dash: Some((7, 4)) };
/// Where the key was kept the bar is full, elsewhere empty.
const KEPT: Look = Look { fill: 1.0, edge: 1.5, dash: None };
const LEFT: Look = Look { fill: 0.0, edge: 1.5, dash: None };

/// Lays a timeline out.
pub fn sketch(timeline: &Timeline, words: &Words, frame: Frame) -> Sketch {
    let mut picture = Picture { timeline, words, frame, width: frame.width.max(280), inks: Vec::new(), y: 0 };
    picture.draw();
    Sketch { width: picture.width, height: picture.y, inks: picture.inks }
}

struct Picture<'p> {
    timeline: &'p Timeline,
    words: &'p Words,
    frame: Frame<'p>,
    width: u32,
    inks: Vec<Ink>,
    /// How far down the drawing has come.
    y: u32,
}

impl Picture<'_> {
    fn draw(&mut self) {
        let top = 4;
        let lanes_end = top + LANE * 6;
        self.spans(top, lanes_end);
        for band in &self.timeline.bands {
            let (x, width) = self.stretch(*band);
            self.inks.push(Ink::Block { x, y: top + LANE * 3, width, height: LANE * 2, look: BAND });
        }
        for (at, lane) in Lane::ALL.into_iter().enumerate() {
            let y = top + LANE * u32::try_from(at).unwrap_or(0);
            self.lane(lane, &self.words.lanes[at].clone(), y);
        }
        self.y = lanes_end;
        self.keys();
        self.axis(top);
        self.legend();
    }

    /// A time as a place from the left.
    fn x(&self, at_ms: u64) -> u32 {
        let (start, end) = self.timeline.span;
        let whole = (end - start).max(1);
        let inner = u64::from(self.width - 2 * SIDE);
        let along = at_ms.saturating_sub(start).min(whole).saturating_mul(inner) / whole;
        let along = u32::try_from(along).unwrap_or(0);
        if self.frame.right_to_left { self.width - SIDE - along } else { SIDE + along }
    }

    /// The left end and the width of a stretch of time; at least two pixels.
    fn stretch(&self, span: Span) -> (u32, u32) {
        let (one, other) = (self.x(span.0), self.x(span.1));
        (one.min(other), one.abs_diff(other).max(2))
    }

    /// Words that begin where reading begins.
    fn words_at(&mut self, indent: u32, y: u32, text: &str) {
        let (x, anchor) = match self.frame.right_to_left {
            true => (self.width - 4 - indent, Anchor::Right),
            false => (4 + indent, Anchor::Left),
        };
        self.inks.push(Ink::Words { x, y, anchor, text: text.to_owned() });
    }

    fn across(&mut self, y: u32, width: f32, depth: f32) {
        self.inks.push(Ink::Line { from: (SIDE, y), to: (self.width - SIDE, y), width, depth });
    }

    /// Pauses and blocked views, over all lanes.
    fn spans(&mut self, top: u32, end: u32) {
        let pauses = self.timeline.pauses.iter().map(|span| (*span, PAUSE));
        let blocked = self.timeline.blocked.iter().map(|span| (*span, BLOCKED));
        for (span, look) in pauses.chain(blocked) {
            let (x, width) = self.stretch(span);
            self.inks.push(Ink::Block { x, y: top, width, height: end - top, look });
        }
    }

    fn lane(&mut self, lane: Lane, name: &str, y: u32) {
        self.words_at(0, y + 13, name);
        let line = y + NAME + 9;
        self.across(line, 1.0, 0.45);
        for shape in Shape::ALL {
            let spots = self.spots(|mark| mark.lane == lane && mark.shape == shape);
            if !spots.is_empty() {
                self.inks.push(Ink::Marks { shape, spots, y: line });
            }
        }
        let spots = self.spots(|mark| mark.lane == lane && mark.outside);
        if !spots.is_empty() {
            self.inks.push(Ink::Rings { spots, y: line });
        }
    }

    /// Where marks stand, those that would cover each other once.
    fn spots(&self, wanted: impl Fn(&super::Mark) -> bool) -> Vec<u32> {
        let mut there = HashSet::new();
        let places = self.timeline.marks.iter().filter(|mark| wanted(mark)).map(|mark| self.x(mark.at_ms));
        places.filter(|x| there.insert(x / NEAR)).collect()
    }

    /// One row for each key.
    fn keys(&mut self) {
        let mut last = None;
        for key in &self.timeline.keys {
            if last != Some(&key.item) {
                self.words_at(0, self.y + 13, &format!("{}: {}", self.words.key, key.item));
                self.y += 36;
                last = Some(&key.item);
            }
            let (x, width) = self.stretch(key.span);
            let look = if key.place == Place::Kept { KEPT } else { LEFT };
            self.inks.push(Ink::Block { x, y: self.y - 18, width, height: 10, look });
        }
    }

    /// Whole minutes, at most one number for each 48 pixels.
    fn axis(&mut self, top: u32) {
        let (start, end) = self.timeline.span;
        let minutes = (end - start) / 60_000;
        let most = u64::from((self.width - 2 * SIDE) / 48).max(1);
        let steps = [1, 2, 5, 10, 15, 30, 60, 120, 240, 480, 1_440];
        let step = steps.into_iter().find(|step| minutes / step <= most).unwrap_or(minutes.max(1));
        let y = self.y + 4;
        self.across(y, 1.5, 1.0);
        let mut minute = 0;
        while minute <= minutes && minute / step <= most {
            let x = self.x(start + minute * 60_000);
            let last = minute + step > minutes;
            let unit = if last { format!(" {}", self.words.minutes) } else { String::new() };
            // The last number carries the unit, which must not leave the picture at either side.
            let anchor = match (last, minute > 0, self.frame.right_to_left) {
                (true, true, false) if x + 34 > self.width => Anchor::Right,
                (true, true, true) if x < 34 => Anchor::Left,
                (true, false, false) => Anchor::Left,
                (true, false, true) => Anchor::Right,
                _ => Anchor::Middle,
            };
            self.inks.push(Ink::Line { from: (x, top), to: (x, y + 5), width: 1.0, depth: 0.2 });
            self.inks.push(Ink::Words { x, y: y + 19, anchor, text: format!("{minute}{unit}") });
            minute += step;
        }
        self.y = y + 30;
    }

    /// What stands in this picture, and nothing else.
    fn legend(&mut self) {
        for (at, shape) in Shape::ALL.into_iter().enumerate() {
            if self.timeline.count(shape) > 0 {
                self.inks.push(Ink::Marks { shape, spots: vec![self.legend_x()], y: self.y + 8 });
                self.entry(&self.words.shapes[at].clone());
            }
        }
        if self.timeline.outside().next().is_some() {
            self.inks.push(Ink::Rings { spots: vec![self.legend_x()], y: self.y + 8 });
            self.entry(&self.words.outside.clone());
        }
        let blocks = [
            (!self.timeline.bands.is_empty(), BAND, self.words.band.clone()),
            (!self.timeline.pauses.is_empty(), PAUSE, self.words.pause.clone()),
            (!self.timeline.blocked.is_empty(), BLOCKED, self.words.blocked.clone()),
        ];
        for (_, look, says) in blocks.into_iter().filter(|(there, ..)| *there) {
            self.block(look, &says);
        }
        let mut places: Vec<Place> = Vec::new();
        for key in &self.timeline.keys {
            if !places.contains(&key.place) {
                places.push(key.place);
            }
        }
        for place in places {
            let look = if place == Place::Kept { KEPT } else { LEFT };
            self.block(look, &format!("{}: {}", self.words.key, (self.words.place)(place)));
        }
        self.y += 4;
    }

    fn legend_x(&self) -> u32 {
        if self.frame.right_to_left { self.width - 14 } else { 14 }
    }

    fn block(&mut self, look: Look, says: &str) {
        self.inks.push(Ink::Block { x: self.legend_x() - 9, y: self.y + 3, width: 18, height: 10, look });
        self.entry(says);
    }

    /// The words of an entry, and on to the next.
    fn entry(&mut self, says: &str) {
        self.words_at(28, self.y + 13, says);
        self.y += 20;
    }
}
