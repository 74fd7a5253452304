//! A gate's own device: it speaks for its gate and for nothing else, until its token is taken away.

use sellion_rules::roles::Role;
use sellion_tests::harness::{Client, Hospital};
use serde_json::{Value, json};
use uuid::Uuid;

/// A device for a gate, with its row's id.
fn device(hospital: &Hospital, gate: Uuid) -> (Uuid, Client) {
    let id = Uuid::now_v7();
    let body = json!({ "id": id, "name": "North entrance, left", "role": "gate", "gate_id": gate });
    let made = hospital.signed_in(Role::Admin).post("/api/v1/devices", &body).ok(201);
    (id, hospital.nobody().with_token(made["token"].as_str().expect("a token")))
}

fn scan(hospital: &Hospital, code: &Value) -> Value {
    json!({ "id": Uuid::now_v7(), "code": code, "happened_at": hospital.now() })
}

#[test]
fn a_device_scans_at_its_own_gate_until_its_token_is_taken_away() {
    let hospital = Hospital::open();
    let (person, respirator) = (hospital.db_named_person("Ines", "Valdrun"), hospital.db_respirator(1));
    hospital.db_clear(person, respirator);
    let badge = hospital.badge(&hospital.signed_in(Role::BadgeDesk), person);
    let own = hospital.gate_accepting("North entrance", &[respirator]);
    let other = hospital.gate_accepting("South entrance", &[respirator]);
    let (device_id, device) = device(&hospital, own);
    let path = |gate: Uuid, what: &str| format!("/api/v1/gates/{gate}/{what}");

    assert_eq!(device.post(&path(own, "scans"), &scan(&hospital, &badge["code"])).ok(201)["answer"], "enter");
    device.post(&path(other, "scans"), &scan(&hospital, &badge["code"])).refused(404, "not_found");
    assert_eq!(device.get(&path(own, "policies")).ok(200)["items"].as_array().map(Vec::len), Some(1));
    device.get(&path(other, "policies")).refused(404, "not_found");
    device.get(&path(own, "scans")).refused(403, "wrong_role");
    device.get("/api/v1/badges").refused(403, "wrong_role");
    device.get("/api/v1/people").refused(403, "wrong_role");
    device.get("/api/v1/gates").refused(403, "wrong_role");

    let admin = hospital.signed_in(Role::Admin);
    admin.delete(&format!("/api/v1/devices/{device_id}")).ok(204);
    device.post(&path(own, "scans"), &scan(&hospital, &badge["code"])).refused(401, "session_ended");
    let stored = hospital.signed_in(Role::Auditor).get(&path(own, "scans")).ok(200);
    let stored = stored["items"].as_array().expect("scans");
    assert_eq!(stored.len(), 1, "what was refused was not stored");
    assert_eq!(stored[0]["recorded_by"], json!(device_id));
}
