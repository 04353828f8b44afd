//! The candidate's page: how it came out, what to change, what went well, and all that was seen.

use super::catalogue;
use super::picture::{self, Rounds};
use super::review::ReviewPart;
use super::words::acts::describe;
use super::words::{Arg, Counted, Key, Piece, Words};
use crate::marking::decision::Standing;
use crate::marking::{Act, Criterion, Fails, Observation, Outcome, VerdictOutcome};
use crate::store::centres::Language;
use crate::store::results::SignedResult;
use crate::store::sessions::Upcoming;
use crate::web::cards::cited;
use crate::web::causes::Causes;
use crate::web::marking::state;
use crate::web::page::Page;
use crate::web::sessions::{Loaded, Marked};
use crate::web::show::{self, Sign};
use crate::web::timeline;
use askama::Template;
use time::PrimitiveDateTime;

/// Most things to change that are put first.
const MOST_CHANGES: usize = 3;
/// Most things that went well.
const MOST_PRAISE: usize = 5;

/// What the candidate reads.
#[derive(Template)]
#[template(path = "feedback/show.html")]
pub struct CandidatePage {
    pub page: Page,
    pub w: Words,
    /// The address of this page, for other languages.
    pub here: String,
    pub about: Vec<Piece>,
    pub outcome: Key,
    pub verdict: Sign,
    pub what_next: Key,
    pub open_until: Vec<Piece>,
    pub changes: Vec<Change>,
    pub praise: Vec<Praise>,
    /// When the candidate comes next, where that is planned.
    pub next: Vec<Piece>,
    pub steps: Vec<Moment>,
    pub show_steps: String,
    pub timeline: timeline::View,
    pub rounds: Rounds,
    pub causes: Causes,
    pub causes_say: Part,
    pub show_shown: String,
    pub marks: Vec<Piece>,
    pub stages: Vec<Block>,
    pub show_points: String,
    pub review: ReviewPart,
    pub code: Vec<Piece>,
    passed: bool,
}

/// A text that may be in another language than the page.
pub struct Part {
    pub text: String,
    /// Its language, where it is another.
    pub lang: Option<&'static str>,
}

/// One thing to change: what was seen, why it matters, what to do next time.
pub struct Change {
    pub criterion: Part,
    pub seen: Part,
    /// The same as the marking says it, in its language.
    pub exactly: Option<Part>,
    pub minute: Option<Vec<Piece>>,
    pub why: &'static str,
    pub next: &'static str,
    /// What the centre wrote for whoever does not meet it.
    pub own: Option<Part>,
}

/// One thing that went well, with the act that shows it.
pub struct Praise {
    pub says: Part,
    pub act: String,
    pub at: Vec<Piece>,
}

/// One step.
pub struct Moment {
    pub minute: String,
    pub says: String,
}

/// Every finding of one stage.
pub struct Block {
    pub title: Part,
    pub lines: Vec<(Sign, Part, Part)>,
}

/// What the page is made from.
pub struct Told<'a> {
    pub loaded: &'a Loaded,
    /// With what a review changed in it.
    pub marked: &'a Marked,
    /// The verdict that stands.
    pub result: &'a SignedResult,
    /// When it was signed first, and the last day of the link, by the centre's clocks.
    pub signed: PrimitiveDateTime,
    pub open_until: PrimitiveDateTime,
    /// The next session that is planned for the candidate, with its time by the centre's clocks.
    pub next: Option<(Upcoming, PrimitiveDateTime)>,
    /// The language that the centre's own texts are in.
    pub own: Language,
    pub words: Words,
    pub review: ReviewPart,
}

