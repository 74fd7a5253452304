//! Users and devices: who signs in, as what, and until when.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_tests::harness::{Hospital, PASSWORD};
use serde_json::{Value, json};
use uuid::Uuid;

fn new_user(username: &str) -> Value {
    json!({
        "id": Uuid::now_v7(), "username": username, "display_name": "Ines Valdrun",
        "roles": ["tester"], "password": PASSWORD,
    })
}

fn path(user: &Value) -> String {
    format!("/api/v1/users/{}", user["id"].as_str().unwrap())
}

#[test]
fn an_admin_adds_a_user_who_signs_in_and_works() {
    let hospital = Hospital::open();
    let admin = hospital.signed_in(Role::Admin);
    let body = new_user("Ines.Valdrun");
    let user = admin.post("/api/v1/users", &body).ok(201);
    assert_eq!(user["username"], "ines.valdrun");
    assert!(!user.to_string().contains("password") && !user.to_string().contains("argon2"));
    assert_eq!(admin.post("/api/v1/users", &body).ok(201), user, "a repeat gives the stored row");
    hospital.nobody().sign_in("ines.valdrun", PASSWORD).get("/api/v1/people").ok(200);

    admin.post("/api/v1/users", &new_user("INES.valdrun")).refused(409, "already_exists");
    let mut reused = body.clone();
    reused["roles"] = json!(["tester", "admin"]);
    admin.post("/api/v1/users", &reused).refused(409, "id_reused");
    let listed = hospital.signed_in(Role::Auditor).get("/api/v1/users").ok(200);
    assert!(listed["items"].as_array().unwrap().contains(&user));
    hospital.signed_in(Role::Coordinator).get("/api/v1/users").refused(403, "wrong_role");
    hospital.signed_in(Role::Auditor).post("/api/v1/users", &body).refused(403, "wrong_role");
}

#[test]
fn users_need_a_plain_name_a_role_and_a_long_password() {
    let hospital = Hospital::open();
    let admin = hospital.signed_in(Role::Admin);
    let refused = |member: &str, value: Value| {
        let mut body = new_user("ines");
        body[member] = value;
        admin.post("/api/v1/users", &body).refused(422, "invalid_value")["field"].clone()
    };
    assert_eq!(refused("username", json!("ines valdrun")), "username");
    assert_eq!(refused("username", json!("")), "username");
    assert_eq!(refused("roles", json!([])), "roles");
    assert_eq!(refused("password", json!("too short")), "password");
    assert_eq!(refused("display_name", json!(" ")), "display_name");
}

#[test]
fn other_roles_another_password_or_a_closed_account_end_the_sessions() {
    let hospital = Hospital::open();
    let admin = hospital.signed_in(Role::Admin);
    let user = admin.post("/api/v1/users", &new_user("ines")).ok(201);
    let changes = [
        json!({ "roles": ["check_in", "tester"] }),
        json!({ "password": "another long pass phrase" }),
        json!({ "disabled": true }),
    ];
    let mut password = PASSWORD;
    for (version, change) in (1..).zip(&changes) {
        let before = hospital.nobody().sign_in("ines", password);
        before.get("/api/v1/people").ok(200);
        admin.patch(&path(&user), version, change).ok(200);
        before.get("/api/v1/people").refused(401, "session_ended");
        if change["password"].is_string() {
            password = "another long pass phrase";
        }
    }
    let body = json!({ "username": "ines", "password": password });
    hospital.nobody().post("/api/v1/sessions", &body).refused(401, "sign_in_refused");

    let open = admin.patch(&path(&user), 4, &json!({ "disabled": false })).ok(200);
    assert_eq!(open["disabled_at"], Value::Null);
    let again = hospital.nobody().sign_in("ines", password);
    admin.patch(&path(&user), 5, &json!({ "display_name": "Ines Roe" })).ok(200);
    again.get("/api/v1/people").ok(200);
    admin.patch(&path(&user), 5, &json!({ "display_name": "Ines" })).refused(409, "stale_version");
}

