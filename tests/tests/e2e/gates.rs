//! Gates and what they accept.

use sellion_rules::roles::Role;
use sellion_tests::harness::Hospital;
use serde_json::json;
use uuid::Uuid;

#[test]
fn a_gate_is_set_up_once() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let body = json!({ "id": Uuid::now_v7(), "name": " North entrance " });
    let gate = coordinator.post("/api/v1/gates", &body).ok(201);
    assert_eq!(gate["name"], "North entrance");
    assert_eq!(coordinator.post("/api/v1/gates", &body).ok(201), gate, "a repeat");
    let other = json!({ "id": body["id"], "name": "South entrance" });
    coordinator.post("/api/v1/gates", &other).refused(409, "id_reused");
    let taken = json!({ "id": Uuid::now_v7(), "name": "North entrance" });
    coordinator.post("/api/v1/gates", &taken).refused(409, "already_exists");
    let nameless = json!({ "id": Uuid::now_v7(), "name": "  " });
    coordinator.post("/api/v1/gates", &nameless).refused(422, "invalid_value");
    hospital.signed_in(Role::BadgeDesk).post("/api/v1/gates", &body).refused(403, "wrong_role");
    assert_eq!(coordinator.get("/api/v1/gates").ok(200)["items"], json!([gate]));
}

#[test]
fn a_gate_s_policies_follow_each_other_and_stay_readable() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let (one, two) = (hospital.db_respirator(1), hospital.db_respirator(2));
    let gate = hospital.gate("North entrance");
    let path = format!("/api/v1/gates/{gate}/policies");
    let body = hospital.policy(&[two, one], false);
    let policy = coordinator.post(&path, &body).ok(201);
    assert_eq!(
        policy["accepts"],
        json!([{ "respirator_id": two }, { "respirator_id": one }]),
        "the preferred one first"
    );
    assert_eq!(policy["standing"], "present");
    assert_eq!(coordinator.post(&path, &body).ok(201), policy, "a repeat");
    let mut swapped = body.clone();
    swapped["accepts"] = json!([{ "respirator_id": one }, { "respirator_id": two }]);
    coordinator.post(&path, &swapped).refused(409, "id_reused");
    let later = coordinator.post(&path, &hospital.policy(&[], true)).ok(201);
    let mut former = policy;
    former["standing"] = json!("past");
    assert_eq!(coordinator.get(&path).ok(200)["items"], json!([former, later]));
}

#[test]
fn another_site_s_gate_is_not_there() {
    let hospital = Hospital::open();
    let respirator = hospital.db_respirator(1);
    let gate = hospital.gate("North entrance");
    let elsewhere = hospital.another_site("Tollmere");
    let stranger = hospital.signed_in_at(elsewhere, &[Role::Coordinator, Role::Gate]);
    let path = format!("/api/v1/gates/{gate}/policies");
    stranger.get(&path).refused(404, "not_found");
    stranger.post(&path, &hospital.policy(&[respirator], false)).refused(404, "not_found");
    stranger.get(&format!("/api/v1/gates/{gate}/scans")).refused(404, "not_found");
    let scan = json!({ "id": Uuid::now_v7(), "code": "SL1:AB", "happened_at": hospital.now() });
    stranger.post(&format!("/api/v1/gates/{gate}/scans"), &scan).refused(404, "not_found");
    let own = json!({ "id": Uuid::now_v7(), "name": "Own" });
    let own = stranger.post("/api/v1/gates", &own).ok(201);
    let path = format!("/api/v1/gates/{}/policies", own["id"].as_str().unwrap());
    let problem = stranger.post(&path, &hospital.policy(&[respirator], false)).refused(422, "invalid_value");
    assert_eq!(problem["field"], "accepts[0].respirator_id", "another site's respirator");
}
