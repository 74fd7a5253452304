//! Nebulizers and hoods: what is found on them, and what follows for the people under test.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Hospital,
    day::{fill_body, id_of},
    stores::check_body,
    taste::{Ending, Script, events_path},
};
use serde_json::{Value, json};
use uuid::Uuid;

fn checks(equipment: &Value) -> String {
    format!("/api/v1/equipment/{}/checks", id_of(equipment))
}

fn labelled(hospital: &Hospital, label: &str) -> Value {
    let list = hospital.signed_in(Role::Storekeeper).get("/api/v1/equipment?limit=500").ok(200);
    let found = list["items"].as_array().unwrap().iter().find(|item| item["label"] == label).cloned();
    found.unwrap_or_else(|| panic!("no {label} in {list}"))
}

/// A nebulizer that does not spray makes a test invalid (29 CFR 1910.134 App. A I.B.3(b)(12); fact 3.50).
#[test]
fn a_clog_voids_what_runs_now_and_lists_what_was_made_since_it_last_sprayed() {
    let hospital = Hospital::open();
    let room = hospital.room(hospital.ago(9000));
    let respirator = id_of(&hospital.respirator("small"));
    // The first one ends with a good check, the second one with a fail and none.
    let mut runs = Vec::new();
    for (number, (ending, seconds)) in [(Ending::Pass, 8000), (Ending::Fail, 6000)].into_iter().enumerate() {
        let person = hospital.permitted_person(&format!("100{number}"));
        let at = hospital.ago(seconds);
        let visit = room.check_in(id_of(&person), at);
        let screening = room.screens(&visit, Some(10), at);
        runs.push(room.tests(&visit, respirator, &screening, ending, at + TimeDelta::seconds(120)));
    }
    let person = hospital.permitted_person("2000");
    // Before the one who failed may come back.
    let at = hospital.ago(5000);
    let visit = room.check_in(id_of(&person), at);
    let screening = room.screens(&visit, Some(10), at);
    let at = at + TimeDelta::seconds(120);
    let attempt =
        room.tester.post("/api/v1/attempts", &room.attempt(&visit, respirator, &screening, at)).ok(201);
    let begun = Script::from(at).fitted().dose(0, 10);
    room.tester.post(&events_path(&attempt), &begun.body()).ok(200);

    let nebulizer = labelled(&hospital, "2 test");
    let found = room.tester.post(&checks(&nebulizer), &check_body("clogged", hospital.ago(4530))).ok(201);
    assert_eq!(found["state"], "clogged");
    let ended = room.tester.get(&format!("/api/v1/attempts/{}", id_of(&attempt))).ok(200);
    let verdict = &ended["state"]["verdict"];
    assert_eq!((&verdict["outcome"], &verdict["reason"]), (&json!("void"), &json!("nebulizer_clogged")));
    let review = room.tester.get(&format!("/api/v1/equipment/{}/review", id_of(&nebulizer))).ok(200);
    let listed: Vec<_> = review["runs"].as_array().unwrap().iter().map(|run| run["id"].clone()).collect();
    assert_eq!(
        listed,
        [runs[1]["id"].clone(), attempt["id"].clone()],
        "the first one ended with a good check"
    );
    assert!(review["sprayed_at"].is_string());
    hospital
        .signed_in(Role::Storekeeper)
        .get(&format!("/api/v1/equipment/{}/review", id_of(&nebulizer)))
        .refused(403, "wrong_role");

    // Out until it was rinsed and sprays again.
    let used = |at| hospital.current_fill(&room.station, "saccharin", "test", at);
    assert_eq!(used(hospital.now()), Err("nebulizer_out"));
    let bottle = hospital.opened_bottle(&hospital.lot("saccharin", "test"));
    let refill = fill_body(&room.station, &bottle, "2 test", hospital.now());
    room.tester.post("/api/v1/fills", &refill).refused(422, "nebulizer_out");
    let mut capital = refill.clone();
    capital["nebulizer"] = json!("2 TEST");
    room.tester.post("/api/v1/fills", &capital).refused(422, "nebulizer_out");
    room.tester.post(&checks(&nebulizer), &check_body("rinsed", hospital.ago(20))).ok(201);
    let mended = room.tester.post(&checks(&nebulizer), &check_body("sprays", hospital.ago(10))).ok(201);
    assert_eq!(mended["state"], "ready");
    assert_eq!(used(hospital.now()), Err("fill_missing"), "what was in it is rinsed out");
    let filled = room.tester.post("/api/v1/fills", &capital).ok(201);
    assert_eq!(filled["nebulizer"], "2 test");
    assert_eq!(room.tester.post("/api/v1/fills", &capital).ok(201), filled, "a repeat");
    let listed = room.tester.get(&checks(&nebulizer)).ok(200);
    let findings: Vec<_> = listed.as_array().unwrap().iter().map(|check| check["finding"].clone()).collect();
    assert_eq!(findings, ["clogged", "rinsed", "sprays"]);
}

