//! Signing in and out, and what a sign-in is worth afterwards.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_tests::harness::{Hospital, PASSWORD};
use serde_json::json;

#[test]
fn a_person_signs_in_and_out() {
    let hospital = Hospital::open();
    let username = hospital.db_user(hospital.site_id, &[Role::Tester, Role::CheckIn]);
    let tester = hospital.nobody().sign_in(&username.to_uppercase(), PASSWORD);
    let session = tester.get("/api/v1/sessions/current").ok(200);
    assert_eq!(session["roles"], json!(["tester", "check_in"]));
    assert_eq!(session["site_id"], json!(hospital.site_id));

    tester.delete("/api/v1/sessions/current").ok(204);
    tester.get("/api/v1/sessions/current").refused(401, "session_ended");
}

#[test]
fn the_cookie_is_for_the_browser_alone() {
    let hospital = Hospital::open();
    let username = hospital.db_user(hospital.site_id, &[Role::Tester]);
    let body = json!({ "username": username, "password": PASSWORD });
    let reply = hospital.nobody().post("/api/v1/sessions", &body);
    let cookie = reply.header("set-cookie").unwrap().to_owned();
    assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"), "{cookie}");
    assert!(!reply.text().contains("eyJ"), "the token is in the cookie only");
}

#[test]
fn nobody_and_the_wrong_password_are_turned_away() {
    let hospital = Hospital::open();
    let nobody = hospital.nobody();
    nobody.get("/api/v1/sessions/current").refused(401, "not_signed_in");
    nobody.with_token("eyJ.not.ours").get("/api/v1/sessions/current").refused(401, "session_ended");
    let username = hospital.db_user(hospital.site_id, &[Role::Tester]);
    for username in [username.as_str(), "nobody.at.all"] {
        let body = json!({ "username": username, "password": "not the pass phrase" });
        nobody.post("/api/v1/sessions", &body).refused(401, "sign_in_refused");
    }
}

#[test]
fn a_session_is_over_when_its_time_is() {
    let hospital = Hospital::open();
    let tester = hospital.signed_in(Role::Tester);
    hospital.clock.shift(TimeDelta::hours(13));
    tester.get("/api/v1/sessions/current").ok(200);
    hospital.clock.shift(TimeDelta::hours(1));
    tester.get("/api/v1/sessions/current").refused(401, "session_ended");
}

#[test]
fn too_many_failures_make_an_account_wait_and_then_let_it_in_again() {
    let hospital = Hospital::open();
    let nobody = hospital.nobody();
    let username = hospital.db_user(hospital.site_id, &[Role::Tester]);
    let wrong = json!({ "username": username, "password": "not the pass phrase" });
    for _ in 0..8 {
        nobody.post("/api/v1/sessions", &wrong).refused(401, "sign_in_refused");
    }
    let right = json!({ "username": username, "password": PASSWORD });
    let reply = nobody.post("/api/v1/sessions", &right);
    assert!(reply.header("retry-after").is_some());
    let problem = reply.refused(429, "sign_in_throttled");
    assert!(problem["retry_after_seconds"].as_i64().unwrap() > 0);

    let other = hospital.db_user(hospital.site_id, &[Role::Tester]);
    let _ = nobody.sign_in(&other, PASSWORD);
    hospital.clock.shift(TimeDelta::minutes(16));
    let _ = nobody.sign_in(&username, PASSWORD);
}
