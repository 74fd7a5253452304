//! What is counted in pieces: by lot and place, by the label of the box, and used up by attempts.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Client, Hospital,
    day::id_of,
    taste::{Ending, Script, events_path},
};
use serde_json::{Value, json};
use uuid::Uuid;

#[test]
fn pieces_are_counted_by_lot_and_place() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let station = id_of(&hospital.station(&hospital.day(), "Station 1", &["testing"]));
    let storeroom = hospital.storeroom();
    let respirator = hospital.respirator("small");
    let lot = |number: &str, month: &str| {
        let body = json!({
            "id": Uuid::now_v7(), "supply": "facepiece", "respirator_id": id_of(&respirator), "lot_number": number,
            "lot_number_again": number, "printed_expiry": month, "printed_expiry_again": month,
            "happened_at": hospital.ago(7200),
        });
        storekeeper.post("/api/v1/lots", &body).ok(201)
    };
    let (later, sooner) = (lot("F-2", "2099-12"), lot("F-1", "2098-12"));
    assert_eq!((&later["supply"], &later["agent"]), (&json!("facepiece"), &Value::Null));
    let moves = |lot: &Value, mut body: Value| {
        body["id"] = json!(Uuid::now_v7());
        body["happened_at"] = json!(hospital.now());
        storekeeper.post(&format!("/api/v1/lots/{}/movements", id_of(lot)), &body)
    };
    for lot in [&later, &sooner] {
        moves(lot, json!({ "movement": "receive", "pieces": 20, "to_place_id": storeroom })).ok(201);
    }
    let issue =
        json!({ "movement": "move", "pieces": 12, "from_place_id": storeroom, "to_place_id": station });
    let problem = moves(&later, issue.clone()).refused(422, "first_expired_first");
    assert_eq!(problem["proposed"], "F-1");
    let here = moves(&sooner, issue).ok(201);
    assert_eq!(here.as_array().unwrap().iter().map(|place| &place["on_hand"]).collect::<Vec<_>>(), [8, 12]);
    let other = id_of(&hospital.station(&hospital.day(), "Station 2", &["testing"]));
    let on = json!({ "movement": "move", "pieces": 1, "from_place_id": station, "to_place_id": other });
    assert_eq!(moves(&sooner, on).refused(422, "invalid_value")["field"], "handed_to");
    let used = moves(&sooner, json!({ "movement": "use", "pieces": 15, "from_place_id": station })).ok(201);
    assert!(
        used.as_array().unwrap().iter().any(|place| place["on_hand"] == -3),
        "below zero is shown: {used}"
    );
    let mut count = json!({ "movement": "count", "pieces": 1, "from_place_id": station });
    let problem = moves(&sooner, count.clone()).refused(422, "invalid_value");
    assert_eq!(problem["field"], "reason");
    count["reason"] = json!("counted at closing");
    moves(&sooner, count).ok(201);
    let ledger = storekeeper.get(&format!("/api/v1/lots/{}/ledger", id_of(&sooner))).ok(200);
    let counted: Vec<_> = ledger.as_array().unwrap().iter().filter(|e| e["movement"] == "count").collect();
    assert_eq!((&counted[0]["difference"], &counted[0]["on_hand"]), (&json!(4), &json!(1)));
    let stock = storekeeper.get(&format!("/api/v1/places/{storeroom}/stock")).ok(200);
    assert_eq!(stock["pieces"].as_array().unwrap().len(), 2, "{stock}");

    let liquid = hospital.lot("saccharin", "test");
    moves(&liquid, json!({ "movement": "receive", "pieces": 2, "to_place_id": storeroom }))
        .refused(422, "invalid_value");
    let tubes = hospital.lot("irritant_smoke", "test");
    moves(&tubes, json!({ "movement": "receive", "pieces": 10, "to_place_id": storeroom })).ok(201);
    let mut body = sellion_tests::harness::day::bottle_body(&later, hospital.now());
    body["lot_id"] = later["id"].clone();
    storekeeper.post("/api/v1/bottles", &body).refused(422, "invalid_value");
    for wrong in [
        json!({ "movement": "receive", "pieces": 2, "from_place_id": storeroom, "to_place_id": station }),
        json!({ "movement": "move", "pieces": 2, "from_place_id": storeroom }),
        json!({ "movement": "use", "pieces": 2 }),
        json!({ "movement": "use", "pieces": 0, "from_place_id": station }),
        json!({ "movement": "use", "from_place_id": station }),
    ] {
        moves(&sooner, wrong).refused(422, "invalid_value");
    }
}

