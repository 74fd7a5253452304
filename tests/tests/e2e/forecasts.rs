//! What was sprayed against what is gone, and what runs out.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_tests::harness::{Hospital, day::id_of, taste::Ending};
use serde_json::{Value, json};
use uuid::Uuid;

fn fills(hospital: &Hospital, station: &Value) -> Vec<Value> {
    let path = format!("/api/v1/stations/{}/fills", id_of(station));
    hospital.signed_in(Role::Storekeeper).get(&path).ok(200)["items"].as_array().cloned().unwrap()
}

/// A complete attempt at level 10 is one dose of 10 and thirteen of 5: 75 squeezes (29 CFR 1910.134 App. A I.B.3(b)(9)
/// and (10), computed).
#[test]
fn the_squeezes_of_a_fill_are_compared_with_what_is_gone_from_it() {
    let hospital = Hospital::open();
    let room = hospital.room(hospital.ago(4000));
    let at = hospital.ago(3600);
    let visit = room.check_in(id_of(&hospital.permitted_person("1")), at);
    let screening = room.screens(&visit, Some(10), at);
    let respirator = id_of(&hospital.respirator("small"));
    room.tests(&visit, respirator, &screening, Ending::Pass, at + TimeDelta::seconds(120));
    let test = fills(&hospital, &room.station).into_iter().find(|fill| fill["solution"] == "test").unwrap();
    let emptying = json!({
        "id": Uuid::now_v7(), "discarded_ul": 1_625, "rinsed": true, "happened_at": hospital.ago(600),
    });
    room.tester.post(&format!("/api/v1/fills/{}/emptyings", id_of(&test)), &emptying).ok(201);
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let used = |report: &Value, label: &str| {
        let all = report["nebulizers"].as_array().unwrap();
        all.iter().find(|nebulizer| nebulizer["label"] == label).cloned().unwrap()
    };
    let report = storekeeper.get("/api/v1/usage").ok(200);
    let nebulizer = used(&report, "2 test");
    assert_eq!(nebulizer["squeeze"]["assumed"], true, "nobody has weighed yet");
    assert_eq!(nebulizer["fills"][0]["squeezes"], 75);
    assert_eq!(nebulizer["fills"][0]["expected_ul"], 375.0);
    assert_eq!(nebulizer["fills"][0]["gone_ul"], 375.0);
    assert_eq!(used(&report, "1 screening")["unmeasured"].as_array().unwrap().len(), 1);
    assert_eq!(report["findings"], json!([]));
    assert!(report["alarm"].is_object(), "the rate of false alarms is stated: {report}");

    let weighing = json!({
        "id": Uuid::now_v7(), "squeezes": 100, "before_mg": 24_310, "after_mg": 23_800, "scale_step_mg": 10,
        "happened_at": hospital.now(),
    });
    let path = format!("/api/v1/equipment/{}/weighings", nebulizer["nebulizer"].as_str().unwrap());
    room.tester.post(&path, &weighing).ok(201);
    let nebulizer = used(&storekeeper.get("/api/v1/usage").ok(200), "2 test");
    assert_eq!((&nebulizer["squeeze"]["assumed"], &nebulizer["squeeze"]["ul"]), (&json!(false), &json!(5.1)));
    let told = hospital.signed_in(Role::Tester);
    told.get("/api/v1/usage").refused(403, "wrong_role");
    let backwards = "/api/v1/usage?from=2026-03-02T00:00:00Z&until=2026-03-01T00:00:00Z";
    storekeeper.get(backwards).refused(422, "invalid_value");
}

#[test]
fn a_planned_day_says_what_to_order_and_that_one_lot_is_not_enough() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let _ = hospital.bottle(&hospital.lot("saccharin", "test"));
    let starts_at = hospital.now() + TimeDelta::days(1);
    let plan = |heads: u32| json!({ "planned": { "starts_at": starts_at, "hours": 8.0, "heads": heads, "stations": 6 } });
    let supply = |told: &Value, agent: &str, solution: &str| {
        let all = told["supplies"].as_array().unwrap();
        all.iter().find(|row| row["agent"] == agent && row["solution"] == solution).cloned().unwrap()
    };
    let told = storekeeper.post("/api/v1/forecasts", &plan(600)).ok(200);
    let test = supply(&told, "saccharin", "test");
    assert_eq!(test["on_hand_ul"], 55_000);
    assert_eq!(test["wants_second_lot"], true);
    // Common practice, no source: 70 to 120 ml of test solution for 100 tests, leftovers included.
    let need = test["need_ul"].as_f64().unwrap() / told["attempts"].as_f64().unwrap() * 100.0;
    assert!((70_000.0..=120_000.0).contains(&need), "{need}");
    assert!(test["order_bottles"].as_u64().unwrap() > 0, "{test}");
    assert!(test["empty_at"].is_string(), "55 ml do not last: {test}");
    let few = storekeeper.post("/api/v1/forecasts", &plan(10)).ok(200);
    assert!(supply(&few, "saccharin", "test")["empty_at"].is_null());
    let mut own = plan(600);
    own["assumptions"] = json!({ "fail_share": 0.5 });
    let more = storekeeper.post("/api/v1/forecasts", &own).ok(200);
    assert!(more["attempts"].as_f64() > told["attempts"].as_f64());
    let shown = more["assumptions"].as_array().unwrap();
    let fails = shown.iter().find(|row| row["name"] == "fail_share").unwrap();
    assert_eq!((&fails["value"], &fails["trust"]), (&json!(0.5), &json!("set_here")), "{fails}");

    for (wrong, field) in [
        (json!({}), "day_id"),
        (json!({ "planned": { "starts_at": starts_at, "hours": 0.0, "heads": 1, "stations": 1 } }), "hours"),
        (
            json!({ "planned": { "starts_at": starts_at, "hours": 8.0, "heads": 1, "stations": 0 } }),
            "stations",
        ),
    ] {
        let problem = storekeeper.post("/api/v1/forecasts", &wrong).refused(422, "invalid_value");
        assert_eq!(problem["field"], field);
    }
    let mut wrong = plan(10);
    wrong["assumptions"] = json!({ "fail_share": 7.0 });
    storekeeper.post("/api/v1/forecasts", &wrong).refused(422, "invalid_value");
}

