//! Requests that make no sense: each gets problem details with a stable code, whatever was sent.
//!
//! That every failure is `application/problem+json` (RFC 9457 s.3) with a request id is checked by the client itself.

use sellion_rules::roles::Role;
use sellion_tests::harness::{Hospital, day::id_of};
use serde_json::{Value, json};
use uuid::Uuid;

const JSON: (&str, &str) = ("content-type", "application/json");

#[test]
fn bodies_that_are_no_json_of_the_right_shape() {
    let hospital = Hospital::open();
    let nobody = hospital.nobody();
    for body in [&b"{"[..], b"", b"[]", b"null", b"{\"username\": 7}", b"\xff\xfe", b"{\"username\":\"a\"}"] {
        nobody.send("POST", "/api/v1/sessions", &[JSON], Some(body)).refused(400, "bad_json");
    }
}

#[test]
fn a_wrong_content_type() {
    let hospital = Hospital::open();
    let body = json!({ "username": "a", "password": "b" }).to_string();
    for content_type in ["text/plain", "application/xml", "multipart/form-data"] {
        let headers = [("content-type", content_type)];
        let reply = hospital.nobody().send("POST", "/api/v1/sessions", &headers, Some(body.as_bytes()));
        reply.refused(415, "wrong_content_type");
    }
}

#[test]
fn a_body_that_is_too_large() {
    let hospital = Hospital::open();
    let body = json!({ "username": "a".repeat(300 * 1024), "password": "b" });
    hospital.nobody().post("/api/v1/sessions", &body).refused(413, "body_too_large");
}

#[test]
fn addresses_that_are_not_there_and_methods_they_do_not_take() {
    let hospital = Hospital::open();
    let nobody = hospital.nobody();
    for path in ["/api", "/api/v1/nowhere", "/api/v2/people", "/%00", "/api/v1/sessions/current/more"] {
        nobody.get(path).refused(404, "unknown_path");
    }
    let reply = nobody.send("PUT", "/api/v1/sessions", &[JSON], Some(b"{}"));
    assert_eq!(reply.header("allow"), Some("POST"));
    reply.refused(405, "method_not_allowed");
}

#[test]
fn a_change_without_a_version_is_not_made() {
    let hospital = Hospital::open();
    let admin = hospital.signed_in(Role::Admin);
    for headers in [&[JSON][..], &[JSON, ("if-match", "seven")], &[JSON, ("if-match", "*")]] {
        let reply = admin.send("PATCH", "/api/v1/sites/current", headers, Some(b"{}"));
        let problem = reply.refused(422, "invalid_value");
        assert_eq!(problem["field"], "If-Match");
    }
    let problem = admin.patch("/api/v1/sites/current", 7, &json!({ "name": "Heronwick" }));
    assert_eq!(problem.refused(409, "stale_version")["version_stored"], 1);
    assert_eq!(admin.get("/api/v1/sites/current").ok(200)["name"], "Marrowfield", "nothing was written");
}

/// Requests with a moment or a date in them: where they go, what they say, and the member that is to be changed.
fn bodies_with_moments(hospital: &Hospital) -> Vec<(String, Value, &'static str)> {
    let (person, gate, day) =
        (hospital.db_person(hospital.site_id, true), hospital.gate("North"), hospital.day());
    let station = hospital.station(&day, "Station 1", &["screening", "testing"]);
    let lot = hospital.lot("saccharin", "test");
    let station_path = format!("/api/v1/stations/{}/calls", id_of(&station));
    let id = Uuid::now_v7();
    let visit = json!({
        "id": id, "day_id": id_of(&day), "person_id": person, "happened_at": hospital.now(),
        "answers": { "hair_at_seal": false, "feels_well": true, "face_changed": false },
    });
    let permission = json!({
        "id": id, "decision": "permitted", "valid_from": "2026-11-01", "happened_at": hospital.now(),
    });
    let lot_body = json!({
        "id": id, "agent": "saccharin", "solution": "test", "lot_number": "L-9", "lot_number_again": "L-9", "printed_expiry": "2028-01",
        "happened_at": hospital.now(),
    });
    let call = json!({ "id": id, "step": "screening", "happened_at": hospital.now() });
    let mark = json!({ "id": id, "reason": "recalled", "happened_at": hospital.now() });
    let badge = json!({ "id": id, "person_id": person, "happened_at": hospital.now() });
    let hold = json!({ "id": id, "reason": "other", "happened_at": hospital.now() });
    let release = json!({ "id": id, "reason": "checked", "happened_at": hospital.now() });
    let bottle = json!({
        "id": id, "lot_id": id_of(&lot), "label": "B-9", "volume_ul": 1000, "happened_at": hospital.now(),
    });
    vec![
        ("/api/v1/days".to_owned(), hospital.day_body(), "opens_at"),
        ("/api/v1/days".to_owned(), hospital.day_body(), "closes_at"),
        (format!("/api/v1/gates/{gate}/policies"), hospital.policy(&[], true), "effective_from"),
        (format!("/api/v1/gates/{gate}/policies"), hospital.policy(&[], true), "happened_at"),
        ("/api/v1/visits".to_owned(), visit, "happened_at"),
        (format!("/api/v1/people/{person}/permissions"), permission.clone(), "happened_at"),
        (format!("/api/v1/people/{person}/permissions"), permission.clone(), "valid_from"),
        (format!("/api/v1/people/{person}/permissions"), permission, "valid_until"),
        ("/api/v1/lots".to_owned(), lot_body.clone(), "happened_at"),
        ("/api/v1/lots".to_owned(), lot_body, "printed_expiry"),
        (format!("/api/v1/lots/{}/stops", id_of(&lot)), mark.clone(), "happened_at"),
        (format!("/api/v1/lots/{}/releases", id_of(&lot)), mark, "happened_at"),
        ("/api/v1/bottles".to_owned(), bottle, "happened_at"),
        (station_path, call, "happened_at"),
        ("/api/v1/badges".to_owned(), badge, "happened_at"),
        (format!("/api/v1/badges/{id}/holds"), hold, "happened_at"),
        (format!("/api/v1/badge_holds/{id}/releases"), release, "happened_at"),
    ]
}

