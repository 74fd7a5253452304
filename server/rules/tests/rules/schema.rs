//! The API description tells the very words and shapes that travel.

use sellion_rules::attempt::{AttemptEvent, Outcome, Plan, Summary};
use sellion_rules::clearance::Clearance;
use sellion_rules::gate::GateDecision;
use sellion_rules::ladder::NextStep;
use sellion_rules::level::Level;
use sellion_rules::printed_expiry::PrintedExpiry;
use sellion_rules::ruleset::RuleValue;
use sellion_rules::screening::ScreeningEvent;
use serde_json::{Value, json};
use utoipa::{PartialSchema, ToSchema};

fn schema<T: PartialSchema>() -> Value {
    serde_json::to_value(T::schema()).expect("json")
}

#[test]
fn words_are_listed_as_they_travel() {
    let words: Vec<_> = Outcome::ALL.iter().map(|outcome| outcome.as_str()).collect();
    let outcome = schema::<Outcome>();
    assert_eq!((&outcome["type"], &outcome["enum"]), (&json!("string"), &json!(words)));
    assert_eq!((Outcome::name(), Level::name()), ("Outcome".into(), "Level".into()));
}

#[test]
fn a_level_is_one_of_three_numbers() {
    let level = schema::<Level>();
    assert_eq!((&level["type"], &level["enum"]), (&json!("integer"), &json!([10, 20, 30])));
}

#[test]
fn an_expiry_is_a_text_with_a_pattern() {
    assert_eq!(schema::<PrintedExpiry>()["type"], "string");
}

#[test]
fn events_carry_their_kind() {
    let attempt = schema::<AttemptEvent>().to_string();
    assert!(attempt.contains("AttemptEventKind") && attempt.contains("happened_at"), "{attempt}");
    let screening = schema::<ScreeningEvent>().to_string();
    assert!(screening.contains("ScreeningEventKind"), "{screening}");
    let step = schema::<NextStep>().to_string();
    assert!(step.contains("\"refer\"") && step.contains("\"not_before\""), "{step}");
}

#[test]
fn every_wire_type_has_a_name() {
    let names = [Plan::name(), Summary::name(), Clearance::name(), GateDecision::name(), RuleValue::name()];
    assert_eq!(names, ["Plan", "Summary", "Clearance", "GateDecision", "RuleValue"]);
}
