//! Attempts over HTTP: a whole pass, its doses by level, and everything an attempt refuses.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Hospital,
    day::{id_of, time_of},
    permissions_path,
    taste::{Ending, FIRST_DOSE, Room, Script, events_path},
};
use serde_json::{Value, json};
use uuid::Uuid;

fn seconds(count: i64) -> TimeDelta {
    TimeDelta::seconds(count)
}

/// A person at the station with a level of ten, and the respirator to be tested.
struct Screened<'h> {
    room: Room<'h>,
    visit: Value,
    screening: Value,
    respirator: Uuid,
    /// When the attempt begins.
    at: chrono::DateTime<chrono::Utc>,
}

fn screened(hospital: &Hospital) -> Screened<'_> {
    let start = hospital.ago(3600);
    let room = hospital.room(start);
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), start);
    let screening = room.screens(&visit, Some(10), start);
    let respirator = id_of(&hospital.respirator("M"));
    Screened { room, visit, screening, respirator, at: start + seconds(120) }
}

impl Screened<'_> {
    fn body(&self) -> Value {
        self.room.attempt(&self.visit, self.respirator, &self.screening, self.at)
    }

    fn open(&self) -> Value {
        self.room.tester.post("/api/v1/attempts", &self.body()).ok(201)
    }

    fn refused(&self, body: &Value, code: &str) -> Value {
        self.room.tester.post("/api/v1/attempts", body).refused(422, code)
    }
}

#[test]
fn a_whole_pass_with_thirteen_later_doses() {
    let hospital = Hospital::open();
    let case = screened(&hospital);
    let opened = case.open();
    let plan = &opened["plan"];
    // 29 CFR 1910.134 App. A I.B.3(b)(9): half of the first number every 30 seconds.
    let doses = &plan["doses"];
    assert_eq!((&doses["first_dose"], &doses["redose"]), (&json!(10), &json!(5)));
    assert_eq!(doses["expected_redoses"], 13);
    assert_eq!(plan["exercises"].as_array().unwrap().len(), 7, "App. A I.A.14(a) without the grimace");
    assert_eq!(opened["state"]["phase"], "fitting");

    let script = Script::from(case.at).attempt(10, Ending::Pass);
    let ended = case.room.tester.post(&events_path(&opened), &script.body()).ok(200);
    let doses = ended["events"].as_array().unwrap().iter().filter(|event| event["kind"] == "dose_given");
    assert_eq!(doses.count(), 14);
    let verdict = &ended["state"]["verdict"];
    assert_eq!((&verdict["outcome"], &verdict["reason"]), (&json!("pass"), &json!("completed")));
    assert_eq!(time_of(&verdict["started_testing_at"]), case.at + seconds(FIRST_DOSE));
    assert_eq!(ended["next_step"]["step"], "done");

    let auditor = hospital.signed_in(Role::Auditor);
    let path = format!("/api/v1/people/{}/clearances", ended["person_id"].as_str().unwrap());
    let clearances = auditor.get(&path).ok(200);
    let clearance = &clearances["items"][0];
    assert_eq!(clearance["state"], "cleared");
    assert_eq!(clearance["respirator_id"], json!(case.respirator));
    assert_eq!(clearance["tested_on"], ended["tested_on"]);
    let day = |member: &str| clearance[member].as_str().unwrap().to_owned();
    // 29 CFR 1910.134(f)(2), in both readings; the earlier one counts.
    assert_eq!(day("due_on"), day("due_anniversary").min(day("due_strict")));
    assert_ne!(day("due_on"), day("tested_on"));

    let visit = case.room.tester.get(&format!("/api/v1/visits/{}", id_of(&case.visit))).ok(200);
    assert_eq!(visit["step"], "done");
    let listed = auditor.get(&format!("/api/v1/attempts?day_id={}", id_of(&case.room.day))).ok(200);
    assert_eq!(listed["items"][0]["verdict"]["outcome"], "pass");
    let nobody = auditor.get(&format!("/api/v1/attempts?person_id={}", Uuid::now_v7())).ok(200);
    assert_eq!(nobody["items"], json!([]));
}

#[test]
fn the_level_sets_every_dose() {
    // 29 CFR 1910.134 App. A I.B.3(b)(6) and (9): 20 then 10, 30 then 15.
    let hospital = Hospital::open();
    for level in [20, 30] {
        let start = hospital.ago(3600);
        let room = hospital.room(start);
        let person = id_of(&hospital.permitted_person(&format!("00{level}")));
        let visit = room.check_in(person, start);
        let screening = room.screens(&visit, Some(level), start);
        let respirator = id_of(&hospital.respirator(&format!("size {level}")));
        let at = start + seconds(120);
        let ended = room.tests(&visit, respirator, &screening, Ending::Pass, at);
        assert_eq!(ended["plan"]["doses"]["redose"], level / 2);
        assert_eq!(ended["state"]["verdict"]["outcome"], "pass");
    }
}

