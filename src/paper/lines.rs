//! Text as lines that fit, and lines as runs of one direction.

use krilla::text::Font;
use rustybuzz::ttf_parser::GlyphId;

/// Letters: what draws them and what measures them.
pub(super) struct Face {
    pub font: Font,
    shapes: rustybuzz::Face<'static>,
}

impl Face {
    /// Letters from a font file; `None` where it cannot be read.
    pub fn new(data: &'static [u8]) -> Option<Self> {
        Some(Self { font: Font::new(data.into(), 0)?, shapes: rustybuzz::Face::from_slice(data, 0)? })
    }

    /// Whether there is no shape for a character that would show one.
    pub fn lacks(&self, letter: char) -> bool {
        !letter.is_whitespace() && !letter.is_control() && self.shapes.glyph_index(letter).is_none()
    }

    /// How wide a text is, in points, letter by letter: joined letters of Arabic may be a little narrower.
    pub fn width(&self, text: &str, size: f32) -> f32 {
        text.chars().map(|letter| self.advance(letter)).sum::<f32>() * size
    }

    fn advance(&self, letter: char) -> f32 {
        let glyph = self.shapes.glyph_index(letter).unwrap_or(GlyphId(0));
        let units = self.shapes.glyph_hor_advance(glyph).unwrap_or(0);
        f32::from(units) / self.shapes.units_per_em().max(1) as f32
    }
}

/// The lines of a text at this size and width, in points. A word that is wider than a line is broken anywhere. A line that
/// was broken between words keeps the space there, so that whoever reads the file aloud or copies from it has it too.
pub(super) fn wrap(face: &Face, text: &str, size: f32, width: f32) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    let mut used = 0.0;
    let space = face.width(" ", size);
    let between = |letter: char| letter.is_whitespace() || letter.is_control() || NO_TEXT.contains(&letter);
    for word in text.split(between).filter(|word| !word.is_empty()) {
        let wide = face.width(word, size);
        if !line.is_empty() {
            line.push(' ');
            used += space;
            if used + wide > width {
                lines.push(std::mem::take(&mut line));
                used = 0.0;
            }
        }
        for letter in word.chars() {
            let wide = face.advance(letter) * size;
            if used + wide > width && !line.is_empty() {
                lines.push(std::mem::take(&mut line));
                used = 0.0;
            }
            line.push(letter);
            used += wide;
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// Marks of byte order, which are no text and which PDF/UA forbids.
const NO_TEXT: [char; 2] = ['\u{FEFF}', '\u{FFFE}'];

/// Parts of a line that are read in one direction, and whether from the right. What has no direction of its own goes with
/// what stands on both sides of it, else with the line, which is read from the left.
pub(super) fn runs(line: &str) -> Vec<(&str, bool)> {
    let letters: Vec<(usize, Option<bool>)> =
        line.char_indices().map(|(at, letter)| (at, from_right(letter))).collect();
    let mut sides = Vec::with_capacity(letters.len());
    let mut before = false;
    for (at, (_, side)) in letters.iter().enumerate() {
        let side = side.unwrap_or_else(|| {
            let after = letters[at..].iter().find_map(|(_, side)| *side).unwrap_or(false);
            before && after
        });
        before = side;
        sides.push(side);
    }
    let mut runs = Vec::new();
    let mut from = 0;
    for at in 1..=letters.len() {
        if at == letters.len() || sides[at] != sides[from] {
            let end = letters.get(at).map_or(line.len(), |(byte, _)| *byte);
            runs.push((&line[letters[from].0..end], sides[from]));
            from = at;
        }
    }
    runs
}

/// A text cut into single letters for which `is` holds, and stretches of letters for which it does not.
pub(super) fn parts(text: &str, is: impl Fn(char) -> bool) -> Vec<(&str, bool)> {
    let mut parts = Vec::new();
    let (mut from, mut before) = (0, None);
    for (at, letter) in text.char_indices() {
        let now = is(letter);
        if let Some(before) = before.filter(|before| *before || now) {
            parts.push((&text[from..at], before));
            from = at;
        }
        before = Some(now);
    }
    parts.extend(before.map(|before| (&text[from..], before)));
    parts
}

/// The direction of a letter, where it has one: Hebrew, Arabic and their neighbours from the right.
fn from_right(letter: char) -> Option<bool> {
    match u32::from(letter) {
        0x0590..=0x08FF | 0xFB1D..=0xFDFF | 0xFE70..=0xFEFF | 0x1_0800..=0x1_0FFF | 0x1_E800..=0x1_EFFF => Some(true),
        _ if letter.is_alphanumeric() => Some(false),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_falls_into_runs_of_one_direction() {
        assert_eq!(runs("plain words"), [("plain words", false)]);
        let mixed = "Candidate: محمد بن عبد الله (C-1)";
        assert_eq!(runs(mixed), [("Candidate: ", false), ("محمد بن عبد الله", true), (" (C-1)", false)]);
        assert!(runs("").is_empty());
    }

    #[test]
    fn a_text_falls_into_parts() {
        let parts = |text| parts(text, |letter| letter == 'x');
        assert_eq!(parts("abxxc"), [("ab", false), ("x", true), ("x", true), ("c", false)]);
        assert!(parts("").is_empty());
    }

    #[test]
    fn no_line_is_wider_than_it_may_be_and_no_letter_is_lost() {
        let face = Face::new(dejavu::sans::regular()).unwrap();
        let long = format!("short {} words {}", "W".repeat(200), "😀".repeat(2_000));
        let lines = wrap(&face, &long, 9.0, 300.0);
        assert!(lines.iter().all(|line| face.width(line.trim_end(), 9.0) <= 300.5));
        let kept: usize = lines.iter().flat_map(|line| line.chars()).filter(|letter| !letter.is_whitespace()).count();
        assert_eq!(kept, long.chars().filter(|letter| !letter.is_whitespace()).count());
    }
}