#[test]
fn the_rest_of_a_day_knows_its_stations_and_who_still_waits() {
    let hospital = Hospital::open();
    let room = hospital.room(hospital.ago(600));
    for number in 0..3 {
        let person = hospital.permitted_person(&format!("70{number}"));
        let _ = room.check_in(id_of(&person), hospital.ago(300));
    }
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let told = storekeeper.post("/api/v1/forecasts", &json!({ "day_id": room.day["id"] })).ok(200);
    assert_eq!(told["people"], 3.0, "{told}");
    let stations = told["stations"].as_array().unwrap();
    assert!(stations.iter().all(|station| station["station"] == room.station["id"]), "{told}");
    assert!(stations.iter().any(|station| station["solution"] == "test"));
    let elsewhere = hospital.signed_in_at(hospital.another_site("Ostrel"), &[Role::Storekeeper]);
    elsewhere.post("/api/v1/forecasts", &json!({ "day_id": room.day["id"] })).refused(404, "not_found");
}

/// What was weighed at the site goes before what is remembered of squeezes elsewhere, and is named with its source.
#[test]
fn the_sites_own_weighings_reach_the_forecast_unless_another_number_is_asked_for() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let asks = |assumptions: Value| {
        let body = json!({
            "planned": { "starts_at": hospital.now() + TimeDelta::days(7), "hours": 8.0, "heads": 100, "stations": 2 },
            "assumptions": assumptions,
        });
        storekeeper.post("/api/v1/forecasts", &body)
    };
    let squeeze = |told: &Value| {
        let all = told["assumptions"].as_array().unwrap();
        all.iter().find(|line| line["name"] == "squeeze_ul").cloned().unwrap()
    };
    let told = asks(json!({})).ok(200);
    assert_eq!((&squeeze(&told)["value"], &squeeze(&told)["trust"]), (&json!(5.0), &json!("from_memory")));
    let needed = told["supplies"][0]["sprayed_ul"].as_f64().unwrap();
    // Two nebulizers at 6 and 8 microlitres a squeeze; of one only the newest weighing counts, and a third is retired.
    let weighs = |label: &str, gone: i64, seconds: i64| {
        hospital.registers(label);
        let found = storekeeper.get(&format!("/api/v1/equipment?q={label}")).ok(200);
        let thing = found["items"][0].clone();
        let body = json!({
            "id": Uuid::now_v7(), "squeezes": 100, "before_mg": 24_000, "after_mg": 24_000 - gone,
            "scale_step_mg": 10, "happened_at": hospital.ago(seconds),
        });
        storekeeper.post(&format!("/api/v1/equipment/{}/weighings", id_of(&thing)), &body).ok(201);
        thing
    };
    weighs("N1", 300, 9000);
    weighs("N1", 600, 3000);
    weighs("N2", 800, 6000);
    let gone = weighs("N3", 4_000, 6000);
    let retired = json!({ "id": Uuid::now_v7(), "finding": "retired", "happened_at": hospital.ago(60) });
    storekeeper.post(&format!("/api/v1/equipment/{}/checks", id_of(&gone)), &retired).ok(201);
    let told = asks(json!({ "fail_share": 0.15 })).ok(200);
    let line = squeeze(&told);
    assert_eq!((&line["value"], &line["trust"]), (&json!(7.0), &json!("measured")));
    assert!(line["source"].as_str().unwrap().contains("2 nebulizers"), "{line}");
    let sprayed = told["supplies"][0]["sprayed_ul"].as_f64().unwrap();
    assert!((sprayed / needed - 1.4).abs() < 1e-9, "{sprayed} for {needed}");
    let line = squeeze(&asks(json!({ "squeeze_ul": 4.5 })).ok(200));
    assert_eq!((&line["value"], &line["trust"]), (&json!(4.5), &json!("set_here")));
    asks(json!({ "squeeze": 4.5 })).refused(400, "bad_json");
}