/// A box as its scanned label describes it: lot and count (GS1 General Specifications, AI 10 and 30; fact 8.2).
fn received(hospital: &Hospital, respirator: &Value, label: &str) -> Value {
    let body = json!({
        "id": Uuid::now_v7(), "supply": "facepiece", "respirator_id": id_of(respirator), "label": label,
        "happened_at": hospital.ago(7200),
    });
    hospital.signed_in(Role::Storekeeper).post("/api/v1/lots", &body).ok(201)
}

fn held(client: &Client, lot: &Value, place: Uuid) -> i64 {
    let ledger = client.get(&format!("/api/v1/lots/{}/ledger", id_of(lot))).ok(200);
    let mut here = ledger.as_array().unwrap().iter().filter(|entry| entry["place_id"] == json!(place));
    here.next_back().and_then(|entry| entry["on_hand"].as_i64()).unwrap_or_default()
}

#[test]
fn the_count_on_the_label_of_a_box_is_taken_when_it_comes() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let (storeroom, respirator) = (hospital.storeroom(), hospital.respirator("small"));
    let lot = received(&hospital, &respirator, "10F-1\u{1d}3020");
    assert_eq!((&lot["box_count"], &lot["maker"]), (&json!(20), &respirator["make"]));
    let comes = |members: Value| {
        let mut body = json!({
            "id": Uuid::now_v7(), "movement": "receive", "to_place_id": storeroom, "happened_at": hospital.now(),
        });
        body.as_object_mut().unwrap().extend(members.as_object().unwrap().clone());
        storekeeper.post(&format!("/api/v1/lots/{}/movements", id_of(&lot)), &body)
    };
    comes(json!({})).ok(201);
    assert_eq!(held(&storekeeper, &lot, storeroom), 20);
    comes(json!({ "label": "10F-1\u{1d}3012" })).ok(201);
    assert_eq!(held(&storekeeper, &lot, storeroom), 32);
    let problem = comes(json!({ "label": "10F-1\u{1d}3012", "pieces": 11 })).refused(422, "invalid_value");
    assert_eq!(problem["field"], "pieces", "one of the two is wrong");
    let problem = comes(json!({ "label": "10F-2\u{1d}3012" })).refused(422, "invalid_value");
    assert_eq!(problem["field"], "label", "it is another lot");
    comes(json!({ "label": "10F-1\u{1d}30x" })).refused(422, "label_unreadable");
    assert_eq!(held(&storekeeper, &lot, storeroom), 32, "nothing is half written");
    let plain = received(&hospital, &hospital.respirator("large"), "10F-9");
    let body = json!({
        "id": Uuid::now_v7(), "movement": "receive", "to_place_id": storeroom, "happened_at": hospital.now(),
    });
    let problem = storekeeper
        .post(&format!("/api/v1/lots/{}/movements", id_of(&plain)), &body)
        .refused(422, "invalid_value");
    assert_eq!(problem["field"], "pieces");
}

#[test]
fn an_attempt_uses_up_a_facepiece_and_one_more_where_a_fresh_one_is_taken() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let respirator = hospital.respirator("small");
    let lot = received(&hospital, &respirator, "10F-1\u{1d}3020");
    let start = hospital.ago(1500);
    let room = hospital.room(start - TimeDelta::minutes(10));
    let station = id_of(&room.station);
    let person = id_of(&hospital.permitted_person("01"));
    let visit = room.check_in(person, start);
    let screening = room.screens(&visit, Some(10), start);
    let at = start + TimeDelta::seconds(60);
    let mut body = room.attempt(&visit, id_of(&respirator), &screening, at);
    for (member, value, field) in [
        ("facepiece_label", json!("10F-7"), "facepiece_label"),
        ("facepiece_label", json!("3020"), "facepiece_label"),
        ("facepiece_lot_id", json!(id_of(&hospital.lot("saccharin", "test"))), "facepiece_lot_id"),
    ] {
        let mut wrong = body.clone();
        wrong[member] = value;
        let problem = room.tester.post("/api/v1/attempts", &wrong);
        let problem: Value = serde_json::from_slice(&problem.body).unwrap();
        assert_eq!(problem["field"], field, "{problem}");
    }
    body["facepiece_label"] = json!("10F-1\u{1d}301");
    let attempt = room.tester.post("/api/v1/attempts", &body).ok(201);
    assert_eq!(attempt["facepiece_lot_id"], lot["id"]);
    assert_eq!(held(&storekeeper, &lot, station), 0, "it is not put on yet");
    let donned = |fresh: bool| json!({ "kind": "donned", "by_wearer": true, "fresh": fresh });
    let script = Script::from(at)
        .then(10, json!({ "kind": "donned", "by_wearer": true }))
        .then(20, json!({ "kind": "seal_checked", "result": "failed" }))
        .then(25, json!({ "kind": "doffed" }))
        .then(30, donned(false))
        .then(40, json!({ "kind": "seal_checked", "result": "failed" }))
        .then(45, json!({ "kind": "doffed" }))
        .then(50, donned(true));
    room.tester.post(&events_path(&attempt), &script.body()).ok(200);
    assert_eq!(held(&storekeeper, &lot, station), -2, "the first one and the fresh one; below zero is shown");
    let ledger = storekeeper.get(&format!("/api/v1/lots/{}/ledger", id_of(&lot))).ok(200);
    assert!(ledger.as_array().unwrap().iter().all(|entry| entry["movement"] == "use"), "{ledger}");
    let text = ledger.to_string();
    assert!(!text.contains("person"), "no person for the storekeeper: {text}");
}

