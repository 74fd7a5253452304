//! What a gate accepts from when on: classes, switches known ahead, two models at once, days without a respirator.

use chrono::{DateTime, SecondsFormat, TimeDelta, Utc};
use sellion_rules::roles::Role;
use sellion_store::audit;
use sellion_tests::harness::{Client, Hospital, day::id_of, respirator_body};
use serde_json::{Value, json};
use uuid::Uuid;

/// A gate, its coordinator, and somebody cleared for one N95 filtering facepiece.
struct Door {
    hospital: Hospital,
    coordinator: Client,
    gate: Uuid,
    respirator: Uuid,
    badge: Value,
}

impl Door {
    fn set_up() -> Self {
        let hospital = Hospital::open();
        let coordinator = hospital.signed_in(Role::Coordinator);
        let (person, respirator) = (hospital.db_named_person("Ines", "Valdrun"), hospital.db_respirator(1));
        hospital.db_clear(person, respirator);
        let badge = hospital.badge(&hospital.signed_in(Role::BadgeDesk), person);
        let gate = hospital.gate("North entrance");
        Self { hospital, coordinator, gate, respirator, badge }
    }

    fn path(&self) -> String {
        format!("/api/v1/gates/{}/policies", self.gate)
    }

    /// A policy in force since a minute ago that accepts these lines, with some members changed.
    fn body(&self, accepts: Value, members: &Value) -> Value {
        let mut body = self.hospital.policy(&[], false);
        body["accepts"] = accepts;
        for (name, value) in members.as_object().into_iter().flatten() {
            body[name] = value.clone();
        }
        body
    }

    fn decide(&self, accepts: Value, members: &Value) -> Value {
        self.coordinator.post(&self.path(), &self.body(accepts, members)).ok(201)
    }

    /// The answer just now, to somebody who has just signed in.
    fn answer(&self) -> Value {
        self.hospital.scan(
            &self.hospital.signed_in(Role::Gate),
            self.gate,
            self.badge["code"].as_str().unwrap(),
        )
    }

    fn hours_ahead(&self, hours: i64) -> DateTime<Utc> {
        self.hospital.now() + TimeDelta::hours(hours)
    }

    fn assert_chain_holds(&self) {
        let report = audit::verify(&mut self.hospital.db(), self.hospital.site_id, |_, _| {}).unwrap();
        assert!(report.broken.is_none(), "{report:?}");
    }
}

#[test]
fn a_class_counts_whatever_is_listed_of_it_when_the_badge_is_read() {
    let door = Door::set_up();
    let policy =
        door.decide(json!([{ "facepiece": "filtering_facepiece", "filter_class": "n95" }]), &json!({}));
    assert_eq!(policy["accepts"], json!([{ "facepiece": "filtering_facepiece", "filter_class": "n95" }]));
    let answer = door.answer();
    assert_eq!(
        (&answer["answer"], &answer["respirator"]),
        (&json!("enter"), &json!("Orlevane model 1 fold medium"))
    );

    door.decide(json!([{ "facepiece": "half_mask" }]), &json!({}));
    assert_eq!(door.answer()["answer"], "not_cleared", "nothing of the class is listed at all");
    let mut listed_later = respirator_body("small");
    (listed_later["facepiece"], listed_later["filter_class"]) = (json!("half_mask"), json!("P100/OV"));
    let later = id_of(&door.coordinator.post("/api/v1/respirators", &listed_later).ok(201));
    assert_eq!(door.answer()["answer"], "not_cleared");
    door.hospital.db_clear(door.badge["person_id"].as_str().unwrap().parse().unwrap(), later);
    assert_eq!(door.answer()["answer"], "enter", "listed after the policy was decided");
    let path = format!("/api/v1/respirators/{later}");
    door.coordinator.patch(&path, 1, &json!({ "retired": true })).ok(200);
    assert_eq!(door.answer()["answer"], "not_cleared", "the site does not use it any more");
    door.assert_chain_holds();
}

