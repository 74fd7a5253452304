//! The same badge once more: a nervous hand at one gate, or one serial at two gates sooner than a person walks.

use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::roles::Role;
use sellion_store::{Limits, audit};
use sellion_tests::harness::{Client, Hospital};
use serde_json::{Value, json};
use uuid::Uuid;

/// Two gates four minutes apart, and one badge that both would let in.
struct Corridor {
    hospital: Hospital,
    coordinator: Client,
    gatekeeper: Client,
    north: Uuid,
    south: Uuid,
    badge: Value,
}

const WALK: i64 = 240;

impl Corridor {
    fn set_up() -> Self {
        let corridor = Self::without_walk();
        corridor.walk(WALK);
        corridor
    }

    fn without_walk() -> Self {
        let hospital = Hospital::open();
        let (person, respirator) = (hospital.db_named_person("Ines", "Valdrun"), hospital.db_respirator(1));
        hospital.db_clear(person, respirator);
        let badge = hospital.badge(&hospital.signed_in(Role::BadgeDesk), person);
        let (north, south) = (
            hospital.gate_accepting("North", &[respirator]),
            hospital.gate_accepting("South", &[respirator]),
        );
        // So that the badges can have been read some minutes ago, with the gates' policies in force.
        hospital.clock.shift(TimeDelta::minutes(20));
        let (coordinator, gatekeeper) =
            (hospital.signed_in(Role::Coordinator), hospital.signed_in(Role::Gate));
        Self { hospital, coordinator, gatekeeper, north, south, badge }
    }

    fn walk(&self, seconds: i64) {
        // Whichever way it is told: it is the same both ways.
        let body = json!({
            "id": Uuid::now_v7(), "gate_id": self.south, "other_gate_id": self.north, "seconds": seconds,
            "happened_at": self.hospital.now(),
        });
        self.coordinator.post("/api/v1/walking_times", &body).ok(201);
    }

    fn scan_at(&self, gate: Uuid, at: DateTime<Utc>) -> Value {
        self.scan_with(gate, at, None)
    }

    fn scan_with(&self, gate: Uuid, at: DateTime<Utc>, clock_ahead_ms: Option<i64>) -> Value {
        let body = json!({
            "id": Uuid::now_v7(), "code": self.badge["code"], "happened_at": at, "clock_ahead_ms": clock_ahead_ms,
        });
        self.gatekeeper.post(&format!("/api/v1/gates/{gate}/scans"), &body).ok(201)
    }

    fn waiting(&self) -> Vec<Value> {
        self.coordinator.get("/api/v1/twin_notices?reviewed=false").ok(200)["items"]
            .as_array()
            .unwrap()
            .clone()
    }

    fn figures(&self, gate: Uuid) -> Value {
        self.coordinator.get(&format!("/api/v1/gates/{gate}/figures")).ok(200)["items"].clone()
    }

    fn assert_chain_holds(&self) {
        let report = audit::verify(&mut self.hospital.db(), self.hospital.site_id, |_, _| {}).unwrap();
        assert!(report.broken.is_none(), "{report:?}");
    }
}

#[test]
fn one_badge_at_two_gates_at_once_makes_a_pair_and_asks_for_the_name() {
    let corridor = Corridor::set_up();
    let started = corridor.hospital.ago(600);
    let first = corridor.scan_at(corridor.north, started);
    assert_eq!((&first["answer"], &first["check_name"]), (&json!("enter"), &json!(false)));
    let second = corridor.scan_at(corridor.south, started + TimeDelta::seconds(60));
    assert_eq!((&second["answer"], &second["check_name"]), (&json!("enter"), &json!(true)));
    let instruction = second["instruction"].as_str().unwrap();
    assert!(instruction.starts_with("Check the name:"), "{instruction}");
    for word in ["copied", "twin", "stolen", "forged", "North"] {
        assert!(!instruction.contains(word), "{instruction}");
    }
    let waiting = corridor.waiting();
    assert_eq!(waiting.len(), 1);
    assert_eq!(
        (&waiting[0]["first"]["gate"], &waiting[0]["second"]["gate"]),
        (&json!("North"), &json!("South"))
    );
    assert_eq!((&waiting[0]["walk_seconds"], &waiting[0]["tolerance_seconds"]), (&json!(WALK), &json!(30)));

    corridor.scan_at(corridor.north, started + TimeDelta::seconds(120));
    corridor.scan_at(corridor.south, started + TimeDelta::seconds(180));
    assert_eq!(
        corridor.waiting().len(),
        1,
        "while one pair waits, further ones would only tell who walked where"
    );

    let path = format!("/api/v1/twin_notices/{}/reviews", waiting[0]["id"].as_str().unwrap());
    let found = json!({ "id": Uuid::now_v7(), "note": "Lent to a colleague.", "happened_at": corridor.hospital.now() });
    let signed = corridor.coordinator.post(&path, &found).ok(201);
    assert_eq!(signed["review"]["note"], "Lent to a colleague.");
    let again = json!({ "id": Uuid::now_v7(), "note": "x", "happened_at": corridor.hospital.now() });
    corridor.coordinator.post(&path, &again).refused(409, "already_reviewed");
    assert!(corridor.waiting().is_empty());
    corridor.scan_at(corridor.north, started + TimeDelta::seconds(240));
    assert_eq!(corridor.waiting().len(), 1, "what happens after that is news");
    corridor.assert_chain_holds();
}

