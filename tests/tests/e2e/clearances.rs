//! Clearances as facts come in: fails, corrections, stopped lots, permissions, and the two clocks of a question.

use chrono::{DateTime, SecondsFormat, TimeDelta, Utc};
use sellion_rules::roles::Role;
use sellion_tests::harness::{Client, Hospital, day::id_of, taste::Ending};
use serde_json::{Value, json};
use uuid::Uuid;

fn moment(at: DateTime<Utc>) -> String {
    at.to_rfc3339_opts(SecondsFormat::Micros, true)
}

/// A person and a respirator they may be tested on.
struct Case {
    person: Uuid,
    respirator: Uuid,
    coordinator: Client,
}

fn case(hospital: &Hospital) -> Case {
    Case {
        person: id_of(&hospital.permitted_person("0047")),
        respirator: id_of(&hospital.respirator("M")),
        coordinator: hospital.signed_in(Role::Coordinator),
    }
}

impl Case {
    fn items(&self, query: &str) -> Vec<Value> {
        let path = format!("/api/v1/people/{}/clearances{query}", self.person);
        self.coordinator.get(&path).ok(200)["items"].as_array().unwrap().clone()
    }

    /// The one clearance there is: its state and its reasons.
    fn is(&self, query: &str, state: &str, reasons: &[&str]) {
        let items = self.items(query);
        assert_eq!(items.len(), 1, "{items:?}");
        assert_eq!(items[0]["state"], state, "{items:?}");
        assert_eq!(items[0]["reasons"], json!(reasons), "{items:?}");
    }

    fn correct(&self, attempt: &Value, at: DateTime<Utc>) -> Value {
        let body =
            json!({ "id": Uuid::now_v7(), "reason": "Wrong person at the station.", "happened_at": at });
        let path = format!("/api/v1/attempts/{}/corrections", id_of(attempt));
        self.coordinator.post(&path, &body).ok(201)
    }
}

/// What the gates read of one person: state by respirator.
fn cached(hospital: &Hospital, person: Uuid) -> Vec<(Uuid, String)> {
    use diesel::prelude::*;
    diesel::table! {
        clearances (person_id, respirator_id) { person_id -> Uuid, respirator_id -> Uuid, state -> Text, }
    }
    let rows = clearances::table.filter(clearances::person_id.eq(person));
    rows.select((clearances::respirator_id, clearances::state)).load(&mut hospital.db()).unwrap()
}

#[test]
fn a_new_fail_ends_an_older_pass_at_once_and_a_late_entry_of_an_older_one_does_not() {
    let hospital = Hospital::open();
    let case = case(&hospital);
    let _ = hospital.passes(case.person, case.respirator);
    case.is("", "cleared", &[]);
    let failed_before = hospital.tests(case.person, case.respirator, Ending::Fail, hospital.ago(3000));
    assert_eq!(failed_before["state"]["verdict"]["outcome"], "fail");
    case.is("", "cleared", &[]);
    hospital.clock.shift(TimeDelta::hours(1));
    let _ = hospital.tests(case.person, case.respirator, Ending::Fail, hospital.ago(1200));
    case.is("", "not_cleared", &["newest_is_fail"]);
    assert_eq!(cached(&hospital, case.person), [(case.respirator, "not_cleared".to_owned())]);
}

#[test]
fn the_same_question_is_answered_as_known_then_and_as_known_now() {
    let hospital = Hospital::open();
    let case = case(&hospital);
    let before = hospital.now();
    hospital.clock.shift(TimeDelta::hours(2));
    // A late entry: it happened before it was known.
    let attempt = hospital.tests(case.person, case.respirator, Ending::Pass, before + TimeDelta::seconds(1));
    let after = hospital.now();
    let in_between = before + TimeDelta::hours(1);
    let then = format!("?at={}&known_at={}", moment(in_between), moment(in_between));
    assert!(case.items(&then).is_empty(), "nothing was known of it");
    case.is(&format!("?at={}", moment(in_between)), "cleared", &[]);

    hospital.clock.shift(TimeDelta::hours(1));
    let corrected = case.correct(&attempt, hospital.now());
    assert_eq!(corrected["correction"]["reason"], "Wrong person at the station.");
    case.is("", "not_cleared", &["never_tested"]);
    case.is(&format!("?at={}&known_at={}", moment(after), moment(after)), "cleared", &[]);
    case.is(&format!("?at={}", moment(after)), "not_cleared", &["never_tested"]);
}