#[test]
fn what_is_too_early_or_too_short_is_refused_and_changes_nothing() {
    let hospital = Hospital::open();
    let case = screened(&hospital);
    let opened = case.open();
    let path = events_path(&opened);
    let refused = |script: &Script, status: u16, code: &str| {
        let problem = case.room.tester.post(&path, &script.body()).refused(status, code);
        let stored = case.room.tester.get(&format!("/api/v1/attempts/{}", id_of(&opened))).ok(200);
        assert_eq!(stored["events"], json!([]), "nothing of a refused batch is stored");
        problem
    };
    let begun = || Script::from(case.at).fitted().dose(0, 10);

    // 29 CFR 1910.134 App. A I.A.12: worn for at least 5 minutes.
    let early = Script::from(case.at).fitted().then(309, json!({ "kind": "dose_given", "squeezes": 10 }));
    assert_eq!(refused(&early, 422, "wear_time_short")["seconds_remaining"], 1);
    refused(&Script::from(case.at).fitted().dose(0, 9), 422, "wrong_dose");
    let before = begun().exercises(1..=1, 5).dose(80, 5);
    assert_eq!(refused(&before, 422, "dose_too_early")["seconds_remaining"], 10);

    // App. A I.A.14(b): each exercise lasts one minute. A pass with a shorter one cannot be claimed.
    let short = begun()
        .then(FIRST_DOSE, json!({ "kind": "exercise_started", "number": 1 }))
        .dose(30, 5)
        .then(FIRST_DOSE + 59, json!({ "kind": "exercise_ended", "number": 1 }));
    assert_eq!(refused(&short, 422, "exercise_too_short")["seconds_remaining"], 1);
    let signed = begun().exercises(1..=6, 5).then(FIRST_DOSE + 370, json!({ "kind": "signed" }));
    refused(&signed, 422, "closing_incomplete");

    let gap = json!({ "events": [{ "seq": 2, "happened_at": case.at, "kind": "doffed" }] });
    let problem = case.room.tester.post(&path, &gap).refused(409, "event_out_of_order");
    assert_eq!(problem["expected_seq"], 1);
}

#[test]
fn events_may_arrive_in_parts_and_twice() {
    let hospital = Hospital::open();
    let case = screened(&hospital);
    let opened = case.open();
    let path = events_path(&opened);
    let begun = Script::from(case.at).fitted().dose(0, 10);
    let state = case.room.tester.post(&path, &begun.body()).ok(200);
    assert_eq!(state["state"]["phase"], "testing");
    assert_eq!(state["state"]["next_dose"]["squeezes"], 5);
    assert_eq!(state["next_step"], json!({ "step": "finish_attempt", "attempt": opened["id"] }));
    let whole = begun.exercises(1..=7, 5).closed();
    let ended = case.room.tester.post(&path, &whole.body()).ok(200);
    assert_eq!(ended["state"]["verdict"]["outcome"], "pass");
    let again = case.room.tester.post(&path, &whole.body()).ok(200);
    assert_eq!(again["state"], ended["state"]);
    let late = whole.then(900, json!({ "kind": "tasted" }));
    let last = late.body()["events"].as_array().unwrap().len();
    let problem = case.room.tester.post(&path, &late.events(last)).refused(422, "attempt_ended");
    assert_eq!(problem["seq"], last);
}

#[test]
fn an_attempt_is_opened_once_and_is_nobody_elses() {
    let hospital = Hospital::open();
    let case = screened(&hospital);
    let body = case.body();
    let opened = case.room.tester.post("/api/v1/attempts", &body).ok(201);
    assert_eq!(case.room.tester.post("/api/v1/attempts", &body).ok(201)["id"], opened["id"]);
    let mut changed = body.clone();
    changed["respirator_id"] = json!(id_of(&hospital.respirator("L")));
    case.room.tester.post("/api/v1/attempts", &changed).refused(409, "id_reused");
    case.refused(&case.body(), "attempt_open");

    let path = format!("/api/v1/attempts/{}", id_of(&opened));
    hospital.signed_in(Role::Storekeeper).get(&path).refused(403, "wrong_role");
    hospital.signed_in(Role::Coordinator).post("/api/v1/attempts", &body).refused(403, "wrong_role");
    let stranger =
        hospital.signed_in_at(hospital.another_site("Fenwick"), &[Role::Tester, Role::Coordinator]);
    stranger.get(&path).refused(404, "not_found");
    let events = Script::from(case.at).fitted().body();
    stranger.post(&format!("{path}/events"), &events).refused(404, "not_found");
    let correction = json!({ "id": Uuid::now_v7(), "reason": "Wrong person.", "happened_at": case.at });
    stranger.post(&format!("{path}/corrections"), &correction).refused(404, "not_found");
    assert_eq!(stranger.get("/api/v1/attempts").ok(200)["items"], json!([]));
}

