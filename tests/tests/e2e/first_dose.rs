//! What came up between the opening of an attempt and its first dose, and bottles that expired before the opening.

use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Client, Hospital,
    day::{id_of, lot_body, time_of},
    hours::before_midnight,
    permissions_path,
    taste::{FIRST_DOSE, Script, events_path},
};
use serde_json::{Value, json};
use uuid::Uuid;

fn seconds(count: i64) -> TimeDelta {
    TimeDelta::seconds(count)
}

fn answer(desk: &Client, visit: &Value, at: DateTime<Utc>, changed: (&str, Value)) {
    let mut answers = json!({ "hair_at_seal": false, "feels_well": true, "face_changed": false });
    answers[changed.0] = changed.1;
    let body = json!({ "id": Uuid::now_v7(), "answers": answers, "happened_at": at });
    desk.post(&format!("/api/v1/visits/{}/answers", id_of(visit)), &body).ok(201);
}

#[test]
fn what_was_answered_after_the_opening_counts_at_the_first_dose() {
    // 29 CFR 1910.134 App. A I.A.9 (fact 2.11), I.B.3(b)(1) (fact 3.39).
    let hospital = Hospital::open();
    let start = hospital.ago(3600);
    let room = hospital.room(start);
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), start);
    let screening = room.screens(&visit, Some(10), start);
    let at = start + seconds(120);
    let body = room.attempt(&visit, id_of(&hospital.respirator("M")), &screening, at);
    let attempt = room.tester.post("/api/v1/attempts", &body).ok(201);
    let begun = |late: i64| {
        let script = Script::from(at).fitted().dose(late, 10);
        room.tester.post(&events_path(&attempt), &script.body())
    };

    answer(&room.desk, &visit, at + seconds(60), ("hair_at_seal", json!(true)));
    let problem = begun(0).refused(422, "hair_at_seal");
    assert_eq!(problem["seq"], 4, "the dose");
    answer(&room.desk, &visit, at + seconds(70), ("feels_well", json!(false)));
    assert_eq!(begun(0).refused(422, "visit_not_open")["hold"], "not_well");
    let gum = at - seconds(300);
    answer(&room.desk, &visit, at + seconds(80), ("last_intake_at", json!(gum)));
    let problem = begun(0).refused(422, "intake_too_recent");
    assert_eq!(time_of(&problem["earliest_start"]), gum + TimeDelta::minutes(15));

    // What is answered after the dose does not concern it.
    let in_time = 600 - FIRST_DOSE;
    answer(&room.desk, &visit, at + seconds(601), ("hair_at_seal", json!(true)));
    begun(in_time - 1).refused(422, "intake_too_recent");
    assert_eq!(begun(in_time).ok(200)["state"]["phase"], "testing");
}

#[test]
fn a_permission_taken_back_before_the_first_dose_stops_it() {
    // 29 CFR 1910.134(e)(1) (fact 1.6).
    let hospital = Hospital::open();
    let start = hospital.now() + seconds(60);
    let person = hospital.permitted_person("0047");
    hospital.clock.shift(TimeDelta::hours(1));
    let room = hospital.room(start);
    let visit = room.check_in(id_of(&person), start);
    let screening = room.screens(&visit, Some(10), start);
    let at = start + seconds(120);
    let body = room.attempt(&visit, id_of(&hospital.respirator("M")), &screening, at);
    let attempt = room.tester.post("/api/v1/attempts", &body).ok(201);
    let decided = json!({
        "id": Uuid::now_v7(), "decision": "not_now", "happened_at": at + seconds(FIRST_DOSE),
        "valid_from": (hospital.now() - TimeDelta::days(7)).date_naive(),
    });
    hospital.signed_in(Role::Clinician).post(&permissions_path(&person), &decided).ok(201);
    let begun = |late: i64| {
        let script = Script::from(at).fitted().dose(late, 10);
        room.tester.post(&events_path(&attempt), &script.body())
    };
    begun(0).refused(422, "permission_missing");
    // A dose given before the decision was given with permission.
    assert_eq!(begun(-1).ok(200)["state"]["phase"], "testing");
}

#[test]
fn an_attempt_is_not_opened_on_a_bottle_that_has_expired() {
    // The printed expiry ends with its day (common practice, no source).
    let hospital = Hospital::open();
    let filled = before_midnight(&hospital);
    let room = hospital.room(filled - seconds(60));
    let last_day = filled.with_timezone(&chrono_tz::Europe::Lisbon).date_naive().to_string();
    let lot = lot_body("saccharin", "test", &last_day, hospital.ago(7200));
    let lot = hospital.signed_in(Role::Storekeeper).post("/api/v1/lots", &lot).ok(201);
    let _ = hospital.fill(&room.station, &hospital.opened_bottle(&lot), "expiring test", filled);
    hospital.clock.shift(TimeDelta::hours(1));

    let start = filled + seconds(180);
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), start);
    let screening = room.screens(&visit, Some(10), start);
    let body = room.attempt(&visit, id_of(&hospital.respirator("M")), &screening, start + seconds(120));
    room.tester.post("/api/v1/attempts", &body).refused(422, "bottle_expired");
    let _ = room.fill_with("saccharin", start + seconds(100));
    room.tester.post("/api/v1/attempts", &body).ok(201);
}
