//! Writes SVG: conductors in their colours, ink, text. Presentation attributes only, so that a page which forbids inline
//! styles shows it.

use crate::bay::standards::Colour;
use crate::bay::{Bay, Conductor};
use std::fmt::Write;

/// A place in the picture, in pixels.
pub(super) type Spot = (f64, f64);

/// What has been drawn.
#[derive(Debug)]
pub(super) struct Pen<'b> {
    bay: &'b Bay,
    pub out: String,
}

/// Where a text stands on its spot.
#[derive(Debug, Clone, Copy)]
pub(super) enum Anchor {
    Start,
    Middle,
}

impl<'b> Pen<'b> {
    pub fn new(bay: &'b Bay) -> Self {
        Self { bay, out: String::new() }
    }

    /// The way of a conductor, in its colour and with its own dashes.
    pub fn conductor(&mut self, conductor: Conductor, way: &[Spot]) {
        let colour = self.bay.standards.colour(conductor, self.bay.supply.volts);
        let points = points(way);
        let dashes = dashes(conductor);
        if matches!(colour, Colour::White | Colour::Yellow) {
            // A light colour needs an edge of ink to be seen on paper.
            self.line(&points, "currentColor", 6.0, "");
            self.line(&points, ink(colour), 3.0, "");
            self.line(&points, "currentColor", 1.5, dashes);
        } else if colour == Colour::GreenYellow {
            self.line(&points, "#197a35", 4.0, "");
            self.line(&points, "#f5cf1d", 4.0, "9 9");
        } else {
            self.line(&points, ink(colour), 3.0, dashes);
        }
    }

    fn line(&mut self, points: &str, stroke: &str, width: f64, dashes: &str) {
        let dashes = if dashes.is_empty() { String::new() } else { format!(" stroke-dasharray=\"{dashes}\"") };
        let _ = writeln!(
            self.out,
            "<polyline points=\"{points}\" fill=\"none\" stroke=\"{stroke}\" stroke-width=\"{width}\"{dashes}/>"
        );
    }

    /// A line in ink.
    pub fn stroke(&mut self, way: &[Spot]) {
        self.line(&points(way), "currentColor", 2.0, "");
    }

    /// A thin dashed line in ink: what moves together.
    pub fn linkage(&mut self, way: &[Spot]) {
        self.line(&points(way), "currentColor", 1.0, "3 3");
    }

    /// A frame in ink.
    pub fn frame(&mut self, (x, y): Spot, width: f64, height: f64) {
        let _ = writeln!(
            self.out,
            "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" rx=\"4\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.5\"/>"
        );
    }

    /// A circle in ink; filled it is a joint, empty a terminal.
    pub fn circle(&mut self, (x, y): Spot, radius: f64, filled: bool) {
        let fill = if filled { "currentColor" } else { "none" };
        let _ = writeln!(
            self.out,
            "<circle cx=\"{x}\" cy=\"{y}\" r=\"{radius}\" fill=\"{fill}\" stroke=\"currentColor\" stroke-width=\"2\"/>"
        );
    }

    /// Text of 13 pixels.
    pub fn text(&mut self, spot: Spot, anchor: Anchor, text: &str) {
        self.write(spot, anchor, text, "");
    }

    /// Bold text of 13 pixels: letters of conductors, names of devices.
    pub fn bold(&mut self, spot: Spot, anchor: Anchor, text: &str) {
        self.write(spot, anchor, text, " font-weight=\"700\"");
    }

    fn write(&mut self, (x, y): Spot, anchor: Anchor, text: &str, more: &str) {
        let anchor = match anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
        };
        let text = escaped(text);
        let _ = writeln!(self.out, "<text x=\"{x}\" y=\"{y}\"{anchor}{more}>{text}</text>");
    }
}

/// Text with what means something in XML replaced; control characters, which XML forbids, left out.
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            _ if character.is_control() => out.push(' '),
            '\u{fffe}' | '\u{ffff}' => {}
            _ => out.push(character),
        }
    }
    out
}

/// Words in at most two lines of so many characters; what does not fit ends in an ellipsis.
pub(super) fn two_lines(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = vec![String::new()];
    for word in text.split_whitespace() {
        let line = lines.len() - 1;
        let longer = lines[line].chars().count() + 1 + word.chars().count();
        if lines[line].is_empty() {
            lines[line].push_str(word);
        } else if longer <= width {
            lines[line].push(' ');
            lines[line].push_str(word);
        } else if line == 0 {
            lines.push(word.to_owned());
        } else {
            lines[line].push_str(" …");
            break;
        }
    }
    lines.into_iter().map(|line| shortened(&line, width)).collect()
}

/// Text of at most so many characters.
pub(super) fn shortened(text: &str, width: usize) -> String {
    if text.chars().count() <= width {
        return text.to_owned();
    }
    let kept: String = text.chars().take(width.saturating_sub(1)).collect();
    format!("{}…", kept.trim_end())
}

fn points(way: &[Spot]) -> String {
    way.iter().map(|(x, y)| format!("{x},{y}")).collect::<Vec<_>>().join(" ")
}

/// Told apart in black and white.
fn dashes(conductor: Conductor) -> &'static str {
    match conductor {
        Conductor::L | Conductor::L1 => "",
        Conductor::Sl => "12 3",
        Conductor::L2 => "16 4",
        Conductor::L3 => "7 4",
        Conductor::N => "3 3",
        Conductor::E => "12 3 3 3",
    }
}

fn ink(colour: Colour) -> &'static str {
    match colour {
        Colour::Black => "currentColor",
        Colour::Blue => "#1565c0",
        Colour::Brown => "#8a4a1c",
        Colour::Green | Colour::GreenYellow => "#197a35",
        Colour::Grey => "#7a7f85",
        Colour::Orange => "#c75b00",
        Colour::Red => "#c62020",
        Colour::White => "#ffffff",
        Colour::Yellow => "#f5cf1d",
    }
}
