//! Solutions made in-house, and hints at which size to try first.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_tests::harness::{Hospital, day::id_of, measure::later, taste::Ending};
use serde_json::{Value, json};
use uuid::Uuid;

fn preparation(hospital: &Hospital, agent: &str, solution: &str, number: &str) -> Value {
    json!({
        "id": Uuid::now_v7(), "agent": agent, "solution": solution, "lot_number": number,
        "made_by": "Ines Valdrun", "happened_at": hospital.ago(3600),
    })
}

/// 29 CFR 1910.134 App. A I.B.2(a)(3) and (5): a week for the stock, one day for the odour solution.
#[test]
fn what_is_made_in_house_is_a_lot_with_the_recipes_last_day() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let body = preparation(&hospital, "isoamyl_acetate", "stock", "OWN-1");
    let lot = storekeeper.post("/api/v1/preparations", &body).ok(201);
    let zone = chrono_tz::Europe::Lisbon;
    let made_on = hospital.ago(3600).with_timezone(&zone).date_naive();
    assert_eq!(
        lot["expires_on"],
        json!(made_on + TimeDelta::days(6)),
        "the day of making is the first of seven"
    );
    assert_eq!(lot["prepared"]["made_by"], "Ines Valdrun");
    assert_eq!(lot["prepared"]["ingredients"][1]["amount"], "800");
    assert!(lot["prepared"]["source"].as_str().unwrap().contains("I.B.2(a)(3)"));
    assert_eq!(storekeeper.post("/api/v1/preparations", &body).ok(201), lot, "a repeat");
    let listed = storekeeper.get("/api/v1/lots").ok(200);
    assert_eq!(listed["items"], json!([lot]));
    let odour = preparation(&hospital, "isoamyl_acetate", "screening", "OWN-2");
    let odour = storekeeper.post("/api/v1/preparations", &odour).ok(201);
    assert_eq!(odour["expires_on"], json!(made_on), "for one day only");
    // A lot like any other: bottles come out of it, and it can be stopped.
    let _ = hospital.opened_bottle(&lot);
    let stop = json!({ "id": Uuid::now_v7(), "reason": "smells of nothing", "happened_at": hospital.now() });
    let stopped = storekeeper.post(&format!("/api/v1/lots/{}/stops", id_of(&lot)), &stop).ok(201);
    assert_eq!(stopped["stopped"], true);
}

#[test]
fn a_last_day_is_needed_where_no_text_sets_one_and_is_never_later_than_the_recipe() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let mut sweet = preparation(&hospital, "saccharin", "test", "OWN-3");
    let problem = storekeeper.post("/api/v1/preparations", &sweet).refused(422, "invalid_value");
    assert_eq!(problem["field"], "last_day");
    let soon = (hospital.now() + TimeDelta::days(20)).date_naive();
    sweet["last_day"] = json!(soon);
    assert_eq!(storekeeper.post("/api/v1/preparations", &sweet).ok(201)["expires_on"], json!(soon));
    let mut stock = preparation(&hospital, "isoamyl_acetate", "stock", "OWN-4");
    stock["last_day"] = json!(soon);
    storekeeper.post("/api/v1/preparations", &stock).refused(422, "invalid_value");
    stock["last_day"] = json!((hospital.now() - TimeDelta::days(3)).date_naive());
    storekeeper.post("/api/v1/preparations", &stock).refused(422, "invalid_value");
    let none = preparation(&hospital, "irritant_smoke", "test", "OWN-5");
    storekeeper.post("/api/v1/preparations", &none).refused(422, "invalid_value");
    let mut again = preparation(&hospital, "saccharin", "test", "OWN-3");
    again["last_day"] = json!(soon);
    storekeeper.post("/api/v1/preparations", &again).refused(409, "already_exists");
    hospital.signed_in(Role::Tester).post("/api/v1/preparations", &again).refused(403, "wrong_role");
}

