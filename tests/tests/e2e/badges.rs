//! Badges: issued from what holds at that moment, replaced, ended, printed; and the keys behind them.

use std::{
    io::Write,
    process::{Command, Stdio},
};

use chrono::TimeDelta;
use sellion_badge::{KeyRing, code, token};
use sellion_rules::roles::Role;
use sellion_tests::harness::{Client, Hospital};
use serde_json::{Value, json};
use uuid::Uuid;

fn text(value: &Value) -> &str {
    value.as_str().unwrap()
}

fn sheet(desk: &Client, layout: &str, badges: &[&Value]) -> sellion_tests::harness::Reply {
    let ids: Vec<&Value> = badges.iter().map(|badge| &badge["id"]).collect();
    desk.post("/api/v1/badge_sheets", &json!({ "layout": layout, "badge_ids": ids }))
}

/// What an outside reader finds in a PDF.
fn pdf_text(pdf: &[u8]) -> String {
    let mut reader = Command::new("pdftotext")
        .args(["-layout", "-", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("pdftotext: install poppler-utils");
    reader.stdin.take().unwrap().write_all(pdf).unwrap();
    String::from_utf8(reader.wait_with_output().unwrap().stdout).unwrap()
}

#[test]
fn a_badge_says_what_the_person_is_cleared_for() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::BadgeDesk);
    let person = hospital.db_named_person("Ines", "Valdrun");
    let respirators: Vec<Uuid> = (1..=6).map(|number| hospital.db_respirator(number)).collect();
    for (days, respirator) in (10..).zip(&respirators) {
        hospital.db_clearance(person, *respirator, "cleared", hospital.now() + TimeDelta::days(days));
    }
    hospital.db_clearance(person, respirators[0], "not_cleared", hospital.now() + TimeDelta::days(400));
    let badge = hospital.badge(&desk, person);
    assert_eq!(badge["name"], "Ines Valdrun");
    assert_eq!(badge["status"], "valid");
    let worn: Vec<&Value> =
        badge["respirators"].as_array().unwrap().iter().map(|worn| &worn["respirator_id"]).collect();
    let latest_four: Vec<Value> = respirators[2..].iter().rev().map(|id| json!(id)).collect();
    assert_eq!(worn, latest_four.iter().collect::<Vec<_>>(), "the four that are due last");

    // RFC 7517, RFC 7515: whoever has the published keys can check the printed code.
    let keys = hospital.nobody().get("/.well-known/jwks.json");
    assert_eq!(keys.header("cache-control"), Some("public, max-age=300"));
    let ring = KeyRing::from_jwks(&keys.text()).unwrap();
    let claims = token::verify(&ring, &code::unpack(text(&badge["code"])).unwrap(), hospital.now()).unwrap();
    assert_eq!(claims.serial.to_string(), text(&badge["serial"]));
    assert_eq!(claims.expires_at.to_rfc3339(), badge["expires_at"].as_str().unwrap().replace('Z', "+00:00"));
    let numbers: Vec<&str> = claims.respirators.iter().map(|worn| worn.code.as_str()).collect();
    assert_eq!(numbers, ["6", "5", "4", "3"]);
    assert!(!keys.text().contains("\"d\""), "RFC 7518 s.6.2.2: `d` is the private part");
}

#[test]
fn whoever_is_not_cleared_gets_no_badge() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::BadgeDesk);
    let (person, respirator) = (hospital.db_named_person("Oriel", "Tamsin"), hospital.db_respirator(1));
    let body = json!({ "id": Uuid::now_v7(), "person_id": person, "happened_at": hospital.now() });
    desk.post("/api/v1/badges", &body).refused(422, "not_cleared");
    for state in ["held", "not_cleared"] {
        hospital.db_clearance(person, respirator, state, hospital.now() + TimeDelta::days(9));
        desk.post("/api/v1/badges", &body).refused(422, "not_cleared");
    }
    hospital.db_clearance(person, respirator, "cleared", hospital.ago(1));
    desk.post("/api/v1/badges", &body).refused(422, "not_cleared");
    let stranger =
        json!({ "id": Uuid::now_v7(), "person_id": Uuid::now_v7(), "happened_at": hospital.now() });
    desk.post("/api/v1/badges", &stranger).refused(404, "not_found");
    let ahead = hospital.now() + TimeDelta::hours(1);
    let future = json!({ "id": Uuid::now_v7(), "person_id": person, "happened_at": ahead });
    desk.post("/api/v1/badges", &future).refused(422, "happened_in_future");
}

