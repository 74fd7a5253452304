//! Badges that nobody came for: a list, and gates that do not open to them where the site says so.

use std::time::{Duration, Instant};

use chrono::TimeDelta;
use diesel::RunQueryDsl;
use sellion_badge::{
    KeyRing, Pack, Read,
    pack::Moment,
    status_list::{Status, read},
};
use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Client, Hospital,
    day::{id_of, time_of},
};
use serde_json::{Value, json};
use uuid::Uuid;

/// A site with a gate, and one person's badge that lies at the desk.
struct Site {
    hospital: Hospital,
    desk: Client,
    gatekeeper: Client,
    gate: Uuid,
    device: Client,
    badge: Value,
    version: i64,
}

impl Site {
    fn open() -> Self {
        let hospital = Hospital::open();
        let (desk, gatekeeper) = (hospital.signed_in(Role::BadgeDesk), hospital.signed_in(Role::Gate));
        let (person, respirator) = (hospital.db_named_person("Ines", "Valdrun"), hospital.db_respirator(1));
        hospital.db_clear(person, respirator);
        let gate = hospital.gate_accepting("North entrance", &[respirator]);
        let badge = hospital.badge(&desk, person);
        let device = hospital.gate_device(gate);
        Self { hospital, desk, gatekeeper, gate, device, badge, version: 1 }
    }

    fn decides(&mut self, change: &Value) -> Value {
        let admin = self.hospital.signed_in(Role::Admin);
        let site = admin.patch("/api/v1/sites/current", self.version, change).ok(200);
        self.version = site["version"].as_i64().unwrap();
        site
    }

    /// Some days later. Everybody signs in again: sessions end.
    fn days_later(&mut self, days: i64) {
        self.hospital.clock.shift(TimeDelta::days(days));
        self.desk = self.hospital.signed_in(Role::BadgeDesk);
        self.gatekeeper = self.hospital.signed_in(Role::Gate);
    }

    fn unclaimed(&self) -> Vec<Value> {
        self.desk.get("/api/v1/unclaimed_badges").ok(200)["items"].as_array().unwrap().clone()
    }

    fn hands_over(&self) {
        let body = json!({ "id": Uuid::now_v7(), "happened_at": self.hospital.now() });
        self.desk.post(&format!("/api/v1/badges/{}/hand_overs", id_of(&self.badge)), &body).ok(201);
    }

    fn pack(&self) -> Pack {
        let keys = self.hospital.nobody().get("/.well-known/jwks.json").text();
        let reply = self.device.get("/api/v1/gate_pack");
        assert_eq!(reply.status, 200, "{}", reply.text());
        Pack::open(&KeyRing::from_jwks(&keys).unwrap(), &reply.text()).unwrap()
    }

    /// The server and a gate alone say the same.
    #[track_caller]
    fn gates_say(&self, answer: &str) {
        let code = self.badge["code"].as_str().unwrap();
        assert_eq!(self.hospital.scan(&self.gatekeeper, self.gate, code)["answer"], answer);
        let at = self.hospital.now();
        let moment = Moment { at, known_at: at, clock_trusted: true };
        let told = self.pack().answer(&Read::code(code), moment).unwrap();
        assert_eq!(told.decision.answer.as_str(), answer, "a gate alone");
    }

    /// The signed status list comes to say so within a second.
    #[track_caller]
    fn list_says(&self, wanted: Status) {
        let issuer = &self.hospital.site_id.simple().to_string()[20..];
        let ring = KeyRing::from_jwks(&self.hospital.nobody().get("/.well-known/jwks.json").text()).unwrap();
        let begun = Instant::now();
        loop {
            let token = self.hospital.nobody().get(&format!("/api/v1/status_lists/{issuer}")).text();
            let found = read(&ring, &token, issuer, self.hospital.now()).unwrap().status(0);
            if found == Some(wanted) {
                return;
            }
            assert!(begun.elapsed() < Duration::from_secs(5), "still {found:?}");
        }
    }
}

