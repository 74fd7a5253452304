//! What is set up is named anew, and stations are closed, on top of what was read.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_store::audit;
use sellion_tests::harness::{Hospital, day::id_of, taste::Ending};
use serde_json::{Value, json};
use uuid::Uuid;

fn place_of(hospital: &Hospital, id: Uuid) -> Value {
    let places = hospital.signed_in(Role::Storekeeper).get("/api/v1/places").ok(200);
    let all = places["items"].as_array().unwrap();
    all.iter().find(|place| place["id"] == json!(id)).cloned().unwrap()
}

fn assert_chain_holds(hospital: &Hospital) {
    let report = audit::verify(&mut hospital.db(), hospital.site_id, |_, _| ()).unwrap();
    assert!(report.broken.is_none(), "{report:?}");
}

#[test]
fn a_station_is_named_anew_and_its_place_with_it() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let day = hospital.day();
    let station = hospital.station(&day, "Station 1", &["screening"]);
    let _ = hospital.station(&day, "Station 2", &["screening"]);
    assert_eq!(station["version"], 1);
    let path = format!("/api/v1/stations/{}", id_of(&station));
    let body =
        json!({ "name": "By the window", "parts": ["testing", "screening"], "hood_forbids_bending": true });
    let reply = coordinator.patch(&path, 1, &body);
    assert_eq!(reply.header("etag"), Some("\"2\""));
    let changed = reply.ok(200);
    assert_eq!((&changed["name"], &changed["version"]), (&json!("By the window"), &json!(2)));
    assert_eq!(changed["parts"], json!(["screening", "testing"]), "in the order of the list");
    assert_eq!(changed["hood_forbids_bending"], true);
    assert_eq!(place_of(&hospital, id_of(&station))["name"], "By the window");

    let problem = coordinator.patch(&path, 1, &json!({ "name": "Elsewhere" })).refused(409, "stale_version");
    assert_eq!(problem["version_stored"], 2);
    let problem = coordinator.patch(&path, 2, &json!({ "name": "Station 2" })).refused(409, "already_exists");
    assert_eq!(problem["field"], "name");
    let problem = coordinator.patch(&path, 2, &json!({ "parts": [] })).refused(422, "invalid_value");
    assert_eq!(problem["field"], "parts");
    coordinator.patch(&path, 2, &json!({ "name": " " })).refused(422, "invalid_value");
    coordinator.patch(&path, 2, &json!({ "colour": "red" })).refused(400, "bad_json");
    hospital.signed_in(Role::Tester).patch(&path, 2, &json!({})).refused(403, "wrong_role");
    let stranger = hospital.signed_in_at(hospital.another_site("Ostrel"), &[Role::Coordinator]);
    stranger.patch(&path, 2, &json!({ "name": "Ours" })).refused(404, "not_found");
    let listed = coordinator.get(&format!("/api/v1/days/{}/stations", id_of(&day))).ok(200);
    assert_eq!(listed["items"][0], changed, "nothing of what was refused was stored");
    assert_chain_holds(&hospital);
}

#[test]
fn a_closed_station_calls_nobody_and_finishes_with_whoever_is_there() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let start = hospital.ago(3600);
    let room = hospital.room(start);
    let [sits, waits] = ["1", "2"].map(|number| id_of(&hospital.permitted_person(number)));
    let visit = room.check_in(sits, start);
    let screening = room.screens(&visit, Some(10), start);
    let path = format!("/api/v1/stations/{}", id_of(&room.station));
    let closed = coordinator.patch(&path, 1, &json!({ "closed": true })).ok(200);
    assert!(closed["closed_at"].is_string());
    hospital.clock.shift(TimeDelta::minutes(1));
    let again = coordinator.patch(&path, 2, &json!({ "closed": true })).ok(200);
    assert_eq!(again["closed_at"], closed["closed_at"], "closing twice keeps the moment");

    let respirator = id_of(&hospital.respirator("M"));
    let attempt = room.tests(&visit, respirator, &screening, Ending::Pass, start + TimeDelta::seconds(120));
    assert_eq!(attempt["state"]["verdict"]["outcome"], "pass", "the test that was under way goes on");
    let _ = room.check_in(waits, hospital.now());
    let calls = format!("{path}/calls");
    let call = |step: &str| json!({ "id": Uuid::now_v7(), "step": step, "happened_at": hospital.now() });
    let problem = room.tester.post(&calls, &call("screening")).refused(422, "station_closed");
    assert_eq!(problem["closed_at"], closed["closed_at"]);

    let board = coordinator.get(&format!("/api/v1/days/{}/board", id_of(&room.day))).ok(200);
    assert_eq!(board["stations"][0]["closed_at"], closed["closed_at"]);
    assert_eq!(board["stations"][0]["short_of"], json!([]), "what is closed lacks nothing");

    let open = coordinator.patch(&path, 3, &json!({ "closed": false })).ok(200);
    assert!(open.get("closed_at").is_none());
    room.tester.post(&calls, &call("screening")).ok(201);
    assert_chain_holds(&hospital);
}

