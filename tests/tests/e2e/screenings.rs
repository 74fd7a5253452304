//! Taste screenings over HTTP: what they find, what they refuse, and where they lead.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Hospital,
    day::{id_of, time_of},
    taste::Script,
};
use serde_json::json;
use uuid::Uuid;

fn seconds(count: i64) -> TimeDelta {
    TimeDelta::seconds(count)
}

#[test]
fn the_set_in_which_the_taste_comes_is_the_level() {
    // 29 CFR 1910.134 App. A I.B.3(a)(7)-(9): tasted within 10, 20 or 30 squeezes.
    let hospital = Hospital::open();
    let start = hospital.ago(3600);
    let room = hospital.room(start);
    for (number, level) in [10, 20, 30].into_iter().enumerate() {
        let person = id_of(&hospital.permitted_person(&format!("00{level}")));
        let at = start + seconds(600 * i64::try_from(number).unwrap());
        let visit = room.check_in(person, at);
        let screening = room.screens(&visit, Some(level), at);
        let verdict = &screening["state"]["verdict"];
        assert_eq!(verdict["outcome"], "level");
        assert_eq!(verdict["level"], level);
        assert_eq!(verdict["squeezes"], level - 3, "the exact count is kept as well");
        assert_eq!(screening["next_step"]["step"], "attempt");
        assert_eq!(screening["next_step"]["level"], level);
        // The person stays at the station, because it tests too, until somebody takes them back.
        let back = json!({ "id": Uuid::now_v7(), "reason": "other", "happened_at": at + seconds(300) });
        room.tester.post(&format!("/api/v1/visits/{}/returns", id_of(&visit)), &back).ok(201);
    }
}

#[test]
fn an_agent_that_is_not_tasted_is_closed_and_the_other_one_follows() {
    // 29 CFR 1910.134 App. A I.B.3(a)(11): not tasted after 30 squeezes, this test may not be used.
    let hospital = Hospital::open();
    let start = hospital.ago(7000);
    let room = hospital.room(start);
    let _ = room.fill_with("denatonium_benzoate", start);
    let person = id_of(&hospital.permitted_person("0047"));
    let visit = room.check_in(person, start);
    let screening = room.screens(&visit, None, start);
    assert_eq!(screening["state"]["verdict"]["outcome"], "not_tasted");
    assert_eq!(screening["next_step"]["step"], "screen");
    assert_eq!(screening["next_step"]["agent"], "denatonium_benzoate");
    let not_before = time_of(&screening["next_step"]["not_before"]);
    let ended = time_of(&screening["state"]["verdict"]["ended_at"]);
    assert_eq!(not_before - ended, seconds(900), "common practice, no source: 15 minutes between agents");

    let body = room.screening(&visit, "saccharin", ended + seconds(60));
    room.tester.post("/api/v1/screenings", &body).refused(422, "agent_closed_today");
    let body = room.screening(&visit, "denatonium_benzoate", not_before - seconds(1));
    let problem = room.tester.post("/api/v1/screenings", &body).refused(422, "agent_switch_wait");
    assert_eq!(problem["seconds_remaining"], 1);

    let second = room.screens_with("denatonium_benzoate", &visit, Some(20), not_before);
    assert_eq!(second["state"]["verdict"]["level"], 20);
    assert_eq!(second["next_step"]["agent"], "denatonium_benzoate");
}

#[test]
fn somebody_who_tastes_neither_agent_is_referred() {
    let hospital = Hospital::open();
    let start = hospital.ago(7000);
    let room = hospital.room(start);
    let _ = room.fill_with("denatonium_benzoate", start);
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), start);
    let _ = room.screens(&visit, None, start);
    let second = room.screens_with("denatonium_benzoate", &visit, None, start + seconds(1200));
    assert_eq!(second["next_step"], json!({ "step": "refer", "reason": "cannot_taste" }));
    let stored = room.tester.get(&format!("/api/v1/visits/{}", id_of(&visit))).ok(200);
    assert_eq!(stored["step"], "referred");
    let referrals = room.tester.get("/api/v1/referrals").ok(200);
    assert_eq!(referrals["items"][0]["reason"], "cannot_taste");
}

