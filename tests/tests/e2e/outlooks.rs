//! Whom a gate will turn away after a change: by name for the coordinator, in numbers for the guards' lead.

use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::roles::Role;
use sellion_tests::harness::{Client, Hospital, day::id_of, taste::Ending, tells};
use serde_json::{Value, json};
use uuid::Uuid;

/// A gate that changes from one size to another in ten hours, and six people of one ward.
struct Change {
    hospital: Hospital,
    coordinator: Client,
    gate: Uuid,
    present: Uuid,
    coming: Uuid,
    switch: DateTime<Utc>,
    policy: Uuid,
    people: Vec<Uuid>,
}

impl Change {
    fn ahead() -> Self {
        let hospital = Hospital::open();
        let coordinator = hospital.signed_in(Role::Coordinator);
        let (present, coming) = (id_of(&hospital.respirator("M")), id_of(&hospital.respirator("L")));
        let people: Vec<Uuid> =
            (0..6).map(|number| id_of(&hospital.permitted_person(&format!("004{number}")))).collect();
        let gate = hospital.gate_accepting("East door", &[present]);
        let switch = hospital.now() + TimeDelta::hours(10);
        let mut policy = hospital.policy(&[coming], false);
        policy["effective_from"] = json!(switch);
        let policy = id_of(&coordinator.post(&format!("/api/v1/gates/{gate}/policies"), &policy).ok(201));
        let _ = hospital.passes(people[0], present);
        let _ = hospital.passes(people[1], present);
        let _ = hospital.passes(people[2], present);
        // Nobody sits in two chairs at once.
        hospital.clock.shift(TimeDelta::minutes(30));
        let _ = hospital.passes(people[1], coming);
        let _ = hospital.tests(people[2], coming, Ending::Fail, hospital.ago(1200));
        Self { hospital, coordinator, gate, present, coming, switch, policy, people }
    }

    fn path(&self, what: &str) -> String {
        format!("/api/v1/gates/{}/{what}", self.gate)
    }

    fn ask(&self, question: &Value) -> Value {
        self.coordinator.post(&self.path("outlooks"), question).ok(200)
    }
}

#[test]
fn whoever_will_be_turned_away_is_named_with_what_would_change_it() {
    let change = Change::ahead();
    let found = change.ask(&json!({ "policy_id": change.policy, "units": ["Heron ward"] }));
    let counts = json!({ "asked": 6, "enter_now": 3, "enter_then": 1, "turned_away": 2, "unknown": 0 });
    assert_eq!(found["counts"], counts);
    assert_eq!((&found["at"], &found["policy_id"]), (&json!(change.switch), &json!(change.policy)));
    let items = found["items"].as_array().unwrap();
    assert_eq!(items.len(), 5, "those who may not go in now are turned away then too");
    let of = |person: Uuid| items.iter().find(|item| item["person_id"] == json!(person)).unwrap();
    let other = of(change.people[0]);
    assert_eq!((&other["enters_now"], &other["cleared_for"]), (&json!(true), &json!([change.present])));
    assert_eq!((&other["retest_on"], &other["needs_permission"]), (&json!([change.coming]), &json!(false)));
    assert_eq!(
        of(change.people[2])["retest_on"],
        json!([change.coming]),
        "failed on it once, and nothing else is used"
    );
    assert_eq!(of(change.people[3])["cleared_for"], json!([]));
    assert!(!items.iter().any(|item| item["person_id"] == json!(change.people[1])));
}

#[test]
fn due_days_until_then_count() {
    let change = Change::ahead();
    let ahead = change.hospital.now() + TimeDelta::days(400);
    let found = change.ask(&json!({ "at": ahead, "staff_numbers": ["0041"] }));
    assert_eq!(found["counts"]["enter_then"], 0);
    assert_eq!(found["items"][0]["retest_on"], json!([change.coming]));
    assert_eq!(found["items"][0]["cleared_for"], json!([]), "nobody is cleared for anything by then");
}