#[test]
fn a_closed_station_is_no_part_of_what_the_day_will_use() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let room = hospital.room(hospital.ago(4000));
    let path = format!("/api/v1/days/{}/board", id_of(&room.day));
    let bare = hospital.station(&room.day, "Bare", &["testing"]);
    let lacks = |board: Value| {
        let all = board["stations"].as_array().unwrap();
        let found = all.iter().find(|one| one["name"] == "Bare").cloned().unwrap();
        found["short_of"].clone()
    };
    assert_eq!(lacks(coordinator.get(&path).ok(200)), json!(["test"]));
    let closed = json!({ "closed": true });
    coordinator.patch(&format!("/api/v1/stations/{}", id_of(&bare)), 1, &closed).ok(200);
    assert_eq!(lacks(coordinator.get(&path).ok(200)), json!([]));
}

#[test]
fn a_gate_is_named_anew() {
    let hospital = Hospital::open();
    let admin = hospital.signed_in(Role::Admin);
    let gate = hospital.gate("North entrance");
    let _ = hospital.gate("South entrance");
    let path = format!("/api/v1/gates/{gate}");
    let changed = admin.patch(&path, 1, &json!({ "name": "Ward side" })).ok(200);
    assert_eq!((&changed["name"], &changed["version"]), (&json!("Ward side"), &json!(2)));
    admin.patch(&path, 1, &json!({ "name": "Elsewhere" })).refused(409, "stale_version");
    let problem = admin.patch(&path, 2, &json!({ "name": "South entrance" })).refused(409, "already_exists");
    assert_eq!(problem["field"], "name");
    admin.patch(&path, 2, &json!({ "name": "" })).refused(422, "invalid_value");
    let unchanged = admin.patch(&path, 2, &json!({})).ok(200);
    assert_eq!((&unchanged["name"], &unchanged["version"]), (&json!("Ward side"), &json!(3)));
    hospital.signed_in(Role::BadgeDesk).patch(&path, 3, &json!({})).refused(403, "wrong_role");
    let nowhere = format!("/api/v1/gates/{}", Uuid::now_v7());
    admin.patch(&nowhere, 1, &json!({ "name": "Nowhere" })).refused(404, "not_found");
    let stranger = hospital.signed_in_at(hospital.another_site("Ostrel"), &[Role::Coordinator]);
    stranger.patch(&path, 3, &json!({ "name": "Ours" })).refused(404, "not_found");
    assert_chain_holds(&hospital);
}

#[test]
fn a_storeroom_changes_and_a_station_does_not_by_this_way() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let body = json!({ "id": Uuid::now_v7(), "name": "Cupboard" });
    let cupboard = storekeeper.post("/api/v1/places", &body).ok(201);
    let path = format!("/api/v1/places/{}", id_of(&cupboard));
    let changed = storekeeper.patch(&path, 1, &json!({ "filling_point": true })).ok(200);
    assert_eq!(
        (&changed["name"], &changed["filling_point"], &changed["version"]),
        (&json!("Cupboard"), &json!(true), &json!(2))
    );
    let changed = storekeeper.patch(&path, 2, &json!({ "name": "Bench", "filling_point": false })).ok(200);
    assert_eq!((&changed["name"], &changed["filling_point"]), (&json!("Bench"), &json!(false)));
    storekeeper.patch(&path, 2, &json!({ "name": "Shelf" })).refused(409, "stale_version");
    let problem = storekeeper.patch(&path, 3, &json!({ "name": "Storeroom" })).refused(409, "already_exists");
    assert_eq!(problem["field"], "name");
    assert_eq!(place_of(&hospital, id_of(&cupboard)), changed);

    let station = hospital.station(&hospital.day(), "Station 1", &["screening"]);
    let path = format!("/api/v1/places/{}", id_of(&station));
    storekeeper.patch(&path, 1, &json!({ "name": "Mine" })).refused(422, "invalid_value");
    assert_eq!(place_of(&hospital, id_of(&station))["name"], "Station 1");
    hospital.signed_in(Role::Tester).patch(&path, 1, &json!({})).refused(403, "wrong_role");
    let nowhere = format!("/api/v1/places/{}", Uuid::now_v7());
    storekeeper.patch(&nowhere, 1, &json!({ "name": "Nowhere" })).refused(404, "not_found");
    assert_chain_holds(&hospital);
}
