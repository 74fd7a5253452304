//! Entries under a lead's name: kept whatever else goes wrong, looked at by name the next day.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_store::audit;
use sellion_tests::harness::{Client, Hospital};
use serde_json::{Value, json};
use uuid::Uuid;

fn entry(hospital: &Hospital) -> Value {
    json!({ "id": Uuid::now_v7(), "lead": "Ada Brennick", "reason": "emergency_call", "happened_at": hospital.now() })
}

fn path(gate: Uuid) -> String {
    format!("/api/v1/gates/{gate}/lead_entries")
}

fn waiting(coordinator: &Client) -> Vec<Value> {
    coordinator.get("/api/v1/lead_entries?reviewed=false").ok(200)["items"].as_array().unwrap().clone()
}

#[test]
fn somebody_is_let_in_under_a_name_and_somebody_looks_at_it_the_next_day() {
    let hospital = Hospital::open();
    let (gatekeeper, coordinator) = (hospital.signed_in(Role::Gate), hospital.signed_in(Role::Coordinator));
    let gate = hospital.gate("North entrance");
    let mut policy = hospital.policy(&[], true);
    policy["leads"] = json!(["Ada Brennick"]);
    coordinator.post(&format!("/api/v1/gates/{gate}/policies"), &policy).ok(201);
    let body = entry(&hospital);
    let kept = gatekeeper.post(&path(gate), &body).ok(201);
    assert_eq!(kept["instruction"], "Let the person in. The lead named here decides and answers for it.");
    assert_eq!(gatekeeper.post(&path(gate), &body).ok(201), kept, "sent again, it is kept once");
    let mut other = body.clone();
    other["lead"] = json!("Somebody else");
    gatekeeper.post(&path(gate), &other).refused(409, "id_reused");

    let listed = waiting(&coordinator);
    assert_eq!(listed.len(), 1);
    assert_eq!((&listed[0]["standing"], &listed[0]["gate"]), (&json!("provided"), &json!("North entrance")));
    let due = (hospital.now().with_timezone(&chrono_tz::Europe::Lisbon) + TimeDelta::days(1)).date_naive();
    assert_eq!(listed[0]["review_due_on"], json!(due));

    let reviews = format!("/api/v1/lead_entries/{}/reviews", body["id"].as_str().unwrap());
    let found = json!({ "id": Uuid::now_v7(), "note": "The lead was there.", "happened_at": hospital.now() });
    let reviewed = coordinator.post(&reviews, &found).ok(201);
    assert_eq!(reviewed["review"]["reviewer"], "Ines Valdrun", "with a name");
    assert_eq!(coordinator.post(&reviews, &found).ok(201), reviewed, "a repeat");
    let again = json!({ "id": Uuid::now_v7(), "note": "Once more.", "happened_at": hospital.now() });
    coordinator.post(&reviews, &again).refused(409, "already_reviewed");
    let silent = json!({ "id": Uuid::now_v7(), "note": " ", "happened_at": hospital.now() });
    coordinator.post(&reviews, &silent).refused(422, "invalid_value");
    assert!(waiting(&coordinator).is_empty());
    let all = coordinator.get("/api/v1/lead_entries?reviewed=true").ok(200);
    assert_eq!(all["items"], json!([reviewed]));
    let report = audit::verify(&mut hospital.db(), hospital.site_id, |_, _| {}).unwrap();
    assert!(report.broken.is_none(), "{report:?}");
}

#[test]
fn no_policy_no_clock_and_no_missing_scan_keeps_anybody_waiting() {
    let hospital = Hospital::open();
    let (gatekeeper, coordinator) = (hospital.signed_in(Role::Gate), hospital.signed_in(Role::Coordinator));
    let gate = hospital.gate("New annex");
    let mut ahead = entry(&hospital);
    ahead["happened_at"] = json!(hospital.now() + TimeDelta::days(3));
    ahead["scan_id"] = json!(Uuid::now_v7());
    gatekeeper.post(&path(gate), &ahead).ok(201);
    let mut wild = entry(&hospital);
    wild["happened_at"] = json!("0205-01-01T00:00:00Z");
    gatekeeper.post(&path(gate), &wild).ok(201);
    let mut late = entry(&hospital);
    late["happened_at"] = json!(hospital.ago(9 * 86_400));
    gatekeeper.post(&path(gate), &late).ok(201);
    assert_eq!(
        gatekeeper.post(&path(gate), &ahead).ok(201)["id"],
        ahead["id"],
        "a repeat, later than the first"
    );

    let listed = waiting(&coordinator);
    let of = |body: &Value| listed.iter().find(|item| item["id"] == body["id"]).expect("kept").clone();
    assert!(listed.iter().all(|item| item["standing"] == "not_provided"), "there is no policy here");
    let (ahead, wild, late) = (of(&ahead), of(&wild), of(&late));
    assert!(ahead["told_at"].as_str().unwrap() > ahead["happened_at"].as_str().unwrap());
    assert!(wild["told_at"].is_null());
    assert!(late["happened_at"].as_str().unwrap() < late["recorded_at"].as_str().unwrap());

    hospital.gate_accepting("South entrance", &[hospital.db_respirator(1)]);
    let mut policy = hospital.policy(&[], true);
    policy["leads"] = json!(["Oda Marl"]);
    coordinator.post(&format!("/api/v1/gates/{gate}/policies"), &policy).ok(201);
    let stranger = entry(&hospital);
    gatekeeper.post(&path(gate), &stranger).ok(201);
    let listed = waiting(&coordinator);
    let stranger = listed.iter().find(|item| item["id"] == stranger["id"]).unwrap();
    assert_eq!(stranger["standing"], "not_listed");
}

#[test]
fn a_name_is_given_and_a_reason_comes_from_the_list() {
    let hospital = Hospital::open();
    let gatekeeper = hospital.signed_in(Role::Gate);
    let gate = hospital.gate("North entrance");
    let mut nameless = entry(&hospital);
    nameless["lead"] = json!(" ");
    let problem = gatekeeper.post(&path(gate), &nameless).refused(422, "invalid_value");
    assert_eq!(problem["field"], "lead");
    let mut told = entry(&hospital);
    told["reason"] = json!("felt unwell");
    gatekeeper.post(&path(gate), &told).refused(400, "bad_json");
    gatekeeper.post(&path(Uuid::now_v7()), &entry(&hospital)).refused(404, "not_found");
    hospital.signed_in(Role::Tester).post(&path(gate), &entry(&hospital)).refused(403, "wrong_role");
    gatekeeper.get("/api/v1/lead_entries").refused(403, "wrong_role");

    let kept = gatekeeper.post(&path(gate), &entry(&hospital)).ok(201);
    let elsewhere =
        hospital.signed_in_at(hospital.another_site("Tollmere"), &[Role::Coordinator, Role::Gate]);
    elsewhere.post(&path(gate), &entry(&hospital)).refused(404, "not_found");
    let reviews = format!("/api/v1/lead_entries/{}/reviews", kept["id"].as_str().unwrap());
    let found = json!({ "id": Uuid::now_v7(), "note": "Nothing.", "happened_at": hospital.now() });
    elsewhere.post(&reviews, &found).refused(404, "not_found");
    assert!(waiting(&elsewhere).is_empty());
}
