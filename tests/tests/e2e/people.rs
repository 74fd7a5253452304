//! People and the decisions about them.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_tests::harness::{Hospital, permissions_path, tells};
use serde_json::{Value, json};
use uuid::Uuid;

fn agency_nurse(staff_number: &str) -> Value {
    json!({
        "id": Uuid::now_v7(), "staff_number": staff_number, "given_name": "Ines", "family_name": "Valdrun",
        "birth_date": "1988-04-17", "kind": "temporary", "sponsor": "Tomas Brask, stores",
    })
}

fn path(person: &Value) -> String {
    format!("/api/v1/people/{}", person["id"].as_str().unwrap())
}

#[test]
fn a_walk_in_is_added_once_and_told_apart_without_a_birth_year() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::CheckIn);
    let body = agency_nurse("0047192");
    let person = desk.post("/api/v1/people", &body).ok(201);
    assert_eq!(person["staff_number"], "0047192", "zeros are kept");
    assert_eq!(person["birth_month_day"], "04-17");
    assert!(!tells(&person.to_string(), "1988"));

    assert_eq!(desk.post("/api/v1/people", &body).ok(201), person, "a repeat gives the stored row");
    let mut other = body.clone();
    other["unit"] = json!("Kestrel ward");
    desk.post("/api/v1/people", &other).refused(409, "id_reused");
    desk.post("/api/v1/people", &agency_nurse("0047192")).refused(409, "already_exists");
    assert_eq!(desk.get(&path(&person)).ok(200), person);
}

#[test]
fn a_person_needs_a_number_a_name_and_when_temporary_a_sponsor() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::CheckIn);
    let refused = |member: &str, value: Value| {
        let mut body = agency_nurse("1");
        body[member] = value;
        desk.post("/api/v1/people", &body).refused(422, "invalid_value")["field"].clone()
    };
    assert_eq!(refused("staff_number", json!(" ")), "staff_number");
    assert_eq!(refused("sponsor", json!("")), "sponsor");
    assert_eq!(refused("given_name", json!("In\u{0}es")), "given_name");
    assert_eq!(refused("unit", json!("x".repeat(121))), "unit");
    assert_eq!(refused("birth_date", json!("0205-01-01")), "birth_date");
    let mut nameless = agency_nurse("1");
    nameless["given_name"] = json!(" ");
    nameless["family_name"] = json!("");
    desk.post("/api/v1/people", &nameless).refused(422, "invalid_value");
    let mut unknown = agency_nurse("1");
    unknown["reason"] = json!("asthma");
    desk.post("/api/v1/people", &unknown).refused(400, "bad_json");
}

#[test]
fn people_are_found_by_number_and_by_parts_of_names_in_any_script() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::CheckIn);
    for (number, given, family) in
        [("0012", "Ines", "Valdrun-Roe"), ("0013", "Оксана", "Гнатюк"), ("0200", "100%", "Perzent_")]
    {
        let mut body = agency_nurse(number);
        (body["given_name"], body["family_name"]) = (json!(given), json!(family));
        desk.post("/api/v1/people", &body).ok(201);
    }
    let found = |query: &str| -> Vec<String> {
        let page = desk.get(&format!("/api/v1/people?{query}")).ok(200);
        let items = page["items"].as_array().unwrap();
        items.iter().map(|person| person["staff_number"].as_str().unwrap().to_owned()).collect()
    };
    assert_eq!(found("q=001"), ["0012", "0013"]);
    assert_eq!(found("q=roe%20INES"), ["0012"]);
    assert_eq!(found("q=%D0%B3%D0%BD%D0%B0%D1%82"), ["0013"], "гнат finds Гнатюк");
    assert_eq!(found("q=%25"), ["0200"], "a percent sign stands for itself");
    assert_eq!(found("q=_"), ["0200"]);
    assert_eq!(found("staff_number=001"), [] as [&str; 0]);
    assert_eq!(found("staff_number=0013"), ["0013"]);

    let first = desk.get("/api/v1/people?limit=2").ok(200);
    let next = first["next"].as_str().unwrap();
    assert_eq!(found(&format!("limit=2&cursor={next}")), ["0200"]);
    desk.get("/api/v1/people?cursor=abc").refused(400, "invalid_cursor");
    desk.get("/api/v1/people?limit=501").refused(422, "invalid_value");
}