impl CandidatePage {
    /// The page of a signed session.
    pub fn of(told: Told<'_>) -> Self {
        let (loaded, marked, w) = (told.loaded, told.marked, told.words);
        let verdict = &told.result.verdict;
        let day = w.day(told.signed);
        let (name, task) = (loaded.candidate.name.as_str(), loaded.task.title.as_str());
        let about = [("name", Arg::Name(name)), ("task", Arg::Name(task)), ("day", Arg::Plain(&day))];
        let until = w.day(told.open_until);
        let code: String = told.result.head.chars().take(16).collect();
        let (marks, of, percent) = (verdict.marks.to_string(), verdict.of.to_string(), w.one_place(verdict.percent));
        let marks = [("marks", Arg::Plain(&marks)), ("of", Arg::Plain(&of)), ("percent", Arg::Plain(&percent))];
        let texts = Texts { words: w, own: told.own };
        let steps = steps(loaded, marked, w);
        let causes = Causes::of(&loaded.task, &marked.log, &marked.marking);
        let act = |act: &Act| describe(act, &loaded.task, w).unwrap_or_default();
        Self {
            page: Page::of_nobody(),
            w,
            here: "/feedback".into(),
            about: w.with(Key::About, &about),
            outcome: catalogue::outcome(verdict.outcome),
            verdict: w.verdict(verdict.outcome),
            what_next: catalogue::what_next(verdict.outcome),
            open_until: w.with(Key::OpenUntil, &[("day", Arg::Plain(&until))]),
            changes: changes(loaded, marked, &texts),
            praise: praise(loaded, marked, &texts),
            next: next(told.next.as_ref(), verdict.outcome, w),
            show_steps: w.count(Counted::ShowSteps, steps.len()),
            steps,
            timeline: picture::timeline(loaded, marked, w, &act),
            rounds: picture::rounds(loaded, marked, w),
            causes_say: picture::causes_summary(&causes, &marked.marking.coverage, w),
            show_shown: w.count(Counted::ShowShown, causes.shown.len()),
            causes,
            marks: w.with(Key::Marks, &marks),
            show_points: w.count(Counted::ShowPoints, marked.decided.findings.len()),
            stages: stages(loaded, marked, &texts),
            review: told.review,
            code: w.with(Key::Code, &[("code", Arg::Ltr(&code))]),
            passed: verdict.outcome == VerdictOutcome::Pass,
        }
    }

    /// Whether the attempt was passed.
    pub fn passed(&self) -> bool {
        self.passed
    }
}

/// Which language a text is in: sentences of the marking are English, what the centre wrote is in its own.
struct Texts {
    words: Words,
    own: Language,
}

impl Texts {
    fn english(&self, text: String) -> Part {
        Part { text, lang: self.words.is_foreign().then_some("en-GB") }
    }

    /// A text of the centre; the starter criteria are English in every centre.
    fn own(&self, text: String, from_library: bool) -> Part {
        if from_library {
            return self.english(text);
        }
        let own = Words::of(self.own);
        Part { text, lang: (own != self.words).then_some(own.tag()) }
    }

    fn criterion(&self, criterion: &Criterion, text: String) -> Part {
        self.own(text, is_starter(criterion))
    }
}

/// Whether a criterion is one of the starter criteria, word for word.
fn is_starter(criterion: &Criterion) -> bool {
    use crate::bay::Standards;
    [Standards::Gb, Standards::Ie, Standards::Eu, Standards::Us, Standards::Au].into_iter().any(|standards| {
        let starters = crate::marking::library::criteria(standards);
        starters.iter().any(|starter| starter.criterion.says == criterion.says)
    })
}

/// Findings with this outcome, what weighs most first.
fn with_outcome<'a>(loaded: &'a Loaded, marked: &'a Marked, outcome: Outcome) -> Vec<(&'a Criterion, &'a Standing)> {
    let standing =
        |criterion: &Criterion| marked.decided.findings.iter().find(|one| one.proposed.criterion == criterion.id);
    let mut found: Vec<_> = loaded
        .task
        .checklist
        .criteria()
        .filter_map(|criterion| standing(criterion).map(|standing| (criterion, standing)))
        .filter(|(_, standing)| standing.outcome == outcome)
        .collect();
    let gravity = |fails| match fails {
        Fails::Automatic => 0,
        Fails::Must => 1,
        Fails::Ordinary => 2,
    };
    found.sort_by_key(|(criterion, _)| (gravity(criterion.fails), std::cmp::Reverse(criterion.weight)));
    found
}

