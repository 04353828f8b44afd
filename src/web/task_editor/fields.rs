//! The fields of a step, each called by the place in the sketch that it fills in, so that a fault of the reader finds it.

use crate::marking::sketch::{Fault, Sketch};

/// What a field looks like.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Kind {
    Text,
    Number,
    Area,
    /// One of several: value and label; an empty value stands for none.
    Choice(Vec<(String, String)>),
    /// Any of several.
    Checks(Vec<(String, String)>),
    /// Any of many, under what they have in common.
    Sorted(Vec<(&'static str, Vec<(String, String)>)>),
    Check,
}

/// What a field fills in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Target {
    /// The place it is called by, as text, or as a number where it is one.
    Place,
    /// The place, as a number although it is chosen.
    Whole,
    /// The device that feeds this circuit.
    FedBy(String),
    /// How a switch stands at the start.
    Setting,
    /// What is planted.
    Planted,
    /// The checklist.
    Checklist,
}

/// One field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Field {
    pub name: String,
    pub label: String,
    pub hint: &'static str,
    pub kind: Kind,
    pub value: String,
    pub values: Vec<String>,
    pub fault: Option<String>,
    pub target: Target,
    /// Whether it stands behind “more”, for few need it.
    pub more: bool,
}

/// Where something stands in its list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    pub list: String,
    pub at: usize,
    pub last: bool,
    /// Whether a second one can be made of it.
    pub copies: bool,
}

/// Something that can be added, as a button.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Add {
    pub value: String,
    pub label: String,
    pub about: &'static str,
}

/// Fields that belong together: one device, one switch.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Group {
    /// The place that all of its places begin with; empty where they have none in common.
    pub key: String,
    /// Whether it is a part of the group before it.
    pub inner: bool,
    /// Whether its fields are folded away as long as nothing is wrong with them.
    pub folded: bool,
    pub title: String,
    /// A sentence with a sign: whether it suits.
    pub suits: Option<(bool, String)>,
    pub hint: String,
    pub fields: Vec<Field>,
    pub faults: Vec<String>,
    pub listed: Option<Listed>,
    pub adds: Vec<Add>,
}

impl Group {
    /// A group without anything in it.
    pub fn new(key: impl Into<String>, title: impl Into<String>) -> Self {
        Self { key: key.into(), title: title.into(), ..Self::default() }
    }

    /// A group for one thing of a list.
    pub fn of_list(sketch: &Sketch, list: &str, at: usize, title: String) -> Self {
        let last = at + 1 == sketch.list(list).len();
        let listed = Listed { list: list.to_owned(), at, last, copies: list == "table" };
        Self { listed: Some(listed), ..Self::new(format!("{list}[{at}]"), title) }
    }

    /// Whether a field that few need holds something, or a fault.
    pub fn opens_more(&self) -> bool {
        let filled = |field: &Field| !field.value.is_empty() || field.fault.is_some();
        self.fields.iter().any(|field| field.more && filled(field))
    }

    /// Whether it is shown unfolded: a fault is in it, or the keyboard goes there.
    pub fn opens(&self, focus: &str) -> bool {
        self.fields.iter().any(|field| field.fault.is_some() || field.name == focus)
    }

    /// Whether any field stands behind “more”.
    pub fn has_more(&self) -> bool {
        self.fields.iter().any(|field| field.more)
    }

    /// An identifier for the page.
    pub fn id(&self) -> String {
        format!("g-{}", self.key)
    }
}

impl Listed {
    /// The value of a button that does something to it.
    pub fn does(&self, what: &str) -> String {
        format!("{what}:{}[{}]", self.list, self.at)
    }
}

/// A button that adds something.
pub fn add(value: impl Into<String>, label: impl Into<String>) -> Add {
    Add { value: value.into(), label: label.into(), about: "" }
}

/// Options of words with their labels.
pub fn options(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
    pairs.iter().map(|(value, label)| ((*value).to_owned(), (*label).to_owned())).collect()
}

