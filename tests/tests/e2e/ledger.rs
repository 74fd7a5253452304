//! The ledger: where everything is, what came in and went out, and what the books say then.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Hospital,
    day::{fill_body, id_of, lot_body},
    stores::{movement_body, on_hand, placement_body, volumes},
};
use serde_json::{Value, json};
use uuid::Uuid;

fn placements(bottle: &Value) -> String {
    format!("/api/v1/bottles/{}/placements", id_of(bottle))
}

fn movements(bottle: &Value) -> String {
    format!("/api/v1/bottles/{}/movements", id_of(bottle))
}

#[test]
fn a_lot_number_is_typed_twice_and_may_differ_on_the_box() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let mut body = lot_body("saccharin", "test", "2099-12", hospital.now());
    body["lot_number"] = json!("SB-2O31");
    body["lot_number_again"] = json!("SB-2031");
    let problem = storekeeper.post("/api/v1/lots", &body).refused(422, "invalid_value");
    assert_eq!(problem["field"], "lot_number_again");
    body["lot_number"] = json!("SB-2031");
    body["box_lot_number"] = json!("BX-7");
    let lot = storekeeper.post("/api/v1/lots", &body).ok(201);
    assert_eq!(
        (&lot["label_read"], &lot["box_lot_number"]),
        (&json!("typed_twice"), &json!("BX-7")),
        "{lot}"
    );
}

#[test]
fn a_bottle_goes_from_the_storeroom_to_a_station_and_on_with_both_names() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let day = hospital.day();
    let (first, second) = (
        hospital.station(&day, "Station 1", &["testing"]),
        hospital.station(&day, "Station 2", &["testing"]),
    );
    let (storeroom, first, second) = (hospital.storeroom(), id_of(&first), id_of(&second));
    let bottle = hospital.bottle(&hospital.lot("saccharin", "test"));
    assert_eq!(bottle["place"]["name"], "Storeroom");

    let issue = placement_body(Some(storeroom), first, hospital.now());
    let issued = storekeeper.post(&placements(&bottle), &issue).ok(201);
    assert_eq!(issued["movement"], "issue");
    assert_eq!(storekeeper.post(&placements(&bottle), &issue).ok(201), issued, "a repeat");
    let again = placement_body(Some(storeroom), second, hospital.now());
    let problem = storekeeper.post(&placements(&bottle), &again).refused(409, "moved_meanwhile");
    assert_eq!((&problem["place"], &problem["field"]), (&json!("Station 1"), &json!("from_place_id")));

    let mut on = placement_body(Some(first), second, hospital.now());
    let problem = storekeeper.post(&placements(&bottle), &on).refused(422, "invalid_value");
    assert_eq!(problem["field"], "handed_to", "a hand-over has two names");
    on["handed_to"] = json!("nobody");
    storekeeper.post(&placements(&bottle), &on).refused(422, "invalid_value");
    on["handed_to"] = json!(hospital.db_user(hospital.site_id, &[Role::Tester]));
    let handed = storekeeper.post(&placements(&bottle), &on).ok(201);
    assert_eq!(handed["movement"], "hand_over");
    assert!(handed["handed_to"].is_string(), "{handed}");
    let back = placement_body(Some(second), storeroom, hospital.now());
    assert_eq!(storekeeper.post(&placements(&bottle), &back).ok(201)["movement"], "return");

    let stock = storekeeper.get(&format!("/api/v1/places/{storeroom}/stock")).ok(200);
    assert_eq!(stock["bottles"][0]["id"], bottle["id"]);
    let stock = storekeeper.get(&format!("/api/v1/places/{second}/stock")).ok(200);
    assert_eq!(stock["bottles"], json!([]));
    let ledger = storekeeper.get(&format!("/api/v1/bottles/{}/ledger", id_of(&bottle))).ok(200);
    assert_eq!(ledger["placements"].as_array().unwrap().len(), 4, "received, issued, handed over, returned");
    let body = json!({ "id": Uuid::now_v7(), "name": "Cupboard" });
    let cupboard = storekeeper.post("/api/v1/places", &body).ok(201);
    assert_eq!(storekeeper.post("/api/v1/places", &body).ok(201), cupboard);
    let same = json!({ "id": Uuid::now_v7(), "name": "Cupboard" });
    storekeeper.post("/api/v1/places", &same).refused(409, "already_exists");
    let there = placement_body(Some(storeroom), id_of(&cupboard), hospital.now());
    assert_eq!(storekeeper.post(&placements(&bottle), &there).ok(201)["movement"], "move");
    let nowhere = placement_body(Some(id_of(&cupboard)), id_of(&cupboard), hospital.now());
    storekeeper.post(&placements(&bottle), &nowhere).refused(422, "invalid_value");
}