#[test]
fn a_badge_that_nobody_came_for_is_listed_after_a_week() {
    let mut site = Site::open();
    assert!(site.unclaimed().is_empty());
    site.days_later(6);
    assert!(site.unclaimed().is_empty());
    site.days_later(1);
    let listed = site.unclaimed();
    assert_eq!((listed.len(), &listed[0]["serial"]), (1, &site.badge["serial"]));
    let waited = time_of(&listed[0]["unclaimed_since"]) - time_of(&listed[0]["made_at"]);
    assert!((0..2).contains(&(TimeDelta::days(7) - waited).num_seconds()), "{waited}");
    site.gates_say("enter");
    site.hands_over();
    assert!(site.unclaimed().is_empty());
}

#[test]
fn the_site_says_after_how_many_days() {
    let mut site = Site::open();
    let changed = site.decides(&json!({ "unclaimed_after_days": 2 }));
    assert_eq!((&changed["unclaimed_after_days"], &changed["found_badges"]), (&json!(2), &json!("hold")));
    site.days_later(2);
    assert_eq!(site.unclaimed().len(), 1);
    let back = site.decides(&json!({ "unclaimed_after_days": null }));
    assert_eq!(back["unclaimed_after_days"], 7);
    assert!(site.unclaimed().is_empty());
    let admin = site.hospital.signed_in(Role::Admin);
    for days in [-1, 367] {
        let asked = json!({ "unclaimed_after_days": days });
        admin.patch("/api/v1/sites/current", site.version, &asked).refused(422, "invalid_value");
    }
}

#[test]
fn where_the_site_says_so_an_unclaimed_badge_opens_no_gate_until_it_is_handed_over() {
    let mut site = Site::open();
    let changed = site.decides(&json!({ "unclaimed_badges_open_gates": false }));
    assert_eq!(changed["unclaimed_badges_open_gates"], false);
    site.gates_say("enter");
    site.list_says(Status::Valid);
    let early = site.pack();
    site.days_later(7);
    site.gates_say("cannot_confirm");
    // Whoever reads only the list takes it for held.
    site.list_says(Status::Held);
    // The pack of a week ago knew the moment.
    let at = site.hospital.now();
    let read = Read::code(site.badge["code"].as_str().unwrap());
    let told = early.answer(&read, Moment { at, known_at: at, clock_trusted: true }).unwrap();
    assert_eq!(told.decision.answer.as_str(), "cannot_confirm");
    assert!(!told.decision.instruction.contains("claim"), "the guard hears no reason");

    site.hands_over();
    site.gates_say("enter");
    site.list_says(Status::Valid);
}

#[test]
fn with_no_days_at_all_a_badge_opens_gates_only_once_it_is_handed_over() {
    let mut site = Site::open();
    let before = site.pack();
    site.decides(&json!({ "unclaimed_badges_open_gates": false, "unclaimed_after_days": 0 }));
    site.gates_say("cannot_confirm");
    let knowing = site.pack();
    // A badge that is younger than the pack: nobody can have handed it over, as far as this gate knows.
    let person = site.hospital.db_named_person("Oda", "Brennick");
    let respirator: Uuid = site.badge["respirators"][0]["respirator_id"].as_str().unwrap().parse().unwrap();
    site.hospital.db_clear(person, respirator);
    let younger = site.hospital.badge(&site.desk, person);
    let read = Read::code(younger["code"].as_str().unwrap());
    let at = site.hospital.now();
    let moment = Moment { at, known_at: at, clock_trusted: true };
    let said = |pack: &Pack| pack.answer(&read, moment).unwrap().decision.answer.as_str();
    assert_eq!((said(&knowing), said(&before)), ("cannot_confirm", "enter"));
    site.hands_over();
    site.gates_say("enter");
    site.decides(&json!({ "unclaimed_badges_open_gates": true }));
    let said = site.hospital.scan(&site.gatekeeper, site.gate, younger["code"].as_str().unwrap());
    assert_eq!(said["answer"], "enter");
}

#[test]
fn a_hand_over_makes_packs_and_lists_new() {
    let site = Site::open();
    let version = || -> i64 {
        #[derive(diesel::QueryableByName)]
        struct Row {
            #[diesel(sql_type = diesel::sql_types::BigInt)]
            version: i64,
        }
        let row: Row = diesel::sql_query("select version from status_versions")
            .get_result(&mut site.hospital.db())
            .unwrap();
        row.version
    };
    let before = version();
    site.hands_over();
    assert_eq!(version(), before + 1);
}
