//! What the readers of bodies and queries say when they cannot go on, told in plain words.

use sellion_rules::refusal::{Code, Refusal};

/// How moments and dates are written.
const TIMES: &str = "Write times as 2026-03-10T08:00:00Z and dates as 2026-03-10.";

/// The refusal of a body of JSON.
pub(crate) fn body(error: &str) -> Refusal {
    let (text, place) = split_place(error);
    told(Code::BadJson, "The body", text, place.as_deref())
}

/// The refusal of a query string.
pub(crate) fn query(error: &str) -> Refusal {
    let text = error.strip_prefix("Query deserialize error: ").unwrap_or(error);
    told(Code::InvalidValue, "The query", text, None)
}

fn told(code: Code, whole: &str, text: &str, place: Option<&str>) -> Refusal {
    let at = place.map(|place| format!(" ({place})")).unwrap_or_default();
    if let Some(name) = quoted_after(text, "missing field ") {
        return Refusal::new(code, format!("{whole} lacks `{name}`{at}.")).field(name);
    }
    if let Some(name) = quoted_after(text, "unknown field ") {
        let known = expected(text).map(|known| format!(": it takes {known}")).unwrap_or_default();
        return Refusal::new(code, format!("{whole} has `{name}`, which is not known here{known}{at}."))
            .field(name);
    }
    if let Some(name) = quoted_after(text, "duplicate field ") {
        return Refusal::new(code, format!("{whole} gives `{name}` more than once{at}.")).field(name);
    }
    Refusal::new(code, format!("{} {at}", value(whole, text)).trim_end().to_owned())
}

/// What is wrong with a value, of which the reader does not tell the name.
fn value(whole: &str, text: &str) -> String {
    if let Some(name) = quoted_after(text, "unknown variant ") {
        let known = expected(text).unwrap_or("none");
        return format!("{whole} holds `{name}` where it takes {known}.");
    }
    if let Some(expected) = expected(text) {
        let found = text
            .strip_prefix("invalid type: ")
            .or_else(|| text.strip_prefix("invalid value: "))
            .and_then(|rest| rest.split_once(", expected "))
            .map(|(found, _)| format!(", not {found}"));
        return format!("{whole} needs {} here{}.", kind(expected), found.unwrap_or_default());
    }
    let is = |words: &[&str]| words.iter().any(|word| text.contains(word));
    if is(&["premature end of input", "input contains invalid", "input is out of range", "trailing input"]) {
        format!("{whole} holds a time or date that cannot be read. {TIMES}")
    } else if is(&["UUID"]) {
        format!("{whole} holds an id that is not a UUID.")
    } else if is(&["digit found", "parse integer", "number too"]) {
        format!("{whole} holds a number that cannot be read: write whole numbers in digits.")
    } else if is(&["EOF", "trailing characters", "key must be", "control character", "escape", "expected"]) {
        format!("{whole} is not JSON: {}.", text.trim_end_matches('.'))
    } else {
        format!("{whole} cannot be read: {}.", text.trim_end_matches('.'))
    }
}

/// What the reader would have taken.
fn expected(text: &str) -> Option<&str> {
    text.split_once(", expected ").map(|(_, expected)| expected.strip_prefix("one of ").unwrap_or(expected))
}

/// The reader's word for a kind of value, in the words of those who send one.
fn kind(expected: &str) -> String {
    let first = expected.split(' ').next().unwrap_or_default();
    match first {
        "struct" | "map" | "internally" | "adjacently" => return "an object".to_owned(),
        "u8" | "u16" | "u32" | "u64" => return "a whole number from 0 upwards".to_owned(),
        "i16" | "i32" | "i64" => return "a whole number".to_owned(),
        _ => {}
    }
    match expected {
        "a map" => "an object".to_owned(),
        "a sequence" => "a list".to_owned(),
        "a string" => "a text".to_owned(),
        "a boolean" => "true or false".to_owned(),
        "a formatted UUID string" => "a UUID".to_owned(),
        "an RFC 3339 formatted date and time string" => "a time such as 2026-03-10T08:00:00Z".to_owned(),
        "a formatted date string" => "a date such as 2026-03-10".to_owned(),
        other => other.to_owned(),
    }
}

/// The name between the grave accents that follow these words.
fn quoted_after<'t>(text: &'t str, words: &str) -> Option<&'t str> {
    text.strip_prefix(words)?.strip_prefix('`')?.split('`').next()
}

/// Takes off ` at line 1 column 20`.
fn split_place(text: &str) -> (&str, Option<String>) {
    let cut = text.rsplit_once(" at line ").and_then(|(text, place)| {
        let (line, column) = place.split_once(" column ")?;
        Some((text, format!("line {line}, column {column}")))
    });
    cut.map_or((text, None), |(text, place)| (text, Some(place)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(error: &str) -> (String, Option<String>) {
        let refusal = body(error);
        (refusal.detail, refusal.field)
    }

    #[test]
    fn members_are_named() {
        let missing = of("missing field `id` at line 1 column 2");
        assert_eq!(missing, ("The body lacks `id` (line 1, column 2).".into(), Some("id".into())));
        let unknown = of("unknown field `why`, expected one of `id`, `name` at line 1 column 9");
        assert_eq!(unknown.1.as_deref(), Some("why"));
        assert!(unknown.0.contains("it takes `id`, `name`"), "{}", unknown.0);
        assert_eq!(query("Query deserialize error: missing field `id`").field.as_deref(), Some("id"));
    }

    #[test]
    fn values_are_told_without_the_words_of_the_program() {
        for (error, told) in [
            (
                "invalid length 0, expected struct NewPerson with 8 elements at line 1 column 2",
                "needs an object",
            ),
            (
                "invalid type: integer `7`, expected a string at line 1 column 13",
                "a text here, not integer `7`",
            ),
            ("premature end of input at line 1 column 40", "2026-03-10T08:00:00Z"),
            ("EOF while parsing an object at line 1 column 1", "is not JSON"),
            ("expected value at line 1 column 1", "is not JSON"),
            (
                "unknown variant `king`, expected `gate` or `tester` at line 1 column 4",
                "takes `gate` or `tester`",
            ),
            ("UUID parsing failed: invalid length at line 1 column 9", "not a UUID"),
        ] {
            let detail = of(error).0;
            assert!(detail.contains(told), "{detail}");
            assert!(!detail.contains("struct") && !detail.contains(" at line"), "{detail}");
        }
    }
}
