//! A form whose fields follow from what was chosen in it: names with the values that were typed.

use std::collections::BTreeMap;

/// What was typed, each name with its values in the order of the form.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Typed(BTreeMap<String, Vec<String>>);

impl Typed {
    /// From the pairs of a form.
    pub fn of(pairs: Vec<(String, String)>) -> Self {
        let mut typed = Self::default();
        for (name, value) in pairs {
            typed.add(&name, &value);
        }
        typed
    }

    /// Adds a value.
    pub fn add(&mut self, name: &str, value: &str) {
        self.0.entry(name.to_owned()).or_default().push(value.to_owned());
    }

    /// Puts one value in place of all.
    pub fn set(&mut self, name: &str, value: &str) {
        self.0.insert(name.to_owned(), vec![value.to_owned()]);
    }

    /// The first value, or an empty one.
    pub fn get(&self, name: &str) -> &str {
        self.0.get(name).and_then(|values| values.first()).map_or("", String::as_str)
    }

    /// Every value.
    pub fn all(&self, name: &str) -> &[String] {
        self.0.get(name).map_or(&[], Vec::as_slice)
    }

    /// Whether the form had such a field filled in.
    pub fn has(&self, name: &str) -> bool {
        !self.get(name).is_empty()
    }

    /// Whether one of the values is this one.
    pub fn holds(&self, name: &str, value: &str) -> bool {
        self.all(name).iter().any(|one| one == value)
    }

    /// A whole number, such as a place in a list.
    pub fn number<T: std::str::FromStr>(&self, name: &str) -> Option<T> {
        self.get(name).trim().parse().ok()
    }

    /// Every pair but those with these names, to be carried along by the next step.
    pub fn but(&self, left_out: &[&str]) -> Vec<(String, String)> {
        let kept = self.0.iter().filter(|(name, _)| !left_out.contains(&name.as_str()));
        kept.flat_map(|(name, values)| values.iter().map(|value| (name.clone(), value.clone()))).collect()
    }
}