/// First expired, first out (World Health Organization, good storage and distribution practices, glossary; fact 8.1).
#[test]
fn what_ends_first_goes_first_unless_there_is_a_reason() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let station = id_of(&hospital.station(&hospital.day(), "Station 1", &["testing"]));
    let storeroom = hospital.storeroom();
    let sooner = hospital.bottle(&hospital.lot_until("saccharin", "test", "2098-06"));
    let later = hospital.bottle(&hospital.lot_until("saccharin", "test", "2099-06"));
    let other = hospital.bottle(&hospital.lot_until("denatonium_benzoate", "test", "2099-12"));
    let issue = || placement_body(Some(storeroom), station, hospital.now());
    let problem = storekeeper.post(&placements(&later), &issue()).refused(422, "first_expired_first");
    assert_eq!(
        (&problem["proposed"], &problem["last_day"]),
        (&sooner["label"], &json!("2098-06-30")),
        "{problem}"
    );
    storekeeper.post(&placements(&other), &issue()).ok(201);
    let mut with_reason = issue();
    with_reason["reason"] = json!("the older one is kept for the second day");
    storekeeper.post(&placements(&later), &with_reason).ok(201);
    storekeeper.post(&placements(&sooner), &issue()).ok(201);
}

#[test]
fn what_is_stopped_or_out_of_date_is_not_issued() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let station = id_of(&hospital.station(&hospital.day(), "Station 1", &["testing"]));
    let storeroom = hospital.storeroom();
    let expired = hospital.bottle(&hospital.lot_until("saccharin", "test", "2020-01"));
    let issue = placement_body(Some(storeroom), station, hospital.now());
    storekeeper.post(&placements(&expired), &issue).refused(422, "bottle_expired");
    let lot = hospital.lot("saccharin", "test");
    let bottle = hospital.bottle(&lot);
    let stop = json!({ "id": Uuid::now_v7(), "reason": "recalled", "happened_at": hospital.now() });
    storekeeper.post(&format!("/api/v1/lots/{}/stops", id_of(&lot)), &stop).ok(201);
    storekeeper.post(&placements(&bottle), &issue).refused(422, "lot_stopped");
}