#[test]
fn a_clog_found_at_the_end_of_an_attempt_takes_the_nebulizer_out() {
    let hospital = Hospital::open();
    let room = hospital.room(hospital.ago(4000));
    let person = hospital.permitted_person("3000");
    let at = hospital.ago(3000);
    let visit = room.check_in(id_of(&person), at);
    let screening = room.screens(&visit, Some(10), at);
    let at = at + TimeDelta::seconds(120);
    let respirator = id_of(&hospital.respirator("small"));
    let attempt =
        room.tester.post("/api/v1/attempts", &room.attempt(&visit, respirator, &screening, at)).ok(201);
    let script = Script::from(at).fitted().dose(0, 10).exercises(1..=7, 5);
    let script = script.then(760, json!({ "kind": "nebulizer_checked", "clear": false }));
    let ended = room.tester.post(&events_path(&attempt), &script.body()).ok(200);
    assert_eq!(ended["state"]["verdict"]["reason"], "nebulizer_clogged");
    assert_eq!(labelled(&hospital, "2 test")["state"], "clogged");
}

/// The two liquids never meet in one nebulizer (29 CFR 1910.134 App. A I.B.3(b)(4); fact 3.42).
#[test]
fn a_mix_up_takes_both_nebulizers_out_until_each_was_rinsed() {
    let hospital = Hospital::open();
    let room = hospital.room(hospital.ago(4000));
    let (weak, strong) = (labelled(&hospital, "1 screening"), labelled(&hospital, "2 test"));
    let mut mixed = check_body("mixed_up", hospital.ago(300));
    mixed["other_equipment_id"] = strong["id"].clone();
    assert_eq!(room.tester.post(&checks(&weak), &mixed).ok(201)["state"], "mixed_up");
    assert_eq!(labelled(&hospital, "2 test")["state"], "mixed_up");
    for solution in ["screening", "test"] {
        let used = hospital.current_fill(&room.station, "saccharin", solution, hospital.now());
        assert_eq!(used, Err("nebulizer_out"), "{solution}");
    }
    room.tester.post(&checks(&weak), &check_body("rinsed", hospital.ago(200))).ok(201);
    assert_eq!(labelled(&hospital, "1 screening")["state"], "ready");
    let used = hospital.current_fill(&room.station, "saccharin", "screening", hospital.now());
    assert_eq!(used, Err("fill_missing"), "what was mixed is rinsed out");
    assert_eq!(labelled(&hospital, "2 test")["state"], "mixed_up", "each by itself");
    let itself = {
        let mut body = check_body("mixed_up", hospital.now());
        body["other_equipment_id"] = weak["id"].clone();
        body
    };
    room.tester.post(&checks(&weak), &itself).refused(422, "invalid_value");
    room.tester.post(&checks(&weak), &check_body("wiped", hospital.now())).refused(422, "invalid_value");
}

#[test]
fn a_hood_is_wiped_and_left_wet_between_people() {
    let hospital = Hospital::open();
    let room = hospital.room(hospital.ago(4000));
    let (hood, spare) = (hospital.equipment("hood", "H1"), hospital.equipment("hood", "H2"));
    let first = hospital.permitted_person("4000");
    let at = hospital.ago(1800);
    let visit = room.check_in(id_of(&first), at);
    room.call("screening", at);
    let mut body = room.screening(&visit, "saccharin", at);
    body["hood_id"] = hood["id"].clone();
    let screening = room.tester.post("/api/v1/screenings", &body).ok(201);
    assert_eq!(screening["hood_id"], hood["id"]);
    assert_eq!(labelled(&hospital, "H1")["state"], "in_use");
    let screening = room.append_screening(&screening, &Script::from(at).screened(Some(10)));
    // The same person goes on under the same hood.
    let respirator = id_of(&hospital.respirator("small"));
    let at = at + TimeDelta::seconds(120);
    let mut body = room.attempt(&visit, respirator, &screening, at);
    body["hood_id"] = hood["id"].clone();
    let attempt = room.tester.post("/api/v1/attempts", &body).ok(201);
    room.tester.post(&events_path(&attempt), &Script::from(at).attempt(10, Ending::Pass).body()).ok(200);
    assert_eq!(labelled(&hospital, "H1")["state"], "needs_wipe");

    let second = hospital.permitted_person("4001");
    let at = hospital.ago(200);
    let other = room.check_in(id_of(&second), at);
    let takes = |hood: &Value, at| {
        let mut body = room.screening(&other, "saccharin", at);
        body["hood_id"] = hood["id"].clone();
        room.tester.post("/api/v1/screenings", &body)
    };
    room.call("screening", at);
    let problem = takes(&hood, at).refused(422, "hood_not_ready");
    assert_eq!(problem["state"], "needs_wipe");
    room.tester.post(&checks(&hood), &check_body("wiped", at)).ok(201);
    let problem = takes(&hood, at + TimeDelta::seconds(60)).refused(422, "hood_not_ready");
    assert_eq!((&problem["state"], problem["ready_at"].is_string()), (&json!("wiping"), true));
    room.tester.post(&checks(&spare), &check_body("torn", at)).ok(201);
    takes(&spare, at + TimeDelta::seconds(60)).refused(422, "hood_not_ready");
    takes(&labelled(&hospital, "2 test"), at + TimeDelta::seconds(60)).refused(422, "invalid_value");
    takes(&hood, at + TimeDelta::seconds(121)).ok(201);
}

