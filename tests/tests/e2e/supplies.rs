//! Lots, bottles and fills: what may be used, until when, and by which station.

use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Client, Hospital,
    day::{bottle_body, fill_body, id_of, lot_body, time_of},
    stores::recorded_fill,
};
use serde_json::{Value, json};
use uuid::Uuid;

/// The local day in the site's zone, which is that of its server in winter and an hour ahead in summer.
fn local_day(at: DateTime<Utc>) -> chrono::NaiveDate {
    at.with_timezone(&chrono_tz::Europe::Lisbon).date_naive()
}

fn open_bottle(storekeeper: &Client, bottle: &Value, at: DateTime<Utc>) -> Value {
    let body = json!({ "id": Uuid::now_v7(), "happened_at": at });
    storekeeper.post(&format!("/api/v1/bottles/{}/openings", id_of(bottle)), &body).ok(201)
}

#[test]
fn a_month_without_a_day_means_its_last_day() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let body = lot_body("saccharin", "test", "2028-02", hospital.now());
    let lot = storekeeper.post("/api/v1/lots", &body).ok(201);
    assert_eq!((&lot["printed_expiry"], &lot["expires_on"]), (&json!("2028-02"), &json!("2028-02-29")));
    assert_eq!(lot["stopped"], false);
    assert_eq!(storekeeper.post("/api/v1/lots", &body).ok(201), lot);
    assert_eq!(storekeeper.get("/api/v1/lots").ok(200)["items"], json!([lot]));

    let mut same = body.clone();
    same["id"] = json!(Uuid::now_v7());
    let problem = storekeeper.post("/api/v1/lots", &same).refused(409, "already_exists");
    assert_eq!(problem["field"], "lot_number");
    let mut other = body;
    other["printed_expiry"] = json!("2028-03");
    other["printed_expiry_again"] = json!("2028-03");
    storekeeper.post("/api/v1/lots", &other).refused(409, "id_reused");
    for printed in ["2028-13", "02/28", "2028-02-30", ""] {
        let body = lot_body("saccharin", "test", printed, hospital.now());
        let problem = storekeeper.post("/api/v1/lots", &body).refused(422, "invalid_value");
        assert_eq!(problem["field"], "printed_expiry", "{printed}");
    }
    let body = lot_body("saccharin", "test", "FEB 2028", hospital.now());
    let lot = storekeeper.post("/api/v1/lots", &body).ok(201);
    assert_eq!((&lot["printed_expiry"], &lot["expires_on"]), (&json!("FEB 2028"), &json!("2028-02-29")));
    let body = lot_body("saccharin", "test", "03/04/2028", hospital.now());
    let problem = storekeeper.post("/api/v1/lots", &body).refused(422, "expiry_ambiguous");
    assert_eq!(problem["field"], "printed_expiry");
    for again in [json!("2028-03"), Value::Null] {
        let mut body = lot_body("saccharin", "test", "2028-02", hospital.now());
        body["printed_expiry_again"] = again;
        let problem = storekeeper.post("/api/v1/lots", &body).refused(422, "invalid_value");
        assert_eq!(problem["field"], "printed_expiry_again", "it is typed twice, like the number");
    }
    let body = lot_body("saccharin", "test", "2028-02", hospital.now());
    hospital.signed_in(Role::CheckIn).post("/api/v1/lots", &body).refused(403, "wrong_role");
}

/// The text sets no shelf life (29 CFR 1910.134 App. A I.B.3, absence in text; fact 3.51): label and opening do.
#[test]
fn a_bottle_is_usable_until_the_first_of_its_ends() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let mut body = lot_body("saccharin", "test", "2099-12", hospital.now());
    body["opened_life_days"] = json!(10);
    let lot = storekeeper.post("/api/v1/lots", &body).ok(201);
    let body = bottle_body(&lot, hospital.now());
    let bottle = storekeeper.post("/api/v1/bottles", &body).ok(201);
    assert_eq!((&bottle["usable"], &bottle["not_usable"]), (&json!(false), &json!("bottle_not_opened")));
    assert_eq!(storekeeper.post("/api/v1/bottles", &body).ok(201), bottle);
    let mut same_label = body;
    same_label["id"] = json!(Uuid::now_v7());
    storekeeper.post("/api/v1/bottles", &same_label).refused(409, "already_exists");
    let mut nothing = bottle_body(&lot, hospital.now());
    nothing["volume_ul"] = json!(0);
    storekeeper.post("/api/v1/bottles", &nothing).refused(422, "invalid_value");

    let opened_at = hospital.now();
    let opened = open_bottle(&storekeeper, &bottle, opened_at);
    assert_eq!(opened["usable"], true);
    let last_day = local_day(opened_at) + TimeDelta::days(10);
    let until = time_of(&opened["usable_until"]);
    assert_eq!(local_day(until), last_day + TimeDelta::days(1), "the whole of the last day counts");
    assert_eq!(local_day(until - TimeDelta::seconds(1)), last_day);
    let again = json!({ "id": Uuid::now_v7(), "happened_at": hospital.now() });
    let path = format!("/api/v1/bottles/{}/openings", id_of(&bottle));
    storekeeper.post(&path, &again).refused(409, "already_exists");

    hospital.clock.shift(TimeDelta::days(12));
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let listed = storekeeper.get(&format!("/api/v1/bottles?lot_id={}", id_of(&lot))).ok(200);
    assert_eq!(listed["items"][0]["not_usable"], "opened_life_over");
    assert!(listed["items"][0]["not_usable_because"].is_string());
}

