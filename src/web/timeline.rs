//! The timeline on pages: the picture, and the same as a table for whoever does not see pictures.

use super::show::{self, Drawing};
use crate::marking::decision::Standing;
use crate::marking::timeline::picture::{Frame, Sketch, Words, sketch, svg};
use crate::marking::timeline::{Lane, Shape, Span, Timeline};
use crate::marking::words::{describe, place_words};
use crate::marking::{Act, Log, Task};

/// A timeline as `timeline.html` shows it, under the name `timeline`.
pub struct View {
    pub picture: Drawing,
    /// The picture as it goes on paper.
    pub sketch: Sketch,
    /// What the picture shows, in a sentence.
    pub says: String,
    pub heads: Heads,
    pub rows: Vec<Row>,
    /// Keys, bands, pauses and blocked views.
    pub stretches: Vec<Stretch>,
}

/// One act.
pub struct Row {
    pub minute: String,
    pub lane: String,
    pub says: String,
    pub shape: &'static str,
    pub word: String,
    /// The criteria that are not met and rest on it, and whether it is a test outside of the proofs.
    pub notes: Vec<String>,
}

/// Something that lasted.
pub struct Stretch {
    pub from: String,
    pub until: String,
    pub says: String,
}

/// What stands around the picture and over the columns.
#[derive(Debug, Clone)]
pub struct Heads {
    pub table: String,
    pub minute: String,
    pub stage: String,
    pub act: String,
    pub sign: String,
    pub from: String,
    pub until: String,
    pub what: String,
}

/// All words of a timeline in one language.
pub struct Texts<'t> {
    pub words: Words,
    pub heads: Heads,
    /// An act in words.
    pub act: &'t dyn Fn(&Act) -> String,
}

impl View {
    /// The view of a timeline in the language of `texts`.
    pub fn of(timeline: &Timeline, task: &Task, log: &Log, texts: &Texts, frame: Frame) -> Self {
        let words = &texts.words;
        let row = |mark: &crate::marking::timeline::Mark| {
            let seen = log.observations().iter().find(|seen| seen.id == mark.id);
            let criterion = |id| task.checklist.criterion(id).map(|criterion| criterion.says.clone());
            let mut notes: Vec<String> = mark.against.iter().filter_map(criterion).collect();
            notes.extend(mark.outside.then(|| words.outside.clone()));
            Row {
                minute: show::clock(mark.at_ms),
                lane: words.lanes[place_of(&Lane::ALL, mark.lane)].clone(),
                says: seen.map(|seen| (texts.act)(&seen.act)).unwrap_or_default(),
                shape: mark.shape.character(),
                word: words.shapes[place_of(&Shape::ALL, mark.shape)].clone(),
                notes,
            }
        };
        let sketch = sketch(timeline, words, frame);
        Self {
            picture: Drawing::timeline(svg::write(&sketch, words, frame.id)),
            sketch,
            says: words.says.clone(),
            heads: texts.heads.clone(),
            rows: timeline.marks.iter().map(row).collect(),
            stretches: stretches(timeline, words),
        }
    }

    /// The view for staff, in English.
    pub fn for_staff(task: &Task, log: &Log, findings: &[Standing], id: &str) -> Self {
        let timeline = Timeline::of(task, log, findings);
        let texts = Texts { words: english(&timeline), heads: english_heads(), act: &|act| describe(act, task) };
        Self::of(&timeline, task, log, &texts, Frame { id, width: 720, right_to_left: false })
    }
}

/// Where something stands in its list.
fn place_of<T: PartialEq>(all: &[T], one: T) -> usize {
    all.iter().position(|other| *other == one).unwrap_or(0)
}