#[test]
fn a_label_names_one_thing_and_a_hood_has_a_contact_time() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let hood = hospital.equipment("hood", "H1");
    assert_eq!((&hood["state"], &hood["place"]["name"]), (&json!("ready"), &json!("Storeroom")));
    let new = |kind: &str, label: &str, contact: Value| {
        json!({
            "id": Uuid::now_v7(), "kind": kind, "label": label, "contact_seconds": contact,
            "happened_at": hospital.now(),
        })
    };
    for label in ["H1", "h1"] {
        storekeeper.post("/api/v1/equipment", &new("hood", label, json!(60))).refused(409, "already_exists");
    }
    storekeeper.post("/api/v1/equipment", &new("hood", "H2", Value::Null)).refused(422, "invalid_value");
    storekeeper.post("/api/v1/equipment", &new("nebulizer", "H1", json!(60))).refused(422, "invalid_value");
    storekeeper.post("/api/v1/equipment", &new("nebulizer", "H1", Value::Null)).ok(201);
    let station = id_of(&hospital.station(&hospital.day(), "Station 1", &["testing"]));
    let way = json!({
        "id": Uuid::now_v7(), "from_place_id": hospital.storeroom(), "to_place_id": station,
        "happened_at": hospital.now(),
    });
    let path = format!("/api/v1/equipment/{}/placements", id_of(&hood));
    assert_eq!(storekeeper.post(&path, &way).ok(201)["movement"], "issue");
    let stock = storekeeper.get(&format!("/api/v1/places/{station}/stock")).ok(200);
    assert_eq!(stock["equipment"][0]["label"], "H1");
    let elsewhere = hospital.another_site("Ostrel");
    let stranger = hospital.signed_in_at(elsewhere, &[Role::Storekeeper]);
    stranger.post(&checks(&hood), &check_body("wiped", hospital.now())).refused(404, "not_found");
    stranger.get(&checks(&hood)).refused(404, "not_found");
}

#[test]
fn a_weighing_says_what_a_squeeze_gives() {
    let hospital = Hospital::open();
    let tester = hospital.signed_in(Role::Tester);
    let nebulizer = hospital.equipment("nebulizer", "1 test");
    let path = format!("/api/v1/equipment/{}/weighings", id_of(&nebulizer));
    let body = json!({
        "id": Uuid::now_v7(), "squeezes": 100, "before_mg": 24_310, "after_mg": 23_800, "scale_step_mg": 10,
        "happened_at": hospital.now(),
    });
    let kept = tester.post(&path, &body).ok(201);
    assert_eq!((&kept["squeeze_nl"], &kept["density_ug_per_ul"]), (&json!(5_100), &json!(1000)));
    assert_eq!(tester.post(&path, &body).ok(201), kept);
    assert_eq!(tester.get(&path).ok(200), json!([kept]));
    for (member, value) in [
        ("squeezes", 0),
        ("before_mg", 0),
        ("after_mg", 24_310),
        ("scale_step_mg", 0),
        ("density_ug_per_ul", 1),
    ] {
        let mut wrong = body.clone();
        wrong["id"] = json!(Uuid::now_v7());
        wrong[member] = json!(value);
        assert_eq!(tester.post(&path, &wrong).refused(422, "invalid_value")["field"], member);
    }
    let hood = hospital.equipment("hood", "H1");
    let path = format!("/api/v1/equipment/{}/weighings", id_of(&hood));
    let mut body = body;
    body["id"] = json!(Uuid::now_v7());
    tester.post(&path, &body).refused(422, "invalid_value");
}

