//! From check-in to the gate, through HTTP alone: what happens later changes the very next answer.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_store::{audit, replay};
use sellion_tests::harness::{
    Client, Hospital,
    day::id_of,
    taste::{Ending, Room},
    tells,
};
use serde_json::{Value, json};
use uuid::Uuid;

/// One person who passed, with a badge, in front of a gate where the respirator is in use.
struct Passed<'h> {
    hospital: &'h Hospital,
    room: Room<'h>,
    /// The lots of the screening and the test solution.
    lots: (Value, Value),
    coordinator: Client,
    gatekeeper: Client,
    person: Value,
    respirator: Uuid,
    gate: Uuid,
    attempt: Value,
    badge: Value,
}

impl<'h> Passed<'h> {
    fn on(hospital: &'h Hospital) -> Self {
        let person = hospital.permitted_person("0047192");
        let respirator = id_of(&hospital.respirator("small"));
        let room = hospital.room(hospital.ago(4000));
        let at = hospital.ago(3600);
        // A second filling of both nebulizers, whose lots are known here.
        let lots = room.fill_with("saccharin", at);
        let visit = room.check_in(id_of(&person), at);
        let screening = room.screens(&visit, Some(10), at);
        let attempt = room.tests(&visit, respirator, &screening, Ending::Pass, at + TimeDelta::seconds(120));
        assert_eq!(attempt["state"]["verdict"]["outcome"], "pass", "{attempt}");
        let badge = hospital.badge(&hospital.signed_in(Role::BadgeDesk), id_of(&person));
        let gate = hospital.gate_accepting("Heron", &[respirator]);
        let coordinator = hospital.signed_in(Role::Coordinator);
        let gatekeeper = hospital.signed_in(Role::Gate);
        Self { hospital, room, lots, coordinator, gatekeeper, person, respirator, gate, attempt, badge }
    }

    #[track_caller]
    fn is_answered(&self, word: &str) {
        let code = self.badge["code"].as_str().unwrap();
        let answer = self.hospital.scan(&self.gatekeeper, self.gate, code);
        assert_eq!(answer["answer"], word, "{answer}");
        let told = answer.to_string();
        for secret in ["reason", "permission", "attempt", "\"lot", "fail", "staff", "1988"] {
            assert!(!tells(&told, secret), "a gate is not told about {secret}: {told}");
        }
    }

    /// A word about a lot, with its reason.
    fn mark(&self, lot: &Value, what: &str) {
        let body = json!({ "id": Uuid::now_v7(), "reason": "a call from the maker", "happened_at": self.hospital.now() });
        let storekeeper = self.hospital.signed_in(Role::Storekeeper);
        storekeeper.post(&format!("/api/v1/lots/{}/{what}", id_of(lot)), &body).ok(201);
    }
}

#[test]
fn who_passed_may_enter_and_the_badge_prints() {
    let hospital = Hospital::open();
    let passed = Passed::on(&hospital);
    passed.is_answered("enter");
    let sheet = json!({ "layout": "card", "badge_ids": [passed.badge["id"]] });
    let pdf = hospital.signed_in(Role::BadgeDesk).post("/api/v1/badge_sheets", &sheet);
    assert_eq!((pdf.status, &pdf.body[..5]), (200, &b"%PDF-"[..]));
}

#[test]
fn a_new_fail_ends_the_older_pass_at_the_next_scan() {
    let hospital = Hospital::open();
    let passed = Passed::on(&hospital);
    passed.is_answered("enter");
    hospital.tests(id_of(&passed.person), passed.respirator, Ending::Fail, hospital.ago(1200));
    passed.is_answered("not_cleared");
    hospital.badge_is_refused(id_of(&passed.person));
}

#[test]
fn a_void_attempt_changes_nothing_at_the_gate() {
    let hospital = Hospital::open();
    let passed = Passed::on(&hospital);
    hospital.tests(id_of(&passed.person), passed.respirator, Ending::Void, hospital.ago(1200));
    passed.is_answered("enter");
}