#[test]
fn moments_of_years_that_cannot_be_meant_are_refused_by_name() {
    let hospital = Hospital::open();
    let everybody = hospital.signed_in_at(
        hospital.site_id,
        &[
            Role::Coordinator,
            Role::CheckIn,
            Role::Clinician,
            Role::Storekeeper,
            Role::Tester,
            Role::BadgeDesk,
        ],
    );
    for (path, body, field) in &bodies_with_moments(&hospital) {
        for year in ["0001", "1899", "2200", "9999", "-262143", "+262142"] {
            let mut sent = body.clone();
            sent[*field] = written(field, year);
            let reply = everybody.post(path, &sent);
            let ahead = *field == "happened_at" && !year.starts_with(['0', '-', '1']);
            let code = if ahead { "happened_in_future" } else { "invalid_value" };
            assert_eq!(reply.refused(422, code)["field"], **field, "{path} {field} {year}");
        }
    }
}

#[test]
fn the_same_holds_inside_answers_in_changes_and_in_questions() {
    let hospital = Hospital::open();
    let everybody = hospital.signed_in_at(hospital.site_id, &[Role::Coordinator, Role::CheckIn]);
    let (person, day) = (hospital.db_person(hospital.site_id, true), hospital.day());
    let eaten = json!({
        "id": Uuid::now_v7(), "day_id": id_of(&day), "person_id": person, "happened_at": hospital.now(),
        "answers": {
            "hair_at_seal": false, "feels_well": true, "face_changed": false,
            "last_intake_at": "0001-01-01T00:00:00Z",
        },
    });
    assert_eq!(
        everybody.post("/api/v1/visits", &eaten).refused(422, "invalid_value")["field"],
        "last_intake_at"
    );
    let path = format!("/api/v1/days/{}", id_of(&day));
    let late = json!({ "closes_at": "9999-12-31T00:00:00Z" });
    assert_eq!(everybody.patch(&path, 1, &late).refused(422, "invalid_value")["field"], "closes_at");
    for field in ["at", "known_at"] {
        let path = format!("/api/v1/people/{person}/clearances?{field}=-262143-01-01T00:00:00Z");
        assert_eq!(everybody.get(&path).refused(422, "invalid_value")["field"], *field);
    }
}

/// The beginning of a year, in the form of this member.
fn written(field: &str, year: &str) -> Value {
    match field {
        "printed_expiry" => json!(format!("{year}-01")),
        "valid_from" | "valid_until" => json!(format!("{year}-01-01")),
        _ => json!(format!("{year}-01-01T00:00:00Z")),
    }
}

