//! Lots: of which maker, how they are found, and who stopped and released them.

use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Client, Hospital,
    day::{id_of, lot_body},
};
use serde_json::{Value, json};
use uuid::Uuid;

fn ids(page: &Value) -> Vec<Value> {
    page["items"].as_array().unwrap().iter().map(|item| item["id"].clone()).collect()
}

fn numbered(hospital: &Hospital, number: &str, maker: Option<&str>) -> Value {
    let mut body = lot_body("saccharin", "test", "2099-12", hospital.now());
    body["lot_number"] = json!(number);
    body["lot_number_again"] = json!(number);
    body["maker"] = json!(maker);
    body
}

/// A lot number is the maker's own (GS1 General Specifications, AI 10, is unique together with the trade item number
/// only; fact 8.2).
#[test]
fn two_makers_may_print_the_same_number() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let problem =
        storekeeper.post("/api/v1/lots", &numbered(&hospital, "7", None)).refused(422, "invalid_value");
    assert_eq!(problem["field"], "maker");
    let brenning =
        storekeeper.post("/api/v1/lots", &numbered(&hospital, "7", Some("Brenning Optics"))).ok(201);
    assert_eq!(brenning["maker"], "Brenning Optics");
    let other = storekeeper.post("/api/v1/lots", &numbered(&hospital, "7", Some("Orlevane"))).ok(201);
    for again in ["Brenning Optics", "BRENNING OPTICS"] {
        let body = numbered(&hospital, "7", Some(again));
        storekeeper.post("/api/v1/lots", &body).refused(409, "already_exists");
    }
    let read = storekeeper.post("/api/v1/label_readings", &json!({ "text": "107" })).ok(200);
    assert_eq!(read["lots"].as_array().unwrap().len(), 2, "the number alone does not say which");

    // The trade item number does: it is asked for the maker once.
    let label = |number: &str| format!("010950600013437617991200{}{number}", "10");
    let mut scanned = numbered(&hospital, "8", None);
    for member in ["lot_number", "lot_number_again", "printed_expiry", "printed_expiry_again"] {
        scanned.as_object_mut().unwrap().remove(member);
    }
    scanned["label"] = json!(label("8"));
    storekeeper.post("/api/v1/lots", &scanned).refused(422, "invalid_value");
    scanned["maker"] = json!("Brenning Optics");
    storekeeper.post("/api/v1/lots", &scanned).ok(201);
    scanned["id"] = json!(Uuid::now_v7());
    scanned["label"] = json!(label("9"));
    scanned.as_object_mut().unwrap().remove("maker");
    let known = storekeeper.post("/api/v1/lots", &scanned).ok(201);
    assert_eq!(known["maker"], "Brenning Optics");
    assert_eq!(storekeeper.post("/api/v1/lots", &scanned).ok(201), known, "a repeat");

    let found = |q: &str| ids(&storekeeper.get(&format!("/api/v1/lots?q={q}")).ok(200));
    assert_eq!(found("orleVANE"), [other["id"].clone()]);
    assert_eq!(found("9506000134376").len(), 2);
    assert_eq!(found("100%25"), Vec::<Value>::new(), "nothing is a wildcard");
    storekeeper.get("/api/v1/lots?q=").refused(422, "invalid_value");
}

#[test]
fn bottles_nebulizers_and_hoods_are_found_by_their_labels() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let (bottle, _) = (
        hospital.bottle(&hospital.lot("saccharin", "test")),
        hospital.bottle(&hospital.lot("saccharin", "test")),
    );
    let (_, hood) = (hospital.equipment("nebulizer", "3 test"), hospital.equipment("hood", "H_3"));
    let label = bottle["label"].as_str().unwrap();
    let found = storekeeper.get(&format!("/api/v1/bottles?q={}", label.to_uppercase())).ok(200);
    assert_eq!(ids(&found), [bottle["id"].clone()]);
    assert_eq!(ids(&storekeeper.get("/api/v1/equipment?q=h_").ok(200)), [hood["id"].clone()]);
    let elsewhere = hospital.another_site("Ostrel");
    let stranger = hospital.signed_in_at(elsewhere, &[Role::Storekeeper]);
    assert_eq!(stranger.get("/api/v1/equipment?q=h_").ok(200)["items"], json!([]));
}

fn decide(client: &Client, lot: &Value, what: &str, reason: &str, hospital: &Hospital) {
    let body = json!({ "id": Uuid::now_v7(), "reason": reason, "happened_at": hospital.now() });
    client.post(&format!("/api/v1/lots/{}/{what}", id_of(lot)), &body).ok(201);
}

#[test]
fn who_stopped_and_released_a_lot_and_why_is_listed() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let (lot, other) = (hospital.lot("saccharin", "test"), hospital.lot("saccharin", "screening"));
    decide(&storekeeper, &lot, "stops", "recalled", &hospital);
    decide(&storekeeper, &other, "stops", "it smells", &hospital);
    decide(&storekeeper, &lot, "releases", "tested good", &hospital);
    decide(&storekeeper, &lot, "stops", "recalled again", &hospital);
    let all = hospital.signed_in(Role::Auditor).get("/api/v1/lot_stops").ok(200);
    assert_eq!(all["items"].as_array().unwrap().len(), 3, "{all}");
    let page = storekeeper.get(&format!("/api/v1/lot_stops?lot_id={}&limit=1", id_of(&lot))).ok(200);
    let first = &page["items"][0];
    assert_eq!(
        (&first["reason"], &first["by"], &first["lot_number"], &first["reach"]),
        (&json!("recalled"), &json!("Ines Valdrun"), &lot["lot_number"], &json!("possibly"))
    );
    assert_eq!(
        (&first["release"]["reason"], &first["release"]["by"]),
        (&json!("tested good"), &json!("Ines Valdrun"))
    );
    let cursor = page["next"].as_str().unwrap();
    let path = format!("/api/v1/lot_stops?lot_id={}&limit=1&cursor={cursor}", id_of(&lot));
    let second = storekeeper.get(&path).ok(200)["items"][0].clone();
    assert_eq!((&second["reason"], second.get("release")), (&json!("recalled again"), None));
    hospital.signed_in(Role::Tester).get("/api/v1/lot_stops").refused(403, "wrong_role");
    let elsewhere = hospital.another_site("Ostrel");
    let stranger = hospital.signed_in_at(elsewhere, &[Role::Storekeeper]);
    assert_eq!(stranger.get("/api/v1/lot_stops").ok(200)["items"], json!([]));
}

#[test]
fn a_tester_is_found_by_name_for_a_look_back() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let tester = hospital.db_user(hospital.site_id, &[Role::Tester]);
    let found = coordinator.get("/api/v1/testers?q=valDRUN").ok(200);
    let names: Vec<&Value> =
        found["items"].as_array().unwrap().iter().map(|item| &item["username"]).collect();
    assert_eq!(names, [&json!(tester)], "the coordinator has the same name, and tests nobody");
    assert_eq!(
        (&found["items"][0]["display_name"], &found["items"][0]["closed"]),
        (&json!("Ines Valdrun"), &json!(false))
    );
    let id = found["items"][0]["id"].as_str().unwrap();
    coordinator.get(&format!("/api/v1/look_backs?tester_id={id}")).ok(200);
    assert_eq!(coordinator.get("/api/v1/testers?q=nobody").ok(200)["items"], json!([]));
    hospital.signed_in(Role::Tester).get("/api/v1/testers").refused(403, "wrong_role");
}
