//! The palette of the style sheet, held to its contrast: WCAG 2.2 asks for 4.5:1 in text, the marking page in a bright
//! workshop needs 7:1; lines and shapes that carry meaning need 3:1.

const STYLE: &str = include_str!("../../static/style.css");
const DESK: &str = include_str!("../../static/desk/desk.css");

/// The value of a colour token in `:root`, as red, green and blue.
fn token(name: &str) -> [u8; 3] {
    let root = STYLE.split_once(":root {").and_then(|(_, rest)| rest.split_once('}')).map(|(root, _)| root).unwrap();
    let line = root.lines().find_map(|line| line.trim().strip_prefix(&format!("--{name}: #"))).unwrap();
    let hex = line.trim_end_matches(';');
    assert_eq!(hex.len(), 6, "--{name} is not written with six digits");
    [0, 2, 4].map(|at| u8::from_str_radix(&hex[at..at + 2], 16).unwrap())
}

/// Relative luminance, WCAG 2.2.
fn luminance(colour: [u8; 3]) -> f64 {
    let linear = |part: u8| {
        let part = f64::from(part) / 255.0;
        if part <= 0.04045 { part / 12.92 } else { ((part + 0.055) / 1.055).powf(2.4) }
    };
    let [r, g, b] = colour.map(linear);
    0.2126 * r + 0.7152 * g + 0.0722 * b
}

fn contrast(one: &str, other: &str) -> f64 {
    let (one, other) = (luminance(token(one)), luminance(token(other)));
    (one.max(other) + 0.05) / (one.min(other) + 0.05)
}

#[test]
fn contrast_is_computed_as_the_standard_does() {
    assert!((luminance([255, 255, 255]) - 1.0).abs() < 1e-9);
    assert!(luminance([0, 0, 0]).abs() < 1e-9);
    // #111 on white is 18.9:1.
    let ratio = 1.05 / (luminance([0x11, 0x11, 0x11]) + 0.05);
    assert!((ratio - 18.88).abs() < 0.01, "{ratio}");
}

#[test]
fn text_is_at_least_seven_to_one() {
    for ground in ["paper", "sheet"] {
        for ink in ["ink", "quiet", "blue", "good", "bad", "open"] {
            assert!(contrast(ink, ground) >= 7.0, "{ink} on {ground}: {:.2}", contrast(ink, ground));
        }
    }
    assert!(contrast("ink", "press") >= 7.0);
    assert!(contrast("on-blue", "blue") >= 7.0);
    assert!(contrast("on-blue", "ink") >= 7.0);
}

#[test]
fn lines_are_at_least_three_to_one() {
    for ground in ["paper", "sheet"] {
        for line in ["line", "hair", "blue", "ink"] {
            assert!(contrast(line, ground) >= 3.0, "{line} on {ground}: {:.2}", contrast(line, ground));
        }
    }
}

#[test]
fn colours_are_tokens() {
    let (_, shared) = STYLE.split_once('}').unwrap();
    // Paper is white and its ink black, whatever the screen has.
    let (desk, _) = DESK.split_once("@page").unwrap();
    let is_colour = |after: &str| after.len() >= 6 && after.as_bytes()[..6].iter().all(u8::is_ascii_hexdigit);
    for rules in [shared, desk] {
        assert!(!rules.split('#').skip(1).any(is_colour));
    }
}
