//! The timeline as SVG. Ink is `currentColor` and nothing is told by colour, so that it reads in forced colours and in
//! black and white print; presentation attributes only, so that a page which forbids inline styles shows it.

use super::{Lane, Shape, Span, Timeline};
use crate::bay::drawing::escaped;
use crate::marking::observation::Place;
use std::collections::HashSet;
use std::fmt::Write;

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

/// Draws a timeline.
pub fn draw(timeline: &Timeline, words: &Words, frame: Frame) -> String {
    let mut picture = Picture { timeline, words, frame, width: frame.width.max(280), out: String::new(), y: 0 };
    picture.draw();
    let (id, width, height) = (escaped(frame.id), picture.width, picture.y);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-labelledby=\"{id}-t {id}-d\" viewBox=\"0 0 {width} \
         {height}\" width=\"{width}\" height=\"{height}\" color=\"currentColor\" direction=\"ltr\">\n\
         <title id=\"{id}-t\">{}</title>\n<desc id=\"{id}-d\">{}</desc>\n\
         <g font-family=\"system-ui, sans-serif\" font-size=\"13\" fill=\"currentColor\" stroke=\"none\">\n{}</g>\n</svg>\n",
        escaped(&words.title),
        escaped(&words.says),
        picture.out,
    )
}

struct Picture<'p> {
    timeline: &'p Timeline,
    words: &'p Words,
    frame: Frame<'p>,
    width: u32,
    out: String,
    /// How far down the drawing has come.
    y: u32,
}

impl Picture<'_> {
    fn draw(&mut self) {
        let top = 4;
        let lanes_end = top + LANE * 6;
        self.spans(top, lanes_end);
        let band_top = top + LANE * 3;
        for band in &self.timeline.bands {
            let (from, width) = self.stretch(*band);
            let _ = writeln!(
                self.out,
                "<rect x=\"{from}\" y=\"{band_top}\" width=\"{width}\" height=\"{}\" fill-opacity=\".12\" \
                 stroke=\"currentColor\" stroke-width=\"1.5\"/>",
                LANE * 2,
            );
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
            true => (self.width - 4 - indent, " text-anchor=\"end\""),
            false => (4 + indent, ""),
        };
        let _ = writeln!(self.out, "<text x=\"{x}\" y=\"{y}\"{anchor}>{}</text>", escaped(text));
    }

    /// Pauses with full edges, blocked views with dashed ones; over all lanes.
    fn spans(&mut self, top: u32, end: u32) {
        let of = |spans: &[Span], dashes: &'static str| spans.iter().map(|span| (*span, dashes)).collect::<Vec<_>>();
        let mut all = of(&self.timeline.pauses, "2 3");
        all.extend(of(&self.timeline.blocked, "7 4"));
        for (span, dashes) in all {
            let (from, width) = self.stretch(span);
            let _ = writeln!(
                self.out,
                "<rect x=\"{from}\" y=\"{top}\" width=\"{width}\" height=\"{}\" fill-opacity=\".06\" \
                 stroke=\"currentColor\" stroke-dasharray=\"{dashes}\"/>",
                end - top,
            );
        }
    }

    fn lane(&mut self, lane: Lane, name: &str, y: u32) {
        self.words_at(0, y + 13, name);
        let line = y + NAME + 9;
        let _ = writeln!(
            self.out,
            "<path d=\"M{SIDE} {line}H{}\" stroke=\"currentColor\" stroke-opacity=\".45\"/>",
            self.width - SIDE
        );
        for shape in Shape::ALL {
            let spots = self.spots(|mark| mark.lane == lane && mark.shape == shape);
            self.out.push_str(&marks(shape, &spots, line));
        }
        let rings = self.spots(|mark| mark.lane == lane && mark.outside);
        self.out.push_str(&ring(&rings, line));
    }

    /// Where marks stand, those that would cover each other once.
    fn spots(&self, wanted: impl Fn(&super::Mark) -> bool) -> Vec<u32> {
        let mut there = HashSet::new();
        let places = self.timeline.marks.iter().filter(|mark| wanted(mark)).map(|mark| self.x(mark.at_ms));
        places.filter(|x| there.insert(x / NEAR)).collect()
    }

    /// One row for each key: a full bar where it was kept, an empty one where it lay elsewhere.
    fn keys(&mut self) {
        let mut last = None;
        for key in &self.timeline.keys {
            if last != Some(&key.item) {
                self.words_at(0, self.y + 13, &format!("{}: {}", self.words.key, key.item));
                self.y += 36;
                last = Some(&key.item);
            }
            let (from, width) = self.stretch(key.span);
            let fill = if key.place == Place::Kept { "currentColor" } else { "none" };
            let _ = writeln!(
                self.out,
                "<rect x=\"{from}\" y=\"{}\" width=\"{width}\" height=\"10\" fill=\"{fill}\" stroke=\"currentColor\" \
                 stroke-width=\"1.5\"/>",
                self.y - 18,
            );
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
        let _ = writeln!(
            self.out,
            "<path d=\"M{SIDE} {y}H{}\" stroke=\"currentColor\" stroke-width=\"1.5\"/>",
            self.width - SIDE
        );
        let mut minute = 0;
        while minute <= minutes && minute / step <= most {
            let x = self.x(start + minute * 60_000);
            let last = minute + step > minutes;
            let unit = if last { format!(" {}", self.words.minutes) } else { String::new() };
            // The last number carries the unit, which must not leave the picture.
            let anchor = match (last && minute > 0, self.frame.right_to_left) {
                (true, false) if x + 34 > self.width => "end",
                (true, true) if x < 34 => "start",
                _ => "middle",
            };
            let text = escaped(&format!("{minute}{unit}"));
            let _ = writeln!(
                self.out,
                "<path d=\"M{x} {top}V{}\" stroke=\"currentColor\" stroke-opacity=\".2\"/>\
                 <text x=\"{x}\" y=\"{}\" text-anchor=\"{anchor}\">{text}</text>",
                y + 5,
                y + 19,
            );
            minute += step;
        }
        self.y = y + 30;
    }

    /// What stands in this picture, and nothing else.
    fn legend(&mut self) {
        for (at, shape) in Shape::ALL.into_iter().enumerate() {
            if self.timeline.count(shape) > 0 {
                let (x, y) = (self.legend_x(), self.y + 8);
                self.out.push_str(&marks(shape, &[x], y));
                self.entry(&self.words.shapes[at].clone());
            }
        }
        if self.timeline.outside().next().is_some() {
            let (x, y) = (self.legend_x(), self.y + 8);
            self.out.push_str(&ring(&[x], y));
            self.entry(&self.words.outside.clone());
        }
        let blocks = [
            (!self.timeline.bands.is_empty(), "fill-opacity=\".12\" stroke-width=\"1.5\"", self.words.band.clone()),
            (
                !self.timeline.pauses.is_empty(),
                "fill-opacity=\".06\" stroke-dasharray=\"2 3\"",
                self.words.pause.clone(),
            ),
            (
                !self.timeline.blocked.is_empty(),
                "fill-opacity=\".06\" stroke-dasharray=\"7 4\"",
                self.words.blocked.clone(),
            ),
        ];
        for (there, look, says) in blocks {
            if there {
                self.block(look, &says);
            }
        }
        let mut places: Vec<Place> = Vec::new();
        for key in &self.timeline.keys {
            if !places.contains(&key.place) {
                places.push(key.place);
            }
        }
        for place in places {
            let look = if place == Place::Kept { "" } else { "fill=\"none\" stroke-width=\"1.5\"" };
            let says = format!("{}: {}", self.words.key, (self.words.place)(place));
            self.block(look, &says);
        }
        self.y += 4;
    }

    fn legend_x(&self) -> u32 {
        if self.frame.right_to_left { self.width - 14 } else { 14 }
    }

    fn block(&mut self, look: &str, says: &str) {
        let (x, y) = (self.legend_x() - 9, self.y + 3);
        let _ =
            writeln!(self.out, "<rect x=\"{x}\" y=\"{y}\" width=\"18\" height=\"10\" stroke=\"currentColor\" {look}/>");
        self.entry(says);
    }

    /// The words of an entry, and on to the next.
    fn entry(&mut self, says: &str) {
        self.words_at(28, self.y + 13, says);
        self.y += 20;
    }
}