#[test]
fn whoever_walks_is_not_asked_and_clocks_may_differ() {
    let corridor = Corridor::set_up();
    let started = corridor.hospital.ago(3000);
    let at = |seconds: i64| started + TimeDelta::seconds(seconds);
    corridor.scan_at(corridor.north, at(0));
    // Thirty seconds are allowed for two clocks that nobody has compared (from memory).
    assert_eq!(
        corridor.scan_at(corridor.south, at(WALK - 30))["check_name"],
        false,
        "just as long as it takes"
    );
    assert_eq!(corridor.scan_at(corridor.north, at(2 * WALK - 61))["check_name"], true, "a second too soon");
    // Both clocks known: the south one is a hundred seconds ahead.
    corridor.scan_with(corridor.north, at(1000), Some(0));
    let south = |seconds: i64| corridor.scan_with(corridor.south, at(seconds), Some(100_000));
    assert_eq!(south(1000 + WALK + 90)["check_name"], true, "really ten seconds too soon");
    corridor.scan_with(corridor.north, at(2000), Some(0));
    assert_eq!(south(2000 + WALK + 99)["check_name"], false);
    // A clock that is off by an hour is not known but wrong.
    let wild = corridor.scan_with(corridor.north, at(2000 + WALK + 100), Some(3_600_000));
    assert_eq!(wild["check_name"], true);
}

#[test]
fn a_site_sets_what_clocks_may_differ_by_and_how_soon_a_hand_is_nervous() {
    let corridor = Corridor::set_up();
    let admin = corridor.hospital.signed_in(Role::Admin);
    let site = admin.get("/api/v1/sites/current").ok(200);
    assert_eq!((&site["clock_tolerance_seconds"], &site["repeat_scan_seconds"]), (&json!(30), &json!(10)));
    let version = site["version"].as_i64().unwrap();
    let change = json!({ "clock_tolerance_seconds": 200, "repeat_scan_seconds": 2 });
    admin.patch("/api/v1/sites/current", version, &change).ok(200);
    for (name, value) in
        [("clock_tolerance_seconds", 3601), ("repeat_scan_seconds", -1), ("scans_kept_days", 0)]
    {
        let problem = admin
            .patch("/api/v1/sites/current", version + 1, &json!({ name: value }))
            .refused(422, "invalid_value");
        assert_eq!(problem["field"], name);
    }
    let started = corridor.hospital.ago(600);
    corridor.scan_at(corridor.north, started);
    assert_eq!(corridor.scan_at(corridor.south, started + TimeDelta::seconds(50))["check_name"], false);
    corridor.scan_at(corridor.south, started + TimeDelta::seconds(53));
    assert_eq!(corridor.figures(corridor.south)[0]["repeats"], 0);
}

#[test]
fn without_a_walking_time_nobody_is_asked() {
    let corridor = Corridor::without_walk();
    let started = corridor.hospital.ago(600);
    corridor.scan_at(corridor.north, started);
    assert_eq!(corridor.scan_at(corridor.south, started)["check_name"], false);
    corridor.walk(WALK);
    corridor.walk(0);
    corridor.scan_at(corridor.north, started + TimeDelta::seconds(20));
    assert!(corridor.waiting().is_empty(), "the newest time counts");
    let listed = corridor.coordinator.get("/api/v1/walking_times").ok(200);
    assert_eq!(listed["items"].as_array().unwrap().len(), 1, "one for two gates");
    assert_eq!(listed["items"][0]["seconds"], 0);
}

