//! The board of a day: how far it has come, what each station does and lacks, and alarms that need a name.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Client, Hospital,
    day::id_of,
    stores::check_body,
    taste::{Ending, Room},
    tells,
};
use serde_json::{Value, json};
use uuid::Uuid;

fn board(client: &Client, room: &Room<'_>) -> Value {
    client.get(&format!("/api/v1/days/{}/board", id_of(&room.day))).ok(200)
}

fn alarms<'b>(board: &'b Value, kind: &str) -> Vec<&'b Value> {
    board["alarms"].as_array().unwrap().iter().filter(|alarm| alarm["kind"] == kind).collect()
}

fn acknowledgement(hospital: &Hospital, alarm: &Value) -> Value {
    json!({
        "id": Uuid::now_v7(), "kind": alarm["kind"], "subject_id": alarm["subject_id"],
        "happened_at": hospital.now(),
    })
}

fn path(room: &Room<'_>) -> String {
    format!("/api/v1/days/{}/alarm_acknowledgements", id_of(&room.day))
}

/// One has passed, one is at the station, one waits, one has not come, and one on the roster is cleared already.
#[test]
fn every_head_is_counted_once() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let respirator = id_of(&hospital.respirator("M"));
    let cleared = id_of(&hospital.permitted_person("05"));
    let _ = hospital.tests(cleared, respirator, Ending::Pass, hospital.ago(9000));
    let start = hospital.ago(2400);
    let room = hospital.room(start - TimeDelta::minutes(10));
    let [passes, at_station, waits] = ["01", "02", "03"].map(|number| {
        let person = id_of(&hospital.permitted_person(number));
        room.check_in(person, start)
    });
    let _ = hospital.permitted_person("04");
    let screening = room.screens(&passes, Some(10), start);
    let _ = room.tests(&passes, respirator, &screening, Ending::Pass, start + TimeDelta::seconds(120));
    let called = room.call("screening", hospital.ago(60));
    assert_eq!(called["visit"]["id"], at_station["id"]);

    let found = board(&coordinator, &room);
    let heads = json!({ "done": 1, "referred": 0, "at_station": 1, "waiting": 1, "not_arrived": 1 });
    assert_eq!(found["heads"], heads, "{found}");
    let station = &found["stations"][0];
    assert_eq!((&station["ticket"], &station["step"]), (&at_station["ticket"], &json!("screening")));
    assert_eq!(station["runs"], 2);
    assert_eq!(station["short_of"], json!([]), "{station}");
    assert!(station["heard_at"].is_string());
    assert_ne!(waits["id"], at_station["id"]);

    // One of three in 40 minutes: the two who are here take 80 at that pace, and three with the one to come 120.
    let pace = &found["pace"];
    assert_eq!(pace["finished"], 1, "{pace}");
    let seconds = pace["over_seconds"].as_f64().unwrap();
    assert!((2400.0..2500.0).contains(&seconds), "{pace}");
    assert_eq!(pace["those_here"]["likely_seconds"].as_f64().unwrap(), 2.0 * seconds);
    assert_eq!(pace["everybody"]["likely_seconds"].as_f64().unwrap(), 3.0 * seconds);
}

#[test]
fn a_day_on_which_nobody_finished_has_no_pace() {
    let hospital = Hospital::open();
    let room = hospital.room(hospital.ago(600));
    let found = board(&hospital.signed_in(Role::Auditor), &room);
    assert_eq!(found["pace"], json!({ "finished": 0, "over_seconds": 0 }));
    assert_eq!(found["alarms"], json!([]));
}

/// Nebulizers that were filled too long ago give nothing.
#[test]
fn a_station_without_a_usable_fill_is_short_of_it() {
    let hospital = Hospital::open();
    let room = hospital.room(hospital.ago(5 * 3600));
    let found = board(&hospital.signed_in(Role::Coordinator), &room);
    let station = &found["stations"][0];
    assert_eq!((&station["short_of"], &station["fills"]), (&json!(["screening", "test"]), &json!([])));
}

