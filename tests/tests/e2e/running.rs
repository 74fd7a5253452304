//! What reaches an attempt while it runs: a stop lets it end and holds it, something found on its nebulizer voids it at
//! once; also where the station is out of reach and tells of it later.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Hospital,
    day::id_of,
    stores::check_body,
    taste::{Ending, Script, events_path},
};
use serde_json::{Value, json};
use uuid::Uuid;

fn stop(hospital: &Hospital, lot: &Value) {
    let body = json!({ "id": Uuid::now_v7(), "reason": "Recalled.", "happened_at": hospital.now() });
    let path = format!("/api/v1/lots/{}/stops", id_of(lot));
    hospital.signed_in(Role::Storekeeper).post(&path, &body).ok(201);
}

fn replayed(hospital: &Hospital) {
    let report = sellion_store::replay::replay(&mut hospital.db(), hospital.site_id, |_, _| ()).unwrap();
    assert_eq!(report.differences, []);
}

/// A station without a usable fill cannot start; a running attempt may end, and the stop holds what comes of it.
#[test]
fn a_running_attempt_on_a_stopped_lot_may_end_and_is_held_and_none_begins() {
    let hospital = Hospital::open();
    let (person, respirator) = (id_of(&hospital.permitted_person("01")), id_of(&hospital.respirator("M")));
    let start = hospital.now();
    let room = hospital.room(start - TimeDelta::minutes(10));
    let lots = room.fill_with("saccharin", start - TimeDelta::minutes(5));
    let visit = room.check_in(person, start);
    hospital.clock.shift(TimeDelta::minutes(9));
    let screening = room.screens(&visit, Some(10), start);
    let at = start + TimeDelta::seconds(60);
    let attempt =
        room.tester.post("/api/v1/attempts", &room.attempt(&visit, respirator, &screening, at)).ok(201);
    let (script, path) = (Script::from(at).attempt(10, Ending::Pass), events_path(&attempt));
    let begun = Script::from(at).fitted().dose(0, 10).exercises(1..=1, 5);
    let running = room.tester.post(&path, &begun.body()).ok(200);
    assert_eq!(running["state"]["phase"], "testing");
    stop(&hospital, &lots.1);
    hospital.clock.shift(TimeDelta::minutes(6));
    let ended = room.tester.post(&path, &script.body()).ok(200);
    assert_eq!(ended["state"]["verdict"]["outcome"], "pass");
    let path = format!("/api/v1/people/{person}/clearances");
    let found = hospital.signed_in(Role::Coordinator).get(&path).ok(200);
    let clearance = &found["items"][0];
    assert_eq!((&clearance["state"], &clearance["reasons"]), (&json!("held"), &json!(["lot_stopped"])));
    let refused = room.attempt(&visit, respirator, &screening, hospital.now());
    room.tester.post("/api/v1/attempts", &refused).refused(422, "lot_stopped");
    replayed(&hospital);
}

/// Whoever is not under the hood yet begins with another lot.
#[test]
fn the_first_dose_is_not_given_once_the_stop_is_known() {
    let hospital = Hospital::open();
    let (person, respirator) = (id_of(&hospital.permitted_person("01")), id_of(&hospital.respirator("M")));
    let start = hospital.now();
    let room = hospital.room(start - TimeDelta::minutes(10));
    let lots = room.fill_with("saccharin", start - TimeDelta::minutes(5));
    let visit = room.check_in(person, start);
    hospital.clock.shift(TimeDelta::minutes(6));
    let screening = room.screens(&visit, Some(10), start);
    let at = start + TimeDelta::seconds(60);
    let attempt =
        room.tester.post("/api/v1/attempts", &room.attempt(&visit, respirator, &screening, at)).ok(201);
    let path = events_path(&attempt);
    room.tester.post(&path, &Script::from(at).fitted().body()).ok(200);
    stop(&hospital, &lots.1);
    hospital.clock.shift(TimeDelta::seconds(60));
    // Told at once, it is refused; told late, it has happened.
    let now = (hospital.now() - at).num_seconds();
    let mut dose = Script::from(at).fitted().dose(now - 320, 10).events(4);
    room.tester.post(&path, &dose).refused(422, "lot_stopped");
    hospital.clock.shift(TimeDelta::minutes(10));
    let late = room.tester.post(&path, &dose).ok(200);
    assert_eq!(late["state"]["phase"], "testing");
    dose["events"][0]["seq"] = json!(5);
    dose["events"][0]["kind"] = json!("interrupted");
    dose["events"][0].as_object_mut().unwrap().remove("squeezes");
    let ended = room.tester.post(&path, &dose).ok(200);
    assert_eq!(ended["state"]["verdict"]["outcome"], "void");
}