#[test]
fn what_the_person_or_the_respirator_lacks_is_refused() {
    let hospital = Hospital::open();
    let case = screened(&hospital);
    let other = |member: &str, value: Value| {
        let mut body = case.body();
        body[member] = value;
        body
    };
    let nowhere = |member: &str| {
        let body = other(member, json!(Uuid::now_v7()));
        case.room.tester.post("/api/v1/attempts", &body).refused(404, "not_found");
    };
    nowhere("visit_id");
    nowhere("station_id");
    nowhere("respirator_id");
    nowhere("screening_id");

    // 29 CFR 1910.134(f)(6): a taste test shows a fit factor of 100 at most; a full facepiece is used for more.
    let full = json!({
        "id": Uuid::now_v7(), "make": "Tarn & Vale", "model": "Heron 5", "style": "full", "size": "M",
        "facepiece": "full_facepiece", "filter_class": "P100",
    });
    let full = hospital.signed_in(Role::Coordinator).post("/api/v1/respirators", &full).ok(201);
    let problem = case.refused(&other("respirator_id", full["id"].clone()), "test_method_not_allowed");
    assert_eq!(problem["required_fit_factor"], 500);

    // 29 CFR 1910.134 App. A I.A.9: no test with hair between the skin and the sealing surface.
    let answers = |hair: bool, well: bool| {
        let answers = json!({ "hair_at_seal": hair, "feels_well": well, "face_changed": false });
        let body = json!({ "id": Uuid::now_v7(), "answers": answers, "happened_at": hospital.now() });
        case.room.desk.post(&format!("/api/v1/visits/{}/answers", id_of(&case.visit)), &body).ok(201);
    };
    answers(true, true);
    case.refused(&case.body(), "hair_at_seal");
    answers(false, false);
    assert_eq!(case.refused(&case.body(), "visit_not_open")["hold"], "not_well");
    answers(false, true);

    let person = json!({ "id": case.screening["person_id"] });
    let clinician = hospital.signed_in(Role::Clinician);
    let _ = hospital.decision(&clinician, &person, "not_now");
    assert!(clinician.get(&permissions_path(&person)).ok(200)["items"].is_array());
    case.refused(&case.body(), "permission_missing");
}

#[test]
fn a_fill_may_grow_old_during_a_run_but_not_before_its_first_dose() {
    // 29 CFR 1910.134 App. A I.B.3(a)(14): at least every 4 hours.
    let hospital = Hospital::open();
    let filled = hospital.now();
    let room = hospital.room(filled);
    hospital.clock.shift(TimeDelta::hours(5));
    let end = filled + TimeDelta::hours(4);
    let start = end - seconds(FIRST_DOSE + 300);
    let person = id_of(&hospital.permitted_person("0047"));
    let visit = room.check_in(person, start);
    let screening = room.screens(&visit, Some(10), start);
    let respirator = id_of(&hospital.respirator("M"));

    let late = room.attempt(&visit, respirator, &screening, end);
    room.tester.post("/api/v1/attempts", &late).refused(422, "fill_too_old");
    let at = end - seconds(FIRST_DOSE);
    let opened =
        room.tester.post("/api/v1/attempts", &room.attempt(&visit, respirator, &screening, at)).ok(201);
    let script = Script::from(at).attempt(10, Ending::Pass);
    room.tester.post(&events_path(&opened), &script.body()).refused(422, "fill_too_old");
    let broken_off = Script::from(at).then(20, json!({ "kind": "interrupted" }));
    room.tester.post(&events_path(&opened), &broken_off.body()).ok(200);

    // One that began a second before may end.
    let at = end - seconds(FIRST_DOSE + 1);
    let ended = room.tests(&visit, respirator, &screening, Ending::Pass, at);
    assert_eq!(ended["state"]["verdict"]["outcome"], "pass");
}

#[test]
fn a_hood_that_forbids_bending_means_jogging() {
    // 29 CFR 1910.134 App. A I.A.14(a)(7).
    let hospital = Hospital::open();
    let start = hospital.ago(3600);
    let mut room = hospital.room(start);
    let body = json!({
        "id": Uuid::now_v7(), "name": "Low hood", "parts": ["screening", "testing"], "hood_forbids_bending": true,
    });
    let path = format!("/api/v1/days/{}/stations", id_of(&room.day));
    room.station = hospital.signed_in(Role::Coordinator).post(&path, &body).ok(201);
    let _ = room.fill_with("saccharin", start);
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), start);
    let screening = room.screens(&visit, Some(10), start);
    let respirator = id_of(&hospital.respirator("M"));
    let body = room.attempt(&visit, respirator, &screening, start + seconds(120));
    let opened = room.tester.post("/api/v1/attempts", &body).ok(201);
    assert_eq!(opened["plan"]["exercises"][5]["key"], "jogging_in_place");
}