#[test]
fn what_is_delivered_later_still_finds_its_twin() {
    let corridor = Corridor::set_up();
    let started = corridor.hospital.ago(7200);
    corridor.scan_at(corridor.south, started + TimeDelta::seconds(30));
    let earlier = corridor.scan_at(corridor.north, started);
    assert_eq!(earlier["check_name"], false, "it was the first of the two");
    let waiting = corridor.waiting();
    assert_eq!(
        (&waiting[0]["first"]["gate"], &waiting[0]["second"]["gate"]),
        (&json!("North"), &json!("South"))
    );
}

#[test]
fn a_nervous_hand_gets_the_same_answer_and_counts_once() {
    let corridor = Corridor::set_up();
    let started = corridor.hospital.ago(600);
    corridor.scan_at(corridor.north, started);
    let first = corridor.scan_at(corridor.south, started + TimeDelta::seconds(20));
    let mut second = corridor.scan_at(corridor.south, started + TimeDelta::seconds(24));
    let id = second["id"].clone();
    second["id"] = first["id"].clone();
    assert_eq!(second, first, "the same answer, the name included");
    corridor.scan_at(corridor.south, started + TimeDelta::seconds(31));
    assert_eq!(corridor.figures(corridor.south), json!([{ "answer": "enter", "count": 2, "repeats": 1 }]));
    let auditor = corridor.hospital.signed_in(Role::Auditor);
    let scans = auditor.get(&format!("/api/v1/gates/{}/scans", corridor.south)).ok(200);
    let noted = scans["items"].as_array().unwrap().iter().find(|item| item["id"] == id).unwrap().clone();
    assert!(noted["repeats_at"].is_string(), "and it is noted");
    let lead = corridor.hospital.signed_in(Role::GateLead);
    assert_eq!(
        lead.get(&format!("/api/v1/gates/{}/figures", corridor.south)).ok(200)["items"][0]["count"],
        2
    );
    let path = format!(
        "/api/v1/gates/{}/figures?from=2026-01-02T00:00:00Z&until=2026-01-01T00:00:00Z",
        corridor.south
    );
    lead.get(&path).refused(422, "invalid_value");
}

#[test]
fn two_readings_in_the_same_moment_know_of_each_other_whichever_server_they_come_to() {
    let corridor = Corridor::set_up();
    let second = corridor.hospital.second_server(Limits::default());
    let at = corridor.hospital.ago(60);
    std::thread::scope(|scope| {
        for place in 0..16 {
            let client = if place % 2 == 0 {
                corridor.gatekeeper.clone()
            } else {
                corridor.gatekeeper.at(&second.base())
            };
            let gate = if place < 8 { corridor.north } else { corridor.south };
            let body = json!({ "id": Uuid::now_v7(), "code": corridor.badge["code"], "happened_at": at });
            scope.spawn(move || client.post(&format!("/api/v1/gates/{gate}/scans"), &body).ok(201));
        }
    });
    assert_eq!(corridor.waiting().len(), 1);
    for gate in [corridor.north, corridor.south] {
        assert_eq!(corridor.figures(gate), json!([{ "answer": "enter", "count": 1, "repeats": 7 }]));
    }
    corridor.assert_chain_holds();
}

#[test]
fn a_walk_leads_from_one_gate_of_the_site_to_another() {
    let corridor = Corridor::set_up();
    let body = |other: Uuid, seconds: i64| {
        json!({
            "id": Uuid::now_v7(), "gate_id": corridor.north, "other_gate_id": other, "seconds": seconds,
            "happened_at": corridor.hospital.now(),
        })
    };
    let refused =
        |body: &Value| corridor.coordinator.post("/api/v1/walking_times", body).refused(422, "invalid_value");
    assert_eq!(refused(&body(corridor.north, 10))["field"], "other_gate_id");
    assert_eq!(refused(&body(corridor.south, -1))["field"], "seconds");
    assert_eq!(refused(&body(corridor.south, 86_401))["field"], "seconds");
    let nowhere = body(Uuid::now_v7(), 10);
    corridor.coordinator.post("/api/v1/walking_times", &nowhere).refused(404, "not_found");
    let good = body(corridor.south, 10);
    corridor.coordinator.post("/api/v1/walking_times", &good).ok(201);
    let mut other = good;
    other["seconds"] = json!(11);
    corridor.coordinator.post("/api/v1/walking_times", &other).refused(409, "id_reused");
}
