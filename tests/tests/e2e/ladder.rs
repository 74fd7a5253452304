//! What follows a fail, a void and a stop: waits, another respirator, a new screening, a referral, a clinician.

use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Hospital,
    day::{id_of, time_of},
    hours::before_midnight,
    taste::{EXERCISES, Ending, FIRST_DOSE, Room, Script, events_path},
};
use serde_json::{Value, json};
use uuid::Uuid;

fn seconds(count: i64) -> TimeDelta {
    TimeDelta::seconds(count)
}

/// A person checked in three hours ago, so that a long day fits before now.
struct Day<'h> {
    room: Room<'h>,
    visit: Value,
    start: DateTime<Utc>,
}

fn day(hospital: &Hospital) -> Day<'_> {
    let start = hospital.now();
    let room = hospital.room(start);
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), start);
    hospital.clock.shift(TimeDelta::hours(3));
    Day { room, visit, start }
}

impl Day<'_> {
    /// Screens and tests from `at` on.
    fn run(&self, respirator: Uuid, ending: Ending, at: DateTime<Utc>) -> Value {
        let screening = self.room.screens(&self.visit, Some(10), at);
        self.room.tests(&self.visit, respirator, &screening, ending, at + seconds(60))
    }

    fn step(&self) -> Value {
        let path = format!("/api/v1/visits/{}", id_of(&self.visit));
        self.room.tester.get(&path).ok(200)["step"].clone()
    }
}

fn ended_at(attempt: &Value) -> DateTime<Utc> {
    time_of(&attempt["state"]["verdict"]["ended_at"])
}

#[test]
fn after_a_fail_come_a_wait_another_respirator_and_a_new_screening() {
    // 29 CFR 1910.134 App. A I.B.3(b)(11): a different respirator, and the entire procedure again.
    let hospital = Hospital::open();
    let day = day(&hospital);
    let (medium, large) = (id_of(&hospital.respirator("M")), id_of(&hospital.respirator("L")));
    let failed = day.run(medium, Ending::Fail, day.start);
    assert_eq!(failed["state"]["verdict"]["outcome"], "fail");
    assert_eq!(failed["state"]["verdict"]["exercise"], json!(null), "between two exercises");
    let next = &failed["next_step"];
    assert_eq!((&next["step"], &next["agent"]), (&json!("screen"), &json!("saccharin")));
    let not_before = time_of(&next["not_before"]);
    assert_eq!(not_before - ended_at(&failed), seconds(900), "common practice, no source: 15 minutes");
    assert_eq!(day.step(), "screening");

    let early = day.room.screening(&day.visit, "saccharin", not_before - seconds(30));
    let problem = day.room.tester.post("/api/v1/screenings", &early).refused(422, "wait_after_fail");
    assert_eq!(problem["seconds_remaining"], 30);
    let old = json!({ "id": failed["screening_id"] });
    let without = day.room.attempt(&day.visit, large, &old, not_before);
    day.room.tester.post("/api/v1/attempts", &without).refused(422, "new_screening_required");

    let screening = day.room.screens(&day.visit, Some(10), not_before);
    assert_eq!(screening["next_step"]["excluded_respirators"], json!([medium]));
    let at = not_before + seconds(60);
    let same = day.room.attempt(&day.visit, medium, &screening, at);
    day.room.tester.post("/api/v1/attempts", &same).refused(422, "different_respirator_required");
    let stale = day.room.attempt(&day.visit, large, &old, at);
    day.room.tester.post("/api/v1/attempts", &stale).refused(422, "new_screening_required");
    let passed = day.room.tests(&day.visit, large, &screening, Ending::Pass, at);
    assert_eq!(passed["state"]["verdict"]["outcome"], "pass");
    assert_eq!(day.step(), "done");
}

#[test]
fn three_fails_lead_to_a_referral() {
    // Common practice, no source: three fails in one day.
    let hospital = Hospital::open();
    let day = day(&hospital);
    let mut at = day.start;
    let mut last = Value::Null;
    for size in ["S", "M", "L"] {
        last = day.run(id_of(&hospital.respirator(size)), Ending::Fail, at);
        at = ended_at(&last) + seconds(900);
    }
    assert_eq!(last["next_step"], json!({ "step": "refer", "reason": "ladder_used_up" }));
    assert_eq!(day.step(), "referred");
    let body = day.room.screening(&day.visit, "saccharin", at);
    day.room.tester.post("/api/v1/screenings", &body).refused(422, "referred_today");
    let referrals = day.room.tester.get("/api/v1/referrals").ok(200);
    assert_eq!(referrals["items"].as_array().unwrap().len(), 1);
    assert_eq!(referrals["items"][0]["reason"], "ladder_used_up");
}

#[test]
fn a_void_attempt_counts_for_nothing_and_is_repeated_on_the_same_screening() {
    let hospital = Hospital::open();
    let day = day(&hospital);
    let respirator = id_of(&hospital.respirator("M"));
    let void = day.run(respirator, Ending::Void, day.start);
    let verdict = &void["state"]["verdict"];
    assert_eq!((&verdict["outcome"], &verdict["reason"]), (&json!("void"), &json!("adjusted")));
    assert_eq!(void["next_step"]["step"], "attempt");
    assert_eq!(void["next_step"]["screening"], void["screening_id"]);
    let path = format!("/api/v1/people/{}/clearances", void["person_id"].as_str().unwrap());
    let coordinator = hospital.signed_in(Role::Coordinator);
    assert_eq!(coordinator.get(&path).ok(200)["items"], json!([]), "neither way");

    let screening = json!({ "id": void["screening_id"] });
    let again =
        day.room.tests(&day.visit, respirator, &screening, Ending::Pass, ended_at(&void) + seconds(60));
    assert_eq!(again["state"]["verdict"]["outcome"], "pass");
}

