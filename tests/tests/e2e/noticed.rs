//! Odour and smoke over HTTP: screening, test, proof, and the tube that has to be the same.

use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Hospital,
    day::id_of,
    measure::later,
    taste::{Room, Script, events_path},
};
use serde_json::{Value, json};
use uuid::Uuid;

/// A half mask with this filter.
fn half_mask(hospital: &Hospital, filter: &str) -> Uuid {
    let body = json!({
        "id": Uuid::now_v7(), "make": "Tarn & Vale", "model": "Dipper", "size": filter,
        "facepiece": "half_mask", "filter_class": filter,
    });
    id_of(&hospital.signed_in(Role::Coordinator).post("/api/v1/respirators", &body).ok(201))
}

fn exercises(script: Script, from: i64) -> Script {
    (1..=7).fold(script, |script, number| {
        let begin = from + 60 * (number - 1);
        script
            .then(begin, json!({ "kind": "exercise_started", "number": number }))
            .then(begin + 60, json!({ "kind": "exercise_ended", "number": number }))
    })
}

fn screening(
    room: &Room<'_>,
    visit: &Value,
    agent: &str,
    at: chrono::DateTime<chrono::Utc>,
    event: Value,
) -> Value {
    room.call("screening", at);
    screening_again(room, visit, agent, at, event)
}

/// Of somebody who is at the station already.
fn screening_again(
    room: &Room<'_>,
    visit: &Value,
    agent: &str,
    at: chrono::DateTime<chrono::Utc>,
    event: Value,
) -> Value {
    let opened = room.tester.post("/api/v1/screenings", &room.screening(visit, agent, at)).ok(201);
    let told = Script::from(at).then(10, json!({ "kind": "explained" })).then(40, event);
    room.append_screening(&opened, &told)
}

/// 29 CFR 1910.134 App. A I.B.2: two jars, two minutes in the chamber, and the broken seal noticed.
#[test]
fn isoamyl_acetate_from_the_jars_to_the_broken_seal() {
    let hospital = Hospital::open();
    let at = hospital.ago(3000);
    let room = hospital.room(at);
    room.fill_with("isoamyl_acetate", at);
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), at);
    let screened =
        screening(&room, &visit, "isoamyl_acetate", at, json!({ "kind": "jar_chosen", "right": true }));
    assert_eq!(screened["state"]["verdict"]["outcome"], "noticed");
    assert_eq!(
        (&screened["next_step"]["step"], &screened["next_step"]["level"]),
        (&json!("attempt"), &Value::Null)
    );
    let without = half_mask(&hospital, "P100");
    let start = later(at, 120);
    let body = room.attempt(&visit, without, &screened, start);
    let problem = room.tester.post("/api/v1/attempts", &body).refused(422, "filter_not_suitable");
    assert_eq!(problem["source"], "29 CFR 1910.134 App. A I.B.2(b)(2)");
    let body = room.attempt(&visit, half_mask(&hospital, "OV"), &screened, start);
    let opened = room.tester.post("/api/v1/attempts", &body).ok(201);
    assert_eq!((&opened["method"], &opened["plan"]["doses"]), (&json!("isoamyl_acetate"), &Value::Null));
    let script = Script::from(start).worn().then(320, json!({ "kind": "chamber_entered" }));
    let early = script.clone().then(400, json!({ "kind": "exercise_started", "number": 1 }));
    room.tester.post(&events_path(&opened), &early.body()).refused(422, "not_ready");
    let script = exercises(script, 440)
        .then(865, json!({ "kind": "asked_again", "tasted": false, "comfortable": true }))
        .then(870, json!({ "kind": "seal_broken", "noticed": true }))
        .then(880, json!({ "kind": "signed" }));
    let ended = room.tester.post(&events_path(&opened), &script.body()).ok(200);
    assert_eq!(ended["state"]["verdict"]["outcome"], "pass", "{ended}");
    assert_eq!(ended["next_step"]["step"], "done");
}

/// App. A I.B.2(a)(10): the wrong jar, and this test is not done.
#[test]
fn the_wrong_jar_closes_the_method_for_today() {
    let hospital = Hospital::open();
    let at = hospital.ago(3000);
    let room = hospital.room(at);
    room.fill_with("isoamyl_acetate", at);
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), at);
    let screened =
        screening(&room, &visit, "isoamyl_acetate", at, json!({ "kind": "jar_chosen", "right": false }));
    assert_eq!(screened["state"]["verdict"]["outcome"], "not_noticed");
    assert_eq!(screened["next_step"]["agent"], "saccharin");
    let again = room.screening(&visit, "isoamyl_acetate", later(at, 100));
    room.tester.post("/api/v1/screenings", &again).refused(422, "agent_closed_today");
}

#[test]
fn steps_of_another_agent_are_refused() {
    let hospital = Hospital::open();
    let at = hospital.ago(3000);
    let room = hospital.room(at);
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), at);
    room.call("screening", at);
    let opened = room.tester.post("/api/v1/screenings", &room.screening(&visit, "saccharin", at)).ok(201);
    let told = Script::from(at)
        .then(10, json!({ "kind": "explained" }))
        .then(40, json!({ "kind": "jar_chosen", "right": true }));
    let path = format!("/api/v1/screenings/{}/events", id_of(&opened));
    room.tester.post(&path, &told.body()).refused(422, "event_not_now");
}