#[test]
fn an_attempt_is_corrected_once_and_only_after_its_end() {
    let hospital = Hospital::open();
    let case = case(&hospital);
    let passed = hospital.passes(case.person, case.respirator);
    let path = format!("/api/v1/attempts/{}/corrections", id_of(&passed));
    let body = json!({ "id": Uuid::now_v7(), "reason": "Wrong person.", "happened_at": hospital.now() });
    hospital.signed_in(Role::Tester).post(&path, &body).refused(403, "wrong_role");
    let mut empty = body.clone();
    empty["reason"] = json!("  ");
    case.coordinator.post(&path, &empty).refused(422, "invalid_value");
    let first = case.coordinator.post(&path, &body).ok(201);
    assert_eq!(first["next_step"]["step"], "attempt", "the person is tested again");
    assert_eq!(case.coordinator.post(&path, &body).ok(201)["correction"], first["correction"]);
    let mut changed = body.clone();
    changed["reason"] = json!("Another reason.");
    case.coordinator.post(&path, &changed).refused(409, "id_reused");
    let second = json!({ "id": Uuid::now_v7(), "reason": "Once more.", "happened_at": hospital.now() });
    case.coordinator.post(&path, &second).refused(409, "already_corrected");

    let start = hospital.ago(1200);
    let room = hospital.room(start);
    let visit = room.check_in(case.person, start);
    let screening = room.screens(&visit, Some(10), start);
    let attempt = room.attempt(&visit, case.respirator, &screening, start + TimeDelta::seconds(60));
    let open = room.tester.post("/api/v1/attempts", &attempt).ok(201);
    let path = format!("/api/v1/attempts/{}/corrections", id_of(&open));
    case.coordinator.post(&path, &second).refused(422, "attempt_open");
}

#[test]
fn a_stopped_lot_holds_what_stands_on_it_and_its_release_restores_it() {
    let hospital = Hospital::open();
    let case = case(&hospital);
    let start = hospital.ago(1200);
    let room = hospital.room(start);
    let lots = room.fill_with("saccharin", start);
    let visit = room.check_in(case.person, start);
    let screening = room.screens(&visit, Some(10), start);
    let at = start + TimeDelta::seconds(60);
    let _ = room.tests(&visit, case.respirator, &screening, Ending::Pass, at);
    // The lot of the screening counts as well: a weak screening solution makes every dose too strong or too weak.
    for lot in [lots.0, lots.1] {
        let mark = |what: &str| {
            let body = json!({ "id": Uuid::now_v7(), "reason": "Recalled by the maker.", "happened_at": hospital.now() });
            case.coordinator.post(&format!("/api/v1/lots/{}/{what}", id_of(&lot)), &body).ok(201);
        };
        mark("stops");
        case.is("", "held", &["lot_stopped"]);
        assert_eq!(cached(&hospital, case.person), [(case.respirator, "held".to_owned())]);
        mark("releases");
        case.is("", "cleared", &[]);
        assert_eq!(cached(&hospital, case.person), [(case.respirator, "cleared".to_owned())]);
    }
}

#[test]
fn a_decision_of_the_clinician_is_followed_at_once() {
    let hospital = Hospital::open();
    let case = case(&hospital);
    let _ = hospital.passes(case.person, case.respirator);
    let clinician = hospital.signed_in(Role::Clinician);
    let person = json!({ "id": case.person });
    let _ = hospital.decision(&clinician, &person, "not_now");
    case.is("", "not_cleared", &["no_permission"]);
    assert_eq!(cached(&hospital, case.person), [(case.respirator, "not_cleared".to_owned())]);
    let _ = hospital.decision(&clinician, &person, "permitted");
    case.is("", "cleared", &[]);
    assert_eq!(cached(&hospital, case.person), [(case.respirator, "cleared".to_owned())]);
}

#[test]
fn a_clearance_ends_with_its_due_day() {
    // 29 CFR 1910.134(f)(2): at least annually.
    let hospital = Hospital::open();
    let case = case(&hospital);
    let _ = hospital.passes(case.person, case.respirator);
    let ahead = |days| format!("?at={}", moment(hospital.now() + TimeDelta::days(days)));
    case.is(&ahead(364), "cleared", &[]);
    case.is(&ahead(367), "not_cleared", &["overdue"]);
}

#[test]
fn clearances_are_only_for_those_entitled() {
    let hospital = Hospital::open();
    let case = case(&hospital);
    let path = format!("/api/v1/people/{}/clearances", case.person);
    hospital.signed_in(Role::Storekeeper).get(&path).refused(403, "wrong_role");
    hospital.signed_in(Role::Gate).get(&path).refused(403, "wrong_role");
    let stranger = hospital.signed_in_at(hospital.another_site("Fenwick"), &[Role::Coordinator]);
    stranger.get(&path).refused(404, "not_found");
    stranger.get(&format!("/api/v1/gates/{}/clearances", Uuid::now_v7())).refused(404, "not_found");
}