#[test]
fn a_switch_is_known_ahead_and_the_former_model_counts_for_some_days_more() {
    let door = Door::set_up();
    let next = door.hospital.db_respirator(2);
    let present = door.decide(json!([{ "respirator_id": door.respirator }]), &json!({}));
    let (switch, end) = (door.hours_ahead(10), door.hours_ahead(58));
    let lines = json!([{ "respirator_id": next }, { "respirator_id": door.respirator, "until": end }]);
    let coming = door.decide(lines, &json!({ "effective_from": switch }));
    assert_eq!((&present["standing"], &coming["standing"]), (&json!("present"), &json!("coming")));
    let standings = || {
        let listed = door.hospital.signed_in(Role::Auditor).get(&door.path()).ok(200);
        listed["items"].as_array().unwrap().iter().map(|item| item["standing"].clone()).collect::<Vec<_>>()
    };
    assert_eq!(standings(), ["present", "coming"]);
    for (hours, expected) in [(0, "enter"), (11, "enter"), (46, "enter"), (2, "not_cleared")] {
        door.hospital.clock.shift(TimeDelta::hours(hours));
        assert_eq!(door.answer()["answer"], expected, "{hours} hours later");
    }
    assert_eq!(standings(), ["past", "present"]);
    door.assert_chain_holds();
}

#[test]
fn what_was_known_ahead_can_be_taken_back_before_it_begins() {
    let door = Door::set_up();
    let other = door.hospital.db_respirator(2);
    door.decide(json!([{ "respirator_id": door.respirator }]), &json!({}));
    let switch = json!({ "effective_from": door.hours_ahead(1) });
    let mistaken = door.decide(json!([{ "respirator_id": other }]), &switch);
    door.decide(json!([{ "respirator_id": door.respirator }]), &switch);
    let listed = door.coordinator.get(&door.path()).ok(200);
    let standing = |item: &Value| item["standing"].as_str().unwrap().to_owned();
    let standings: Vec<String> = listed["items"].as_array().unwrap().iter().map(standing).collect();
    assert_eq!(standings, ["present", "past", "coming"]);
    assert_eq!(listed["items"][1]["id"], mistaken["id"], "and it stays readable");
    door.hospital.clock.shift(TimeDelta::hours(2));
    assert_eq!(door.answer()["answer"], "enter");
}

#[test]
fn a_day_without_a_respirator_ends_by_itself() {
    let door = Door::set_up();
    let other = door.hospital.db_respirator(2);
    let until = json!({ "none_needed": true, "none_needed_until": door.hours_ahead(8) });
    let policy = door.decide(json!([{ "respirator_id": other }]), &until);
    assert_eq!(policy["none_needed_until"], until["none_needed_until"]);
    let answer = door.answer();
    assert_eq!(answer["answer"], "enter");
    assert!(answer["instruction"].as_str().unwrap().starts_with("No respirator is needed here now."));
    door.hospital.clock.shift(TimeDelta::hours(9));
    assert_eq!(door.answer()["answer"], "not_cleared");
}

#[test]
fn when_nobody_can_tell_the_gate_shows_its_written_fallback() {
    let door = Door::set_up();
    let fallback = "Call the shift lead on 4410.";
    door.decide(json!([{ "respirator_id": door.respirator }]), &json!({ "fallback": fallback }));
    let person = door.badge["person_id"].as_str().unwrap().parse().unwrap();
    door.hospital.db_clearance(person, door.respirator, "held", door.hours_ahead(24));
    let body =
        json!({ "id": Uuid::now_v7(), "code": door.badge["code"], "happened_at": door.hospital.now() });
    let gatekeeper = door.hospital.signed_in(Role::Gate);
    let path = format!("/api/v1/gates/{}/scans", door.gate);
    let answer = gatekeeper.post(&path, &body).ok(201);
    assert_eq!(answer["answer"], "cannot_confirm");
    let instruction = answer["instruction"].as_str().unwrap();
    assert!(instruction.ends_with(fallback), "{instruction}");
    assert!(!instruction.contains("held"), "{instruction}");
    door.decide(json!([{ "respirator_id": door.respirator }]), &json!({ "fallback": "Another one." }));
    assert_eq!(gatekeeper.post(&path, &body).ok(201), answer, "a repeat gets what was told");
}

