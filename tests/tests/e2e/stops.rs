//! Stops and late facts: what is stopped is not used, and what becomes known later follows at once.

use chrono::TimeDelta;
use diesel::connection::SimpleConnection;
use sellion_rules::roles::Role;
use sellion_store::stop::{self, Used};
use sellion_tests::harness::{
    Client, Hospital,
    day::id_of,
    taste::{Ending, Script, events_path},
};
use serde_json::{Value, json};
use uuid::Uuid;

fn is(coordinator: &Client, person: Uuid, state: &str, reasons: &[&str]) {
    let found = coordinator.get(&format!("/api/v1/people/{person}/clearances")).ok(200);
    let clearance = &found["items"][0];
    assert_eq!((&clearance["state"], &clearance["reasons"]), (&json!(state), &json!(reasons)), "{found}");
}

fn stop_lot(hospital: &Hospital, lot: &Value) {
    let body = json!({ "id": Uuid::now_v7(), "reason": "Recalled.", "happened_at": hospital.now() });
    let path = format!("/api/v1/lots/{}/stops", id_of(lot));
    hospital.signed_in(Role::Storekeeper).post(&path, &body).ok(201);
}

/// The whole run was over before anybody knew of the stop, and the station told of it afterwards.
#[test]
fn an_attempt_that_is_told_after_the_stop_is_held_from_its_first_moment() {
    let hospital = Hospital::open();
    let (person, respirator) = (id_of(&hospital.permitted_person("01")), id_of(&hospital.respirator("M")));
    let start = hospital.ago(1500);
    let room = hospital.room(start - TimeDelta::minutes(10));
    let lots = room.fill_with("saccharin", start - TimeDelta::minutes(5));
    let visit = room.check_in(person, start);
    let screening = room.screens(&visit, Some(10), start);
    let at = start + TimeDelta::seconds(60);
    let attempt =
        room.tester.post("/api/v1/attempts", &room.attempt(&visit, respirator, &screening, at)).ok(201);
    stop_lot(&hospital, &lots.1);
    let told = Script::from(at).attempt(10, Ending::Pass);
    let ended = room.tester.post(&events_path(&attempt), &told.body()).ok(200);
    assert_eq!(ended["state"]["verdict"]["outcome"], "pass");
    is(&hospital.signed_in(Role::Coordinator), person, "held", &["lot_stopped"]);
    hospital.badge_is_refused(person);
}

/// A gap stays a gap: from the moment it is known, the stopped lot may have been what was sprayed.
#[test]
fn a_gap_that_is_found_after_the_stop_holds_at_once() {
    let hospital = Hospital::open();
    let (person, respirator) = (id_of(&hospital.permitted_person("01")), id_of(&hospital.respirator("M")));
    let start = hospital.ago(1500);
    let room = hospital.room(start - TimeDelta::minutes(10));
    let lots = room.fill_with("saccharin", start - TimeDelta::minutes(8));
    let _ = room.fill_with("saccharin", start - TimeDelta::minutes(5));
    let visit = room.check_in(person, start);
    let screening = room.screens(&visit, Some(10), start);
    let _ = room.tests(&visit, respirator, &screening, Ending::Pass, start + TimeDelta::seconds(60));
    let coordinator = hospital.signed_in(Role::Coordinator);
    stop_lot(&hospital, &lots.1);
    is(&coordinator, person, "cleared", &[]);
    let gap = json!({
        "id": Uuid::now_v7(), "station_id": id_of(&room.station), "from": start,
        "until": start + TimeDelta::minutes(20), "reason": "The slip is lost.", "happened_at": hospital.now(),
    });
    room.tester.post("/api/v1/fill_gaps", &gap).ok(201);
    is(&coordinator, person, "held", &["lot_stopped"]);
    let report = sellion_store::replay::replay(&mut hospital.db(), hospital.site_id, |_, _| ()).unwrap();
    assert_eq!(report.differences, []);
}

#[test]
fn what_is_stopped_is_not_used() {
    let hospital = Hospital::open();
    let (person, respirator) = (id_of(&hospital.permitted_person("01")), id_of(&hospital.respirator("M")));
    let start = hospital.ago(600);
    let room = hospital.room(start - TimeDelta::minutes(10));
    let visit = room.check_in(person, start);
    let screening = room.screens(&visit, Some(10), start);
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let fills = storekeeper.get(&format!("/api/v1/stations/{}/fills", id_of(&room.station))).ok(200);
    let fill = fills["items"].as_array().unwrap().iter().find(|fill| fill["solution"] == "test").unwrap();
    let at = start + TimeDelta::seconds(60);
    for (what, id) in [("fill_id", &fill["id"]), ("bottle_id", &fill["bottle_id"])] {
        let body = json!({
            "id": Uuid::now_v7(), what: id, "reason": "it smells", "reach": "surely", "happened_at": hospital.now(),
        });
        let stopped = storekeeper.post("/api/v1/stops", &body).ok(201);
        assert_eq!(stopped["reach"], "surely");
        let attempt = room.attempt(&visit, respirator, &screening, at);
        room.tester.post("/api/v1/attempts", &attempt).refused(422, "stopped");
        let path = format!("/api/v1/stops/{}/releases", id_of(&stopped));
        let release =
            json!({ "id": Uuid::now_v7(), "reason": "It was soap.", "happened_at": hospital.now() });
        storekeeper.post(&path, &release).ok(201);
    }
    let attempt = room.attempt(&visit, respirator, &screening, at);
    room.tester.post("/api/v1/attempts", &attempt).ok(201);
}

#[test]
fn a_nebulizer_is_stopped_for_its_time_and_with_its_lot() {
    let hospital = Hospital::open();
    let (id, lot) = (Uuid::now_v7(), Uuid::now_v7());
    let mut conn = hospital.db();
    let site = hospital.site_id;
    conn.batch_execute(&format!(
        "insert into lots (id, site_id, supply, lot_number, happened_at, recorded_at, recorded_by) \
           values ('{lot}', '{site}', 'nebulizer', 'N-7', now(), now(), '{site}'); \
         insert into equipment (id, site_id, kind, label, lot_id, happened_at, recorded_at, recorded_by) \
           values ('{id}', '{site}', 'nebulizer', 'N7', '{lot}', now(), now(), '{site}')"
    ))
    .unwrap();
    let mut is_stopped = |used, at| stop::in_force(&mut conn, site, used, at).unwrap();
    assert!(!is_stopped(Used::Equipment(id), hospital.now()));
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let body = json!({
        "id": Uuid::now_v7(), "equipment_id": id, "from": hospital.ago(7200), "until": hospital.ago(3600),
        "reason": "it sprayed in drops", "happened_at": hospital.now(),
    });
    storekeeper.post("/api/v1/stops", &body).ok(201);
    assert!(is_stopped(Used::Equipment(id), hospital.ago(5400)));
    assert!(is_stopped(Used::Nebulizer("N7"), hospital.ago(5400)));
    assert!(!is_stopped(Used::Nebulizer("N7"), hospital.now()), "it was mended");
    assert!(!is_stopped(Used::Nebulizer("N8"), hospital.ago(5400)));
    stop_lot(&hospital, &json!({ "id": lot }));
    assert!(is_stopped(Used::Nebulizer("N7"), hospital.now()), "the lot it came with is stopped");
    let list = storekeeper.get(&format!("/api/v1/look_backs/runner_list?lot_id={lot}"));
    assert_eq!(list.status, 200, "{}", list.text());
}