/// Marks of one shape at these places along a line, as one path.
fn marks(shape: Shape, spots: &[u32], y: u32) -> String {
    if spots.is_empty() {
        return String::new();
    }
    let each = |draw: fn(u32, u32) -> String| spots.iter().map(|x| draw(*x, y)).collect::<String>();
    match shape {
        Shape::Seen => format!(
            "<path d=\"{}\" stroke=\"currentColor\" stroke-width=\"9\" stroke-linecap=\"round\"/>\n",
            each(|x, y| format!("M{x} {y}h.01")),
        ),
        Shape::NotMet => format!("<path d=\"{}\"/>\n", each(|x, y| format!("M{x} {}l8 8-8 8-8-8z", y - 8))),
        Shape::Struck => format!(
            "<path d=\"{}\" stroke=\"currentColor\" stroke-width=\"2.5\"/>\n",
            each(|x, y| format!("M{} {}l10 10m0-10l-10 10", x - 5, y - 5)),
        ),
        Shape::SteppedIn => {
            format!("<path d=\"{}\"/>\n", each(|x, y| format!("M{} {}h9l5 8-5 8h-9l-5-8z", x - 4, y - 8)))
        }
    }
}

/// Rings around marks.
fn ring(spots: &[u32], y: u32) -> String {
    if spots.is_empty() {
        return String::new();
    }
    let each: String = spots.iter().map(|x| format!("M{} {y}a11 11 0 1 0 22 0a11 11 0 1 0-22 0", x - 11)).collect();
    format!("<path d=\"{each}\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2\"/>\n")
}
