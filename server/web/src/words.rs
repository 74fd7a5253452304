//! Texts and members of a body as they come: the rules for texts, and members that may be null.

pub(crate) use sellion_rules::text::{
    LONG, SHORT, TextFault, checked, checked_number, is_hidden, line, line_or_empty, line_or_none, number,
    username,
};
use serde::{Deserialize, Deserializer};

/// Reads a member that may be left out (no change), null (take it away), or a value. Use with `default`.
pub(crate) fn present<'de, T, D>(deserializer: D) -> Result<Option<Option<T>>, D::Error>
where
    T: Deserialize<'de>,
    D: Deserializer<'de>,
{
    Option::deserialize(deserializer).map(Some)
}

/// Bytes in hexadecimal, as a digest is written.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}
