//! Check-in: the verdict, what holds people back, tickets, and newer answers.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Client, Hospital,
    day::{good_answers, id_of, time_of, visit_body},
};
use serde_json::{Value, json};
use uuid::Uuid;

/// Checks somebody in with one answer set differently.
fn check_in_with(hospital: &Hospital, desk: &Client, day: &Value, member: &str, answer: Value) -> Value {
    let mut body = visit_body(day, hospital.db_person(hospital.site_id, true), hospital.now());
    body["answers"][member] = answer;
    desk.post("/api/v1/visits", &body).ok(201)
}

#[test]
fn somebody_whom_nothing_holds_back_is_ready() {
    let hospital = Hospital::open();
    let (desk, day) = (hospital.signed_in(Role::CheckIn), hospital.day());
    let at = hospital.now();
    let body = visit_body(&day, hospital.db_person(hospital.site_id, true), at);
    let visit = desk.post("/api/v1/visits", &body).ok(201);
    assert_eq!(visit["verdict"], "ready");
    assert_eq!(visit["step"], "screening");
    assert_eq!(visit["hold_reasons"], json!([]));
    assert_eq!(visit["ticket"], 1);
    assert_eq!(time_of(&visit["earliest_start"]), at);

    assert_eq!(desk.post("/api/v1/visits", &body).ok(201), visit, "a repeat finds the stored visit");
    let read = desk.get(&format!("/api/v1/visits/{}", id_of(&visit))).ok(200);
    assert_eq!(read["answers"]["feels_well"], true);
    let mut other = body.clone();
    other["answers"]["feels_well"] = json!(false);
    desk.post("/api/v1/visits", &other).refused(409, "id_reused");
    let mut twice = body;
    twice["id"] = json!(Uuid::now_v7());
    desk.post("/api/v1/visits", &twice).refused(409, "already_exists");
}

#[test]
fn a_check_in_belongs_to_the_hours_of_its_day() {
    let hospital = Hospital::open();
    let day = hospital.day();
    let first = time_of(&day["opens_at"]) - TimeDelta::hours(12);
    let last = time_of(&day["closes_at"]) + TimeDelta::hours(12);
    hospital.clock.shift(TimeDelta::hours(24));
    let desk = hospital.signed_in(Role::CheckIn);
    for (edge, outside) in [(first, -1), (last, 1)] {
        let person = hospital.db_person(hospital.site_id, true);
        let body = visit_body(&day, person, edge + TimeDelta::seconds(outside));
        let problem = desk.post("/api/v1/visits", &body).refused(422, "invalid_value");
        assert_eq!(problem["field"], "happened_at");
        let _ = hospital.check_in(&desk, &day, person, edge);
    }
}

/// 29 CFR 1910.134 App. A I.B.3(b)(1): no food, drink other than plain water, smoke or gum for 15 minutes
/// (fact 3.39; table fact 10.23).
#[test]
fn gum_ten_minutes_ago_means_five_more_minutes() {
    let hospital = Hospital::open();
    let (desk, day) = (hospital.signed_in(Role::CheckIn), hospital.day());
    let now = hospital.now();
    let gum = now - TimeDelta::minutes(10);
    let visit = check_in_with(&hospital, &desk, &day, "last_intake_at", json!(gum));
    assert_eq!(visit["verdict"], "ready_at");
    assert_eq!(time_of(&visit["earliest_start"]), gum + TimeDelta::minutes(15));

    let boundary = check_in_with(&hospital, &desk, &day, "last_intake_at", json!(hospital.ago(15 * 60)));
    assert_eq!(boundary["verdict"], "ready", "15 minutes are enough");

    hospital.clock.shift(TimeDelta::minutes(6));
    let later = desk.get(&format!("/api/v1/visits/{}", id_of(&visit))).ok(200);
    assert_eq!(later["verdict"], "ready");
}