/// What is cleaned and used again is not used up (common practice, no source).
#[test]
fn what_is_used_again_is_not_used_up() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let body = json!({
        "id": Uuid::now_v7(), "make": "Orlevane", "model": "Half 2", "style": "silicone", "size": "M",
        "facepiece": "half_mask", "filter_class": "P100",
    });
    let respirator = hospital.signed_in(Role::Coordinator).post("/api/v1/respirators", &body).ok(201);
    let lot = received(&hospital, &respirator, "10H-1\u{1d}304");
    let start = hospital.ago(1500);
    let room = hospital.room(start - TimeDelta::minutes(10));
    let visit = room.check_in(id_of(&hospital.permitted_person("01")), start);
    let screening = room.screens(&visit, Some(10), start);
    let at = start + TimeDelta::seconds(60);
    let mut body = room.attempt(&visit, id_of(&respirator), &screening, at);
    body["facepiece_lot_id"] = lot["id"].clone();
    let attempt = room.tester.post("/api/v1/attempts", &body).ok(201);
    room.tester.post(&events_path(&attempt), &Script::from(at).attempt(10, Ending::Pass).body()).ok(200);
    assert_eq!(held(&storekeeper, &lot, id_of(&room.station)), 0);
}

/// Whoever named the lot stands on it; whoever named none of this respirator may (common practice, no source).
#[test]
fn a_recalled_lot_of_facepieces_finds_who_wore_one() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let coordinator = hospital.signed_in(Role::Coordinator);
    let respirator = hospital.respirator("small");
    let (recalled, other) = (
        received(&hospital, &respirator, "10F-1\u{1d}3020"),
        received(&hospital, &respirator, "10F-2\u{1d}3020"),
    );
    let start = hospital.ago(6000);
    let room = hospital.room(start - TimeDelta::minutes(10));
    let mut people = Vec::new();
    for (number, lot) in [Some(&recalled), Some(&other), None].into_iter().enumerate() {
        let person = id_of(&hospital.permitted_person(&format!("0{number}")));
        let at = start + TimeDelta::seconds(1200 * i64::try_from(number).unwrap());
        let visit = room.check_in(person, at);
        let screening = room.screens(&visit, Some(10), at);
        let at = at + TimeDelta::seconds(60);
        let mut body = room.attempt(&visit, id_of(&respirator), &screening, at);
        body["facepiece_lot_id"] = json!(lot.map(id_of));
        let attempt = room.tester.post("/api/v1/attempts", &body).ok(201);
        room.tester.post(&events_path(&attempt), &Script::from(at).attempt(10, Ending::Pass).body()).ok(200);
        people.push(person);
    }
    let path = format!("/api/v1/look_backs?lot_id={}", id_of(&recalled));
    let found = coordinator.get(&path).ok(200);
    let list = |person: Uuid| {
        let mut items = found["items"].as_array().unwrap().iter();
        let item = items.find(|item| item["person_id"] == json!(person)).unwrap();
        let runs = item["runs"].as_array().unwrap();
        let attempt = runs.iter().find(|run| run["kind"] == "attempt").unwrap();
        (item["certainty"].clone(), attempt["reasons"].clone())
    };
    let told: Vec<_> = people.iter().map(|person| list(*person)).collect();
    assert_eq!(
        told,
        [
            (json!("surely"), json!(["facepiece"])),
            (json!("not_affected"), json!(["other_facepiece"])),
            (json!("possibly"), json!(["facepiece_unknown"])),
        ]
    );
    let stop = json!({ "id": Uuid::now_v7(), "reason": "The straps tear.", "happened_at": hospital.now() });
    storekeeper.post(&format!("/api/v1/lots/{}/stops", id_of(&recalled)), &stop).ok(201);
    let states: Vec<Value> = people
        .iter()
        .map(|person| {
            let found = coordinator.get(&format!("/api/v1/people/{person}/clearances")).ok(200);
            found["items"][0]["state"].clone()
        })
        .collect();
    assert_eq!(states, [json!("held"), json!("cleared"), json!("held")]);
    let report = sellion_store::replay::replay(&mut hospital.db(), hospital.site_id, |_, _| ()).unwrap();
    assert_eq!(report.differences, []);
}
