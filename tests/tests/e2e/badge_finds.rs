//! Badges that somebody found: whoever reports one learns nothing, and the badge is held or ends.

use sellion_rules::roles::Role;
use sellion_tests::harness::{Client, Hospital, Reply, day::id_of};
use serde_json::{Value, json};
use uuid::Uuid;

struct Found {
    hospital: Hospital,
    desk: Client,
    door: Client,
    gate: Uuid,
    person: Uuid,
    badge: Value,
}

impl Found {
    fn open() -> Self {
        let hospital = Hospital::open();
        let desk = hospital.signed_in(Role::BadgeDesk);
        let (person, respirator) = (hospital.db_named_person("Ines", "Valdrun"), hospital.db_respirator(1));
        hospital.db_clear(person, respirator);
        let gate = hospital.gate_accepting("North entrance", &[respirator]);
        let door = hospital.gate_device(gate);
        let badge = hospital.badge(&desk, person);
        Self { hospital, desk, door, gate, person, badge }
    }

    fn body(&self, text: &Value) -> Value {
        json!({
            "id": Uuid::now_v7(), "text": text, "place": "Stairs to Heron ward",
            "happened_at": self.hospital.now(),
        })
    }

    fn reports(&self, client: &Client, text: &Value) -> Reply {
        client.post("/api/v1/badge_finds", &self.body(text))
    }

    fn status(&self) -> Value {
        self.desk.get(&format!("/api/v1/badges/{}", id_of(&self.badge))).ok(200)["status"].clone()
    }
}

#[test]
fn a_found_badge_is_held_and_the_finder_hears_nothing_of_it() {
    let found = Found::open();
    let body = found.body(&found.badge["serial"]);
    let told = found.door.post("/api/v1/badge_finds", &body).ok(201);
    let mut members: Vec<&String> = told.as_object().unwrap().keys().collect();
    members.sort();
    assert_eq!(members, ["id", "instruction"]);
    assert!(!told.to_string().contains("Valdrun"));
    assert_eq!(found.status(), "held");
    let code = found.badge["code"].as_str().unwrap();
    assert_eq!(found.hospital.scan(&found.door, found.gate, code)["answer"], "cannot_confirm");
    assert_eq!(found.door.post("/api/v1/badge_finds", &body).ok(201), told, "a repeat");
    // Found once more while it is held: one hold is enough, and one release.
    found.reports(&found.desk, &found.badge["code"]).ok(201);
    let listed = found.desk.get("/api/v1/badge_finds").ok(200);
    let items = listed["items"].as_array().unwrap();
    assert_eq!(items.len(), 2);
    assert_eq!(
        (&items[0]["gate"], &items[0]["badge"]["name"]),
        (&json!("North entrance"), &json!("Ines Valdrun"))
    );
    assert_eq!((items[1].get("gate"), &items[1]["place"]), (None, &json!("Stairs to Heron ward")));
    let holds = items[0]["badge"]["holds"].as_array().unwrap();
    assert_eq!(holds.len(), 1);
    let release =
        json!({ "id": Uuid::now_v7(), "reason": "back_with_person", "happened_at": found.hospital.now() });
    found
        .desk
        .post(&format!("/api/v1/badge_holds/{}/releases", holds[0]["id"].as_str().unwrap()), &release)
        .ok(201);
    assert_eq!(found.status(), "valid");
}

#[test]
fn where_the_site_says_so_a_found_badge_ends() {
    let found = Found::open();
    let admin = found.hospital.signed_in(Role::Admin);
    let site = admin.patch("/api/v1/sites/current", 1, &json!({ "found_badges": "end" })).ok(200);
    assert_eq!(site["found_badges"], "end");
    found.reports(&found.door, &found.badge["code"]).ok(201);
    assert_eq!(found.status(), "ended");
    admin.patch("/api/v1/sites/current", 2, &json!({ "found_badges": "burn" })).refused(400, "bad_json");
}

#[test]
fn a_lost_badge_that_is_found_stays_ended_and_the_answer_is_the_same() {
    let found = Found::open();
    let lost = json!({ "id": Uuid::now_v7(), "happened_at": found.hospital.now() });
    found.desk.post(&format!("/api/v1/people/{}/lost_badges", found.person), &lost).ok(201);
    let next = found.hospital.badge(&found.desk, found.person);
    let ended = found.reports(&found.door, &found.badge["serial"]).ok(201);
    assert_eq!(found.status(), "ended");
    let counts = found.reports(&found.door, &next["serial"]).ok(201);
    assert_eq!(ended["instruction"], counts["instruction"], "not even whether it counted");
}

#[test]
fn what_is_no_badge_of_the_site_is_no_find() {
    let found = Found::open();
    found.reports(&found.door, &json!("2222222222")).refused(404, "not_found");
    found.reports(&found.door, &json!("")).refused(422, "invalid_value");
    let mut nowhere = found.body(&found.badge["serial"]);
    nowhere["place"] = json!(" ");
    found.door.post("/api/v1/badge_finds", &nowhere).refused(422, "invalid_value");
    let stranger = found.hospital.signed_in_at(found.hospital.another_site("Tollmere"), &[Role::BadgeDesk]);
    found.reports(&stranger, &found.badge["serial"]).refused(404, "not_found");
    assert_eq!(stranger.get("/api/v1/badge_finds").ok(200)["items"], json!([]));
    found.door.get("/api/v1/badge_finds").refused(403, "wrong_role");
    found.reports(&found.hospital.signed_in(Role::Tester), &found.badge["serial"]).refused(403, "wrong_role");
}