/// 29 CFR 1910.134 App. A I.A.9: no test with hair at the sealing surface (facts 2.11, 10.21).
#[test]
fn hair_at_the_seal_and_feeling_unwell_hold_until_newer_answers() {
    let hospital = Hospital::open();
    let (desk, day) = (hospital.signed_in(Role::CheckIn), hospital.day());
    for (member, answer, hold) in
        [("hair_at_seal", json!(true), "hair_at_seal"), ("feels_well", json!(false), "not_well")]
    {
        let visit = check_in_with(&hospital, &desk, &day, member, answer);
        assert_eq!(visit["verdict"], "on_hold");
        assert_eq!(visit["hold_reasons"], json!([hold]));
        let path = format!("/api/v1/visits/{}/answers", id_of(&visit));
        let body = json!({ "id": Uuid::now_v7(), "answers": good_answers(), "happened_at": hospital.now() });
        let released = desk.post(&path, &body).ok(201);
        assert_eq!(released["verdict"], "ready");
        assert_eq!(released["ticket"], visit["ticket"], "they kept their place");
        assert_eq!(desk.post(&path, &body).ok(201), released);
        let mut other = body;
        other["answers"]["hair_at_seal"] = json!(true);
        desk.post(&path, &other).refused(409, "id_reused");
    }
}

#[test]
fn newer_answers_move_the_earliest_start_both_ways() {
    let hospital = Hospital::open();
    let (desk, day) = (hospital.signed_in(Role::CheckIn), hospital.day());
    let visit = hospital.check_in(&desk, &day, hospital.db_person(hospital.site_id, true), hospital.now());
    let path = format!("/api/v1/visits/{}/answers", id_of(&visit));
    let answer = |intake: Value| {
        let mut answers = good_answers();
        answers["last_intake_at"] = intake;
        json!({ "id": Uuid::now_v7(), "answers": answers, "happened_at": hospital.now() })
    };
    let intake = hospital.ago(60);
    let waits = desk.post(&path, &answer(json!(intake))).ok(201);
    assert_eq!(time_of(&waits["earliest_start"]), intake + TimeDelta::minutes(15));
    let mistaken = desk.post(&path, &answer(Value::Null)).ok(201);
    assert_eq!(mistaken["earliest_start"], visit["earliest_start"]);
    let ahead = answer(json!(hospital.now() + TimeDelta::minutes(1)));
    let problem = desk.post(&path, &ahead).refused(422, "invalid_value");
    assert_eq!(problem["field"], "last_intake_at");
}

/// 29 CFR 1910.134(e)(1): the medical evaluation comes before the fit test.
#[test]
fn a_missing_permission_holds_until_a_clinician_decides() {
    let hospital = Hospital::open();
    let (desk, day) = (hospital.signed_in(Role::CheckIn), hospital.day());
    let person = hospital.db_person(hospital.site_id, false);
    let visit = hospital.check_in(&desk, &day, person, hospital.now());
    assert_eq!(visit["verdict"], "on_hold");
    assert_eq!(visit["hold_reasons"], json!(["permission_missing"]));
    let path = format!("/api/v1/visits/{}", id_of(&visit));
    hospital.db_permission(person, true);
    assert_eq!(desk.get(&path).ok(200)["verdict"], "ready");
    hospital.db_permission(person, false);
    assert_eq!(desk.get(&path).ok(200)["hold_reasons"], json!(["permission_missing"]));
}

#[test]
fn somebody_who_has_left_is_not_checked_in_and_is_held_when_it_turns_out_later() {
    let hospital = Hospital::open();
    let (desk, day) = (hospital.signed_in(Role::CheckIn), hospital.day());
    let person = hospital.db_person(hospital.site_id, true);
    hospital.left(person);
    let problem =
        desk.post("/api/v1/visits", &visit_body(&day, person, hospital.now())).refused(422, "invalid_value");
    assert_eq!((&problem["field"], &problem["hold"]), (&json!("person_id"), &json!("person_left")));

    let other = hospital.db_person(hospital.site_id, true);
    let visit = hospital.check_in(&desk, &day, other, hospital.now());
    hospital.left(other);
    let held = desk.get(&format!("/api/v1/visits/{}", id_of(&visit))).ok(200);
    assert_eq!(held["hold_reasons"], json!(["person_left"]));
}

#[test]
fn a_closed_day_takes_nobody_but_a_repeat_still_finds_its_visit() {
    let hospital = Hospital::open();
    let (desk, day) = (hospital.signed_in(Role::CheckIn), hospital.day());
    let body = visit_body(&day, hospital.db_person(hospital.site_id, true), hospital.now());
    let visit = desk.post("/api/v1/visits", &body).ok(201);
    let path = format!("/api/v1/days/{}", id_of(&day));
    hospital.signed_in(Role::Coordinator).patch(&path, 1, &json!({ "closed": true })).ok(200);
    let late = visit_body(&day, hospital.db_person(hospital.site_id, true), hospital.now());
    desk.post("/api/v1/visits", &late).refused(422, "day_closed");
    let entered_late = visit_body(&day, hospital.db_person(hospital.site_id, true), hospital.ago(60));
    desk.post("/api/v1/visits", &entered_late).ok(201);
    assert_eq!(desk.post("/api/v1/visits", &body).ok(201)["id"], visit["id"]);
}