#[test]
fn a_weighing_that_cannot_be_is_refused_with_what_to_look_at() {
    let hospital = Hospital::open();
    let tester = hospital.signed_in(Role::Tester);
    let path = format!("/api/v1/equipment/{}/weighings", id_of(&hospital.equipment("nebulizer", "1 test")));
    let weighs = |squeezes: i64, gone: i64, step: i64| {
        let body = json!({
            "id": Uuid::now_v7(), "squeezes": squeezes, "before_mg": 24_310, "after_mg": 24_310 - gone,
            "scale_step_mg": step, "happened_at": hospital.now(),
        });
        tester.post(&path, &body)
    };
    // A hundred squeezes that give a hundredth of a millilitre, or as many millilitres.
    for gone in [40, 5_001] {
        assert_eq!(weighs(100, gone, 1).refused(422, "invalid_value")["field"], "after_mg", "{gone}");
    }
    // A scale that cannot tell: two readings, each right to half a step.
    assert_eq!(weighs(10, 30, 10).refused(422, "invalid_value")["field"], "squeezes");
    weighs(10, 40, 10).ok(201);
}

/// What was poured into a nebulizer by mistake is what the runs after it stand on, until it was rinsed.
#[test]
fn a_mix_up_is_followed_into_the_look_back_of_what_was_poured_in() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let room = hospital.room(hospital.ago(9000));
    let respirator = id_of(&hospital.respirator("small"));
    let weak = hospital.lot("saccharin", "screening");
    hospital.fill(&room.station, &hospital.opened_bottle(&weak), "S", hospital.ago(8900));
    let person = id_of(&hospital.permitted_person("1"));
    let at = hospital.ago(5000);
    let visit = room.check_in(person, at);
    let screening = room.screens(&visit, Some(10), at);
    let at = at + TimeDelta::seconds(120);
    let attempt =
        room.tester.post("/api/v1/attempts", &room.attempt(&visit, respirator, &screening, at)).ok(201);
    room.tester.post(&events_path(&attempt), &Script::from(at).attempt(10, Ending::Pass).body()).ok(200);
    let path = format!("/api/v1/look_backs?lot_id={}", id_of(&weak));
    let lists = |path: &str| {
        let found = coordinator.get(path).ok(200);
        let runs = found["items"][0]["runs"].as_array().unwrap().clone();
        let of = |kind: &str| runs.iter().find(|run| run["kind"] == kind).unwrap()["reasons"].clone();
        (of("screening"), of("attempt"))
    };
    // The newest fill of screening solution is the one in S.
    assert_eq!(lists(&path), (json!(["own_fill"]), json!(["screening_fill"])));
    let stop = json!({ "id": Uuid::now_v7(), "reason": "too weak", "reach": "surely", "happened_at": hospital.now() });
    let other = hospital.lot("saccharin", "screening");
    hospital.fill(&room.station, &hospital.opened_bottle(&other), "X", hospital.ago(8800));
    let stop_path = format!("/api/v1/lots/{}/stops", id_of(&other));
    hospital.signed_in(Role::Storekeeper).post(&stop_path, &stop).ok(201);
    let state = || {
        let found = coordinator.get(&format!("/api/v1/people/{person}/clearances")).ok(200);
        found["items"][0]["state"].clone()
    };
    assert_eq!(state(), "cleared", "what is in X went nowhere");
    // Found in the evening: what was in X had gone into the nebulizer of the tests before the first of them.
    let mut mixed = check_body("mixed_up", hospital.ago(8700));
    mixed["other_equipment_id"] = labelled(&hospital, "X")["id"].clone();
    room.tester.post(&checks(&labelled(&hospital, "2 test")), &mixed).ok(201);
    let path = format!("/api/v1/look_backs?lot_id={}", id_of(&other));
    assert_eq!(lists(&path).1, json!(["mixed_up"]));
    assert_eq!(state(), "held", "it follows at once");
    room.tester
        .post(&checks(&labelled(&hospital, "2 test")), &check_body("rinsed", hospital.ago(60)))
        .ok(201);
    assert_eq!(lists(&path).1, json!(["mixed_up"]), "a later rinse mends nothing that was");
    let report = sellion_store::replay::replay(&mut hospital.db(), hospital.site_id, |_, _| ()).unwrap();
    assert_eq!(report.differences, []);
}
