//! Filling: from the bottle that the books have there, into a nebulizer that is registered.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Hospital,
    day::{fill_body, id_of},
    stores::{placement_body, recorded_fill},
};
use serde_json::{Value, json};
use uuid::Uuid;

fn opened(hospital: &Hospital, bottle: &Value) {
    let body = json!({ "id": Uuid::now_v7(), "happened_at": hospital.ago(7000) });
    let path = format!("/api/v1/bottles/{}/openings", id_of(bottle));
    hospital.signed_in(Role::Storekeeper).post(&path, &body).ok(201);
}

/// Common practice, no source: a fill moves nothing past whoever ends first and past the second name.
#[test]
fn a_bottle_is_filled_from_where_the_books_have_it() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let day = hospital.day();
    let (first, second) = (
        hospital.station(&day, "Station 1", &["testing"]),
        hospital.station(&day, "Station 2", &["testing"]),
    );
    let bottle = hospital.bottle(&hospital.lot("saccharin", "test"));
    opened(&hospital, &bottle);
    hospital.registers("A");
    let (storeroom, station) = (hospital.storeroom(), id_of(&first));
    let fill = |at: &Value, seconds: i64| fill_body(at, &bottle, "A", hospital.ago(seconds));
    let problem = storekeeper.post("/api/v1/fills", &fill(&first, 600)).refused(422, "bottle_elsewhere");
    assert_eq!(
        (&problem["field"], &problem["place"], &problem["place_id"]),
        (&json!("bottle_id"), &json!("Storeroom"), &json!(storeroom))
    );
    let placements = format!("/api/v1/bottles/{}/placements", id_of(&bottle));
    let issue = placement_body(Some(storeroom), station, hospital.ago(500));
    storekeeper.post(&placements, &issue).ok(201);
    // What counts is where it was when it was filled from.
    storekeeper.post("/api/v1/fills", &fill(&first, 600)).refused(422, "bottle_elsewhere");
    let body = fill(&first, 400);
    let filled = storekeeper.post("/api/v1/fills", &body).ok(201);
    assert_eq!(filled["bottle_was_at"], Value::Null);
    let problem = storekeeper.post("/api/v1/fills", &fill(&second, 300)).refused(422, "bottle_elsewhere");
    assert_eq!(problem["place"], "Station 1");

    // Told afterwards it has happened: it is kept, moves nothing, and the difference is shown.
    let mut late = fill(&second, 300);
    late["afterwards"] = json!(true);
    let late = storekeeper.post("/api/v1/fills", &late).ok(201);
    assert_eq!(late["bottle_was_at"]["name"], "Station 1");
    let listed = storekeeper.get(&format!("/api/v1/bottles?q={}", bottle["label"].as_str().unwrap())).ok(200);
    assert_eq!(listed["items"][0]["place"]["name"], "Station 1");
    let back = placement_body(Some(station), storeroom, hospital.ago(200));
    storekeeper.post(&placements, &back).ok(201);
    let repeated = storekeeper.post("/api/v1/fills", &body).ok(201);
    assert_eq!(recorded_fill(&repeated), recorded_fill(&filled), "a repeat, wherever it is now");
}

