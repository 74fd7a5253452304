//! What comes in late: from a station that was out of reach, or remembered in the evening.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Hospital,
    day::{fill_body, id_of},
    taste::{Ending, Script, events_path},
};
use serde_json::{Value, json};
use uuid::Uuid;

fn stop(hospital: &Hospital, lot: &Value) {
    let body = json!({ "id": Uuid::now_v7(), "reason": "recalled", "happened_at": hospital.now() });
    let path = format!("/api/v1/lots/{}/stops", id_of(lot));
    hospital.signed_in(Role::Storekeeper).post(&path, &body).ok(201);
}

fn state(hospital: &Hospital, person: &Value) -> Value {
    let path = format!("/api/v1/people/{}/clearances", id_of(person));
    let found = hospital.signed_in(Role::Coordinator).get(&path).ok(200);
    found["items"][0]["state"].clone()
}

#[test]
fn a_station_out_of_reach_delivers_what_it_did_and_the_stop_holds_it() {
    let hospital = Hospital::open();
    let room = hospital.room(hospital.ago(9000));
    let (_, lot) = room.fill_with("saccharin", hospital.ago(4000));
    let person = hospital.permitted_person("1");
    let at = hospital.ago(3600);
    let visit = room.check_in(id_of(&person), at);
    let screening = room.screens(&visit, Some(10), at);
    stop(&hospital, &lot);
    // Nobody there could know of it: the attempt was over before the stop was recorded.
    let respirator = id_of(&hospital.respirator("small"));
    let attempt = room.tests(&visit, respirator, &screening, Ending::Pass, at + TimeDelta::seconds(120));
    assert_eq!(attempt["state"]["verdict"]["outcome"], "pass");
    assert_eq!(state(&hospital, &person), "held");

    let bottles = hospital.signed_in(Role::Storekeeper);
    let bottle = bottles.get(&format!("/api/v1/bottles?lot_id={}", id_of(&lot))).ok(200)["items"][0].clone();
    hospital.registers("C");
    let mut late = fill_body(&room.station, &bottle, "C", hospital.ago(1000));
    bottles.post("/api/v1/fills", &late).refused(422, "lot_stopped");
    late["afterwards"] = json!(true);
    let kept = bottles.post("/api/v1/fills", &late).ok(201);
    assert_eq!(kept["afterwards"], true, "what happened is kept, and whatever stands on it is held");
}

/// On contact, attempts after the stop are kept and held: the station learned of it later.
#[test]
fn an_attempt_begun_out_of_reach_after_the_stop_is_kept_and_held() {
    let hospital = Hospital::open();
    let room = hospital.room(hospital.ago(9000));
    let (_, lot) = room.fill_with("saccharin", hospital.ago(4000));
    let person = hospital.permitted_person("1");
    let at = hospital.now();
    let visit = room.check_in(id_of(&person), at);
    stop(&hospital, &lot);
    hospital.clock.shift(TimeDelta::minutes(30));
    let screening = room.screens(&visit, Some(10), at + TimeDelta::seconds(60));
    let respirator = id_of(&hospital.respirator("small"));
    let begun = at + TimeDelta::seconds(180);
    let mut attempt = room.attempt(&visit, respirator, &screening, begun);
    room.tester.post("/api/v1/attempts", &attempt).refused(422, "lot_stopped");
    attempt["afterwards"] = json!(true);
    let kept = room.tester.post("/api/v1/attempts", &attempt).ok(201);
    assert_eq!(kept["afterwards"], true);
    assert_eq!(room.tester.post("/api/v1/attempts", &attempt).ok(201)["id"], kept["id"], "a repeat");
    let script = Script::from(begun).attempt(10, Ending::Pass);
    let ended = room.tester.post(&events_path(&kept), &script.body()).ok(200);
    assert_eq!(ended["state"]["verdict"]["outcome"], "pass");
    assert_eq!(state(&hospital, &person), "held");
}

#[test]
fn a_fill_and_a_rinse_that_are_remembered_late_change_who_is_in_doubt_at_once() {
    let hospital = Hospital::open();
    let room = hospital.room(hospital.ago(9000));
    let (recalled, other) = (hospital.lot("saccharin", "test"), hospital.lot("saccharin", "test"));
    let (first, second) = (hospital.opened_bottle(&recalled), hospital.opened_bottle(&other));
    hospital.registers("A");
    let mut used = fill_body(&room.station, &second, "A", hospital.ago(4000));
    used["rinsed"] = json!(false);
    room.tester.post("/api/v1/fills", &used).ok(201);
    let person = hospital.permitted_person("1");
    let at = hospital.ago(3600);
    let visit = room.check_in(id_of(&person), at);
    let screening = room.screens(&visit, Some(10), at);
    let respirator = id_of(&hospital.respirator("small"));
    let attempt = room.tests(&visit, respirator, &screening, Ending::Pass, at + TimeDelta::seconds(120));
    assert_eq!(attempt["fill_id"], used["id"]);
    stop(&hospital, &recalled);
    assert_eq!(state(&hospital, &person), "cleared");

    let mut below = fill_body(&room.station, &first, "A", hospital.ago(6000));
    below["afterwards"] = json!(true);
    let below = room.tester.post("/api/v1/fills", &below).ok(201);
    assert_eq!(state(&hospital, &person), "held", "a rest of the recalled lot may have been in it");
    let rinse = json!({ "id": Uuid::now_v7(), "rinsed": true, "happened_at": hospital.ago(5000) });
    room.tester.post(&format!("/api/v1/fills/{}/emptyings", id_of(&below)), &rinse).ok(201);
    assert_eq!(state(&hospital, &person), "cleared", "it was rinsed in between");
}
