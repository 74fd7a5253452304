//! Batches of events: what comes after an end is named and not stored, everything else is all or none.

use chrono::TimeDelta;
use sellion_tests::harness::{
    Hospital,
    day::id_of,
    taste::{FIRST_DOSE, Script, events_path},
};
use serde_json::{Value, json};

#[test]
fn what_follows_a_taste_in_the_same_batch_does_not_cost_the_taste() {
    let hospital = Hospital::open();
    let start = hospital.ago(3600);
    let room = hospital.room(start);
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), start);
    let screening = room.screens(&visit, Some(10), start);
    let at = start + TimeDelta::seconds(120);
    let body = room.attempt(&visit, id_of(&hospital.respirator("M")), &screening, at);
    let attempt = room.tester.post("/api/v1/attempts", &body).ok(201);
    let path = events_path(&attempt);

    let tasted = Script::from(at).fitted().dose(0, 10).then(FIRST_DOSE + 5, json!({ "kind": "tasted" }));
    let signed = json!({ "kind": "signed" });
    let batch = tasted
        .clone()
        .then(FIRST_DOSE + 6, json!({ "kind": "exercise_started", "number": 1 }))
        .then(FIRST_DOSE + 7, signed.clone());
    let answer = room.tester.post(&path, &batch.body()).ok(200);
    assert_eq!(answer["state"]["verdict"]["outcome"], "fail");
    assert_eq!(answer["events"].as_array().unwrap().len(), 5);
    let named = answer["not_stored"].as_array().unwrap();
    let seqs: Vec<&Value> = named.iter().map(|event| &event["seq"]).collect();
    assert_eq!(seqs, [&json!(6), &json!(7)]);
    assert!(named.iter().all(|event| event["code"] == "attempt_ended" && event["detail"].is_string()));
    assert_eq!(room.tester.post(&path, &batch.body()).ok(200), answer, "a repeat is answered alike");

    // One signature may follow, in the same batch too; the earlier batch is answered as before all the same.
    let with_signature = tasted.then(FIRST_DOSE + 9, signed.clone()).then(FIRST_DOSE + 10, signed);
    let ended = room.tester.post(&path, &with_signature.body()).ok(200);
    assert!(ended["state"]["signed_at"].is_string());
    assert_eq!(ended["not_stored"].as_array().unwrap().len(), 1);
    let again = room.tester.post(&path, &batch.body()).ok(200);
    assert_eq!(again["not_stored"], answer["not_stored"]);
    assert_eq!(again["events"], ended["events"]);

    // Without the end in the batch it is a refusal.
    let problem = room.tester.post(&path, &with_signature.events(7)).refused(422, "attempt_ended");
    assert_eq!(problem["seq"], 7);
    let stored = room.tester.get(&format!("/api/v1/attempts/{}", id_of(&attempt))).ok(200);
    assert!(stored.get("not_stored").is_none(), "only the answer to a batch has it");
}

#[test]
fn what_follows_the_end_of_a_screening_is_named_and_every_other_refusal_names_its_event() {
    let hospital = Hospital::open();
    let start = hospital.ago(3600);
    let room = hospital.room(start);
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), start);
    let _ = room.call("screening", start);
    let body = room.screening(&visit, "saccharin", start);
    let opened = room.tester.post("/api/v1/screenings", &body).ok(201);
    let path = format!("/api/v1/screenings/{}/events", id_of(&opened));

    let wrong = Script::from(start)
        .then(10, json!({ "kind": "explained" }))
        .then(40, json!({ "kind": "set_done", "tasted": false, "squeezes": 11 }));
    assert_eq!(room.tester.post(&path, &wrong.body()).refused(422, "invalid_value")["seq"], 2);
    let early = Script::from(start).then(-1, json!({ "kind": "explained" }));
    assert_eq!(room.tester.post(&path, &early.body()).refused(422, "event_before_previous")["seq"], 1);
    let ahead = Script::from(hospital.now()).then(600, json!({ "kind": "explained" }));
    assert_eq!(room.tester.post(&path, &ahead.body()).refused(422, "happened_in_future")["seq"], 1);

    let batch = Script::from(start).screened(Some(20)).then(90, json!({ "kind": "interrupted" }));
    let answer = room.tester.post(&path, &batch.body()).ok(200);
    assert_eq!(answer["state"]["verdict"]["level"], 20);
    assert_eq!(answer["not_stored"][0]["seq"], 4);
    assert_eq!(answer["not_stored"][0]["code"], "screening_ended");
    assert_eq!(room.tester.post(&path, &batch.body()).ok(200), answer);
}

#[test]
fn a_leap_second_is_the_second_after_it_on_a_repeat_too() {
    // RFC 3339 s.5.6: seconds run to 60 when one is inserted.
    let hospital = Hospital::open();
    let start = hospital.ago(3600);
    let room = hospital.room(start);
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), start);
    let _ = room.call("screening", start);
    let body = room.screening(&visit, "saccharin", start);
    let opened = room.tester.post("/api/v1/screenings", &body).ok(201);
    let path = format!("/api/v1/screenings/{}/events", id_of(&opened));
    let minute = (start + TimeDelta::minutes(2)).format("%Y-%m-%dT%H:%M");
    let event = json!({ "seq": 1, "happened_at": format!("{minute}:60.5Z"), "kind": "explained" });
    let batch = json!({ "events": [event] });
    let stored = room.tester.post(&path, &batch).ok(200);
    let next = (start + TimeDelta::minutes(3)).format("%Y-%m-%dT%H:%M:00");
    assert!(stored["events"][0]["happened_at"].as_str().unwrap().starts_with(&next.to_string()), "{stored}");
    assert_eq!(room.tester.post(&path, &batch).ok(200), stored);
}