#[test]
fn a_repeat_makes_no_second_badge_and_a_new_one_replaces_the_old() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::BadgeDesk);
    let (person, respirator) = (hospital.db_named_person("Ines", "Valdrun"), hospital.db_respirator(1));
    hospital.db_clear(person, respirator);
    let body = json!({ "id": Uuid::now_v7(), "person_id": person, "happened_at": hospital.now() });
    let first = desk.post("/api/v1/badges", &body).ok(201);
    assert_eq!(desk.post("/api/v1/badges", &body).ok(201), first);
    let other = hospital.db_named_person("Oriel", "Tamsin");
    hospital.db_clear(other, respirator);
    let reused = json!({ "id": body["id"], "person_id": other, "happened_at": body["happened_at"] });
    desk.post("/api/v1/badges", &reused).refused(409, "id_reused");

    let second = hospital.badge(&desk, person);
    assert_ne!(first["serial"], second["serial"]);
    let path = format!("/api/v1/badges?person_id={person}");
    let listed = desk.get(&path).ok(200);
    let statuses: Vec<&Value> =
        listed["items"].as_array().unwrap().iter().map(|item| &item["status"]).collect();
    assert_eq!(statuses, ["replaced", "valid"]);
    let auditor = hospital.signed_in(Role::Auditor);
    let seen = auditor.get(&format!("/api/v1/badges/{}", text(&second["id"]))).ok(200);
    assert_eq!((&seen["serial"], seen.get("code")), (&second["serial"], None), "a code opens gates");
}

#[test]
fn desks_that_press_at_once_leave_one_valid_badge_and_no_gap_in_the_status_list() {
    let hospital = Hospital::open();
    let (person, respirator) = (hospital.db_named_person("Ines", "Valdrun"), hospital.db_respirator(1));
    hospital.db_clear(person, respirator);
    let desks: Vec<Client> = (0..6).map(|_| hospital.signed_in(Role::BadgeDesk)).collect();
    let second = hospital.second_server(sellion_store::Limits::default());
    let desks = desks.into_iter().zip(0..).map(
        |(desk, place)| {
            if place % 2 == 0 { desk } else { desk.at(&second.base()) }
        },
    );
    std::thread::scope(|scope| {
        for desk in desks {
            let hospital = &hospital;
            scope.spawn(move || {
                for _ in 0..4 {
                    hospital.badge(&desk, person);
                }
            });
        }
    });
    let desk = hospital.signed_in(Role::BadgeDesk);
    let listed = desk.get(&format!("/api/v1/badges?person_id={person}&limit=100")).ok(200);
    let badges = listed["items"].as_array().unwrap();
    assert_eq!(badges.len(), 24);
    assert_eq!(badges.iter().filter(|badge| badge["status"] == "valid").count(), 1);
    let keys = hospital.nobody().get("/.well-known/jwks.json");
    let ring = KeyRing::from_jwks(&keys.text()).unwrap();
    assert_eq!(ring.len(), 1, "two servers made one key");
    let mut places: Vec<u64> = badges
        .iter()
        .map(|badge| {
            let jwt = code::unpack(text(&badge["code"])).unwrap();
            token::verify(&ring, &jwt, hospital.now()).unwrap().status_index
        })
        .collect();
    places.sort_unstable();
    assert_eq!(places, (0..24).collect::<Vec<u64>>());
}

#[test]
fn a_badge_ends_once_and_is_not_printed_after() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::BadgeDesk);
    let (person, respirator) = (hospital.db_named_person("Ines", "Valdrun"), hospital.db_respirator(1));
    hospital.db_clear(person, respirator);
    let badge = hospital.badge(&desk, person);
    assert_eq!(sheet(&desk, "card", &[&badge]).status, 200);
    let path = format!("/api/v1/badges/{}/endings", text(&badge["id"]));
    let ending = json!({ "id": Uuid::now_v7(), "reason": "lost", "happened_at": hospital.now() });
    assert_eq!(desk.post(&path, &ending).ok(201)["status"], "ended");
    assert_eq!(desk.post(&path, &ending).ok(201)["status"], "ended", "a repeat");
    let again = json!({ "id": Uuid::now_v7(), "reason": "lost", "happened_at": hospital.now() });
    desk.post(&path, &again).refused(409, "badge_already_ended");
    let other = json!({ "id": ending["id"], "reason": "damaged", "happened_at": ending["happened_at"] });
    desk.post(&path, &other).refused(409, "id_reused");
    sheet(&desk, "card", &[&badge]).refused(409, "badge_already_ended");
    let replaced = json!({ "id": Uuid::now_v7(), "reason": "replaced", "happened_at": hospital.now() });
    desk.post(&path, &replaced).refused(400, "bad_json");
}