#[test]
fn the_ledger_of_a_bottle_adds_up_and_a_count_is_a_difference() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let station = hospital.station(&hospital.day(), "Station 1", &["testing"]);
    let lot = hospital.lot("saccharin", "test");
    let bottle = hospital.opened_bottle(&lot);
    let at = |minutes: i64| hospital.now() - TimeDelta::minutes(minutes);
    let fill = hospital.fill(&station, &bottle, "A", at(50));
    hospital.registers("B");
    assert_eq!(on_hand(&storekeeper, &bottle), 53_000);

    let mut spill = movement_body("spill", 30_000, at(40));
    spill["guessed"] = json!(true);
    let entry = storekeeper.post(&movements(&bottle), &spill).ok(201);
    assert_eq!((&entry["change_ul"], &entry["on_hand_ul"]), (&json!(-30_000), &json!(23_000)));
    assert_eq!(storekeeper.post(&movements(&bottle), &spill).ok(201), entry, "a repeat");
    let count = storekeeper.post(&movements(&bottle), &movement_body("count", 25_000, at(30))).ok(201);
    assert_eq!((&count["difference_ul"], &count["on_hand_ul"]), (&json!(2_000), &json!(25_000)));
    assert_eq!((&entry["guessed"], &entry["reason"]), (&json!(true), &json!("seen at the shelf")));
    assert_eq!(entry["by"], "Ines Valdrun", "who did it is shown");

    // What happened before the count and is told after it changes the difference, and not what was found.
    let mut late = fill_body(&station, &bottle, "B", at(45));
    late["afterwards"] = json!(true);
    storekeeper.post("/api/v1/fills", &late).ok(201);
    assert_eq!(on_hand(&storekeeper, &bottle), 25_000);
    let found = volumes(&storekeeper, &lot);
    assert_eq!(found["difference_ul"], 4_000, "{found}");
    assert_eq!(found["in_nebulizers_ul"], 4_000);

    let emptying =
        json!({ "id": Uuid::now_v7(), "discarded_ul": 600, "rinsed": true, "happened_at": at(20) });
    let path = format!("/api/v1/fills/{}/emptyings", id_of(&fill));
    let emptied = storekeeper.post(&path, &emptying).ok(201);
    assert!(emptied["emptied_at"].is_string(), "{emptied}");
    assert_eq!(storekeeper.post(&path, &emptying).ok(201), emptied);
    let twice = json!({ "id": Uuid::now_v7(), "rinsed": true, "happened_at": at(19) });
    storekeeper.post(&path, &twice).refused(409, "already_exists");
    let rest = json!({
        "id": Uuid::now_v7(), "movement": "discard", "reason": "the day is over", "happened_at": at(10),
    });
    assert_eq!(storekeeper.post(&movements(&bottle), &rest).ok(201)["change_ul"], -25_000);
    let nothing = json!({
        "id": Uuid::now_v7(), "movement": "discard", "reason": "the day is over", "happened_at": at(9),
    });
    storekeeper.post(&movements(&bottle), &nothing).refused(422, "bottle_empty");
    let found = volumes(&storekeeper, &lot);
    for (part, volume) in [
        ("received_ul", 55_000),
        ("in_bottles_ul", 0),
        ("in_nebulizers_ul", 2_000),
        ("used_ul", 1_400),
        ("discarded_ul", 25_600),
        ("spilled_ul", 30_000),
        ("difference_ul", 4_000),
    ] {
        assert_eq!(found[part], volume, "{part}: {found}");
    }
}

#[test]
fn nobody_fills_what_is_not_there_but_what_happened_is_kept_and_shown_below_zero() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let station = hospital.station(&hospital.day(), "Station 1", &["testing"]);
    let bottle = hospital.opened_bottle(&hospital.lot("saccharin", "test"));
    let left = movement_body("count", 1_500, hospital.ago(60));
    storekeeper.post(&movements(&bottle), &left).ok(201);
    hospital.registers("A");
    let mut body = fill_body(&station, &bottle, "A", hospital.now());
    let problem = storekeeper.post("/api/v1/fills", &body).refused(422, "bottle_empty");
    assert_eq!(problem["on_hand_ul"], 1_500);
    assert_eq!(on_hand(&storekeeper, &bottle), 1_500, "nothing is half written");
    body["afterwards"] = json!(true);
    assert_eq!(storekeeper.post("/api/v1/fills", &body).ok(201)["afterwards"], true);
    assert_eq!(on_hand(&storekeeper, &bottle), -500);
    for (movement, volume, field) in [
        ("spill", 0, "volume_ul"),
        ("count", -1, "volume_ul"),
        ("count", 60_501, "volume_ul"),
        ("spill", 99_000, "volume_ul"),
    ] {
        let body = movement_body(movement, volume, hospital.now());
        let problem = storekeeper.post(&movements(&bottle), &body).refused(422, "invalid_value");
        assert_eq!(problem["field"], field);
    }
}

