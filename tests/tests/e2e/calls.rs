//! The queue: who is called next, by whom, and going back into it.

use std::{
    collections::HashSet,
    sync::{Arc, Barrier},
};

use chrono::{DateTime, TimeDelta, Utc};
use diesel::{PgConnection, connection::SimpleConnection};
use sellion_rules::{
    ladder::{NextStep, ReferralReason},
    level::Level,
    roles::Role,
    supplies::Agent,
};
use sellion_store::{Actor, audit, visit, write_on};
use sellion_tests::harness::{
    Client, Hospital,
    day::{id_of, time_of},
};
use serde_json::{Value, json};
use uuid::Uuid;

/// A day with a desk, a tester and people to be called.
struct Queue {
    hospital: Hospital,
    desk: Client,
    tester: Client,
    day: Value,
}

impl Queue {
    fn open() -> Self {
        let hospital = Hospital::open();
        let (desk, tester) = (hospital.signed_in(Role::CheckIn), hospital.signed_in(Role::Tester));
        let day = hospital.day();
        Self { hospital, desk, tester, day }
    }

    fn station(&self, name: &str, parts: &[&str]) -> Value {
        self.hospital.station(&self.day, name, parts)
    }

    /// Somebody who checked in at that moment.
    fn somebody(&self, at: DateTime<Utc>) -> Value {
        let person = self.hospital.db_person(self.hospital.site_id, true);
        self.hospital.check_in(&self.desk, &self.day, person, at)
    }

    fn call(&self, station: &Value, body: &Value) -> sellion_tests::harness::Reply {
        self.tester.post(&format!("/api/v1/stations/{}/calls", id_of(station)), body)
    }

    fn body(&self, step: &str) -> Value {
        json!({ "id": Uuid::now_v7(), "step": step, "happened_at": self.hospital.now() })
    }

    fn visit(&self, visit: &Value) -> Value {
        self.desk.get(&format!("/api/v1/visits/{}", id_of(visit))).ok(200)
    }

    fn give_back(&self, visit: &Value, body: &Value) -> sellion_tests::harness::Reply {
        self.tester.post(&format!("/api/v1/visits/{}/returns", id_of(visit)), body)
    }

    /// Moves a visit on as the end of a run does.
    fn set_next(&self, visit: &Value, next: &NextStep, at: DateTime<Utc>) {
        let (actor, id) = (Actor::program(self.hospital.site_id), id_of(visit));
        write_on(&mut self.db(), &actor, "test", self.hospital.now(), |tx| visit::set_next(tx, id, next, at))
            .expect("a next step");
    }

    /// A connection set up as the server's are, so that digests are taken over the same text.
    fn db(&self) -> PgConnection {
        let mut conn = self.hospital.db();
        conn.batch_execute("set timezone = 'UTC'; set datestyle = 'ISO, YMD'").expect("settings");
        conn
    }

    fn assert_chain_holds(&self) {
        let report = audit::verify(&mut self.db(), self.hospital.site_id, |_, _| {}).expect("a report");
        assert!(report.broken.is_none(), "{:?}", report.broken);
    }
}

#[test]
fn people_are_called_in_the_order_in_which_they_are_ready() {
    let queue = Queue::open();
    let station = queue.station("Station 1", &["screening", "testing"]);
    let late = queue.somebody(queue.hospital.ago(60));
    let early = queue.somebody(queue.hospital.ago(600));
    let body = queue.body("screening");
    let call = queue.call(&station, &body).ok(201);
    assert_eq!(call["visit"]["id"], early["id"]);
    assert_eq!(call["visit"]["held_by_station_id"], station["id"]);
    assert_eq!(queue.call(&station, &body).ok(201), call, "a repeat finds the same call");
    let mut other = body;
    other["step"] = json!("testing");
    queue.call(&station, &other).refused(409, "id_reused");

    let busy = queue.call(&station, &queue.body("screening")).refused(422, "still_in_use");
    assert_eq!(busy["ticket"], early["ticket"]);
    let second = queue.station("Station 2", &["screening"]);
    let call = queue.call(&second, &queue.body("screening")).ok(201);
    assert_eq!(call["visit"]["id"], late["id"]);
    queue.assert_chain_holds();
}

