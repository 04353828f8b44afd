//! The faults found so far, while the reading goes on.

use super::{Fault, Faults};
use std::cell::{Cell, RefCell};

/// Collects faults from every part of a reader at once.
///
/// It is shared by all of them, so it is filled through a plain reference. It keeps enough to list and counts the
/// rest, so that a long file with a fault in every line costs no more than a short one.
#[derive(Debug, Default)]
pub struct Collected {
    faults: RefCell<Vec<Fault>>,
    beyond: Cell<usize>,
}

impl Collected {
    /// Faults that are kept before the rest is only counted.
    const KEPT: usize = 5 * Faults::LISTED;

    /// Adds a fault.
    pub fn add(&self, line: usize, path: impl Into<String>, says: impl Into<String>) {
        let mut faults = self.faults.borrow_mut();
        if faults.len() < Self::KEPT {
            faults.push(Fault { line, path: path.into(), says: says.into() });
        } else {
            self.beyond.set(self.beyond.get() + 1);
        }
    }

    /// How many faults there are.
    pub fn count(&self) -> usize {
        self.faults.borrow().len() + self.beyond.get()
    }

    /// The value where nothing was wrong, else the faults. A reader that gives no value has added a fault.
    pub fn or_faults<T>(self, value: Option<T>) -> Result<T, Faults> {
        match (Faults::with_more(self.faults.into_inner(), self.beyond.get()), value) {
            (None, Some(value)) => Ok(value),
            (Some(faults), _) => Err(faults),
            (None, None) => Err(Faults(vec![Fault { line: 1, path: String::new(), says: "nothing to read".into() }])),
        }
    }
}