#[test]
fn tickets_have_no_gaps_whoever_checks_in_at_once() {
    let hospital = Hospital::open();
    let (desk, day) = (hospital.signed_in(Role::CheckIn), hospital.day());
    let people: Vec<Uuid> = (0..24).map(|_| hospital.db_person(hospital.site_id, true)).collect();
    let mut tickets: Vec<i64> = std::thread::scope(|scope| {
        let desks: Vec<_> = people
            .chunks(6)
            .map(|people| {
                let (desk, day, hospital) = (desk.clone(), &day, &hospital);
                scope.spawn(move || {
                    let ticket = |person: &Uuid| {
                        hospital.check_in(&desk, day, *person, hospital.now())["ticket"].as_i64().unwrap()
                    };
                    people.iter().map(ticket).collect::<Vec<_>>()
                })
            })
            .collect();
        desks.into_iter().flat_map(|desk| desk.join().unwrap()).collect()
    });
    tickets.sort_unstable();
    assert_eq!(tickets, (1..=24).collect::<Vec<i64>>());
}

#[test]
fn visits_are_listed_by_day_and_step_and_answers_are_for_those_who_need_them() {
    let hospital = Hospital::open();
    let (desk, day) = (hospital.signed_in(Role::CheckIn), hospital.day());
    let first = hospital.check_in(&desk, &day, hospital.db_person(hospital.site_id, false), hospital.now());
    let second = hospital.check_in(&desk, &day, hospital.db_person(hospital.site_id, true), hospital.now());
    let path = format!("/api/v1/visits?day_id={}&step=screening&limit=1", id_of(&day));
    let page = desk.get(&path).ok(200);
    assert_eq!(page["items"][0]["id"], first["id"]);
    assert!(page["items"][0].get("answers").is_none());
    let next = desk.get(&format!("{path}&cursor={}", page["next"].as_str().unwrap())).ok(200);
    assert_eq!(next["items"][0]["id"], second["id"]);
    assert!(next.get("next").is_none());
    let none = desk.get(&format!("/api/v1/visits?day_id={}&step=done", id_of(&day))).ok(200);
    assert_eq!(none["items"], json!([]));

    let path = format!("/api/v1/visits/{}", id_of(&first));
    let badges = hospital.signed_in(Role::BadgeDesk).get(&path).ok(200);
    assert!(badges.get("answers").is_none() && badges.get("hold_reasons").is_none(), "{badges}");
    hospital.signed_in(Role::Storekeeper).get(&path).refused(403, "wrong_role");
}

#[test]
fn a_foreign_person_day_or_visit_is_not_there() {
    let hospital = Hospital::open();
    let (desk, day) = (hospital.signed_in(Role::CheckIn), hospital.day());
    let elsewhere = hospital.another_site("Ostrel");
    let stranger = hospital.signed_in_at(elsewhere, &[Role::CheckIn]);
    let (ours, theirs) = (hospital.db_person(hospital.site_id, true), hospital.db_person(elsewhere, true));
    let now = hospital.now();
    desk.post("/api/v1/visits", &visit_body(&day, theirs, now)).refused(404, "not_found");
    stranger.post("/api/v1/visits", &visit_body(&day, theirs, now)).refused(404, "not_found");
    let visit = hospital.check_in(&desk, &day, ours, now);
    let path = format!("/api/v1/visits/{}", id_of(&visit));
    stranger.get(&path).refused(404, "not_found");
    let body = json!({ "id": Uuid::now_v7(), "answers": good_answers(), "happened_at": now });
    stranger.post(&format!("{path}/answers"), &body).refused(404, "not_found");
    assert_eq!(stranger.get("/api/v1/visits").ok(200)["items"], json!([]));
    let future = visit_body(&day, ours, now + TimeDelta::minutes(10));
    desk.post("/api/v1/visits", &future).refused(422, "happened_in_future");
}