#[test]
fn a_nebulizer_is_filled_from_a_bottle_that_may_be_used_then() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let station = hospital.station(&hospital.day(), "Station 1", &["screening", "testing"]);
    let now = hospital.now();

    hospital.registers("1 test");
    let lot = hospital.lot("saccharin", "test");
    let closed = storekeeper.post("/api/v1/bottles", &bottle_body(&lot, now)).ok(201);
    let body = fill_body(&station, &closed, "1 test", now);
    storekeeper.post("/api/v1/fills", &body).refused(422, "bottle_not_opened");

    let body = lot_body("saccharin", "test", &(local_day(now) - TimeDelta::days(1)).to_string(), now);
    let expired = storekeeper.post("/api/v1/lots", &body).ok(201);
    let expired = hospital.opened_bottle(&expired);
    assert_eq!(expired["not_usable"], "bottle_expired");
    let body = fill_body(&station, &expired, "1 test", now);
    storekeeper.post("/api/v1/fills", &body).refused(422, "bottle_expired");

    let bottle = hospital.opened_bottle(&lot);
    let body = fill_body(&station, &bottle, "1 test", now);
    let fill = storekeeper.post("/api/v1/fills", &body).ok(201);
    assert_eq!((&fill["agent"], &fill["solution"]), (&json!("saccharin"), &json!("test")));
    let path = format!("/api/v1/stations/{}/fills", id_of(&station));
    assert_eq!(storekeeper.get(&path).ok(200)["items"], json!([fill]));

    stop(&hospital, &lot);
    let repeated = storekeeper.post("/api/v1/fills", &body).ok(201);
    assert_eq!(recorded_fill(&repeated), recorded_fill(&fill), "a repeat finds its row all the same");
    assert_eq!((&repeated["not_usable"], repeated.get("usable_until")), (&json!("lot_stopped"), None));
    let mut other = body;
    other["volume_ul"] = json!(1);
    storekeeper.post("/api/v1/fills", &other).refused(409, "id_reused");
    let body = fill_body(&station, &bottle, "1 test", now);
    storekeeper.post("/api/v1/fills", &body).refused(422, "lot_stopped");
    hospital.signed_in(Role::CheckIn).post("/api/v1/fills", &body).refused(403, "wrong_role");
}

fn stop(hospital: &Hospital, lot: &Value) -> Value {
    decide(hospital, lot, "stops")
}

fn decide(hospital: &Hospital, lot: &Value, what: &str) -> Value {
    let body = json!({ "id": Uuid::now_v7(), "reason": "recalled", "happened_at": hospital.now() });
    let path = format!("/api/v1/lots/{}/{what}", id_of(lot));
    hospital.signed_in(Role::Storekeeper).post(&path, &body).ok(201)
}

#[test]
fn a_lot_is_stopped_and_released_with_a_reason() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let lot = hospital.lot("denatonium_benzoate", "screening");
    let path = format!("/api/v1/lots/{}/stops", id_of(&lot));
    let body = json!({ "id": Uuid::now_v7(), "reason": "recalled", "happened_at": hospital.now() });
    let early = path.replace("stops", "releases");
    storekeeper.post(&early, &body).refused(409, "stop_released");
    let stopped = storekeeper.post(&path, &body).ok(201);
    assert_eq!(stopped["stopped"], true);
    assert_eq!(storekeeper.post(&path, &body).ok(201), stopped);
    let mut other = body.clone();
    other["reason"] = json!("spilled");
    storekeeper.post(&path, &other).refused(409, "id_reused");
    let silent = json!({ "id": Uuid::now_v7(), "reason": " ", "happened_at": hospital.now() });
    storekeeper.post(&path, &silent).refused(422, "invalid_value");
    assert_eq!(decide(&hospital, &lot, "releases")["stopped"], false);
    assert_eq!(stop(&hospital, &lot)["stopped"], true);

    let elsewhere = hospital.another_site("Ostrel");
    let stranger = hospital.signed_in_at(elsewhere, &[Role::Storekeeper]);
    stranger.post(&path, &body).refused(404, "not_found");
    stranger.post("/api/v1/bottles", &bottle_body(&lot, hospital.now())).refused(404, "not_found");
    assert_eq!(stranger.get("/api/v1/lots").ok(200)["items"], json!([]));
}

