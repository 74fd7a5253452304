//! Requests that make no sense: each gets problem details with a stable code, whatever was sent.
//!
//! That every failure is `application/problem+json` (RFC 9457 s.3) with a request id is checked by the client itself.

use sellion_rules::roles::Role;
use sellion_tests::harness::Hospital;
use serde_json::json;

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
    for path in ["/", "/api", "/api/v1/nowhere", "/api/v2/people", "/%00", "/api/v1/sessions/current/more"] {
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