/// A clogged nebulizer makes the test invalid (29 CFR 1910.134 App. A I.B.3(b)(12); fact 3.50): what the station did
/// before it was found counts, what it did after is kept beside the attempt and makes nothing of it.
#[test]
fn a_clog_voids_an_attempt_whose_station_is_out_of_reach_and_nothing_it_did_is_lost() {
    let hospital = Hospital::open();
    let (person, respirator) = (id_of(&hospital.permitted_person("01")), id_of(&hospital.respirator("M")));
    let start = hospital.ago(3000);
    let room = hospital.room(start - TimeDelta::minutes(10));
    let visit = room.check_in(person, start);
    let screening = room.screens(&visit, Some(10), start);
    let at = start + TimeDelta::seconds(60);
    let attempt =
        room.tester.post("/api/v1/attempts", &room.attempt(&visit, respirator, &screening, at)).ok(201);
    let path = events_path(&attempt);
    // The last the server hears before the network goes: nothing was sprayed yet.
    room.tester.post(&path, &Script::from(at).fitted().body()).ok(200);
    let nebulizers = hospital.signed_in(Role::Storekeeper).get("/api/v1/equipment?q=2%20test").ok(200);
    let check = format!("/api/v1/equipment/{}/checks", id_of(&nebulizers["items"][0]));
    let found = check_body("clogged", at + TimeDelta::seconds(320 + 95));
    hospital.signed_in(Role::Coordinator).post(&check, &found).ok(201);
    // The station comes back with a whole attempt, a pass by its own eyes.
    let whole = Script::from(at).attempt(10, Ending::Pass);
    let ended = room.tester.post(&path, &whole.body()).ok(200);
    let verdict = &ended["state"]["verdict"];
    assert_eq!((&verdict["outcome"], &verdict["reason"]), (&json!("void"), &json!("nebulizer_clogged")));
    let (events, late) = (ended["events"].as_array().unwrap(), ended["late_events"].as_array().unwrap());
    let sent = whole.body()["events"].as_array().unwrap().clone();
    let taken = events.len() - 1;
    assert_eq!((events[..taken].to_vec(), late.clone()), (sent[..taken].to_vec(), sent[taken..].to_vec()));
    assert_eq!(events[taken]["kind"], "nebulizer_checked");
    let found_at = &found["happened_at"];
    assert!(events[..taken].iter().all(|event| event["happened_at"].as_str() < found_at.as_str()));

    // Told again, nothing changes; told otherwise, it is refused, and so is a gap.
    assert_eq!(room.tester.post(&path, &whole.body()).ok(200), ended);
    let mut other = whole.events(taken + 1);
    other["events"][0]["happened_at"] = json!(hospital.ago(1));
    room.tester.post(&path, &other).refused(409, "event_conflict");
    let number = sent.len() + 1;
    let beyond =
        json!({ "events": [{ "seq": number + 1, "kind": "adjusted", "happened_at": hospital.now() }] });
    let problem = room.tester.post(&path, &beyond).refused(409, "event_out_of_order");
    assert_eq!(problem["expected_seq"], number);
    let found =
        hospital.signed_in(Role::Coordinator).get(&format!("/api/v1/people/{person}/clearances")).ok(200);
    assert_ne!(found["items"][0]["state"], "cleared");
    replayed(&hospital);
    let report = sellion_store::audit::verify(&mut hospital.db(), hospital.site_id, |_, _| ()).unwrap();
    assert!(report.broken.is_none(), "{:?}", report.broken);
}
