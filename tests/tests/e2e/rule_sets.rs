//! A site's own rule sets: stricter values, named confirmations, versions, and what cannot be used yet.

use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Client, Hospital,
    day::id_of,
    measure::later,
    taste::{Ending, Script, events_path},
};
use serde_json::{Value, json};
use uuid::Uuid;

fn document(version: &str, values: &str) -> String {
    format!(
        "name = \"ours\"\nversion = \"{version}\"\ntitle = \"Ours\"\n\
         based_on = [{{ name = \"us-29cfr1910-134\", version = \"2019-09-26.2\" }}]\n\n{values}"
    )
}

fn value(key: &str, value: &str, unit: &str, rest: &str) -> String {
    format!("[values.{key}]\nvalue = {value}\nunit = \"{unit}\"\nsource = \"our own rule\"\n{rest}\n\n")
}

const PRACTICE: &str = "status = \"common_practice\"";
const CONFIRMED: &str = "status = \"confirmed\"\nconfirmed_by = \"Ines Valdrun\"\nconfirmed_on = 2026-11-25";

fn body(hospital: &Hospital, document: &str) -> Value {
    json!({ "id": Uuid::now_v7(), "document": document, "happened_at": hospital.ago(9000) })
}

fn stored(hospital: &Hospital, coordinator: &Client, document: &str) -> Value {
    coordinator.post("/api/v1/rule_sets", &body(hospital, document)).ok(201)
}

#[test]
fn a_stricter_value_holds_on_days_under_it_and_old_days_keep_theirs() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let text = document("2026-11-25.1", &value("wear_seconds", "600", "seconds", PRACTICE));
    let sent = body(&hospital, &text);
    let own = coordinator.post("/api/v1/rule_sets", &sent).ok(201);
    assert_eq!((&own["usable"], &own["open"]), (&json!(true), &json!([])));
    assert_eq!(coordinator.post("/api/v1/rule_sets", &sent).ok(201), own, "a repeat");
    assert_eq!(coordinator.get("/api/v1/rule_sets/ours").ok(200), own);
    let wear = own["values"]
        .as_array()
        .unwrap()
        .iter()
        .find(|value| value["key"] == "wear_seconds")
        .unwrap()
        .clone();
    assert_eq!(wear["decided_by"], json!([{ "name": "ours", "version": "2026-11-25.1" }]));

    let before = hospital.day();
    assert_eq!(before["rule_set"]["name"], "us-29cfr1910-134");
    let choice = json!({ "rule_set": { "name": "ours", "version": "2026-11-25.1" } });
    let site = hospital.signed_in(Role::Admin).patch("/api/v1/sites/current", 1, &choice).ok(200);
    assert_eq!(site["rule_set_name"], "ours");
    let at = hospital.ago(3000);
    let room = hospital.room(at);
    assert_eq!(room.day["rule_set"]["name"], "ours");
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), at);
    let screening = room.screens(&visit, Some(10), at);
    let respirator = id_of(&hospital.respirator("M"));
    let start = later(at, 120);
    let opened =
        room.tester.post("/api/v1/attempts", &room.attempt(&visit, respirator, &screening, start)).ok(201);
    assert_eq!(opened["plan"]["wear_seconds"], 600);
    let early = Script::from(start).attempt(10, Ending::Pass);
    let problem = room.tester.post(&events_path(&opened), &early.body()).refused(422, "wear_time_short");
    assert_eq!(problem["seconds_remaining"], 290);
    let read = coordinator.get(&format!("/api/v1/days/{}", id_of(&before))).ok(200);
    assert_eq!(read["rule_set"], before["rule_set"], "an older day keeps its own");
}