#[test]
fn events_come_in_order_all_or_none_and_a_repeat_is_harmless() {
    let hospital = Hospital::open();
    let start = hospital.ago(3600);
    let room = hospital.room(start);
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), start);
    let _ = room.call("screening", start);
    let body = room.screening(&visit, "saccharin", start);
    let opened = room.tester.post("/api/v1/screenings", &body).ok(201);
    let path = format!("/api/v1/screenings/{}/events", id_of(&opened));
    let script = Script::from(start).screened(Some(30));

    let problem = room.tester.post(&path, &script.events(2)).refused(409, "event_out_of_order");
    assert_eq!(problem["expected_seq"], 1);

    // The second of two events is refused, so the first is not stored either.
    let too_many = Script::from(start)
        .then(10, json!({ "kind": "explained" }))
        .then(40, json!({ "kind": "set_done", "tasted": false, "squeezes": 11 }));
    room.tester.post(&path, &too_many.body()).refused(422, "invalid_value");
    let stored = room.tester.get(&format!("/api/v1/screenings/{}", id_of(&opened))).ok(200);
    assert_eq!(stored["state"]["next_seq"], 1);
    assert_eq!(stored["events"], json!([]));

    let unexplained =
        Script::from(start).then(40, json!({ "kind": "set_done", "tasted": true, "squeezes": 3 }));
    room.tester.post(&path, &unexplained.body()).refused(422, "explain_first");
    let early = Script::from(start).then(-1, json!({ "kind": "explained" }));
    room.tester.post(&path, &early.body()).refused(422, "event_before_previous");
    let ahead = Script::from(hospital.now()).then(600, json!({ "kind": "explained" }));
    room.tester.post(&path, &ahead.body()).refused(422, "happened_in_future");

    let ended = room.tester.post(&path, &script.body()).ok(200);
    assert_eq!(room.tester.post(&path, &script.body()).ok(200)["state"], ended["state"]);
    let other = Script::from(start).then(11, json!({ "kind": "explained" }));
    room.tester.post(&path, &other.body()).refused(409, "event_conflict");
    let late = script.clone().then(300, json!({ "kind": "interrupted" }));
    room.tester.post(&path, &late.events(5)).refused(422, "screening_ended");
}

#[test]
fn a_screening_is_opened_once_and_only_where_the_person_was_called() {
    let hospital = Hospital::open();
    let start = hospital.ago(3600);
    let room = hospital.room(start);
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), start);
    let body = room.screening(&visit, "saccharin", start);
    room.tester.post("/api/v1/screenings", &body).refused(422, "visit_not_open");
    let _ = room.call("screening", start);

    let elsewhere = hospital.station(&room.day, "Desk", &["check_in"]);
    let mut wrong = body.clone();
    wrong["station_id"] = elsewhere["id"].clone();
    let problem = room.tester.post("/api/v1/screenings", &wrong).refused(422, "invalid_value");
    assert_eq!(problem["field"], "station_id");

    let opened = room.tester.post("/api/v1/screenings", &body).ok(201);
    let again = room.tester.post("/api/v1/screenings", &body).ok(201);
    assert_eq!(again["id"], opened["id"]);
    let mut changed = body.clone();
    changed["agent"] = json!("denatonium_benzoate");
    room.tester.post("/api/v1/screenings", &changed).refused(409, "id_reused");
    let second = room.screening(&visit, "saccharin", start + seconds(5));
    room.tester.post("/api/v1/screenings", &second).refused(422, "screening_open");

    hospital.signed_in(Role::CheckIn).post("/api/v1/screenings", &second).refused(403, "wrong_role");
    let stranger = hospital.signed_in_at(hospital.another_site("Fenwick"), &[Role::Tester]);
    let path = format!("/api/v1/screenings/{}", id_of(&opened));
    stranger.get(&path).refused(404, "not_found");
    stranger.post("/api/v1/screenings", &second).refused(404, "not_found");
    let events = Script::from(start).screened(Some(10)).body();
    stranger.post(&format!("{path}/events"), &events).refused(404, "not_found");
}

#[test]
fn a_screening_needs_a_fill_that_may_be_used() {
    let hospital = Hospital::open();
    let start = hospital.now();
    let room = hospital.room(start);
    hospital.clock.shift(TimeDelta::hours(5));
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), start);
    let _ = room.call("screening", start);
    let refused = |agent: &str, at, code: &str| {
        room.tester.post("/api/v1/screenings", &room.screening(&visit, agent, at)).refused(422, code);
    };
    refused("denatonium_benzoate", start + seconds(60), "fill_missing");
    // 29 CFR 1910.134 App. A I.B.3(a)(14): rinsed and refilled at least every 4 hours.
    refused("saccharin", start + TimeDelta::hours(4), "fill_too_old");

    let (screening_lot, _) = room.fill_with("saccharin", start + seconds(120));
    let stop = json!({ "id": Uuid::now_v7(), "reason": "Recalled by the maker.", "happened_at": start + seconds(180) });
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    storekeeper.post(&format!("/api/v1/lots/{}/stops", id_of(&screening_lot)), &stop).ok(201);
    refused("saccharin", hospital.now(), "lot_stopped");
}