#[test]
fn a_policy_says_what_it_accepts() {
    let door = Door::set_up();
    let own = json!({ "respirator_id": door.respirator });
    let refuse = |accepts: Value, members: Value, field: &str| {
        let problem =
            door.coordinator.post(&door.path(), &door.body(accepts, &members)).refused(422, "invalid_value");
        assert_eq!(problem["field"], field);
    };
    refuse(json!([]), json!({}), "accepts");
    refuse(json!([own, own]), json!({}), "accepts[1]");
    refuse(json!([own, {}]), json!({}), "accepts[1]");
    refuse(json!([{ "respirator_id": Uuid::now_v7() }]), json!({}), "accepts[0].respirator_id");
    refuse(
        json!([{ "respirator_id": door.respirator, "filter_class": "N95" }]),
        json!({}),
        "accepts[0].respirator_id",
    );
    refuse(json!([own, { "filter_class": "N59" }]), json!({}), "accepts[1].filter_class");
    refuse(
        json!([own, { "filter_class": "P100", "until": door.hospital.ago(3600) }]),
        json!({}),
        "accepts[1].until",
    );
    refuse(json!([{ "filter_class": "P100", "until": door.hours_ahead(1) }]), json!({}), "accepts");
    for seconds in [0, -1, 864_001] {
        refuse(json!([own]), json!({ "knowledge_age_max_seconds": seconds }), "knowledge_age_max_seconds");
    }
    refuse(json!([own]), json!({ "effective_from": door.hospital.ago(3600) }), "effective_from");
    refuse(json!([own]), json!({ "none_needed_until": door.hours_ahead(1) }), "none_needed_until");
    refuse(json!([own]), json!({ "fallback": " " }), "fallback");
    refuse(json!([own]), json!({ "leads": ["Ada Brennick", "Ada Brennick"] }), "leads");
    refuse(json!([own]), json!({ "leads": [""] }), "leads");
    let problem =
        door.coordinator.post(&door.path(), &door.body(json!([{ "facepiece": "hat" }]), &json!({})));
    problem.refused(400, "bad_json");
    let ahead = json!({ "happened_at": door.hours_ahead(1), "effective_from": door.hours_ahead(2) });
    door.coordinator.post(&door.path(), &door.body(json!([own]), &ahead)).refused(422, "happened_in_future");
    assert_eq!(door.coordinator.get(&door.path()).ok(200)["items"], json!([]), "nothing of it was stored");
    let first = door.body(json!([{ "filter_class": "P100" }]), &json!({ "leads": [] }));
    assert_eq!(door.coordinator.post(&door.path(), &first).ok(201)["leads"], json!([]), "any name will do");
    let mut other = first.clone();
    other["accepts"] = json!([{ "filter_class": "N95" }]);
    door.coordinator.post(&door.path(), &other).refused(409, "id_reused");
    other = first;
    other["leads"] = json!(["Ada Brennick"]);
    door.coordinator.post(&door.path(), &other).refused(409, "id_reused");
}

#[test]
fn the_members_of_a_class_stay_known_as_they_were() {
    let hospital = Hospital::open();
    let (coordinator, auditor) = (hospital.signed_in(Role::Coordinator), hospital.signed_in(Role::Auditor));
    let respirator = id_of(&hospital.respirator("M"));
    let person = id_of(&hospital.permitted_person("0047"));
    let gate = hospital.gate("East door");
    let mut policy = hospital.policy(&[], false);
    policy["accepts"] = json!([{ "filter_class": "N95" }]);
    coordinator.post(&format!("/api/v1/gates/{gate}/policies"), &policy).ok(201);
    let _ = hospital.passes(person, respirator);
    let evening = hospital.now();
    let cleared = |at: DateTime<Utc>, known_at: DateTime<Utc>| {
        let text = |moment: DateTime<Utc>| moment.to_rfc3339_opts(SecondsFormat::Micros, true);
        let query = format!("at={}&known_at={}", text(at), text(known_at));
        let found = auditor.get(&format!("/api/v1/gates/{gate}/clearances?{query}")).ok(200);
        found["items"].as_array().unwrap().len()
    };
    assert_eq!(cleared(evening, evening), 1);
    hospital.clock.shift(TimeDelta::minutes(10));
    let path = format!("/api/v1/respirators/{respirator}");
    coordinator.patch(&path, 1, &json!({ "filter_class": "P95" })).ok(200);
    let now = hospital.now();
    assert_eq!(cleared(evening, now), 0, "as known now, it never was of that class");
    assert_eq!(cleared(evening, evening), 1, "as known then");
    hospital.clock.shift(TimeDelta::minutes(10));
    coordinator.patch(&path, 2, &json!({ "filter_class": "N95", "retired": true })).ok(200);
    assert_eq!(cleared(evening, hospital.now()), 1);
    assert_eq!(cleared(hospital.now(), hospital.now()), 0, "out of use by then");
    assert_eq!(cleared(evening, now), 0, "as known in between");
}
