//! What a gate answered alone comes in later: stored once, as it was given, beside what the server would have said.

use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::roles::Role;
use sellion_store::audit;
use sellion_tests::harness::{Client, Hospital};
use serde_json::{Value, json};
use uuid::Uuid;

struct Gate {
    hospital: Hospital,
    gate: Uuid,
    device: Client,
    badge: Value,
}

impl Gate {
    /// A person whose clearances are typed in by the back door stands on no attempt: "now" and "then" are asked of the
    /// facts, which know of no pass.
    fn open() -> Self {
        let hospital = Hospital::open();
        let (person, respirator) = (hospital.db_named_person("Ines", "Valdrun"), hospital.db_respirator(1));
        hospital.db_clear(person, respirator);
        let gate = hospital.gate_accepting("North entrance", &[respirator]);
        let badge = hospital.badge(&hospital.signed_in(Role::BadgeDesk), person);
        let device = hospital.gate_device(gate);
        // All this was known for a while when the gate was out of reach.
        hospital.clock.shift(TimeDelta::minutes(10));
        Self { hospital, gate, device, badge }
    }

    fn path(&self, what: &str) -> String {
        format!("/api/v1/gates/{}/{what}", self.gate)
    }

    fn scan(&self, answer: &str, happened_at: DateTime<Utc>) -> Value {
        json!({
            "id": Uuid::now_v7(), "code": self.badge["code"], "happened_at": happened_at,
            "given": {
                "answer": answer, "known_at": happened_at - TimeDelta::hours(3), "clock_showed": happened_at,
            },
        })
    }

    fn comparisons(&self) -> Vec<Value> {
        let found = self.hospital.signed_in(Role::Auditor).get(&self.path("scan_comparisons")).ok(200);
        found["items"].as_array().unwrap().clone()
    }
}

#[test]
fn a_given_answer_is_kept_as_it_was_given_and_once() {
    let gate = Gate::open();
    let end = json!({ "id": Uuid::now_v7(), "reason": "lost", "happened_at": gate.hospital.ago(300) });
    let badge = gate.badge["id"].as_str().unwrap();
    let desk = gate.hospital.signed_in(Role::BadgeDesk);
    desk.post(&format!("/api/v1/badges/{badge}/endings"), &end).ok(201);
    let scan = gate.scan("enter", gate.hospital.ago(60));
    let first = gate.device.post(&gate.path("scans"), &scan).ok(201);
    assert_eq!(first["answer"], "enter", "what was shown was shown");
    assert_eq!(gate.device.post(&gate.path("scans"), &scan).ok(201), first);
    let stored = gate.hospital.signed_in(Role::Auditor).get(&gate.path("scans")).ok(200);
    assert_eq!(stored["items"].as_array().unwrap().len(), 1);
    assert_eq!(
        (&stored["items"][0]["answer"], &stored["items"][0]["reason"]),
        (&json!("enter"), &json!("badge_ended"))
    );

    let mut other = scan.clone();
    other["given"]["answer"] = json!("not_valid");
    gate.device.post(&gate.path("scans"), &other).refused(409, "id_reused");
    other.as_object_mut().unwrap().remove("given");
    gate.device.post(&gate.path("scans"), &other).refused(409, "id_reused");
    let report = audit::verify(&mut gate.hospital.db(), gate.hospital.site_id, |_, _| {}).unwrap();
    assert!(report.broken.is_none(), "{report:?}");
}

#[test]
fn what_a_gate_could_not_know_is_marked() {
    let gate = Gate::open();
    let happened_at = gate.hospital.ago(60);
    gate.device.post(&gate.path("scans"), &gate.scan("enter", happened_at)).ok(201);
    let found = &gate.comparisons()[0];
    assert_eq!((&found["given"], &found["mark"]), (&json!("enter"), &json!("not_known_at_gate")), "{found}");
    assert_eq!(found["knowledge_age_seconds"], 10_800);
    assert_eq!(found["then"]["reason"], "person_not_cleared");
    // A stranger's code is one whoever asks.
    let mut stranger = gate.scan("not_valid", happened_at);
    stranger["code"] = json!("SL1:AB");
    gate.device.post(&gate.path("scans"), &stranger).ok(201);
    let found = &gate.comparisons()[1];
    assert_eq!((&found["mark"], &found["badge_id"]), (&json!("same"), &Value::Null), "{found}");
}

#[test]
fn what_was_recorded_later_is_told_apart() {
    let gate = Gate::open();
    let happened_at = gate.hospital.now();
    gate.device.post(&gate.path("scans"), &gate.scan("not_cleared", happened_at)).ok(201);
    assert_eq!(gate.comparisons()[0]["mark"], "same");
    gate.hospital.clock.shift(TimeDelta::seconds(30));
    let badge = gate.badge["id"].as_str().unwrap();
    let end =
        json!({ "id": Uuid::now_v7(), "reason": "lost", "happened_at": happened_at - TimeDelta::seconds(1) });
    let desk = gate.hospital.signed_in(Role::BadgeDesk);
    desk.post(&format!("/api/v1/badges/{badge}/endings"), &end).ok(201);
    let found = &gate.comparisons()[0];
    assert_eq!(found["mark"], "learned_since", "{found}");
    assert_eq!(
        (&found["then"]["answer"], &found["now"]["answer"]),
        (&json!("not_cleared"), &json!("not_valid"))
    );
}

#[test]
fn comparisons_are_for_those_entitled_and_given_answers_are_read_with_care() {
    let gate = Gate::open();
    gate.device.get(&gate.path("scan_comparisons")).refused(403, "wrong_role");
    gate.hospital.signed_in(Role::BadgeDesk).get(&gate.path("scan_comparisons")).refused(403, "wrong_role");
    let elsewhere = gate.hospital.another_site("Elsewhere");
    let stranger = gate.hospital.signed_in_at(elsewhere, &[Role::Auditor]);
    stranger.get(&gate.path("scan_comparisons")).refused(404, "not_found");
    let mut scan = gate.scan("enter", gate.hospital.ago(60));
    scan["given"]["answer"] = json!("perhaps");
    gate.device.post(&gate.path("scans"), &scan).refused(400, "bad_json");
    let mut scan = gate.scan("enter", gate.hospital.ago(60));
    scan["given"]["known_at"] = json!("0205-01-01T00:00:00Z");
    gate.device.post(&gate.path("scans"), &scan).refused(422, "invalid_value");
    let mut scan = gate.scan("enter", gate.hospital.ago(60));
    scan["given"]["reason"] = json!("person_not_cleared");
    gate.device.post(&gate.path("scans"), &scan).refused(400, "bad_json");
    let ahead = gate.scan("enter", gate.hospital.now() + TimeDelta::hours(1));
    gate.device.post(&gate.path("scans"), &ahead).refused(422, "happened_in_future");
    assert_eq!(gate.comparisons(), Vec::<Value>::new());
}