/// 29 CFR 1910.134 App. A I.B.2(a)(3) and (5): what lasts days has no label of years, and not every pair exists.
#[test]
fn what_is_made_in_house_or_does_not_exist_is_not_received() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    for (agent, solution) in [
        ("isoamyl_acetate", "screening"),
        ("isoamyl_acetate", "stock"),
        ("saccharin", "stock"),
        ("irritant_smoke", "screening"),
    ] {
        let body = sellion_tests::harness::day::lot_body(agent, solution, "2099-12", hospital.ago(60));
        let problem = storekeeper.post("/api/v1/lots", &body).refused(422, "invalid_value");
        assert_eq!(problem["field"], "solution", "{agent} {solution}");
    }
    let _ = hospital.lot("isoamyl_acetate", "test");
}

#[test]
fn a_hint_knows_own_passes_and_the_sites_share_and_is_no_result() {
    let hospital = Hospital::open();
    let (person, other) = (id_of(&hospital.permitted_person("1")), id_of(&hospital.permitted_person("2")));
    let (small, medium) = (id_of(&hospital.respirator("S")), id_of(&hospital.respirator("M")));
    let _ = hospital.respirator("L");
    hospital.passes(other, medium);
    hospital.tests(person, medium, Ending::Fail, later(hospital.now(), -2400));
    hospital.passes(person, small);
    let tester = hospital.signed_in(Role::Tester);
    let path = format!("/api/v1/people/{person}/size_hints");
    let hints = tester.get(&path).ok(200);
    assert!(hints["caution"].as_str().unwrap().contains("no result"));
    let order: Vec<_> = hints["hints"].as_array().unwrap().iter().map(|hint| hint["own"].clone()).collect();
    assert_eq!(order, [json!("pass"), Value::Null, json!("fail")]);
    let last = &hints["hints"][2];
    assert_eq!((&last["passes"], &last["fails"], &last["pass_share"]), (&json!(1), &json!(1), &json!(0.5)));
    tester.get(&format!("/api/v1/people/{}/size_hints", Uuid::now_v7())).refused(404, "not_found");
}

#[test]
fn face_lengths_are_checked_and_only_name_a_cell() {
    let hospital = Hospital::open();
    let person = id_of(&hospital.permitted_person("1"));
    let coordinator = hospital.signed_in(Role::Coordinator);
    let path = format!("/api/v1/people/{person}/size_hints");
    let panel = |cells: Value| {
        json!({
            "id": Uuid::now_v7(), "name": "ours", "source": "invented", "cells": cells,
            "happened_at": hospital.ago(60),
        })
    };
    let cell = |name: &str, from: &str, below: &str| {
        json!({
            "name": name, "length_from_mm": from, "length_below_mm": below,
            "width_from_mm": "110", "width_below_mm": 160,
        })
    };
    let good = panel(json!([cell("a", "100", "115"), cell("b", "115", "130.5")]));
    let stored = coordinator.post("/api/v1/face_panels", &good).ok(201);
    assert_eq!(coordinator.post("/api/v1/face_panels", &good).ok(201), stored, "a repeat");
    let crossed = panel(json!([cell("a", "100", "116"), cell("b", "115", "130")]));
    coordinator.post("/api/v1/face_panels", &crossed).refused(422, "invalid_value");
    let hints = coordinator.get(&format!("{path}?face_length=11.5&face_width=13.9&unit=cm")).ok(200);
    assert_eq!((&hints["cell"], &hints["face"]["face_length_mm"]), (&json!("b"), &json!("115")));
    let problem =
        coordinator.get(&format!("{path}?face_length=11.5&face_width=139")).refused(422, "invalid_value");
    assert!(problem["detail"].as_str().unwrap().contains("11.5 cm"), "{problem}");
    coordinator.get(&format!("{path}?face_length=115")).refused(422, "invalid_value");
    hospital.signed_in(Role::CheckIn).get(&path).refused(403, "wrong_role");
}