/// The two liquids are never mixed up in one nebulizer (29 CFR 1910.134 App. A I.B.3(b)(4): a second nebulizer,
/// clearly marked; fact 3.42).
#[test]
fn a_nebulizer_keeps_to_one_liquid_unless_it_is_rinsed() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let day = hospital.day();
    let (first, second) = (
        hospital.station(&day, "Station 1", &["screening", "testing"]),
        hospital.station(&day, "Station 2", &["testing"]),
    );
    let weak = hospital.opened_bottle(&hospital.lot("saccharin", "screening"));
    let strong = hospital.opened_bottle(&hospital.lot("saccharin", "test"));
    let bitter = hospital.opened_bottle(&hospital.lot("denatonium_benzoate", "screening"));
    let at = hospital.now();
    hospital.fill(&first, &weak, "A", at - TimeDelta::minutes(30));
    hospital.fill(&first, &weak, "A", at - TimeDelta::minutes(20));
    for (bottle, code) in [(&strong, "fill_wrong_solution"), (&bitter, "fill_wrong_agent")] {
        let mut body = fill_body(&second, bottle, "A", at);
        body["rinsed"] = json!(false);
        let problem = storekeeper.post("/api/v1/fills", &body).refused(422, code);
        assert_eq!(problem["field"], "nebulizer");
    }
    let mut rinsed = fill_body(&first, &strong, "A", at);
    rinsed["rinsed"] = json!(true);
    storekeeper.post("/api/v1/fills", &rinsed).ok(201);
    let refused = hospital.current_fill(&first, "saccharin", "screening", at);
    assert_eq!(refused, Err("fill_missing"), "the weak liquid is no longer in it");
    assert!(hospital.current_fill(&first, "saccharin", "test", at).is_ok());
    let earlier = at - TimeDelta::minutes(5);
    assert!(hospital.current_fill(&first, "saccharin", "screening", earlier).is_ok());

    let tomorrow = hospital.station(&hospital.day(), "Station 1", &["screening"]);
    hospital.fill(&tomorrow, &weak, "A", at);
}

/// 29 CFR 1910.134 App. A I.B.3(a)(14): rinsed and refilled at least every four hours (facts 3.38, 10.29).
#[test]
fn a_station_uses_its_newest_fill_for_four_hours() {
    let hospital = Hospital::open();
    let day = hospital.day();
    let station = hospital.station(&day, "Station 1", &["testing"]);
    let other = hospital.station(&day, "Station 2", &["testing"]);
    let lot = hospital.lot("saccharin", "test");
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let mut body = bottle_body(&lot, hospital.ago(6 * 3600));
    body["place_id"] = json!(hospital.filling_table());
    let bottle = storekeeper.post("/api/v1/bottles", &body).ok(201);
    let bottle = open_bottle(&storekeeper, &bottle, hospital.ago(24 * 3600));
    let first_at = hospital.ago(5 * 3600);
    let four_hours_later = first_at + TimeDelta::hours(4);
    let first = id_of(&hospital.fill(&station, &bottle, "1 test", first_at));
    let at = |moment| hospital.current_fill(&station, "saccharin", "test", moment);

    assert_eq!(at(first_at - TimeDelta::seconds(1)), Err("fill_missing"));
    assert_eq!(at(first_at), Ok(first));
    assert_eq!(at(four_hours_later - TimeDelta::seconds(1)), Ok(first));
    assert_eq!(at(four_hours_later), Err("fill_too_old"));

    let shown = || {
        let listed = storekeeper.get(&format!("/api/v1/stations/{}/fills", id_of(&station))).ok(200);
        listed["items"].as_array().unwrap().clone()
    };
    assert_eq!(shown()[0]["not_usable"], "fill_too_old", "and its row says so");
    let second_at = hospital.ago(60);
    let second = hospital.fill(&station, &bottle, "1 test", second_at);
    assert_eq!(time_of(&second["usable_until"]), second_at + TimeDelta::hours(4));
    let [old, new] = &shown()[..] else { panic!("two fills") };
    assert_eq!((time_of(&old["refilled_at"]), old.get("not_usable")), (second_at, None));
    assert_eq!((new.get("refilled_at"), &new["usable_until"]), (None, &second["usable_until"]));
    let second = id_of(&second);
    assert_eq!(at(hospital.now()), Ok(second));
    let elsewhere = hospital.current_fill(&other, "saccharin", "test", hospital.now());
    assert_eq!(elsewhere, Err("fill_missing"));
    stop(&hospital, &lot);
    assert_eq!(at(hospital.now()), Err("lot_stopped"));

    let emptying = json!({ "id": Uuid::now_v7(), "rinsed": true, "happened_at": hospital.now() });
    let path = format!("/api/v1/fills/{second}/emptyings");
    let emptied = storekeeper.post(&path, &emptying).ok(201);
    assert!(emptied["emptied_at"].is_string());
    assert_eq!((emptied.get("usable_until"), emptied.get("not_usable")), (None, None));
    assert_eq!(at(hospital.now()), Err("fill_missing"), "the fill before it is not in the nebulizer either");
}
