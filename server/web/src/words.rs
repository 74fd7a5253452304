//! Texts that people type: trimmed, on one line, not too long, and without characters that nobody can see.

use sellion_rules::refusal::{Code, Refusal};
use serde::{Deserialize, Deserializer};

/// Names, numbers and other words that have to fit on a screen or a badge.
pub(crate) const SHORT: usize = 120;
/// Sentences.
pub(crate) const LONG: usize = 1000;

/// A text that must say something.
pub(crate) fn line(text: &str, field: &'static str, length_max: usize) -> Result<String, Refusal> {
    let text = line_or_empty(text, field, length_max)?;
    if text.is_empty() {
        return Err(Refusal::new(Code::InvalidValue, "This must not be empty.").field(field));
    }
    Ok(text)
}

/// A text that may be empty.
pub(crate) fn line_or_empty(text: &str, field: &'static str, length_max: usize) -> Result<String, Refusal> {
    let text = text.trim();
    if text.chars().count() > length_max {
        let sentence = format!("This has at most {length_max} characters.");
        return Err(Refusal::new(Code::InvalidValue, sentence).field(field));
    }
    if text.chars().any(char::is_control) {
        let sentence = "This holds a character that cannot be seen, such as a line break.";
        return Err(Refusal::new(Code::InvalidValue, sentence).field(field));
    }
    Ok(text.to_owned())
}

/// A text that may be left out; an empty one counts as left out.
pub(crate) fn line_or_none(
    text: Option<&str>,
    field: &'static str,
    length_max: usize,
) -> Result<Option<String>, Refusal> {
    let text = line_or_empty(text.unwrap_or_default(), field, length_max)?;
    Ok((!text.is_empty()).then_some(text))
}

/// Reads a member that may be left out (no change), null (take it away), or a value. Use with `default`.
pub(crate) fn present<'de, T, D>(deserializer: D) -> Result<Option<Option<T>>, D::Error>
where
    T: Deserialize<'de>,
    D: Deserializer<'de>,
{
    Option::deserialize(deserializer).map(Some)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_are_trimmed_and_must_say_something() {
        assert_eq!(line(" Hal Denmark\u{a0}", "name", SHORT).unwrap(), "Hal Denmark");
        assert_eq!(line(" \u{a0} ", "name", SHORT).unwrap_err().field.as_deref(), Some("name"));
        assert_eq!(line_or_none(Some("  "), "limits", LONG).unwrap(), None);
    }

    #[test]
    fn what_cannot_be_seen_or_kept_is_refused() {
        for text in ["a\nb", "a\0b", "a\u{85}b"] {
            assert_eq!(line(text, "name", SHORT).unwrap_err().code, Code::InvalidValue);
        }
        assert!(line(&"ж".repeat(SHORT), "name", SHORT).is_ok(), "characters are counted, not bytes");
        assert!(line(&"ж".repeat(SHORT + 1), "name", SHORT).is_err());
    }
}
