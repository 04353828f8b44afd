//! The timeline as SVG. Ink is `currentColor`; presentation attributes only, so that a page which forbids inline styles
//! shows it.

use super::{Anchor, Frame, Ink, Look, Sketch, Words, sketch};
use crate::bay::drawing::escaped;
use crate::marking::timeline::{Shape, Timeline};
use std::fmt::Write as _;

/// Draws a timeline.
pub fn draw(timeline: &Timeline, words: &Words, frame: Frame) -> String {
    write(&sketch(timeline, words, frame), words, frame.id)
}

/// Writes a sketch; `id` begins the identifiers.
pub fn write(sketch: &Sketch, words: &Words, id: &str) -> String {
    let (id, width, height) = (escaped(id), sketch.width, sketch.height);
    let inks: String = sketch.inks.iter().map(ink).collect();
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-labelledby=\"{id}-t {id}-d\" viewBox=\"0 0 {width} \
         {height}\" width=\"{width}\" height=\"{height}\" color=\"currentColor\" direction=\"ltr\">\n\
         <title id=\"{id}-t\">{}</title>\n<desc id=\"{id}-d\">{}</desc>\n\
         <g font-family=\"system-ui, sans-serif\" font-size=\"13\" fill=\"currentColor\" stroke=\"none\">\n{inks}</g>\n</svg>\n",
        escaped(&words.title),
        escaped(&words.says),
    )
}

fn ink(ink: &Ink) -> String {
    match ink {
        Ink::Words { x, y, anchor, text } => {
            let anchor = match anchor {
                Anchor::Left => "",
                Anchor::Middle => " text-anchor=\"middle\"",
                Anchor::Right => " text-anchor=\"end\"",
            };
            format!("<text x=\"{x}\" y=\"{y}\"{anchor}>{}</text>\n", escaped(text))
        }
        Ink::Block { x, y, width, height, look } => {
            let look = attributes(*look);
            format!("<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" stroke=\"currentColor\"{look}/>\n")
        }
        Ink::Line { from: (x, y), to, width, depth } => {
            let way = if to.1 == *y { format!("H{}", to.0) } else { format!("V{}", to.1) };
            let width = if *width == 1.0 { String::new() } else { format!(" stroke-width=\"{width}\"") };
            let depth = if *depth == 1.0 { String::new() } else { format!(" stroke-opacity=\"{depth}\"") };
            format!("<path d=\"M{x} {y}{way}\" stroke=\"currentColor\"{width}{depth}/>\n")
        }
        Ink::Marks { shape, spots, y } => marks(*shape, spots, *y),
        Ink::Rings { spots, y } => {
            let each: String =
                spots.iter().map(|x| format!("M{} {y}a11 11 0 1 0 22 0a11 11 0 1 0-22 0", x - 11)).collect();
            format!("<path d=\"{each}\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2\"/>\n")
        }
    }
}

fn attributes(look: Look) -> String {
    let mut out = String::new();
    if look.fill == 0.0 {
        out.push_str(" fill=\"none\"");
    } else if look.fill < 1.0 {
        let _ = write!(out, " fill-opacity=\"{}\"", look.fill);
    }
    if look.edge != 1.0 {
        let _ = write!(out, " stroke-width=\"{}\"", look.edge);
    }
    if let Some((dash, gap)) = look.dash {
        let _ = write!(out, " stroke-dasharray=\"{dash} {gap}\"");
    }
    out
}

/// Marks of one shape at these places along a line, as one path.
fn marks(shape: Shape, spots: &[u32], y: u32) -> String {
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
