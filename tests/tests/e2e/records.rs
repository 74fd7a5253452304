//! What auditors read: the audit chain, and the rule sets with their sources.

use sellion_rules::roles::Role;
use sellion_store::audit;
use sellion_tests::harness::{Client, Hospital, permissions_path};
use serde_json::{Value, json};

fn all_rows(auditor: &Client, query: &str) -> Vec<Value> {
    let mut rows = Vec::new();
    let mut next = String::new();
    loop {
        let page = auditor.get(&format!("/api/v1/audit_rows?limit=3{query}{next}")).ok(200);
        rows.extend(page["items"].as_array().unwrap().iter().cloned());
        match page["next"].as_str() {
            Some(cursor) => next = format!("&cursor={cursor}"),
            None => return rows,
        }
    }
}

#[test]
fn every_write_is_a_link_of_one_chain() {
    let hospital = Hospital::open();
    let auditor = hospital.signed_in(Role::Auditor);
    let person = hospital.permitted_person("0047192");
    let desk = hospital.signed_in(Role::CheckIn);
    let path = format!("/api/v1/people/{}", person["id"].as_str().unwrap());
    desk.patch(&path, 1, &json!({ "left_on": "2027-01-31" })).ok(200);

    let rows = all_rows(&auditor, "");
    for (seq, pair) in (2..).zip(rows.windows(2)) {
        assert_eq!(pair[1]["previous_hash"], pair[0]["hash"]);
        assert_eq!(pair[1]["seq"], seq);
    }
    assert!(rows.iter().all(|row| row["hash"].as_str().unwrap().len() == 64), "SHA-256 in hexadecimal");
    let actions: Vec<&str> = rows.iter().map(|row| row["action"].as_str().unwrap()).collect();
    assert!(actions.ends_with(&["create_session", "update_person"]), "{actions:?}");
    assert!(actions.contains(&"create_permission"));

    let of_person = all_rows(&auditor, &format!("&subject_id={}", person["id"].as_str().unwrap()));
    let actions: Vec<&Value> = of_person.iter().map(|row| &row["action"]).collect();
    assert_eq!(actions, ["create_person", "update_person"]);
    let late = all_rows(&auditor, &format!("&from_seq={}", rows.len()));
    assert_eq!(late, rows[rows.len() - 1..]);

    let report = audit::verify(&mut hospital.db(), hospital.site_id, |_, _| {}).unwrap();
    assert!(report.broken.is_none(), "{:?}", report.broken);
    assert_eq!(report.rows, rows.len() as u64);
}

#[test]
fn a_repeat_leaves_no_second_link() {
    let hospital = Hospital::open();
    let auditor = hospital.signed_in(Role::Auditor);
    let person = hospital.person("7");
    let clinician = hospital.signed_in(Role::Clinician);
    let body = json!({
        "id": uuid::Uuid::now_v7(), "decision": "permitted", "valid_from": "2026-11-01",
        "happened_at": hospital.now(),
    });
    clinician.post(&permissions_path(&person), &body).ok(201);
    let before = all_rows(&auditor, "").len();
    clinician.post(&permissions_path(&person), &body).ok(201);
    assert_eq!(all_rows(&auditor, "").len(), before);
}

#[test]
fn the_chain_is_for_auditors_of_the_same_site() {
    let hospital = Hospital::open();
    hospital.signed_in(Role::Admin).get("/api/v1/audit_rows").refused(403, "wrong_role");
    let person = hospital.person("7");
    let stranger = hospital.signed_in_at(hospital.another_site("Sallowmere"), &[Role::Auditor]);
    let id = person["id"].as_str().unwrap();
    assert_eq!(all_rows(&stranger, &format!("&subject_id={id}")), [] as [Value; 0]);
    stranger.get("/api/v1/audit_rows?subject_id=7").refused(422, "invalid_value");
}

#[test]
fn every_value_of_a_rule_set_names_its_source() {
    let hospital = Hospital::open();
    let tester = hospital.signed_in(Role::Tester);
    let listed = tester.get("/api/v1/rule_sets").ok(200);
    let set = tester.get("/api/v1/rule_sets/us-29cfr1910-134").ok(200);
    let mut heads = listed["items"].as_array().unwrap().iter();
    let newest = |head: &&Value| head["name"] == set["name"] && head["version"] == set["version"];
    let head = heads.find(newest).unwrap();
    let values = set["values"].as_array().unwrap();
    assert_eq!(json!(values.len()), head["value_count"]);
    for value in values {
        assert!(value["source"].as_str().is_some_and(|source| !source.is_empty()), "{value}");
        assert!(["verified", "common_practice", "unconfirmed"].contains(&value["status"].as_str().unwrap()));
    }
    // 29 CFR 1910.134 App. A I.B.3(b)(9): half of the dose is given again every 30 seconds (fact 3.47).
    let interval = values.iter().find(|value| value["key"] == "redose_interval_seconds").unwrap();
    assert_eq!((&interval["value"], &interval["unit"]), (&json!(30), &json!("seconds")));

    let version = set["version"].as_str().unwrap();
    let path = "/api/v1/rule_sets/us-29cfr1910-134";
    assert_eq!(tester.get(&format!("{path}?version={version}")).ok(200), set);
    tester.get(&format!("{path}?version=1900-01-01.1")).refused(404, "not_found");
    tester.get("/api/v1/rule_sets/nowhere").refused(404, "not_found");
    hospital.signed_in(Role::Gate).get("/api/v1/rule_sets").refused(403, "wrong_role");
}