#[test]
fn mistakes_are_told_with_line_and_column_and_nothing_is_stored() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let text = document(
        "2026-11-25.1",
        &(value("wear_seconds", "30", "seconds", PRACTICE) + &value("shoe_size", "42", "size", PRACTICE)),
    );
    let problem =
        coordinator.post("/api/v1/rule_sets", &body(&hospital, &text)).refused(422, "rule_set_invalid");
    let mistakes = problem["mistakes"].as_array().unwrap();
    assert_eq!(mistakes.len(), 2, "{problem}");
    assert_eq!(mistakes[0]["kind"], "looser_without_confirmation");
    assert_eq!((&mistakes[0]["line"], &mistakes[0]["column"]), (&json!(7), &json!(9)));
    coordinator.get("/api/v1/rule_sets/ours").refused(404, "not_found");
    let to_come = CONFIRMED.replace("2026-11-25", "2099-01-01");
    let to_come = document("2026-11-25.1", &value("wear_seconds", "30", "seconds", &to_come));
    coordinator.post("/api/v1/rule_sets", &body(&hospital, &to_come)).refused(422, "invalid_value");
    let confirmed = document("2026-11-25.1", &value("wear_seconds", "30", "seconds", CONFIRMED));
    let own = stored(&hospital, &coordinator, &confirmed);
    let wear = own["values"]
        .as_array()
        .unwrap()
        .iter()
        .find(|value| value["key"] == "wear_seconds")
        .unwrap()
        .clone();
    assert_eq!((&wear["value"], &wear["confirmed_by"]), (&json!(30), &json!("Ines Valdrun")));
}

#[test]
fn versions_only_go_forward_and_the_programs_names_are_its_own() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let _ = stored(&hospital, &coordinator, &document("2026-11-25.2", ""));
    for version in ["2026-11-25.2", "2026-11-25.1", "2026-11-24.9"] {
        let again = body(&hospital, &document(version, ""));
        coordinator.post("/api/v1/rule_sets", &again).refused(409, "already_exists");
    }
    let _ = stored(&hospital, &coordinator, &document("2026-11-25.10", ""));
    let newest = coordinator.get("/api/v1/rule_sets/ours").ok(200);
    assert_eq!(newest["version"], "2026-11-25.10", "ten comes after two");
    let taken = document("2027-01-01.1", "").replace("\"ours\"", "\"uk-hse-indg479\"");
    coordinator.post("/api/v1/rule_sets", &body(&hospital, &taken)).refused(409, "already_exists");
    let stranger = hospital.signed_in_at(hospital.another_site("Sallowmere"), &[Role::Coordinator]);
    stranger.get("/api/v1/rule_sets/ours").refused(404, "not_found");
    hospital
        .signed_in(Role::Tester)
        .post("/api/v1/rule_sets", &body(&hospital, ""))
        .refused(403, "wrong_role");
}

/// What was only read in summaries is shown with its values and cannot be used before somebody confirms it.
#[test]
fn an_unconfirmed_set_is_shown_and_opens_no_day() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let british = coordinator.get("/api/v1/rule_sets/uk-hse-indg479").ok(200);
    assert_eq!(british["usable"], false);
    assert!(british["open"].as_array().is_some_and(|open| !open.is_empty()));
    assert!(british["methods"].as_array().unwrap().iter().all(|method| method["accepted"] == false));
    let mut day = hospital.day_body();
    day["rule_set"] = json!({ "name": "uk-hse-indg479", "version": british["version"] });
    let problem = coordinator.post("/api/v1/days", &day).refused(422, "rule_set_open");
    assert!(problem["open"].as_str().unwrap().contains("interval_months"), "{problem}");
    let choice = json!({ "rule_set": day["rule_set"] });
    hospital.signed_in(Role::Admin).patch("/api/v1/sites/current", 1, &choice).refused(422, "rule_set_open");
    let unknown = json!({ "rule_set": { "name": "nowhere", "version": "2026-01-01.1" } });
    hospital.signed_in(Role::Admin).patch("/api/v1/sites/current", 1, &unknown).refused(422, "invalid_value");
}

/// Another interval for the site: clearances follow at once (29 CFR 1910.134(f)(2): at least annually; shorter is stricter).
#[test]
fn clearances_follow_the_rule_set_that_the_site_chooses() {
    let hospital = Hospital::open();
    let person = id_of(&hospital.permitted_person("0047"));
    hospital.passes(person, id_of(&hospital.respirator("M")));
    let coordinator = hospital.signed_in(Role::Coordinator);
    let due = || {
        coordinator.get(&format!("/api/v1/people/{person}/clearances")).ok(200)["items"][0]["due_on"].clone()
    };
    let annual = due();
    let text = document("2026-11-25.1", &value("interval_months", "6", "months", PRACTICE));
    let _ = stored(&hospital, &coordinator, &text);
    let choice = json!({ "rule_set": { "name": "ours", "version": "2026-11-25.1" } });
    hospital.signed_in(Role::Admin).patch("/api/v1/sites/current", 1, &choice).ok(200);
    assert!(due().as_str() < annual.as_str(), "{} {annual}", due());
}