#[test]
fn changes_are_made_on_top_of_what_was_read() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::CheckIn);
    let person = hospital.person("7");
    let renamed = desk.patch(&path(&person), 1, &json!({ "family_name": "Valdrun-Roe" })).ok(200);
    assert_eq!((&renamed["family_name"], &renamed["version"]), (&json!("Valdrun-Roe"), &json!(2)));
    assert_eq!(renamed["unit"], person["unit"], "members left out stay as they are");
    let stale =
        desk.patch(&path(&person), 1, &json!({ "unit": "Kestrel ward" })).refused(409, "stale_version");
    assert_eq!(stale["version_stored"], 2);

    let left = desk.patch(&path(&person), 2, &json!({ "left_on": "2027-01-31" })).ok(200);
    assert_eq!(left["left_on"], "2027-01-31");
    let back = desk.patch(&path(&person), 3, &json!({ "left_on": null, "birth_date": null })).ok(200);
    assert_eq!((&back["left_on"], &back["birth_month_day"]), (&Value::Null, &Value::Null));
    desk.patch(&path(&person), 4, &json!({ "sponsor": null })).refused(422, "invalid_value");
    let other = hospital.person("8");
    desk.patch(&path(&other), 1, &json!({ "staff_number": "7" })).refused(409, "already_exists");
}

#[test]
fn another_site_and_other_roles_learn_nothing() {
    let hospital = Hospital::open();
    let person = hospital.person("7");
    let elsewhere = hospital.another_site("Sallowmere");
    let stranger = hospital.signed_in_at(elsewhere, &[Role::Coordinator, Role::CheckIn, Role::Clinician]);
    stranger.get(&path(&person)).refused(404, "not_found");
    stranger.patch(&path(&person), 1, &json!({ "unit": "x" })).refused(404, "not_found");
    stranger.get(&permissions_path(&person)).refused(404, "not_found");
    assert_eq!(stranger.get("/api/v1/people").ok(200)["items"], json!([]));
    let mut same_id = agency_nurse("9");
    same_id["id"] = person["id"].clone();
    stranger.post("/api/v1/people", &same_id).refused(409, "id_reused");

    hospital.signed_in(Role::Storekeeper).get(&path(&person)).refused(403, "wrong_role");
    hospital.signed_in(Role::Tester).post("/api/v1/people", &agency_nurse("9")).refused(403, "wrong_role");
    hospital.nobody().post("/api/v1/people", &json!("no body at all")).refused(401, "not_signed_in");
    hospital.signed_in(Role::CheckIn).get("/api/v1/people/no-id").refused(404, "not_found");
}

#[test]
fn a_clinician_decides_and_only_the_decision_is_kept() {
    let hospital = Hospital::open();
    let clinician = hospital.signed_in(Role::Clinician);
    let person = hospital.person("7");
    let body = json!({
        "id": Uuid::now_v7(), "decision": "permitted_with_limits", "limits": "At most two hours at a stretch",
        "valid_from": "2026-11-01", "valid_until": "2027-10-31", "happened_at": hospital.ago(3600),
    });
    let decision = clinician.post(&permissions_path(&person), &body).ok(201);
    assert_eq!(clinician.post(&permissions_path(&person), &body).ok(201), decision);
    let later = hospital.decision(&clinician, &person, "not_now");
    let listed = hospital.signed_in(Role::Coordinator).get(&permissions_path(&person)).ok(200);
    assert_eq!(listed["items"], json!([decision, later]));

    let mut reused = body.clone();
    reused["decision"] = json!("permitted");
    reused["limits"] = Value::Null;
    clinician.post(&permissions_path(&person), &reused).refused(409, "id_reused");
    hospital.signed_in(Role::CheckIn).get(&permissions_path(&person)).refused(403, "wrong_role");
    hospital.signed_in(Role::Coordinator).post(&permissions_path(&person), &body).refused(403, "wrong_role");
    clinician
        .post(&format!("/api/v1/people/{}/permissions", Uuid::now_v7()), &body)
        .refused(404, "not_found");
}

#[test]
fn decisions_that_contradict_themselves_are_refused() {
    let hospital = Hospital::open();
    let clinician = hospital.signed_in(Role::Clinician);
    let person = hospital.person("7");
    let refused = |member: &str, value: Value, code: &str| {
        let mut body = json!({
            "id": Uuid::now_v7(), "decision": "permitted", "valid_from": "2026-11-01",
            "happened_at": hospital.now(),
        });
        body[member] = value;
        clinician.post(&permissions_path(&person), &body).refused(422, code)["field"].clone()
    };
    assert_eq!(refused("limits", json!("Two hours"), "invalid_value"), "limits");
    assert_eq!(refused("decision", json!("permitted_with_limits"), "invalid_value"), "limits");
    assert_eq!(refused("valid_until", json!("2026-10-31"), "invalid_value"), "valid_until");
    let tomorrow = hospital.now() + TimeDelta::days(1);
    assert_eq!(refused("happened_at", json!(tomorrow), "happened_in_future"), "happened_at");
}
