//! What was seen done: acts with their times.

use super::{CriterionId, Outcome};
use crate::bay::{CircuitId, Conductor, DeviceId, ItemId, PointId, SourceId, SwitchId};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// The name of an observation, made on the tablet: a UUID of version 7 (RFC 9562, section 5.7).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct ObservationId(pub Uuid);

/// A reading of a wall clock: milliseconds since 1970 in UTC, written in files as RFC 3339 with milliseconds and `Z`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Wall(pub i64);

/// An act with its time, as logs, the entries endpoint and exports write it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Observation {
    pub id: ObservationId,
    /// Counts from 1 within the log, in the order of recording.
    pub seq: u32,
    /// Milliseconds of session time, 0 at `started`.
    pub at_ms: u64,
    /// The tablet's wall clock, for the record only.
    pub wall: Wall,
    pub act: Act,
}

/// What was seen done. Fields and meaning are those of the contract for logs; see `DEVELOPERS.md`.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Act {
    Started,
    Resumed,
    Paused {
        reason: PauseReason,
        #[serde(skip_serializing_if = "Option::is_none")]
        text: Option<Text>,
    },
    Ended {
        #[serde(skip_serializing_if = "EndReason::is_finished")]
        reason: EndReason,
    },
    Identified {
        circuit: CircuitId,
        device: DeviceId,
    },
    SourceListed {
        source: SourceId,
    },
    PermissionAsked {
        circuit: CircuitId,
    },
    PermissionGiven {
        circuit: CircuitId,
    },
    Picked {
        item: ItemId,
    },
    Returned {
        item: ItemId,
    },
    Inspected {
        item: ItemId,
        part: Part,
    },
    LoadOff {
        circuit: CircuitId,
    },
    Switched {
        device: DeviceId,
        to: OnOff,
    },
    Fitted {
        item: ItemId,
        device: DeviceId,
    },
    Locked {
        item: ItemId,
        device: DeviceId,
        holds: bool,
    },
    Posted {
        item: ItemId,
        device: DeviceId,
        filled: bool,
    },
    Key {
        item: ItemId,
        place: Place,
    },
    Removed {
        item: ItemId,
        device: DeviceId,
    },
    ControlTried {
        #[serde(flatten)]
        control: Control,
        result: ControlResult,
    },
    Proved {
        item: ItemId,
        on: ProvedOn,
        shows: Shows,
    },
    Opened {
        point: PointId,
    },
    Closed {
        point: PointId,
    },
    LampOut {
        point: PointId,
    },
    LampIn {
        point: PointId,
    },
    Operated {
        switch: SwitchId,
    },
    Tested {
        point: PointId,
        /// First on.
        first: Conductor,
        /// Second on.
        second: Conductor,
        reading: Reading,
        #[serde(skip_serializing_if = "OrderOff::is_second_first")]
        order_off: OrderOff,
        /// The instrument; where absent, the one last picked.
        #[serde(skip_serializing_if = "Option::is_none")]
        item: Option<ItemId>,
    },
    Touched {
        point: PointId,
    },
    Declared {
        circuit: CircuitId,
    },
    Ticked {
        criterion: CriterionId,
        /// Met, not met or not applicable; never not seen.
        outcome: Outcome,
        #[serde(skip_serializing_if = "Option::is_none")]
        text: Option<Text>,
    },
    Remark {
        text: Text,
        #[serde(skip_serializing_if = "Option::is_none")]
        criterion: Option<CriterionId>,
    },
    Prompted {
        #[serde(skip_serializing_if = "Option::is_none")]
        text: Option<Text>,
    },
    SteppedIn {
        reason: StepReason,
        #[serde(skip_serializing_if = "Option::is_none")]
        text: Option<Text>,
    },
    Unsure {
        observation: ObservationId,
    },
    ViewBlocked,
    ViewClear,
    Struck {
        observation: ObservationId,
        reason: StrikeReason,
        #[serde(skip_serializing_if = "Option::is_none")]
        text: Option<Text>,
    },
}

/// Free text: 1 to 2,000 characters, none of them NUL.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(transparent)]
pub struct Text(String);

impl Text {
    /// Longest text, in characters.
    pub const LONGEST: usize = 2_000;

