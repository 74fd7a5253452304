//! A gate's own device: it speaks for its gate and for nothing else, until its token is taken away.

use sellion_rules::roles::{Operation, Role};
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

/// Operation by operation, with the token of a real device: its own gate's policy and pack, its scans' answers and its
/// entries under a lead's name; no search, no reason, no history, and no other gate.
#[test]
fn a_gate_s_token_opens_its_own_gate_and_nothing_else() {
    let hospital = Hospital::open();
    let own = hospital.gate_accepting("North entrance", &[hospital.db_respirator(1)]);
    let other = hospital.gate_accepting("South entrance", &[hospital.db_respirator(2)]);
    let (_, device) = device(&hospital, own);
    let open = [
        "create_badge_find",
        "create_lead_entry",
        "create_scan",
        "list_gate_policies",
        "read_current_session",
        "read_gate_pack",
    ];
    let mut opened = Vec::new();
    for (id, method, path) in operations() {
        let Ok(operation) = id.parse::<Operation>() else { continue };
        if operation == Operation::DeleteCurrentSession {
            continue;
        }
        let path = fill_in(&path, own);
        let reply = device.send(&method, &path, &[("content-type", "application/json")], body_of(&method));
        if open.contains(&id.as_str()) {
            assert!(![401, 403].contains(&reply.status), "{id}: {}", reply.text());
            opened.push(id);
        } else {
            reply.refused(403, "wrong_role");
        }
    }
    opened.sort_unstable();
    assert_eq!(opened, open);
    let path = |gate: Uuid, what: &str| format!("/api/v1/gates/{gate}/{what}");
    device.get(&path(other, "policies")).refused(404, "not_found");
    let entry = json!({
        "id": Uuid::now_v7(), "lead": "Ada Brennick", "reason": "nobody_else", "happened_at": hospital.now(),
    });
    device.post(&path(other, "lead_entries"), &entry).refused(404, "not_found");
    let kept = device.post(&path(own, "lead_entries"), &entry).ok(201);
    let told: Vec<&String> = kept.as_object().unwrap().keys().collect();
    assert_eq!(told, ["id", "instruction", "lead", "reason"]);
    let scan = json!({ "id": Uuid::now_v7(), "serial": "7KQ2M-XW9RD", "happened_at": hospital.now() });
    let answer = device.post(&path(own, "scans"), &scan).ok(201);
    let told: Vec<&String> = answer.as_object().unwrap().keys().collect();
    assert_eq!(told, ["answer", "check_name", "id", "instruction", "knowledge_age_seconds"], "and no reason");
}

/// Every operation of the document with its method and path.
fn operations() -> Vec<(String, String, String)> {
    let document: Value = serde_json::from_str(&sellion_web::openapi_json()).unwrap();
    let paths = document["paths"].as_object().unwrap().iter();
    let operations = paths.flat_map(|(path, item)| {
        let methods = item.as_object().unwrap().iter();
        methods.filter_map(|(method, operation)| {
            Some((operation["operationId"].as_str()?.to_owned(), method.to_uppercase(), path.clone()))
        })
    });
    operations.collect()
}

/// The path at the device's own gate, with other ids that nobody has.
fn fill_in(path: &str, gate: Uuid) -> String {
    let path = path.replace("{gate_id}", &gate.to_string());
    path.split('{').enumerate().fold(String::new(), |made, (index, part)| match index {
        0 => part.to_owned(),
        _ => made + &Uuid::now_v7().to_string() + part.split_once('}').map_or("", |(_, rest)| rest),
    })
}

fn body_of(method: &str) -> Option<&'static [u8]> {
    (method != "GET" && method != "DELETE").then_some(&b"{garbage"[..])
}