#[test]
fn nobody_is_called_who_is_held_back_or_not_ready() {
    let queue = Queue::open();
    let hospital = &queue.hospital;
    let station = queue.station("Station 1", &["screening"]);
    let problem = queue.call(&station, &queue.body("screening")).refused(422, "nobody_ready");
    assert!(problem.get("next_ready_at").is_none());

    let unpermitted = hospital.db_person(hospital.site_id, false);
    let held = hospital.check_in(&queue.desk, &queue.day, unpermitted, hospital.ago(900));
    let intake = hospital.ago(5 * 60);
    let mut eater = sellion_tests::harness::day::visit_body(
        &queue.day,
        hospital.db_person(hospital.site_id, true),
        hospital.ago(120),
    );
    eater["answers"]["last_intake_at"] = json!(intake);
    let eater = queue.desk.post("/api/v1/visits", &eater).ok(201);
    let problem = queue.call(&station, &queue.body("screening")).refused(422, "nobody_ready");
    assert_eq!(time_of(&problem["next_ready_at"]), intake + TimeDelta::minutes(15));

    let list = queue.desk.get(&format!("/api/v1/days/{}/queue", id_of(&queue.day))).ok(200);
    let told: Vec<(&Value, &str)> = list["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|entry| (&entry["visit_id"], entry["verdict"].as_str().unwrap()))
        .collect();
    assert_eq!(told, [(&held["id"], "on_hold"), (&eater["id"], "ready_at")]);

    hospital.db_permission(unpermitted, true);
    let call = queue.call(&station, &queue.body("screening")).ok(201);
    assert_eq!(call["visit"]["id"], held["id"], "the decision counts at once, and they kept their place");
}

#[test]
fn a_station_calls_only_for_what_it_can_do_and_only_while_the_day_is_on() {
    let queue = Queue::open();
    let hospital = &queue.hospital;
    let station = queue.station("Station 1", &["screening"]);
    let problem = queue.call(&station, &queue.body("testing")).refused(422, "invalid_value");
    assert_eq!(problem["field"], "station_id");
    let problem = queue.call(&station, &queue.body("done")).refused(422, "invalid_value");
    assert_eq!(problem["field"], "step");
    let stranger = hospital.signed_in_at(hospital.another_site("Ostrel"), &[Role::Tester]);
    let path = format!("/api/v1/stations/{}/calls", id_of(&station));
    stranger.post(&path, &queue.body("screening")).refused(404, "not_found");
    hospital.signed_in(Role::Storekeeper).post(&path, &queue.body("screening")).refused(403, "wrong_role");

    let _ = queue.somebody(hospital.ago(60));
    let day = format!("/api/v1/days/{}", id_of(&queue.day));
    hospital.signed_in(Role::Coordinator).patch(&day, 1, &json!({ "closed": true })).ok(200);
    queue.call(&station, &queue.body("screening")).refused(422, "day_closed");
}

/// The wait of five minutes is common practice, no source.
#[test]
fn somebody_who_did_not_come_is_called_again_five_minutes_later() {
    let queue = Queue::open();
    let station = queue.station("Station 1", &["screening"]);
    let visit = queue.somebody(queue.hospital.ago(600));
    let at = queue.hospital.now();
    let body = json!({ "id": Uuid::now_v7(), "reason": "not_there", "happened_at": at });
    queue.give_back(&visit, &body).refused(422, "event_not_now");
    queue.call(&station, &queue.body("screening")).ok(201);
    let back = queue.give_back(&visit, &body).ok(201);
    assert!(back.get("held_by_station_id").is_none());
    assert_eq!(time_of(&back["earliest_start"]), at + TimeDelta::minutes(5));
    assert_eq!(queue.give_back(&visit, &body).ok(201), back);
    let mut other = body;
    other["reason"] = json!("other");
    queue.give_back(&visit, &other).refused(409, "id_reused");

    queue.call(&station, &queue.body("screening")).refused(422, "nobody_ready");
    queue.hospital.clock.shift(TimeDelta::minutes(5));
    let call = queue.call(&station, &queue.body("screening")).ok(201);
    assert_eq!(call["visit"]["id"], visit["id"]);
    let at_once = json!({
        "id": Uuid::now_v7(), "reason": "other", "wait_seconds": 0, "happened_at": queue.hospital.now(),
    });
    queue.give_back(&visit, &at_once).ok(201);
    queue.call(&station, &queue.body("screening")).ok(201);
    queue.assert_chain_holds();
}

#[test]
fn forty_people_and_six_stations_that_press_at_once_meet_each_other_once() {
    let queue = Queue::open();
    let stations: Vec<Value> =
        (1..=6).map(|number| queue.station(&format!("Station {number}"), &["screening"])).collect();
    let waiting: HashSet<Uuid> = (0..40).map(|_| id_of(&queue.somebody(queue.hospital.ago(300)))).collect();
    let start = Arc::new(Barrier::new(stations.len()));
    let called: Vec<Uuid> = std::thread::scope(|scope| {
        let pressing: Vec<_> = stations
            .iter()
            .map(|station| {
                let (queue, start) = (&queue, Arc::clone(&start));
                scope.spawn(move || {
                    start.wait();
                    everybody_for(queue, station)
                })
            })
            .collect();
        pressing.into_iter().flat_map(|station| station.join().unwrap()).collect()
    });
    assert_eq!(called.len(), 40, "nobody is called twice");
    assert_eq!(called.into_iter().collect::<HashSet<_>>(), waiting, "and everybody once");
    queue.assert_chain_holds();
}

/// Calls one after another to the station, passing each on to testing, until nobody is ready.
fn everybody_for(queue: &Queue, station: &Value) -> Vec<Uuid> {
    let mut called = Vec::new();
    loop {
        let reply = queue.call(station, &queue.body("screening"));
        if reply.status == 422 {
            reply.refused(422, "nobody_ready");
            return called;
        }
        let visit = reply.ok(201)["visit"].clone();
        called.push(id_of(&visit));
        queue.set_next(&visit, &tested_next(None), queue.hospital.now());
    }
}

/// What the ladder says after a screening that found a level.
fn tested_next(not_before: Option<DateTime<Utc>>) -> NextStep {
    NextStep::Attempt {
        screening: Uuid::now_v7(),
        agent: Agent::Saccharin,
        level: Some(Level::Ten),
        excluded_respirators: Vec::new(),
        not_before,
    }
}

#[test]
fn a_station_keeps_whom_it_can_go_on_with_and_frees_the_others() {
    let queue = Queue::open();
    let both = queue.station("Station 1", &["screening", "testing"]);
    let screens = queue.station("Station 2", &["screening"]);
    for (station, kept) in [(&both, true), (&screens, false)] {
        let visit = queue.somebody(queue.hospital.ago(60));
        queue.call(station, &queue.body("screening")).ok(201);
        let at = queue.hospital.now();
        queue.set_next(&visit, &tested_next(None), at);
        let visit = queue.visit(&visit);
        assert_eq!(visit["step"], "testing");
        assert_eq!(visit.get("held_by_station_id").is_some(), kept);
        assert_eq!(time_of(&visit["earliest_start"]), at);
    }

    let tests = queue.station("Station 3", &["testing"]);
    let called = queue.call(&tests, &queue.body("testing")).ok(201);
    let until = queue.hospital.now() + TimeDelta::minutes(15);
    let again = NextStep::Screen { agent: Agent::Saccharin, not_before: Some(until) };
    queue.set_next(&called["visit"], &again, queue.hospital.now());
    let waits = queue.visit(&called["visit"]);
    assert_eq!((&waits["step"], &waits["verdict"]), (&json!("screening"), &json!("ready_at")));
    assert_eq!(time_of(&waits["earliest_start"]), until);
    assert!(waits.get("held_by_station_id").is_none());
    queue.assert_chain_holds();
}

#[test]
fn the_ladder_ends_a_visit_by_a_pass_or_by_a_referral() {
    let queue = Queue::open();
    let (passed, referred) = (queue.somebody(queue.hospital.ago(60)), queue.somebody(queue.hospital.ago(60)));
    queue.set_next(&passed, &NextStep::Done { attempt: Uuid::now_v7() }, queue.hospital.now());
    let passed = queue.visit(&passed);
    assert_eq!(passed["step"], "done");
    assert!(passed.get("verdict").is_none());
    let path = format!("/api/v1/visits/{}/answers", id_of(&passed));
    let answers = sellion_tests::harness::day::good_answers();
    let body = json!({ "id": Uuid::now_v7(), "answers": answers, "happened_at": queue.hospital.now() });
    queue.desk.post(&path, &body).refused(422, "visit_not_open");

    let refer = NextStep::Refer { reason: ReferralReason::LadderUsedUp };
    for _ in 0..2 {
        queue.set_next(&referred, &refer, queue.hospital.now());
    }
    assert_eq!(queue.visit(&referred)["step"], "referred");
    let listed = queue.tester.get(&format!("/api/v1/referrals?visit_id={}", id_of(&referred))).ok(200);
    assert_eq!(listed["items"].as_array().unwrap().len(), 1, "referred once for one reason");
    assert_eq!(listed["items"][0]["reason"], "ladder_used_up");
    queue.assert_chain_holds();
}

/// Common practice, no source: whoever was unwell in a run sees a clinician before anything goes on.
#[test]
fn somebody_who_was_unwell_is_called_again_after_a_newer_decision() {
    let queue = Queue::open();
    let hospital = &queue.hospital;
    let station = queue.station("Station 1", &["screening", "testing"]);
    let bottle = hospital.opened_bottle(&hospital.lot("saccharin", "screening"));
    hospital.fill(&station, &bottle, "1 screening", hospital.ago(60));
    let visit = queue.somebody(hospital.ago(60));
    queue.call(&station, &queue.body("screening")).ok(201);
    let screening = json!({
        "id": Uuid::now_v7(), "visit_id": visit["id"], "station_id": station["id"], "agent": "saccharin",
        "happened_at": hospital.now(),
    });
    queue.tester.post("/api/v1/screenings", &screening).ok(201);
    let back = json!({ "id": Uuid::now_v7(), "reason": "other", "happened_at": hospital.now() });
    queue.give_back(&visit, &back).refused(422, "screening_open");
    let referral = json!({
        "id": Uuid::now_v7(), "visit_id": visit["id"], "reason": "other", "happened_at": hospital.now(),
    });
    queue.tester.post("/api/v1/referrals", &referral).refused(422, "screening_open");

    let events = json!({ "events": [{ "seq": 1, "kind": "unwell", "happened_at": hospital.now() }] });
    let path = format!("/api/v1/screenings/{}/events", id_of(&screening));
    let reply = queue.tester.post(&path, &events);
    assert!(reply.status < 300, "{}", reply.text());
    let held = queue.visit(&visit);
    assert_eq!(held["hold_reasons"], json!(["stopped_needs_clinician"]));
    assert!(held.get("held_by_station_id").is_none(), "the station is free");
    queue.call(&station, &queue.body("screening")).refused(422, "nobody_ready");

    let person = visit["person_id"].as_str().and_then(|id| id.parse().ok()).expect("a person");
    hospital.db_permission(person, true);
    let call = queue.call(&station, &queue.body("screening")).ok(201);
    assert_eq!(call["visit"]["id"], visit["id"]);
}

#[test]
fn a_tester_refers_somebody_to_another_kind_of_test() {
    let queue = Queue::open();
    let hospital = &queue.hospital;
    let station = queue.station("Station 1", &["screening"]);
    let visit = queue.somebody(hospital.ago(60));
    queue.call(&station, &queue.body("screening")).ok(201);
    let body = json!({
        "id": Uuid::now_v7(), "visit_id": visit["id"], "reason": "disputed", "happened_at": hospital.now(),
    });
    let referral = queue.tester.post("/api/v1/referrals", &body).ok(201);
    assert_eq!(referral["person_id"], visit["person_id"]);
    assert_eq!(queue.tester.post("/api/v1/referrals", &body).ok(201), referral);
    let mut other = body.clone();
    other["reason"] = json!("other");
    queue.tester.post("/api/v1/referrals", &other).refused(409, "id_reused");
    let read = queue.visit(&visit);
    assert_eq!(read["step"], "referred");
    assert!(read.get("held_by_station_id").is_none(), "the station is free again");

    let stranger = hospital.signed_in_at(hospital.another_site("Ostrel"), &[Role::Tester]);
    let mut theirs = body.clone();
    theirs["id"] = json!(Uuid::now_v7());
    stranger.post("/api/v1/referrals", &theirs).refused(404, "not_found");
    assert_eq!(stranger.get("/api/v1/referrals").ok(200)["items"], json!([]));
    queue.desk.post("/api/v1/referrals", &body).refused(403, "wrong_role");
    queue.assert_chain_holds();
}