#[test]
fn an_admin_cannot_shut_themselves_out_nor_reach_another_site() {
    let hospital = Hospital::open();
    let admin = hospital.signed_in(Role::Admin);
    let me = admin.get("/api/v1/sessions/current").ok(200)["user_id"].clone();
    let me = json!({ "id": me });
    admin.patch(&path(&me), 1, &json!({ "disabled": true })).refused(422, "still_in_use");
    admin.patch(&path(&me), 1, &json!({ "roles": ["auditor"] })).refused(422, "still_in_use");
    admin.patch(&path(&me), 1, &json!({ "display_name": "Ines Roe" })).ok(200);

    let stranger = hospital.signed_in_at(hospital.another_site("Sallowmere"), &[Role::Admin]);
    stranger.patch(&path(&me), 2, &json!({ "disabled": true })).refused(404, "not_found");
    assert_eq!(stranger.get("/api/v1/users").ok(200)["items"].as_array().unwrap().len(), 1);
}

#[test]
fn a_station_signs_in_by_its_token_until_it_is_taken_away() {
    let hospital = Hospital::open();
    let admin = hospital.signed_in(Role::Admin);
    let body = json!({ "id": Uuid::now_v7(), "name": "Station 3", "role": "check_in" });
    let device = admin.post("/api/v1/devices", &body).ok(201);
    let station = hospital.nobody().with_token(device["token"].as_str().unwrap());
    station.get("/api/v1/people").ok(200);
    station.get("/api/v1/users").refused(403, "wrong_role");
    let current = station.get("/api/v1/sessions/current").ok(200);
    assert_eq!((&current["roles"], &current["display_name"]), (&json!(["check_in"]), &json!("Station 3")));

    let again = admin.post("/api/v1/devices", &body).ok(201);
    assert_eq!(again["expires_at"], device["expires_at"]);
    hospital.nobody().with_token(again["token"].as_str().unwrap()).get("/api/v1/people").ok(200);
    let listed = hospital.signed_in(Role::Auditor).get("/api/v1/devices").ok(200);
    assert!(!listed.to_string().contains("eyJ"), "the token is shown once");

    let path = format!("/api/v1/devices/{}", device["id"].as_str().unwrap());
    admin.delete(&path).ok(204);
    station.get("/api/v1/people").refused(401, "session_ended");
    let revoked_at = admin.get("/api/v1/devices").ok(200)["items"][0]["revoked_at"].clone();
    admin.delete(&path).ok(204);
    assert_eq!(admin.get("/api/v1/devices").ok(200)["items"][0]["revoked_at"], revoked_at);
}

#[test]
fn a_token_ends_by_itself() {
    let hospital = Hospital::open();
    let admin = hospital.signed_in(Role::Admin);
    let body = json!({ "id": Uuid::now_v7(), "name": "Desk", "role": "badge_desk", "life_days": 2 });
    let token = admin.post("/api/v1/devices", &body).ok(201)["token"].as_str().unwrap().to_owned();
    let desk = hospital.nobody().with_token(&token);
    hospital.clock.shift(TimeDelta::hours(47));
    desk.get("/api/v1/people").ok(200);
    hospital.clock.shift(TimeDelta::hours(1));
    desk.get("/api/v1/people").refused(401, "session_ended");
}

#[test]
fn devices_are_what_devices_can_be() {
    let hospital = Hospital::open();
    let admin = hospital.signed_in(Role::Admin);
    let refused = |change: Value, status: u16, code: &str| {
        let mut body = json!({ "id": Uuid::now_v7(), "name": "Station 3", "role": "tester" });
        body.as_object_mut().unwrap().extend(change.as_object().unwrap().clone());
        admin.post("/api/v1/devices", &body).refused(status, code)["field"].clone()
    };
    assert_eq!(refused(json!({ "role": "admin" }), 422, "invalid_value"), "role");
    assert_eq!(refused(json!({ "role": "gate" }), 422, "invalid_value"), "gate_id");
    assert_eq!(refused(json!({ "gate_id": Uuid::now_v7() }), 422, "invalid_value"), "gate_id");
    assert_eq!(refused(json!({ "life_days": 0 }), 422, "invalid_value"), "life_days");
    assert_eq!(refused(json!({ "life_days": 1201 }), 422, "invalid_value"), "life_days");
    refused(json!({ "station_id": Uuid::now_v7() }), 404, "not_found");
    refused(json!({ "role": "gate", "gate_id": Uuid::now_v7() }), 404, "not_found");
    admin.delete(&format!("/api/v1/devices/{}", Uuid::now_v7())).refused(404, "not_found");
    hospital.signed_in(Role::Coordinator).get("/api/v1/devices").refused(403, "wrong_role");
}
