//! Places in a sketch, and the step of the editor that each belongs to.

/// A step of writing a task, in the order in which it is best done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Step {
    Board,
    Circuits,
    Sources,
    Isolate,
    Table,
    Start,
    Checklist,
    Briefing,
    Publish,
}

impl Step {
    /// Every step.
    pub const ALL: [Self; 9] = [
        Self::Board,
        Self::Circuits,
        Self::Sources,
        Self::Isolate,
        Self::Table,
        Self::Start,
        Self::Checklist,
        Self::Briefing,
        Self::Publish,
    ];

    /// Its word in addresses.
    pub fn word(self) -> &'static str {
        match self {
            Self::Board => "board",
            Self::Circuits => "circuits",
            Self::Sources => "sources",
            Self::Isolate => "isolate",
            Self::Table => "table",
            Self::Start => "start",
            Self::Checklist => "checklist",
            Self::Briefing => "briefing",
            Self::Publish => "publish",
        }
    }

    /// The step of a word.
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|step| step.word() == word)
    }

    /// What it is called on pages.
    pub fn label(self) -> &'static str {
        match self {
            Self::Board => "Board and devices",
            Self::Circuits => "Circuits",
            Self::Sources => "Sources",
            Self::Isolate => "What to isolate",
            Self::Table => "Table",
            Self::Start => "At the start",
            Self::Checklist => "Checklist",
            Self::Briefing => "Briefing",
            Self::Publish => "Check and publish",
        }
    }

    /// The next step; the last has none.
    pub fn next(self) -> Option<Self> {
        Self::ALL.into_iter().find(|step| *step > self)
    }

    /// The step in which a place is filled in.
    pub fn of(path: &str) -> Self {
        match path.split(['.', '[']).next().unwrap_or_default() {
            "standards" | "supply" | "board" => Self::Board,
            "circuits" => Self::Circuits,
            "sources" => Self::Sources,
            "isolate" => Self::Isolate,
            "table" => Self::Table,
            "setup" => Self::Start,
            "checklist" => Self::Checklist,
            _ => Self::Briefing,
        }
    }
}

/// The JSON pointer of a place: `board.devices[1].feeds` is `/board/devices/1/feeds`.
pub(super) fn pointer(path: &str) -> String {
    if path.is_empty() {
        return String::new();
    }
    let mut pointer = String::from("/");
    for c in path.chars() {
        match c {
            '.' | '[' => pointer.push('/'),
            ']' => {}
            c => pointer.push(c),
        }
    }
    pointer
}

/// The field that a place belongs to: values of a list that is ticked in one field have no field of their own.
pub(super) fn field_of(path: &str) -> String {
    let ticked = ["poles", "conductors", "fits", "off", "planted"];
    let Some((list, _)) = path.rsplit_once('[') else { return path.to_owned() };
    let of_list = |path: &str| ticked.iter().any(|key| path.rsplit('.').next() == Some(key));
    if of_list(list) {
        return list.to_owned();
    }
    // A key of a planted fault: the fault is ticked as a whole.
    match path.find("setup.planted[") {
        Some(0) => "setup.planted".to_owned(),
        _ => path.to_owned(),
    }
}