    /// The text, or `None` where it is empty, too long or holds a NUL (which Postgres refuses).
    pub fn new(text: &str) -> Option<Self> {
        let fits = (1..=Self::LONGEST).contains(&text.chars().count());
        (fits && !text.contains('\0')).then(|| Self(text.to_owned()))
    }

    /// The text as written.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// Declares enums of plain words, each with its list and its spelling in files.
macro_rules! words {
    ($($(#[$doc:meta])* $name:ident { $($variant:ident = $word:literal),+ $(,)? })+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
        pub enum $name { $(#[serde(rename = $word)] $variant),+ }

        impl $name {
            /// Every word, in the order of the contract.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The spelling in files.
            pub fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }
        }
    )+};
}

words! {
    /// Why the clock was stopped.
    PauseReason { Alarm = "alarm", Equipment = "equipment", Unwell = "unwell", Other = "other" }
    /// Why an attempt ended; only the last four leave a time censored.
    EndReason {
        Finished = "finished", Unsafe = "unsafe", Alarm = "alarm", Equipment = "equipment", Unwell = "unwell", Other = "other",
    }
    /// The part of an item that was looked over.
    Part {
        Tips = "tips", Guards = "guards", Leads = "leads", Body = "body", Date = "date", Rating = "rating", Fit = "fit",
    }
    /// The position of a device.
    OnOff { Off = "off", On = "on" }
    /// Where a key is.
    Place {
        Kept = "kept", InLock = "in_lock", OnBoard = "on_board", OnTable = "on_table", HandedOver = "handed_over",
    }
    /// What happened when an isolated thing was tried.
    ControlResult { Nothing = "nothing", Started = "started" }
    /// What an indicator was tried on.
    ProvedOn {
        ProvingUnit = "proving_unit", KnownLive = "known_live", TipsTogether = "tips_together", SelfTest = "self_test",
        Other = "other",
    }
    /// How much of what it should show the indicator showed.
    Shows { All = "all", Some = "some", Nothing = "nothing" }
    /// What a pair test showed; tripped (an RCD opened) means live.
    Reading { None = "none", Live = "live", Tripped = "tripped" }
    /// Which probe came off first.
    OrderOff { SecondFirst = "second_first", FirstFirst = "first_first" }
    /// Why the assessor stepped in.
    StepReason {
        LivePart = "live_part", WrongDevice = "wrong_device", UnsafeTool = "unsafe_tool", AtHeight = "at_height",
        Unwell = "unwell", Other = "other",
    }
    /// Why an observation was taken back.
    StrikeReason { MisTap = "mis_tap", Twice = "twice", Corrected = "corrected", Other = "other" }
}

impl EndReason {
    fn is_finished(&self) -> bool {
        *self == Self::Finished
    }
}

impl OrderOff {
    fn is_second_first(&self) -> bool {
        *self == Self::SecondFirst
    }
}

/// What was tried after isolation: a device or a wall switch.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Control {
    Device(DeviceId),
    Switch(SwitchId),
}

impl Wall {
    /// The instant, cut to milliseconds.
    pub fn of(instant: time::OffsetDateTime) -> Self {
        Self(i64::try_from(instant.unix_timestamp_nanos() / 1_000_000).unwrap_or(i64::MAX))
    }

    /// The instant as RFC 3339 in UTC with milliseconds, such as `2027-02-03T10:03:04.250Z`.
    pub fn rfc3339(self) -> String {
        let instant = time::OffsetDateTime::from_unix_timestamp_nanos(i128::from(self.0) * 1_000_000)
            .unwrap_or(time::OffsetDateTime::UNIX_EPOCH);
        let (day, at) = (instant.date(), instant.time());
        let (hour, minute, second, milli) = at.as_hms_milli();
        let month = u8::from(day.month());
        format!("{:04}-{month:02}-{:02}T{hour:02}:{minute:02}:{second:02}.{milli:03}Z", day.year(), day.day())
    }
}

impl Serialize for Wall {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(&self.rfc3339())
    }
}

impl Observation {
    /// The observation that this one takes back, where it does.
    pub fn struck(&self) -> Option<ObservationId> {
        match self.act {
            Act::Struck { observation, .. } => Some(observation),
            _ => None,
        }
    }
}