fn stretches(timeline: &Timeline, words: &Words) -> Vec<Stretch> {
    let stretch = |span: Span, says: String| Stretch { from: show::clock(span.0), until: show::clock(span.1), says };
    let key = |key: &crate::marking::timeline::KeySpan| {
        stretch(key.span, format!("{} {}: {}", words.key, key.item, (words.place)(key.place)))
    };
    let all = |spans: &[Span], says: &str| -> Vec<Stretch> {
        spans.iter().map(|span| stretch(*span, says.to_owned())).collect()
    };
    let mut stretches: Vec<Stretch> = timeline.keys.iter().map(key).collect();
    stretches.extend(all(&timeline.bands, &words.band));
    stretches.extend(all(&timeline.pauses, &words.pause));
    stretches.extend(all(&timeline.blocked, &words.blocked));
    stretches
}

/// The words of the picture in English.
pub fn english(timeline: &Timeline) -> Words {
    Words {
        title: "Timeline of the attempt".into(),
        says: english_sentence(timeline),
        lanes: ["Authority", "Securing", "Equipment", "Proving", "Testing", "Finishing"].map(str::to_owned),
        key: "Key".into(),
        place: |place| place_words(place).to_owned(),
        minutes: "min".into(),
        shapes: ["seen", "a finding is not met", "taken back", "the assessor stepped in"].map(str::to_owned),
        outside: "test outside two good proofs".into(),
        band: "between two good proofs".into(),
        pause: "clock stopped".into(),
        blocked: "view blocked".into(),
    }
}

fn english_heads() -> Heads {
    Heads {
        table: "The timeline as a table".into(),
        minute: "Minute".into(),
        stage: "Stage".into(),
        act: "What was seen".into(),
        sign: "Sign".into(),
        from: "From".into(),
        until: "Until".into(),
        what: "What lasted".into(),
    }
}

/// What the picture shows, in sentences.
fn english_sentence(timeline: &Timeline) -> String {
    let many = |number: usize, one: &str, more: &str| match number {
        1 => format!("1 {one}"),
        number => format!("{number} {more}"),
    };
    let standing = timeline.marks.len() - timeline.count(Shape::Struck);
    let length = show::clock(timeline.span.1 - timeline.span.0);
    let mut says = vec![format!("{} in {length}.", many(standing, "act", "acts"))];
    let against = timeline.count(Shape::NotMet);
    says.push(match against {
        0 => "No act bears a finding that is not met.".into(),
        1 => "1 act bears a finding that is not met.".into(),
        number => format!("{number} acts bear findings that are not met."),
    });
    match (timeline.tests, timeline.outside().count()) {
        (0, _) => says.push("No test was made.".into()),
        (tests, 0) => says.push(format!(
            "{} made between two good proofs.",
            if tests == 1 { "The test was".into() } else { format!("All {tests} tests were") }
        )),
        (tests, out) => {
            says.push(format!("{out} of {} made outside two good proofs.", many(tests, "test was", "tests were")))
        }
    }
    if timeline.count(Shape::SteppedIn) > 0 {
        says.push("The assessor stepped in.".into());
    }
    says.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::marking::{decision, examples, mark_without_coverage};

    fn view(name: &str) -> View {
        let (task, log) = examples::named(name).unwrap().read().unwrap();
        let marking = mark_without_coverage(&task, &log);
        View::for_staff(&task, &log, &decision::decide(&task, &marking, &[]).findings, "t")
    }

    #[test]
    fn the_sentence_says_what_the_picture_shows() {
        let knock = view("extractor-knock");
        assert!(knock.says.contains("10 of 10 tests were made outside two good proofs."), "{}", knock.says);
        let sound = view("stairwell-sound");
        assert!(sound.says.contains("tests were made between two good proofs."), "{}", sound.says);
        assert!(knock.picture.to_string().contains(&knock.says));
    }

    #[test]
    fn the_table_holds_every_mark_with_its_word_and_its_criteria() {
        let knock = view("extractor-knock");
        let wrong = knock.rows.iter().find(|row| row.says.starts_with("Switched off Q4")).unwrap();
        assert_eq!((wrong.minute.as_str(), wrong.lane.as_str(), wrong.shape), ("01:42", "Securing", "◆"));
        assert!(!wrong.notes.is_empty());
        assert!(knock.stretches.iter().any(|stretch| stretch.says.contains("kept in person")));
    }
}
