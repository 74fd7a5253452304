//! Planning a day: the day itself and its stations.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_tests::harness::{Hospital, RULE_SET, day::id_of};
use serde_json::json;
use uuid::Uuid;

#[test]
fn a_day_is_planned_under_the_rule_set_of_the_site() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let body = hospital.day_body();
    let day = coordinator.post("/api/v1/days", &body).ok(201);
    assert_eq!(day["rule_set"]["name"], RULE_SET);
    assert_eq!(day["version"], 1);
    assert!(day.get("closed_at").is_none());

    let again = coordinator.post("/api/v1/days", &body).ok(201);
    assert_eq!(again, day, "a repeat finds the stored day");
    let read = hospital.signed_in(Role::CheckIn).get(&format!("/api/v1/days/{}", id_of(&day)));
    assert_eq!(read.header("etag"), Some("\"1\""));
    assert_eq!(read.ok(200), day);
    let listed = coordinator.get("/api/v1/days").ok(200);
    assert_eq!(listed["items"], json!([day]));
}

#[test]
fn a_day_needs_hours_a_place_and_rules_that_exist() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let mut body = hospital.day_body();
    body["rule_set"] = json!({ "name": "nowhere", "version": "1" });
    let problem = coordinator.post("/api/v1/days", &body).refused(422, "invalid_value");
    assert_eq!(problem["field"], "rule_set");

    let mut body = hospital.day_body();
    body["closes_at"] = body["opens_at"].clone();
    let problem = coordinator.post("/api/v1/days", &body).refused(422, "invalid_value");
    assert_eq!(problem["field"], "closes_at");

    let mut body = hospital.day_body();
    body["place"] = json!("  ");
    let problem = coordinator.post("/api/v1/days", &body).refused(422, "invalid_value");
    assert_eq!(problem["field"], "place");

    let day = hospital.day();
    let mut other = hospital.day_body();
    other["id"] = day["id"].clone();
    other["place"] = json!("Plover ward");
    coordinator.post("/api/v1/days", &other).refused(409, "id_reused");
    hospital.signed_in(Role::CheckIn).post("/api/v1/days", &hospital.day_body()).refused(403, "wrong_role");
}

#[test]
fn a_day_is_changed_on_top_of_what_was_read_and_closed() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let day = hospital.day();
    let path = format!("/api/v1/days/{}", id_of(&day));
    let moved = coordinator.patch(&path, 1, &json!({ "place": "Plover ward" })).ok(200);
    assert_eq!((&moved["place"], &moved["version"]), (&json!("Plover ward"), &json!(2)));
    let problem = coordinator.patch(&path, 1, &json!({ "place": "Elsewhere" })).refused(409, "stale_version");
    assert_eq!(problem["version_stored"], 2);
    let early = json!({ "closes_at": hospital.ago(24 * 3600) });
    coordinator.patch(&path, 2, &early).refused(422, "invalid_value");

    let closed = coordinator.patch(&path, 2, &json!({ "closed": true })).ok(200);
    assert!(closed["closed_at"].is_string());
    hospital.clock.shift(TimeDelta::minutes(1));
    let again = coordinator.patch(&path, 3, &json!({ "closed": true })).ok(200);
    assert_eq!(again["closed_at"], closed["closed_at"], "closing twice keeps the moment");
    let open = coordinator.patch(&path, 4, &json!({ "closed": false })).ok(200);
    assert!(open.get("closed_at").is_none());
}

#[test]
fn stations_belong_to_a_day_and_have_parts() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let day = hospital.day();
    let path = format!("/api/v1/days/{}/stations", id_of(&day));
    let body = json!({ "id": Uuid::now_v7(), "name": "Station 1", "parts": ["testing", "screening"] });
    let station = coordinator.post(&path, &body).ok(201);
    assert_eq!(station["parts"], json!(["screening", "testing"]));
    assert_eq!(coordinator.post(&path, &body).ok(201), station);
    assert_eq!(coordinator.get(&path).ok(200)["items"], json!([station]));

    let same_name = json!({ "id": Uuid::now_v7(), "name": "Station 1", "parts": ["badges"] });
    coordinator.post(&path, &same_name).refused(409, "already_exists");
    let other = json!({ "id": body["id"], "name": "Station 1", "parts": ["badges"] });
    coordinator.post(&path, &other).refused(409, "id_reused");
    let none = json!({ "id": Uuid::now_v7(), "name": "Station 2", "parts": [] });
    let problem = coordinator.post(&path, &none).refused(422, "invalid_value");
    assert_eq!(problem["field"], "parts");
    hospital.signed_in(Role::Tester).post(&path, &body).refused(403, "wrong_role");
}

#[test]
fn another_site_sees_neither_the_day_nor_its_stations() {
    let hospital = Hospital::open();
    let day = hospital.day();
    let station = hospital.station(&day, "Station 1", &["screening"]);
    let stranger = hospital.signed_in_at(hospital.another_site("Ostrel"), &[Role::Coordinator]);
    let path = format!("/api/v1/days/{}", id_of(&day));
    stranger.get(&path).refused(404, "not_found");
    stranger.patch(&path, 1, &json!({ "closed": true })).refused(404, "not_found");
    stranger.get(&format!("{path}/stations")).refused(404, "not_found");
    stranger.get(&format!("{path}/queue")).refused(404, "not_found");
    let body = json!({ "id": Uuid::now_v7(), "name": "Station 2", "parts": ["screening"] });
    stranger.post(&format!("{path}/stations"), &body).refused(404, "not_found");
    assert_eq!(stranger.get("/api/v1/days").ok(200)["items"], json!([]));

    // An id that is taken elsewhere tells nothing but that it is taken.
    let mut theirs = hospital.day_body();
    theirs["id"] = day["id"].clone();
    stranger.post("/api/v1/days", &theirs).refused(409, "id_reused");
    let fills = format!("/api/v1/stations/{}/fills", id_of(&station));
    stranger.get(&fills).refused(404, "not_found");
}
