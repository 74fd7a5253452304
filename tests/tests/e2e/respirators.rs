//! What people are tested on.

use sellion_rules::roles::Role;
use sellion_tests::harness::{Hospital, respirator_body};
use serde_json::{Value, json};

fn path(respirator: &Value) -> String {
    format!("/api/v1/respirators/{}", respirator["id"].as_str().unwrap())
}

#[test]
fn respirators_are_numbered_in_the_order_in_which_they_come() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let small = respirator_body("small");
    let first = coordinator.post("/api/v1/respirators", &small).ok(201);
    let second = coordinator.post("/api/v1/respirators", &respirator_body("regular")).ok(201);
    assert_eq!((&first["number"], &second["number"]), (&json!(1), &json!(2)));
    assert_eq!(coordinator.post("/api/v1/respirators", &small).ok(201), first, "a repeat takes no number");

    let elsewhere = hospital.signed_in_at(hospital.another_site("Sallowmere"), &[Role::Coordinator]);
    assert_eq!(elsewhere.post("/api/v1/respirators", &respirator_body("small")).ok(201)["number"], 1);
    let listed = hospital.signed_in(Role::Tester).get("/api/v1/respirators").ok(200);
    assert_eq!(listed["items"], json!([first, second]));
}

#[test]
fn the_same_one_is_not_listed_twice() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let body = respirator_body("small");
    coordinator.post("/api/v1/respirators", &body).ok(201);
    coordinator.post("/api/v1/respirators", &respirator_body("small")).refused(409, "already_exists");
    let mut reused = body;
    reused["filter_class"] = json!("P100");
    coordinator.post("/api/v1/respirators", &reused).refused(409, "id_reused");
}

#[test]
fn respirators_added_in_the_same_moment_get_different_numbers() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let mut numbers: Vec<i64> = std::thread::scope(|scope| {
        let adds: Vec<_> = (0..8)
            .map(|size| {
                let coordinator = coordinator.clone();
                let body = respirator_body(&format!("size {size}"));
                scope.spawn(move || coordinator.post("/api/v1/respirators", &body).ok(201))
            })
            .collect();
        adds.into_iter().map(|add| add.join().unwrap()["number"].as_i64().unwrap()).collect()
    });
    numbers.sort_unstable();
    assert_eq!(numbers, [1, 2, 3, 4, 5, 6, 7, 8]);
}

#[test]
fn the_protection_factor_follows_the_facepiece_unless_given() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let factor = |facepiece: &str, given: Value| {
        let mut body = respirator_body(&format!("{facepiece} {given}"));
        (body["facepiece"], body["protection_factor"]) = (json!(facepiece), given);
        coordinator.post("/api/v1/respirators", &body)
    };
    // 29 CFR 1910.134(d)(3)(i)(A) Table 1, air-purifying, and its note 3 (facts 1.g, 1.51).
    assert_eq!(factor("filtering_facepiece", Value::Null).ok(201)["protection_factor"], 10);
    assert_eq!(factor("half_mask", Value::Null).ok(201)["protection_factor"], 10);
    assert_eq!(factor("full_facepiece", Value::Null).ok(201)["protection_factor"], 50);
    assert_eq!(factor("full_facepiece", json!(10)).ok(201)["protection_factor"], 10, "less may be expected");
    for (facepiece, outside) in
        [("half_mask", 0), ("half_mask", 11), ("full_facepiece", 51), ("half_mask", 10_001)]
    {
        factor(facepiece, json!(outside)).refused(422, "invalid_value");
    }
    factor("quarter_hood", Value::Null).refused(400, "bad_json");
}

#[test]
fn what_may_change_changes_on_top_of_what_was_read() {
    let hospital = Hospital::open();
    let admin = hospital.signed_in(Role::Admin);
    let respirator = hospital.respirator("small");
    let changed =
        admin.patch(&path(&respirator), 1, &json!({ "approval_number": null, "retired": true })).ok(200);
    assert_eq!((&changed["approval_number"], &changed["version"]), (&Value::Null, &json!(2)));
    let retired_at = changed["retired_at"].clone();
    assert!(retired_at.is_string());
    let again = admin.patch(&path(&respirator), 2, &json!({ "retired": true })).ok(200);
    assert_eq!(again["retired_at"], retired_at, "said twice, it keeps the first time");
    let back = admin.patch(&path(&respirator), 3, &json!({ "retired": false })).ok(200);
    assert_eq!(back["retired_at"], Value::Null);
    admin.patch(&path(&respirator), 1, &json!({})).refused(409, "stale_version");
    admin.patch(&path(&respirator), 4, &json!({ "size": "large" })).refused(400, "bad_json");
}

#[test]
fn what_people_call_it_besides_is_kept_and_makes_it_no_other() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let mut body = respirator_body("small");
    body["other_names"] = json!(["the small folded one", " the small folded one ", "Linnet S"]);
    let respirator = coordinator.post("/api/v1/respirators", &body).ok(201);
    assert_eq!(respirator["other_names"], json!(["the small folded one", "Linnet S"]), "each once");
    assert_eq!(coordinator.post("/api/v1/respirators", &body).ok(201), respirator);
    let mut twin = respirator_body("small");
    twin["other_names"] = json!(["another name"]);
    coordinator.post("/api/v1/respirators", &twin).refused(409, "already_exists");
    assert_eq!(hospital.respirator("large")["other_names"], json!([]));

    let patch = |version, names: Value| {
        coordinator.patch(&path(&respirator), version, &json!({ "other_names": names }))
    };
    assert_eq!(patch(1, json!(["Linnet S"])).ok(200)["other_names"], json!(["Linnet S"]));
    let kept = coordinator.patch(&path(&respirator), 2, &json!({ "filter_class": "N99" })).ok(200);
    assert_eq!(kept["other_names"], json!(["Linnet S"]), "left out, they stay");
    let many: Vec<String> = (0..9).map(|number| format!("name {number}")).collect();
    for wrong in [json!(many), json!([""]), json!(["x".repeat(500)])] {
        assert_eq!(patch(3, wrong).refused(422, "invalid_value")["field"], "other_names");
    }
    assert_eq!(patch(3, json!([])).ok(200)["other_names"], json!([]));
}

#[test]
fn another_site_and_other_roles_are_turned_away() {
    let hospital = Hospital::open();
    let respirator = hospital.respirator("small");
    let stranger = hospital.signed_in_at(hospital.another_site("Sallowmere"), &[Role::Admin]);
    stranger.get(&path(&respirator)).refused(404, "not_found");
    stranger.patch(&path(&respirator), 1, &json!({ "retired": true })).refused(404, "not_found");
    let tester = hospital.signed_in(Role::Tester);
    tester.get(&path(&respirator)).ok(200);
    tester.post("/api/v1/respirators", &respirator_body("large")).refused(403, "wrong_role");
    tester.patch(&path(&respirator), 1, &json!({})).refused(403, "wrong_role");
}