/// A nebulizer is rinsed and refilled, never topped up (29 CFR 1910.134 App. A I.B.3(a)(14); fact 3.38).
#[test]
fn a_nebulizer_is_not_topped_up_and_where_it_was_it_counts_for_both() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let station = hospital.station(&hospital.day(), "Station 1", &["testing"]);
    let (old, new) = (hospital.lot("saccharin", "test"), hospital.lot("saccharin", "test"));
    let (first, second) = (hospital.opened_bottle(&old), hospital.opened_bottle(&new));
    let fill = hospital.fill(&station, &first, "A", hospital.ago(3 * 3600));
    let mut onto = fill_body(&station, &second, "A", hospital.ago(600));
    onto["rinsed"] = json!(false);
    let problem = storekeeper.post("/api/v1/fills", &onto).refused(422, "fill_on_top");
    assert_eq!(problem["field"], "rinsed");
    onto["topped_up"] = json!(true);
    let topped = storekeeper.post("/api/v1/fills", &onto).ok(201);
    assert_eq!(topped["topped_up_fill_id"], fill["id"]);
    assert_eq!(storekeeper.post("/api/v1/fills", &onto).ok(201), topped, "a repeat");
    assert_eq!(volumes(&storekeeper, &old)["in_nebulizers_ul"], 2_000);

    // It is as old as the older rest, and stopped with either lot.
    let screened = hospital.opened_bottle(&hospital.lot("saccharin", "screening"));
    let _ = hospital.fill(&station, &screened, "S", hospital.now());
    let used = |at| hospital.current_fill(&station, "saccharin", "test", at);
    assert_eq!(used(hospital.now()), Ok(id_of(&topped)));
    assert_eq!(used(hospital.now() + TimeDelta::minutes(61)), Err("fill_too_old"));
    let stop = json!({ "id": Uuid::now_v7(), "reason": "recalled", "happened_at": hospital.now() });
    storekeeper.post(&format!("/api/v1/lots/{}/stops", id_of(&old)), &stop).ok(201);
    assert_eq!(used(hospital.now()), Err("lot_stopped"));
}

#[test]
fn what_goes_into_a_preparation_leaves_its_bottle() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let stock = json!({
        "id": Uuid::now_v7(), "agent": "isoamyl_acetate", "solution": "stock", "lot_number": "OWN-1",
        "made_by": "Ines Valdrun", "happened_at": hospital.ago(7200),
    });
    let stock = storekeeper.post("/api/v1/preparations", &stock).ok(201);
    let odour = hospital.lot("isoamyl_acetate", "screening");
    let bottle = hospital.opened_bottle(&stock);
    let mut body = movement_body("prepare", 400, hospital.now());
    let problem = storekeeper.post(&movements(&bottle), &body).refused(422, "invalid_value");
    assert_eq!(problem["field"], "prepared_lot_id");
    body["prepared_lot_id"] = json!(id_of(&hospital.lot("saccharin", "test")));
    storekeeper.post(&movements(&bottle), &body).refused(422, "invalid_value");
    body["prepared_lot_id"] = odour["id"].clone();
    storekeeper.post(&movements(&bottle), &body).ok(201);
    assert_eq!(volumes(&storekeeper, &stock)["prepared_ul"], 400);
    let mut spill = movement_body("spill", 400, hospital.now());
    spill["prepared_lot_id"] = odour["id"].clone();
    storekeeper.post(&movements(&bottle), &spill).refused(422, "invalid_value");
}

#[test]
fn another_site_sees_nothing_of_it() {
    let hospital = Hospital::open();
    let bottle = hospital.bottle(&hospital.lot("saccharin", "test"));
    let storeroom = hospital.storeroom();
    let elsewhere = hospital.another_site("Ostrel");
    let stranger = hospital.signed_in_at(elsewhere, &[Role::Storekeeper]);
    let body = movement_body("spill", 10, hospital.now());
    stranger.post(&movements(&bottle), &body).refused(404, "not_found");
    stranger.get(&format!("/api/v1/bottles/{}/ledger", id_of(&bottle))).refused(404, "not_found");
    stranger.get(&format!("/api/v1/places/{storeroom}/stock")).refused(404, "not_found");
    let away = placement_body(Some(storeroom), storeroom, hospital.now());
    stranger.post(&placements(&bottle), &away).refused(404, "not_found");
    assert_eq!(stranger.get("/api/v1/balances").ok(200)["items"], json!([]));
    assert_eq!(
        stranger.get("/api/v1/places").ok(200)["items"].as_array().unwrap().len(),
        1,
        "its own storeroom"
    );
}