/// A site's own set that switches irritant smoke on by name, and wants plain water to be tried first.
const WITH_SMOKE: &str = r#"name = "ours"
version = "2026-11-25.1"
title = "Ours"
based_on = [{ name = "us-29cfr1910-134", version = "2019-09-26.2" }]

[values.irritant_smoke.accepted]
value = true
unit = "yes or no"
source = "decided with the safety officer"
status = "confirmed"
confirmed_by = "Ines Valdrun"
confirmed_on = 2026-11-25

[values.plain_water_check]
value = true
unit = "yes or no"
source = "our own rule"
status = "common_practice"
"#;

fn with_smoke(hospital: &Hospital) {
    let body = json!({ "id": Uuid::now_v7(), "document": WITH_SMOKE, "happened_at": hospital.ago(9000) });
    hospital.signed_in(Role::Coordinator).post("/api/v1/rule_sets", &body).ok(201);
    let rule_set = json!({ "rule_set": { "name": "ours", "version": "2026-11-25.1" } });
    hospital.signed_in(Role::Admin).patch("/api/v1/sites/current", 1, &rule_set).ok(200);
}

/// App. A I.B.5: the same tube before, during and after; no response afterwards is void.
#[test]
fn irritant_smoke_with_one_tube_and_a_second_check() {
    let hospital = Hospital::open();
    with_smoke(&hospital);
    let at = hospital.ago(3600);
    let room = hospital.room(at);
    let tube = |number: u32, at| {
        let lot = hospital.lot("irritant_smoke", "test");
        hospital.fill(&room.station, &hospital.opened_bottle(&lot), &format!("tube {number}"), at)
    };
    let _ = tube(1, at);
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), at);
    let screened =
        screening(&room, &visit, "irritant_smoke", at, json!({ "kind": "smoke_tried", "noticed": true }));
    let start = later(at, 120);
    let respirator = half_mask(&hospital, "P100");
    let opened =
        room.tester.post("/api/v1/attempts", &room.attempt(&visit, respirator, &screened, start)).ok(201);
    assert!(opened["plan"]["cautions"].to_string().contains("Never under a hood"));
    let script = Script::from(start).worn();
    let script = (1..=3).fold(script, |script, number| {
        script.then(320 + number, json!({ "kind": "perimeter_passed", "number": number }))
    });
    let script = exercises(script, 330)
        .then(755, json!({ "kind": "asked_again", "tasted": false, "comfortable": true }))
        .then(760, json!({ "kind": "doffed" }))
        .then(770, json!({ "kind": "sensitivity_checked", "noticed": false }));
    let ended = room.tester.post(&events_path(&opened), &script.body()).ok(200);
    let verdict = &ended["state"]["verdict"];
    assert_eq!((&verdict["outcome"], &verdict["reason"]), (&json!("void"), &json!("agent_not_proven")));
    // The sensitivity itself is in doubt: it is checked again before anything else.
    assert_eq!(
        (&ended["next_step"]["step"], &ended["next_step"]["agent"]),
        (&json!("screen"), &json!("irritant_smoke"))
    );
    let body = room.attempt(&visit, respirator, &screened, later(at, 905));
    room.tester.post("/api/v1/attempts", &body).refused(422, "new_screening_required");
    let again = later(at, 910);
    let screened = screening_again(
        &room,
        &visit,
        "irritant_smoke",
        again,
        json!({ "kind": "smoke_tried", "noticed": true }),
    );
    // Another tube: the sensitivity has to be checked with that one first.
    let _ = tube(2, later(at, 1000));
    let body = room.attempt(&visit, respirator, &screened, later(at, 1010));
    let problem = room.tester.post("/api/v1/attempts", &body).refused(422, "new_screening_required");
    assert!(problem["detail"].as_str().unwrap().contains("tube"), "{problem}");
}

/// Off unless a site switched it on, and the reason is told (fact 3.83).
#[test]
fn irritant_smoke_is_off_by_default() {
    let hospital = Hospital::open();
    let at = hospital.ago(3000);
    let room = hospital.room(at);
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), at);
    room.call("screening", at);
    let body = room.screening(&visit, "irritant_smoke", at);
    let problem = room.tester.post("/api/v1/screenings", &body).refused(422, "test_method_not_allowed");
    assert!(problem["source"].as_str().unwrap().contains("NIOSH"), "{problem}");
}

#[test]
fn plain_water_first_where_the_rule_set_wants_it() {
    let hospital = Hospital::open();
    with_smoke(&hospital);
    let at = hospital.ago(3000);
    let room = hospital.room(at);
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), at);
    room.call("screening", at);
    let opened = room.tester.post("/api/v1/screenings", &room.screening(&visit, "saccharin", at)).ok(201);
    let path = format!("/api/v1/screenings/{}/events", id_of(&opened));
    room.tester.post(&path, &Script::from(at).screened(Some(10)).body()).refused(422, "plain_water_first");
    let told = Script::from(at)
        .then(10, json!({ "kind": "explained" }))
        .then(20, json!({ "kind": "plain_water_tried", "tasted": true }));
    let ended = room.tester.post(&path, &told.body()).ok(200);
    let verdict = &ended["state"]["verdict"];
    assert_eq!((&verdict["outcome"], &verdict["reason"]), (&json!("void"), &json!("plain_water_tasted")));
}