#[test]
fn an_ended_permission_ends_the_clearance_and_a_new_one_brings_it_back() {
    let hospital = Hospital::open();
    let passed = Passed::on(&hospital);
    let clinician = hospital.signed_in(Role::Clinician);
    let _ = hospital.decision(&clinician, &passed.person, "not_now");
    passed.is_answered("not_cleared");
    let _ = hospital.decision(&clinician, &passed.person, "permitted");
    passed.is_answered("enter");
}

#[test]
fn a_stopped_lot_holds_the_clearances_that_stand_on_it_until_it_is_released() {
    let hospital = Hospital::open();
    let passed = Passed::on(&hospital);
    for lot in [&passed.lots.0, &passed.lots.1] {
        passed.mark(lot, "stops");
        passed.is_answered("cannot_confirm");
        passed.mark(lot, "releases");
        passed.is_answered("enter");
    }
}

#[test]
fn a_withdrawn_attempt_does_not_count_any_more() {
    let hospital = Hospital::open();
    let passed = Passed::on(&hospital);
    let body = json!({ "id": Uuid::now_v7(), "reason": "another person was in the chair", "happened_at": hospital.now() });
    let path = format!("/api/v1/attempts/{}/corrections", id_of(&passed.attempt));
    passed.coordinator.post(&path, &body).ok(201);
    passed.is_answered("not_cleared");
}

#[test]
fn who_has_left_is_not_cleared_and_a_badge_that_was_lost_is_not_valid() {
    let hospital = Hospital::open();
    let passed = Passed::on(&hospital);
    let path = format!("/api/v1/people/{}", id_of(&passed.person));
    let version = passed.coordinator.get(&path).ok(200)["version"].as_i64().unwrap();
    let left_on = hospital.ago(2 * 86_400).date_naive();
    passed.coordinator.patch(&path, version, &json!({ "left_on": left_on })).ok(200);
    passed.is_answered("not_cleared");
    let body = json!({ "id": Uuid::now_v7(), "reason": "lost", "happened_at": hospital.now() });
    let path = format!("/api/v1/badges/{}/endings", id_of(&passed.badge));
    hospital.signed_in(Role::BadgeDesk).post(&path, &body).ok(201);
    passed.is_answered("not_valid");
}

#[test]
fn a_clearance_ends_with_its_last_day_in_the_zone_of_the_site() {
    let hospital = Hospital::open();
    let passed = Passed::on(&hospital);
    hospital.clock.shift(TimeDelta::days(364));
    let again = || {
        let gatekeeper = hospital.signed_in(Role::Gate);
        let code = passed.badge["code"].as_str().unwrap();
        hospital.scan(&gatekeeper, passed.gate, code)["answer"].clone()
    };
    // Knowledge of today needs a policy of today: the one in force has no end.
    assert_eq!(again(), "enter");
    hospital.clock.shift(TimeDelta::days(2));
    assert_eq!(again(), "not_valid", "the badge has run out with the last clearance on it");
}

#[test]
fn after_all_of_it_the_chain_holds_and_every_verdict_follows_from_its_events() {
    let hospital = Hospital::open();
    let passed = Passed::on(&hospital);
    hospital.tests(id_of(&passed.person), passed.respirator, Ending::Fail, hospital.ago(1200));
    passed.mark(&passed.lots.1, "stops");
    passed.is_answered("not_cleared");
    let _ = passed.room.day;
    let report = audit::verify(&mut hospital.db(), hospital.site_id, |_, _| ()).unwrap();
    assert!(report.broken.is_none(), "{:?}", report.broken);
    assert!(report.rows > 20, "{report:?}");
    let report = replay::replay(&mut hospital.db(), hospital.site_id, |_, _| ()).unwrap();
    assert_eq!((report.attempts, report.differences), (2, Vec::new()));
}