impl Field {
    fn new(sketch: &Sketch, name: impl Into<String>, label: impl Into<String>, kind: Kind) -> Self {
        let name = name.into();
        let (value, values) = (sketch.text(&name), sketch.texts(&name));
        Self {
            name,
            label: label.into(),
            hint: "",
            kind,
            value,
            values,
            fault: None,
            target: Target::Place,
            more: false,
        }
    }

    /// One line of text.
    pub fn text(sketch: &Sketch, name: impl Into<String>, label: &str) -> Self {
        Self::new(sketch, name, label, Kind::Text)
    }

    /// A number.
    pub fn number(sketch: &Sketch, name: impl Into<String>, label: &str) -> Self {
        Self::new(sketch, name, label, Kind::Number)
    }

    /// Several lines of text.
    pub fn area(sketch: &Sketch, name: impl Into<String>, label: &str) -> Self {
        Self::new(sketch, name, label, Kind::Area)
    }

    /// Yes or no.
    pub fn check(sketch: &Sketch, name: impl Into<String>, label: &str) -> Self {
        Self::new(sketch, name, label, Kind::Check)
    }

    /// One of several. What stands there and is no option any more is shown as such, not lost.
    pub fn choice(sketch: &Sketch, name: impl Into<String>, label: &str, options: Vec<(String, String)>) -> Self {
        let mut field = Self::new(sketch, name, label, Kind::Text);
        let mut options = options;
        let value = field.value.clone();
        add_gone(&mut options, &value);
        if !options.iter().any(|(value, _)| value.is_empty()) && value.is_empty() {
            options.insert(0, (String::new(), "Please choose".to_owned()));
        }
        field.kind = Kind::Choice(options);
        field
    }

    /// Any of several.
    pub fn checks(sketch: &Sketch, name: impl Into<String>, label: &str, options: Vec<(String, String)>) -> Self {
        let mut field = Self::new(sketch, name, label, Kind::Text);
        let mut options = options;
        field.values.iter().for_each(|value| add_gone(&mut options, value));
        field.kind = Kind::Checks(options);
        field
    }

    /// The same with a hint.
    pub fn hint(self, hint: &'static str) -> Self {
        Self { hint, ..self }
    }

    /// The same behind “more”.
    pub fn more(self) -> Self {
        Self { more: true, ..self }
    }

    /// The same, filling in something else.
    pub fn target(self, target: Target) -> Self {
        Self { target, ..self }
    }

    /// The same with a value of its own.
    pub fn valued(self, value: String) -> Self {
        Self { value, ..self }
    }

    /// Whether this option is ticked or chosen.
    pub fn holds(&self, option: &str) -> bool {
        self.value == option || self.values.iter().any(|one| one == option)
    }

    /// What describes the field to somebody who cannot see the page.
    pub fn described_by(&self) -> String {
        let mut ids = Vec::new();
        if !self.hint.is_empty() {
            ids.push(format!("{}-hint", self.name));
        }
        if self.fault.is_some() {
            ids.push(format!("{}-fault", self.name));
        }
        ids.join(" ")
    }
}

fn add_gone(options: &mut Vec<(String, String)>, value: &str) {
    if !value.is_empty() && !options.iter().any(|(one, _)| one == value) {
        options.push((value.to_owned(), format!("{value} (not there any more)")));
    }
}

/// Puts each fault beside its field, else to the group it is about; answers those that belong to the step as a whole.
pub fn place(groups: &mut [Group], faults: &[&Fault]) -> Vec<String> {
    let mut whole = Vec::new();
    for fault in faults {
        let field = groups.iter_mut().flat_map(|group| &mut group.fields).find(|field| field.name == fault.path);
        if let Some(field) = field {
            field.fault.get_or_insert_with(|| fault.says.clone());
            continue;
        }
        let begins = |group: &Group| !group.key.is_empty() && fault.path.starts_with(&group.key);
        let group = groups.iter_mut().filter(|group| begins(group)).max_by_key(|group| group.key.len());
        let says = match group {
            Some(group) => &mut group.faults,
            None => &mut whole,
        };
        if !says.contains(&fault.says) {
            says.push(fault.says.clone());
        }
    }
    whole
}