#[test]
fn people_are_named_by_number_by_ward_or_by_having_come_in() {
    let change = Change::ahead();
    let when = json!({ "policy_id": change.policy });
    let with = |members: &Value| {
        let mut question = when.clone();
        question.as_object_mut().unwrap().extend(members.as_object().unwrap().clone());
        change.ask(&question)
    };
    let found = with(&json!({ "staff_numbers": ["0040", "0099"], "units": ["Plover ward"] }));
    assert_eq!((&found["counts"]["asked"], &found["counts"]["unknown"]), (&json!(1), &json!(2)));
    assert_eq!(found["unknown_staff_numbers"], json!(["0099"]));
    assert_eq!(found["unknown_units"], json!(["Plover ward"]));

    assert_eq!(with(&json!({ "entered_within_days": 7 }))["counts"]["asked"], 0);
    let badge = change.hospital.badge(&change.hospital.signed_in(Role::BadgeDesk), change.people[0]);
    let gatekeeper = change.hospital.signed_in(Role::Gate);
    change.hospital.scan(&gatekeeper, change.gate, badge["code"].as_str().unwrap());
    assert_eq!(with(&json!({ "entered_within_days": 7 }))["counts"]["turned_away"], 1);
}

#[test]
fn the_guards_lead_gets_numbers_and_nobody_s_name() {
    let change = Change::ahead();
    let lead = change.hospital.signed_in(Role::GateLead);
    let question = json!({ "policy_id": change.policy, "units": ["Heron ward"] });
    let reply = lead.post(&change.path("outlook_counts"), &question).ok(200);
    assert_eq!(reply["counts"]["turned_away"], 2);
    let text = reply.to_string();
    assert!(!tells(&text, "Valdrun") && !tells(&text, "004"), "{text}");
    lead.post(&change.path("outlooks"), &question).refused(403, "wrong_role");
    let one = json!({ "policy_id": change.policy, "units": ["Heron ward"], "staff_numbers": ["0041"] });
    let problem = lead.post(&change.path("outlook_counts"), &one).refused(422, "invalid_value");
    assert_eq!(problem["field"], "staff_numbers", "a number about one person is a name");
    let badge = change.hospital.badge(&change.hospital.signed_in(Role::BadgeDesk), change.people[0]);
    let gatekeeper = change.hospital.signed_in(Role::Gate);
    change.hospital.scan(&gatekeeper, change.gate, badge["code"].as_str().unwrap());
    let few = json!({ "policy_id": change.policy, "entered_within_days": 7 });
    lead.post(&change.path("outlook_counts"), &few).refused(422, "invalid_value");
    gatekeeper.post(&change.path("outlook_counts"), &question).refused(403, "wrong_role");
}

#[test]
fn a_question_says_whom_and_when() {
    let change = Change::ahead();
    let refused = |question: &Value, field: &str| {
        let problem =
            change.coordinator.post(&change.path("outlooks"), question).refused(422, "invalid_value");
        assert_eq!(problem["field"], field);
    };
    let ahead = change.hospital.now() + TimeDelta::hours(1);
    refused(&json!({ "units": ["Heron ward"] }), "at");
    refused(&json!({ "units": ["Heron ward"], "at": ahead, "policy_id": change.policy }), "at");
    refused(&json!({ "units": ["Heron ward"], "at": change.hospital.ago(60) }), "at");
    refused(&json!({ "units": ["Heron ward"], "policy_id": Uuid::now_v7() }), "policy_id");
    refused(&json!({ "at": ahead }), "units");
    refused(&json!({ "at": ahead, "entered_within_days": 0 }), "entered_within_days");
    refused(&json!({ "at": ahead, "staff_numbers": vec!["1"; 5001] }), "staff_numbers");
    let elsewhere =
        change.hospital.signed_in_at(change.hospital.another_site("Tollmere"), &[Role::Coordinator]);
    let question = json!({ "at": ahead, "units": ["Heron ward"] });
    elsewhere.post(&change.path("outlooks"), &question).refused(404, "not_found");
}