#[test]
fn an_alarm_stays_until_somebody_takes_it_on_and_keeps_their_name() {
    let hospital = Hospital::open();
    let (person, respirator) = (id_of(&hospital.permitted_person("01")), id_of(&hospital.respirator("M")));
    let start = hospital.ago(1500);
    let room = hospital.room(start - TimeDelta::minutes(10));
    let visit = room.check_in(person, start);
    let screening = room.screens(&visit, Some(10), start);
    let attempt =
        room.tests(&visit, respirator, &screening, Ending::Stopped, start + TimeDelta::seconds(120));
    let coordinator = hospital.signed_in(Role::Coordinator);
    let found = board(&coordinator, &room);
    let alarm = alarms(&found, "unwell")[0].clone();
    assert_eq!((&alarm["subject_id"], &alarm["ticket"]), (&attempt["id"], &visit["ticket"]), "{alarm}");
    assert!(alarm.get("taken_on").is_none());
    let told = found.to_string();
    assert!(!tells(&told, "Valdrun") && !tells(&told, "staff_number"), "a board names nobody: {told}");

    let body = acknowledgement(&hospital, &alarm);
    let taken = coordinator.post(&path(&room), &body).ok(201);
    assert!(taken["taken_on"]["by"].as_str().is_some_and(|name| !name.is_empty()));
    assert_eq!(coordinator.post(&path(&room), &body).ok(201), taken, "sent twice is taken once");
    let other = hospital.signed_in(Role::Coordinator);
    let late = other.post(&path(&room), &acknowledgement(&hospital, &alarm)).refused(409, "already_exists");
    assert_eq!(late["field"], "subject_id");
    let mut reused = acknowledgement(&hospital, &alarm);
    reused["id"] = body["id"].clone();
    reused["happened_at"] = json!(hospital.ago(5));
    other.post(&path(&room), &reused).refused(409, "id_reused");
    assert_eq!(alarms(&board(&other, &room), "unwell")[0]["taken_on"], taken["taken_on"]);
    let read = coordinator.get(&format!("/api/v1/attempts/{}", id_of(&attempt))).ok(200);
    assert_eq!(read["state"]["verdict"]["outcome"], "stopped", "the board changes no result");
}

#[test]
fn alarms_follow_from_facts_alone() {
    let hospital = Hospital::open();
    let room = hospital.room(hospital.ago(600));
    let (coordinator, storekeeper) =
        (hospital.signed_in(Role::Coordinator), hospital.signed_in(Role::Storekeeper));
    let lot = hospital.lot("saccharin", "test");
    let stop = json!({ "id": Uuid::now_v7(), "reason": "Recalled.", "happened_at": hospital.now() });
    storekeeper.post(&format!("/api/v1/lots/{}/stops", id_of(&lot)), &stop).ok(201);
    let nebulizer = hospital.equipment("nebulizer", "N7");
    let checks = format!("/api/v1/equipment/{}/checks", id_of(&nebulizer));
    storekeeper.post(&checks, &check_body("clogged", hospital.now())).ok(201);
    let stopped = json!({
        "id": Uuid::now_v7(), "equipment_id": nebulizer["id"], "reason": "it drips", "happened_at": hospital.now(),
    });
    storekeeper.post("/api/v1/stops", &stopped).ok(201);
    let found = board(&coordinator, &room);
    let lots = alarms(&found, "lot_stopped");
    assert_eq!((&lots[0]["lot_id"], &lots[0]["reason"]), (&lot["id"], &json!("Recalled.")));
    assert_eq!(alarms(&found, "nebulizer_out")[0]["equipment_id"], nebulizer["id"]);
    assert_eq!(alarms(&found, "stopped")[0]["what"], "N7");

    let release = json!({ "id": Uuid::now_v7(), "reason": "Cleared.", "happened_at": hospital.now() });
    storekeeper.post(&format!("/api/v1/lots/{}/releases", id_of(&lot)), &release).ok(201);
    let released = board(&coordinator, &room);
    assert!(alarms(&released, "lot_stopped").is_empty(), "{released}");
    coordinator.post(&path(&room), &acknowledgement(&hospital, lots[0])).refused(404, "not_found");
    let made_up = json!({
        "id": Uuid::now_v7(), "kind": "unwell", "subject_id": Uuid::now_v7(), "happened_at": hospital.now(),
    });
    coordinator.post(&path(&room), &made_up).refused(404, "not_found");
}

#[test]
fn a_board_is_of_its_own_site() {
    let hospital = Hospital::open();
    let room = hospital.room(hospital.ago(600));
    let stranger = hospital.signed_in_at(hospital.another_site("Heronwick"), &[Role::Coordinator]);
    stranger.get(&format!("/api/v1/days/{}/board", id_of(&room.day))).refused(404, "not_found");
    let body = json!({
        "id": Uuid::now_v7(), "kind": "unwell", "subject_id": Uuid::now_v7(), "happened_at": hospital.now(),
    });
    stranger.post(&path(&room), &body).refused(404, "not_found");
}