fn changes(loaded: &Loaded, marked: &Marked, texts: &Texts) -> Vec<Change> {
    let w = texts.words;
    let change = |(criterion, standing): (&Criterion, &Standing)| {
        let (why, next) = w.advice(catalogue::topic(&criterion.decided));
        // Where the assessor's word differs from what was worked out, the assessor's reason is what was seen.
        let reason = standing.decision.as_ref().and_then(|decision| decision.reason.clone());
        let (seen, exactly) = match reason {
            Some(reason) if standing.outcome != standing.proposed.outcome => (texts.own(reason, false), None),
            _ => seen(loaded, marked, standing, texts),
        };
        let minute = standing.proposed.at_ms.map(show::clock);
        Change {
            criterion: texts.criterion(criterion, criterion.says.clone()),
            seen,
            exactly,
            minute: minute.map(|minute| w.with(Key::Minute, &[("minute", Arg::Ltr(&minute))])),
            why,
            next,
            own: criterion
                .when_not_met
                .clone()
                .filter(|_| !is_starter(criterion))
                .map(|own| texts.criterion(criterion, own)),
        }
    };
    with_outcome(loaded, marked, Outcome::NotMet).into_iter().take(MOST_CHANGES).map(change).collect()
}

/// What a finding rests on, and the same as the marking says it where that is in another language than the page: its
/// sentences are English.
fn seen(loaded: &Loaded, marked: &Marked, standing: &Standing, texts: &Texts) -> (Part, Option<Part>) {
    let (w, says) = (texts.words, standing.proposed.says.clone());
    if !w.is_foreign() {
        return (Part { text: says, lang: None }, None);
    }
    let act = |seen: &&Observation| describe(&seen.act, &loaded.task, w);
    let text = cited(&marked.log, standing).iter().find_map(act);
    (Part { text: text.unwrap_or_else(|| w.t(Key::NothingSeen).to_owned()), lang: None }, Some(texts.english(says)))
}

/// Praise cites an act; what rests on no act is not praised.
fn praise(loaded: &Loaded, marked: &Marked, texts: &Texts) -> Vec<Praise> {
    let praise = |(criterion, standing): (&Criterion, &Standing)| {
        let tell =
            |seen: &Observation| Some((describe(&seen.act, &loaded.task, texts.words)?, show::clock(seen.at_ms)));
        let (act, minute) = cited(&marked.log, standing).into_iter().rev().find_map(tell)?;
        let says = criterion.when_met.clone().unwrap_or_else(|| criterion.says.clone());
        Some(Praise {
            says: texts.criterion(criterion, says),
            act,
            at: texts.words.with(Key::At, &[("minute", Arg::Ltr(&minute))]),
        })
    };
    with_outcome(loaded, marked, Outcome::Met).into_iter().filter_map(praise).take(MOST_PRAISE).collect()
}

fn stages(loaded: &Loaded, marked: &Marked, texts: &Texts) -> Vec<Block> {
    let line = |criterion: &Criterion| {
        let standing = marked.decided.findings.iter().find(|one| one.proposed.criterion == criterion.id)?;
        let says = texts.criterion(criterion, criterion.says.clone());
        let because = texts.english(standing.proposed.says.clone());
        Some((texts.words.outcome(standing.outcome), says, because))
    };
    let block = |stage: &crate::marking::Stage| Block {
        title: texts.own(stage.title.clone(), stage.criteria.iter().all(is_starter)),
        lines: stage.criteria.iter().filter_map(line).collect(),
    };
    loaded.task.checklist.stages.iter().map(block).collect()
}

/// When the candidate comes next; where they have to come and no date is set, that.
fn next(next: Option<&(Upcoming, PrimitiveDateTime)>, outcome: VerdictOutcome, w: Words) -> Vec<Piece> {
    match next {
        Some((next, at)) => {
            let (day, time) = (w.day(*at), show::time_of_day(*at));
            let (bay, task) = (next.bay.as_str(), next.task.as_str());
            let args = [
                ("day", Arg::Plain(day.as_str())),
                ("time", Arg::Ltr(&time)),
                ("bay", Arg::Name(bay)),
                ("task", Arg::Name(task)),
            ];
            w.with(Key::NextPlanned, &args)
        }
        None if outcome == VerdictOutcome::Pass => Vec::new(),
        None => w.with(Key::NextNotPlanned, &[]),
    }
}

/// What was seen, without what is about the record itself or judged by eye.
fn steps(loaded: &Loaded, marked: &Marked, w: Words) -> Vec<Moment> {
    let moment = |seen: &Observation| {
        Some(Moment { minute: show::clock(seen.at_ms), says: describe(&seen.act, &loaded.task, w)? })
    };
    state::standing(&marked.log).into_iter().filter_map(moment).collect()
}
