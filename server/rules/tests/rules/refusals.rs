//! Codes are stable words, and a refusal is plain data.

use std::collections::BTreeSet;

use sellion_rules::{Code, Refusal};
use serde_json::json;

use crate::support::second;

#[test]
fn codes_are_snake_case_distinct_and_explained() {
    let mut seen = BTreeSet::new();
    for code in Code::ALL {
        let text = code.as_str();
        assert!(text.chars().all(|c| c.is_ascii_lowercase() || c == '_'), "{text}");
        assert!(seen.insert(text), "{text} twice");
        assert_eq!(text.parse::<Code>(), Ok(*code));
        let meaning = code.meaning();
        assert!(meaning.ends_with('.') && meaning.len() > 20, "{text}: {meaning}");
        assert_eq!(serde_json::to_value(code).expect("json"), json!(text));
    }
    let unknown = "no_such_code".parse::<Code>().expect_err("unknown");
    assert_eq!(unknown.to_string(), "\"no_such_code\" is not a Code");
}

#[test]
fn a_refusal_is_flat_data() {
    let refusal = Refusal::new(Code::DoseTooEarly, "Wait.")
        .field("happened_at")
        .fact("seconds_remaining", 6_u32)
        .fact("due_at", second(30))
        .fact("what", "dose");
    let expected = json!({
        "code": "dose_too_early", "detail": "Wait.", "field": "happened_at",
        "seconds_remaining": 6, "due_at": "2027-03-08T09:00:30Z", "what": "dose",
    });
    assert_eq!(serde_json::to_value(&refusal).expect("json"), expected);
    assert_eq!(refusal.to_string(), "dose_too_early: Wait.");
    let plain = serde_json::to_value(Refusal::new(Code::Busy, "Later.")).expect("json");
    assert_eq!(plain, json!({ "code": "busy", "detail": "Later." }));
}