#[test]
fn printing_asks_the_clearances_again() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::BadgeDesk);
    let (person, respirator) = (hospital.db_named_person("Ines", "Valdrun"), hospital.db_respirator(1));
    hospital.db_clear(person, respirator);
    let badge = hospital.badge(&desk, person);
    hospital.db_clearance(person, respirator, "held", hospital.now() + TimeDelta::days(9));
    sheet(&desk, "card", &[&badge]).refused(422, "not_cleared");
    let seen = desk.get(&format!("/api/v1/badges/{}", text(&badge["id"]))).ok(200);
    assert_eq!(seen["status"], "held");
    hospital.db_clear(person, respirator);
    assert_eq!(sheet(&desk, "card", &[&badge]).status, 200);
}

#[test]
fn sheets_print_names_in_any_script_whole() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::BadgeDesk);
    let respirator = hospital.db_respirator(1);
    let names = [("Ines", "Valdrun"), ("Zoë", "Đặng"), ("Яна", "Орлова"), ("美咲", "高橋")];
    let badges: Vec<Value> = names
        .iter()
        .map(|(given, family)| {
            let person = hospital.db_named_person(given, family);
            hospital.db_clear(person, respirator);
            hospital.badge(&desk, person)
        })
        .collect();
    let badges: Vec<&Value> = badges.iter().collect();
    for layout in ["card", "a4_sheet", "a4_single"] {
        let reply = sheet(&desk, layout, &badges);
        assert_eq!((reply.status, reply.header("content-type")), (200, Some("application/pdf")));
        let found = pdf_text(&reply.body);
        for (given, family) in names {
            assert!(found.contains(family) && found.contains(given), "{layout}: {family} in {found}");
        }
        assert!(found.contains(text(&badges[0]["serial"])), "{found}");
    }
    let person = hospital.db_named_person("Ines", "\u{13000}\u{13001}");
    hospital.db_clear(person, respirator);
    let problem = sheet(&desk, "card", &[&hospital.badge(&desk, person)]).refused(422, "no_glyph");
    assert_eq!(problem["character"], "\u{13000}");
}

#[test]
fn a_sheet_takes_a_thousand_known_badges_once_each() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::BadgeDesk);
    let of =
        |ids: Vec<Uuid>| desk.post("/api/v1/badge_sheets", &json!({ "layout": "card", "badge_ids": ids }));
    of(Vec::new()).refused(422, "invalid_value");
    of((0..1001).map(|_| Uuid::now_v7()).collect()).refused(422, "invalid_value");
    of(vec![Uuid::nil(), Uuid::nil()]).refused(422, "invalid_value");
    of(vec![Uuid::now_v7()]).refused(404, "not_found");
}

#[test]
fn another_site_s_badges_are_not_there() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::BadgeDesk);
    let (person, respirator) = (hospital.db_named_person("Ines", "Valdrun"), hospital.db_respirator(1));
    hospital.db_clear(person, respirator);
    let badge = hospital.badge(&desk, person);
    let elsewhere = hospital.another_site("Tollmere");
    let stranger = hospital.signed_in_at(elsewhere, &[Role::BadgeDesk]);
    stranger.get(&format!("/api/v1/badges/{}", text(&badge["id"]))).refused(404, "not_found");
    let ending = json!({ "id": Uuid::now_v7(), "reason": "lost", "happened_at": hospital.now() });
    let path = format!("/api/v1/badges/{}/endings", text(&badge["id"]));
    stranger.post(&path, &ending).refused(404, "not_found");
    sheet(&stranger, "card", &[&badge]).refused(404, "not_found");
    let theirs = json!({ "id": Uuid::now_v7(), "person_id": person, "happened_at": hospital.now() });
    stranger.post("/api/v1/badges", &theirs).refused(404, "not_found");
    assert_eq!(stranger.get("/api/v1/badges").ok(200)["items"], json!([]));
    hospital.signed_in(Role::Tester).post("/api/v1/badges", &theirs).refused(403, "wrong_role");
}