#[test]
fn at_a_filling_point_every_station_fills_and_what_ends_first_comes_there_first() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let (table, storeroom) = (hospital.filling_table(), hospital.storeroom());
    let station = hospital.station(&hospital.day(), "Station 1", &["testing"]);
    let sooner = hospital.bottle(&hospital.lot_until("saccharin", "test", "2098-06"));
    let later = hospital.bottle(&hospital.lot_until("saccharin", "test", "2099-06"));
    let way = |from: Uuid, to: Uuid| placement_body(Some(from), to, hospital.ago(600));
    let path = |bottle: &Value| format!("/api/v1/bottles/{}/placements", id_of(bottle));
    storekeeper.post(&path(&later), &way(storeroom, table)).refused(422, "first_expired_first");
    let issued = storekeeper.post(&path(&sooner), &way(storeroom, table)).ok(201);
    assert_eq!(issued["movement"], "issue");
    opened(&hospital, &sooner);
    let filled = hospital.fill(&station, &sooner, "A", hospital.ago(500));
    assert_eq!(filled["bottle_was_at"], Value::Null);
    // From hand to hand with two names.
    let mut on = placement_body(Some(table), id_of(&station), hospital.ago(400));
    let problem = storekeeper.post(&path(&sooner), &on).refused(422, "invalid_value");
    assert_eq!(problem["field"], "handed_to");
    on["handed_to"] = json!(hospital.db_user(hospital.site_id, &[Role::Tester]));
    assert_eq!(storekeeper.post(&path(&sooner), &on).ok(201)["movement"], "hand_over");
    let places = storekeeper.get("/api/v1/places").ok(200);
    let points: Vec<_> =
        places["items"].as_array().unwrap().iter().map(|p| p["filling_point"].clone()).collect();
    assert_eq!(points.iter().filter(|point| **point == json!(true)).count(), 1, "{places}");
}

#[test]
fn a_slip_of_the_pen_is_refused_with_the_label_that_is_meant() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let station = hospital.station(&hospital.day(), "Station 1", &["testing"]);
    let bottle = hospital.opened_bottle(&hospital.lot("saccharin", "test"));
    hospital.registers("3 test");
    let fill = |label: &str| fill_body(&station, &bottle, label, hospital.ago(600));
    let problem = storekeeper.post("/api/v1/fills", &fill("3 tset")).refused(422, "nebulizer_unknown");
    assert_eq!((&problem["field"], &problem["did_you_mean"]), (&json!("nebulizer"), &json!("3 test")));
    let mut late = fill("nine");
    late["afterwards"] = json!(true);
    let problem = storekeeper.post("/api/v1/fills", &late).refused(422, "nebulizer_unknown");
    assert_eq!(problem.get("did_you_mean"), None);
    let things = storekeeper.get("/api/v1/equipment").ok(200);
    assert_eq!(things["items"].as_array().unwrap().len(), 1, "nothing was registered by itself: {things}");
    // Registered, and then told again.
    let _ = hospital.equipment("nebulizer", "nine");
    storekeeper.post("/api/v1/fills", &late).ok(201);
    assert_eq!(storekeeper.post("/api/v1/fills", &fill("3 TEST")).ok(201)["nebulizer"], "3 test");
}

#[test]
fn volumes_that_cannot_be_are_refused() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let station = hospital.station(&hospital.day(), "Station 1", &["testing"]);
    let lot = hospital.lot("saccharin", "test");
    let bottle = hospital.opened_bottle(&lot);
    hospital.registers("A");
    for (volume, afterwards) in [(2, false), (99, true), (20_001, false), (20_001, true)] {
        let mut body = fill_body(&station, &bottle, "A", hospital.ago(600));
        body["volume_ul"] = json!(volume);
        body["afterwards"] = json!(afterwards);
        let problem = storekeeper.post("/api/v1/fills", &body).refused(422, "invalid_value");
        assert_eq!((&problem["field"], &problem["most_ul"]), (&json!("volume_ul"), &json!(20_000)));
    }
    let small = json!({
        "id": Uuid::now_v7(), "lot_id": id_of(&lot), "label": "55 ml", "volume_ul": 55, "happened_at": hospital.now(),
    });
    let problem = storekeeper.post("/api/v1/bottles", &small).refused(422, "invalid_value");
    assert_eq!((&problem["field"], &problem["least_ul"]), (&json!("volume_ul"), &json!(1000)));
    let later = fill_body(&station, &bottle, "A", hospital.now() + TimeDelta::hours(1));
    storekeeper.post("/api/v1/fills", &later).refused(422, "happened_in_future");
}