#[test]
fn a_respirator_that_cannot_be_worn_is_followed_by_another_one_at_once() {
    // 29 CFR 1910.134 App. A I.A.8 (fact 2.10), I.A.11 (fact 2.14) and I.A.14(b).
    let hospital = Hospital::open();
    let day = day(&hospital);
    let (small, medium, large) = (
        id_of(&hospital.respirator("S")),
        id_of(&hospital.respirator("M")),
        id_of(&hospital.respirator("L")),
    );
    let screening = day.room.screens(&day.visit, Some(10), day.start);
    let begun = |respirator: Uuid, at: DateTime<Utc>| {
        let body = day.room.attempt(&day.visit, respirator, &screening, at);
        day.room.tester.post("/api/v1/attempts", &body)
    };

    let at = day.start + seconds(60);
    let leaky = begun(small, at).ok(201);
    let tries = (0..3).fold(Script::from(at), |script, number| {
        let script = script
            .then(60 * number + 10, json!({ "kind": "donned", "by_wearer": true }))
            .then(60 * number + 20, json!({ "kind": "seal_checked", "result": "failed" }));
        if number < 2 { script.then(60 * number + 30, json!({ "kind": "doffed" })) } else { script }
    });
    let ended = day.room.tester.post(&events_path(&leaky), &tries.body()).ok(200);
    assert_eq!(ended["state"]["verdict"]["reason"], "seal_check_failed");
    assert_eq!(ended["next_step"]["excluded_respirators"], json!([small]));
    let problem = begun(small, at + seconds(200)).refused(422, "different_respirator_required");
    assert!(problem["detail"].as_str().unwrap().contains("seal"), "{problem}");

    let at = at + seconds(200);
    let tight = begun(medium, at).ok(201);
    let end = FIRST_DOSE + EXERCISES;
    let uncomfortable = Script::from(at)
        .fitted()
        .dose(0, 10)
        .exercises(1..=7, 5)
        .then(end + 5, json!({ "kind": "asked_again", "tasted": false, "comfortable": false }));
    let ended = day.room.tester.post(&events_path(&tight), &uncomfortable.body()).ok(200);
    assert_eq!(ended["state"]["verdict"]["reason"], "not_comfortable");
    let mut both = [small, medium];
    both.sort_unstable();
    assert_eq!(ended["next_step"]["excluded_respirators"], json!(both));
    let at = ended_at(&ended);
    let problem = begun(medium, at).refused(422, "different_respirator_required");
    assert!(problem["detail"].as_str().unwrap().contains("comfortable"), "{problem}");
    let passed = day.room.tests(&day.visit, large, &screening, Ending::Pass, at);
    assert_eq!(passed["state"]["verdict"]["outcome"], "pass", "no wait, no new screening");
}

#[test]
fn a_level_found_yesterday_does_not_count_today() {
    let hospital = Hospital::open();
    let before_midnight = before_midnight(&hospital);
    let room = hospital.room(before_midnight);
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), before_midnight);
    hospital.clock.shift(TimeDelta::hours(1));
    let screening = room.screens(&visit, Some(10), before_midnight);
    let respirator = id_of(&hospital.respirator("M"));
    let today = room.attempt(&visit, respirator, &screening, before_midnight + seconds(180));
    room.tester.post("/api/v1/attempts", &today).refused(422, "new_screening_required");
    let same_day = room.attempt(&visit, respirator, &screening, before_midnight + seconds(179));
    room.tester.post("/api/v1/attempts", &same_day).ok(201);
}

#[test]
fn after_a_stop_nothing_goes_on_until_a_clinician_has_decided() {
    let hospital = Hospital::open();
    let day = day(&hospital);
    let respirator = id_of(&hospital.respirator("M"));
    let stopped = day.run(respirator, Ending::Stopped, day.start);
    assert_eq!(stopped["state"]["verdict"]["reason"], "unwell");
    assert_eq!(stopped["next_step"]["step"], "see_clinician");
    let screening = json!({ "id": stopped["screening_id"] });
    let at = ended_at(&stopped) + seconds(300);
    let body = day.room.attempt(&day.visit, respirator, &screening, at);
    day.room.tester.post("/api/v1/attempts", &body).refused(422, "stopped_needs_clinician");

    let person = json!({ "id": stopped["person_id"] });
    let _ = hospital.decision(&hospital.signed_in(Role::Clinician), &person, "permitted");
    let at = hospital.now() + seconds(60);
    hospital.clock.shift(TimeDelta::hours(1));
    let _ = day.room.fill_with("saccharin", at);
    let passed = day.run(respirator, Ending::Pass, at);
    assert_eq!(passed["state"]["verdict"]["outcome"], "pass");
}

#[test]
fn somebody_who_has_passed_may_be_tested_on_another_model_at_once() {
    let hospital = Hospital::open();
    let day = day(&hospital);
    let (medium, large) = (id_of(&hospital.respirator("M")), id_of(&hospital.respirator("L")));
    let first = day.run(medium, Ending::Pass, day.start);
    let screening = json!({ "id": first["screening_id"] });
    let second = day.room.tests(&day.visit, large, &screening, Ending::Pass, ended_at(&first) + seconds(60));
    assert_eq!(second["state"]["verdict"]["outcome"], "pass");
    let path = format!("/api/v1/people/{}/clearances", first["person_id"].as_str().unwrap());
    let items = hospital.signed_in(Role::Coordinator).get(&path).ok(200)["items"].clone();
    let states: Vec<&Value> = items.as_array().unwrap().iter().map(|item| &item["state"]).collect();
    assert_eq!(states, ["cleared", "cleared"]);
}