#[test]
fn names_that_hide_something_are_refused_wherever_they_are_given() {
    let hospital = Hospital::open();
    let everybody = hospital
        .signed_in_at(hospital.site_id, &[Role::Coordinator, Role::CheckIn, Role::Storekeeper, Role::Admin]);
    let id = Uuid::now_v7();
    let person = json!({
        "id": id, "staff_number": "7", "given_name": "Ines", "kind": "temporary", "sponsor": "Tomas Brask",
    });
    let lot = json!({
        "id": id, "agent": "saccharin", "solution": "test", "lot_number": "L-9", "lot_number_again": "L-9", "printed_expiry": "2028-01",
        "happened_at": hospital.now(),
    });
    let user = json!({
        "id": id, "username": "ada", "display_name": "Ada", "roles": ["gate"], "password": "a long pass phrase",
    });
    let respirator = sellion_tests::harness::respirator_body("small");
    let gate = hospital.gate("North");
    let cases = [
        ("/api/v1/people".to_owned(), person.clone(), "staff_number"),
        ("/api/v1/people".to_owned(), person.clone(), "given_name"),
        ("/api/v1/people".to_owned(), person, "sponsor"),
        ("/api/v1/respirators".to_owned(), respirator, "model"),
        ("/api/v1/days".to_owned(), hospital.day_body(), "place"),
        ("/api/v1/gates".to_owned(), json!({ "id": id, "name": "" }), "name"),
        (format!("/api/v1/gates/{gate}/policies"), hospital.policy(&[], true), "fallback"),
        ("/api/v1/lots".to_owned(), lot, "lot_number"),
        ("/api/v1/users".to_owned(), user.clone(), "display_name"),
        ("/api/v1/users".to_owned(), user, "username"),
        ("/api/v1/devices".to_owned(), json!({ "id": id, "name": "", "role": "tester" }), "name"),
    ];
    for (path, body, field) in &cases {
        for hidden in ["a\u{202e}b", "a\u{200b}b", "\u{200d}", "\u{3164}", "a\u{0}b", "a\u{ad}b"] {
            let mut sent = body.clone();
            sent[*field] = json!(hidden);
            let problem = everybody.post(path, &sent).refused(422, "invalid_value");
            assert_eq!(problem["field"], **field, "{path} {hidden:?}");
        }
    }
    for name in [" ", "\u{a0}", "a\u{2066}b"] {
        let problem = everybody.patch("/api/v1/sites/current", 1, &json!({ "name": name }));
        assert_eq!(problem.refused(422, "invalid_value")["field"], "name");
    }
    everybody.get("/api/v1/people?q=%00").refused(422, "invalid_value");
    let body = json!({ "username": "a\u{0}b", "password": "b" });
    hospital.nobody().post("/api/v1/sessions", &body).refused(401, "sign_in_refused");
}

#[test]
fn what_cannot_be_read_is_told_in_plain_words_and_by_name() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let missing =
        coordinator.post("/api/v1/gates", &json!({ "id": Uuid::now_v7() })).refused(400, "bad_json");
    assert_eq!(missing["field"], "name");
    let unknown = coordinator.post("/api/v1/gates", &json!({ "colour": "red" })).refused(400, "bad_json");
    assert_eq!(unknown["field"], "colour");
    let shape = coordinator.post("/api/v1/days", &json!([])).refused(400, "bad_json");
    assert!(!shape["detail"].as_str().unwrap().contains("struct"), "{shape}");
    let headers = [("content-type", "text/csv")];
    let file = &b"staff_number,given_name,family_name\n"[..];
    let without_id = coordinator.send("POST", "/api/v1/roster_imports", &headers, Some(file));
    assert_eq!(without_id.refused(422, "invalid_value")["field"], "id");
    let headers = [("content-type", "text/csv; charset=iso-8859-1")];
    coordinator
        .send("POST", "/api/v1/roster_imports/previews", &headers, Some(file))
        .refused(415, "wrong_content_type");
    let headers = [("content-type", "text/csv; charset=\"UTF-8\"")];
    coordinator.send("POST", "/api/v1/roster_imports/previews", &headers, Some(file)).ok(200);

    for path in
        ["/api/v1/people?staff_numbr=7", "/api/v1/visits?limit=2&persn_id=x", "/api/v1/sites/current?x"]
    {
        let problem = coordinator.get(path).refused(422, "invalid_value");
        assert!(path.contains(problem["field"].as_str().unwrap()), "{problem}");
    }
    let day = hospital.day();
    coordinator.get(&format!("/api/v1/visits?limit=2&day_id={}", id_of(&day))).ok(200);
}

#[test]
fn browsers_and_tools_find_their_way() {
    let hospital = Hospital::open();
    let nobody = hospital.nobody();
    for path in ["/", "/docs"] {
        let page = nobody.get(path);
        assert!(page.text().contains("<title>Sellion</title>"), "{path} leads to a page of ours");
    }
    let reply = nobody.get("/api/v1/people");
    assert_eq!(reply.header("www-authenticate"), Some("Bearer"), "RFC 9110 s.11.6.1");
    reply.refused(401, "not_signed_in");
    let coordinator = hospital.signed_in(Role::Coordinator);
    let whole = coordinator.get("/api/v1/sites/current");
    let head = coordinator.send("HEAD", "/api/v1/sites/current", &[], None);
    assert_eq!((head.status, head.body.len()), (200, 0), "RFC 9110 s.9.3.2");
    assert_eq!(head.header("etag"), whole.header("etag"));
}
