//! Identifiers of the things in a bay: short names from `A-Z a-z 0-9 . _ : -`, 1 to 64 characters.

/// Says whether `text` may be an identifier in a task file or a log: 1 to 64 characters from `A-Z a-z 0-9 . _ : -`.
pub fn well_formed(text: &str) -> bool {
    (1..=64).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_alphanumeric() || b"._:-".contains(&b))
}

/// Declares identifier types that differ, so that a switch cannot be handed over where a device is asked for.
macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
        #[serde(transparent)]
        pub struct $name(String);

        impl $name {
            /// The identifier, or `None` where the text is not [`well_formed`](crate::bay::ids::well_formed).
            pub fn new(text: &str) -> Option<Self> {
                $crate::bay::ids::well_formed(text).then(|| Self(text.to_owned()))
            }

            /// The identifier as written.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(&self.0)
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                let text = String::deserialize(from)?;
                Self::new(&text).ok_or_else(|| {
                    serde::de::Error::custom("an identifier is 1 to 64 of A-Z a-z 0-9 . _ : -")
                })
            }
        }
    )+};
}
pub(crate) use ids;

ids! {
    /// A device on the board.
    DeviceId;
    /// A circuit.
    CircuitId;
    /// A wall switch.
    SwitchId;
    /// A place where conductors can be reached.
    PointId;
    /// An item on the equipment table.
    ItemId;
    /// A supply.
    SourceId;
}
