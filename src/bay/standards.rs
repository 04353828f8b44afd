//! Sets of national practice: GB, IE, EU, US, AU.

use serde::{Deserialize, Serialize};

/// The national practice a task follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "UPPERCASE")]
pub enum Standards {
    Gb,
    Ie,
    Eu,
    Us,
    Au,
}
