//! What the reader of task files says, in words for a form.

/// A fault at a place, as a sentence for somebody who fills in a form. What is not known here keeps the reader's own
/// words.
pub fn plain(path: &str, says: &str) -> String {
    let key = path.rsplit('.').next().unwrap_or_default();
    let known = missing(key, says).or_else(|| number(says)).or_else(|| list(key, says)).or_else(|| fit(says));
    known.unwrap_or_else(|| sentence(says))
}

fn missing(key: &str, says: &str) -> Option<String> {
    if !(says.ends_with("is missing") || says.contains("found only blanks") || says.contains("nothing between")) {
        return None;
    }
    let chosen = ["kind", "wiring", "circuit", "device", "point", "key", "leads", "protection", "standards", "feeds"];
    Some(match key {
        "poles" => "Please tick the conductors that it switches.".to_owned(),
        "conductors" => "Please tick the conductors that can be reached here.".to_owned(),
        "checklist" => "Please choose a checklist.".to_owned(),
        key if chosen.contains(&key) => "Please choose.".to_owned(),
        _ => "Please fill this in.".to_owned(),
    })
}

fn number(says: &str) -> Option<String> {
    let (wanted, _) = says.strip_prefix("expected ")?.split_once(", found")?;
    if wanted.starts_with("a whole number") || wanted.starts_with("a number") {
        return Some(format!("Please give {wanted}."));
    }
    let most = wanted.strip_prefix("at most ")?.strip_suffix(" characters")?;
    Some(format!("This is longer than {most} characters."))
}

fn list(key: &str, says: &str) -> Option<String> {
    if !says.starts_with("expected at least one in this list") {
        return None;
    }
    Some(match key {
        "devices" => "Add at least one device.".to_owned(),
        "circuits" => "Add at least one circuit.".to_owned(),
        "points" => "Add at least one point where conductors can be reached.".to_owned(),
        "table" => "Put at least one thing on the table.".to_owned(),
        _ => "Add at least one.".to_owned(),
    })
}

/// Parts that do not fit together.
fn fit(says: &str) -> Option<String> {
    let told = [
        (
            "no device feeds this circuit",
            "No device feeds this circuit yet. Say which one does, under Board and devices.",
        ),
        ("this wiring is that of switched lights", "This wiring is that of switched lights: add at least one switch."),
        (
            "radial and ring wiring have no wall switches",
            "Radial and ring wiring have no wall switches: remove them, or choose another wiring.",
        ),
        (
            "expected one one_way switch",
            "Put one one-way switch, or a two-way switch at each end with any intermediate ones between them, in the order of the wiring.",
        ),
        ("with the feed at the switch", "With the feed at the switch a light has SL, N and E only, no permanent line."),
        (
            "SL, the switched line, exists only",
            "SL, the switched line, is only there where a switch is: choose another wiring, or take it out.",
        ),
        ("expected E among", "Tick E too: every point has its earth."),
        ("expected at least two conductors", "Tick at least two, or there is no pair to test."),
        ("expected a line conductor among the poles", "Tick at least one line conductor."),
        ("a main switch feeds the other devices", "A main switch feeds the other devices, not a circuit of its own."),
        ("this key opens nothing", "This key opens nothing: put its padlock on the table, or take the key away."),
        ("this device feeds", "This device does not feed the circuit to isolate. Choose the one that does."),
        ("this point is on", "This point is on another circuit. Choose one of the circuit to isolate."),
        ("this connection expects a line", "This needs a line and N at the point."),
        ("this connection expects at least", "This needs at least two lines at the point."),
    ];
    if let Some((_, plain)) = told.iter().find(|(begins, _)| says.starts_with(begins)) {
        return Some((*plain).to_owned());
    }
    let quoted = || says.split('`').nth(1).unwrap_or_default();
    if says.starts_with("no ") && says.contains(" is called `") {
        return Some(format!("“{}” is not there any more. Please choose again.", quoted()));
    }
    if says.contains("is already the name of") {
        return Some(format!("“{}” is used twice. Every mark must differ.", quoted()));
    }
    if says.starts_with("expected what fits two lines") {
        return Some("This is too long for two lines of 12 letters, with the mark in front.".to_owned());
    }
    if says.contains("an identifier is") {
        return Some("Use letters, digits and . _ : - only, without blanks.".to_owned());
    }
    if says.starts_with("no device that feeds") {
        let line = says.rsplit(' ').next().unwrap_or_default();
        return Some(format!("No device of this circuit has a pole for {line}. Tick it there, or take it out here."));
    }
    None
}

/// The reader's own words as a sentence.
fn sentence(says: &str) -> String {
    let mut chars = says.chars();
    let first = chars.next().map(|c| c.to_uppercase().collect::<String>()).unwrap_or_default();
    let mut quotes = ['“', '”'].into_iter().cycle();
    let rest: String = chars.map(|c| if c == '`' { quotes.next().unwrap_or(c) } else { c }).collect();
    format!("{first}{rest}.")
}
