//! Stations out of reach: what lies ready for them, what they tell afterwards, and the same person at two of them.

use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Client, Hospital,
    day::id_of,
    taste::{Ending, Room, Script, events_path},
};
use serde_json::{Value, json};
use uuid::Uuid;

fn seconds(count: i64) -> TimeDelta {
    TimeDelta::seconds(count)
}

/// A room that loses its network right after it has called somebody, and the room that calls them next.
struct TwoRooms<'h> {
    hospital: &'h Hospital,
    alone: Room<'h>,
    other: Value,
    visit: Value,
    person: Uuid,
    start: DateTime<Utc>,
}

fn two_rooms(hospital: &Hospital) -> TwoRooms<'_> {
    let start = hospital.now();
    let alone = hospital.room(start);
    let other = hospital.station(&alone.day, "Room 3", &["screening", "testing"]);
    for solution in ["screening", "test"] {
        let bottle = hospital.opened_bottle(&hospital.lot("saccharin", solution));
        let _ = hospital.fill(&other, &bottle, &format!("other {solution}"), start);
    }
    let person = id_of(&hospital.permitted_person("0047"));
    let visit = alone.check_in(person, start);
    hospital.clock.shift(TimeDelta::hours(1));
    let called = alone.call("screening", start);
    assert_eq!(called["visit"]["id"], visit["id"]);
    let back = json!({ "id": Uuid::now_v7(), "reason": "other", "wait_seconds": 0, "happened_at": start + seconds(20) });
    alone.desk.post(&format!("/api/v1/visits/{}/returns", id_of(&visit)), &back).ok(201);
    TwoRooms { hospital, alone, other, visit, person, start }
}

impl TwoRooms<'_> {
    fn at(&self, second: i64) -> DateTime<Utc> {
        self.start + seconds(second)
    }

    /// The other room calls the person and lets them pass.
    fn passes_at_the_other(&self, respirator: Uuid) -> Value {
        let (tester, at) = (&self.alone.tester, self.at(40));
        let call = json!({ "id": Uuid::now_v7(), "step": "screening", "happened_at": at });
        tester.post(&format!("/api/v1/stations/{}/calls", id_of(&self.other)), &call).ok(201);
        let screening = tester.post("/api/v1/screenings", &self.screening(&self.other, 41)).ok(201);
        self.alone.append_screening(&screening, &Script::from(self.at(41)).screened(Some(10)));
        let attempt =
            tester.post("/api/v1/attempts", &self.attempt(&self.other, &screening, respirator, 160));
        let attempt = attempt.ok(201);
        let script = Script::from(self.at(160)).attempt(10, Ending::Pass);
        tester.post(&events_path(&attempt), &script.body()).ok(200)
    }

    fn screening(&self, station: &Value, second: i64) -> Value {
        json!({
            "id": Uuid::now_v7(), "visit_id": id_of(&self.visit), "station_id": id_of(station),
            "agent": "saccharin", "happened_at": self.at(second),
        })
    }

    fn attempt(&self, station: &Value, screening: &Value, respirator: Uuid, second: i64) -> Value {
        json!({
            "id": Uuid::now_v7(), "visit_id": id_of(&self.visit), "station_id": id_of(station),
            "respirator_id": respirator, "screening_id": id_of(screening), "happened_at": self.at(second),
        })
    }

    /// The room that was out of reach tells of its own screening and attempt.
    fn tells_afterwards(&self, respirator: Uuid) -> Value {
        let tester = &self.alone.tester;
        let late = |mut body: Value| {
            body["afterwards"] = json!(true);
            body
        };
        let screening = late(self.screening(&self.alone.station, 25));
        let screening = tester.post("/api/v1/screenings", &screening).ok(201);
        self.alone.append_screening(&screening, &Script::from(self.at(25)).screened(Some(10)));
        let attempt = late(self.attempt(&self.alone.station, &screening, respirator, 120));
        let attempt = tester.post("/api/v1/attempts", &attempt).ok(201);
        let script = Script::from(self.at(120)).attempt(10, Ending::Pass);
        tester.post(&events_path(&attempt), &script.body()).ok(200)
    }

    fn clearance(&self, reader: &Client) -> Value {
        let found = reader.get(&format!("/api/v1/people/{}/clearances", self.person)).ok(200);
        found["items"][0].clone()
    }

    fn overlaps(&self, reader: &Client) -> Value {
        reader.get(&format!("/api/v1/days/{}/overlaps", id_of(&self.alone.day))).ok(200)["items"].clone()
    }
}

#[test]
fn the_same_person_at_two_stations_ends_as_a_decision() {
    let hospital = Hospital::open();
    let rooms = two_rooms(&hospital);
    let coordinator = rooms.hospital.signed_in(Role::Coordinator);
    let respirator = id_of(&hospital.respirator("M"));
    let first = rooms.passes_at_the_other(respirator);
    assert_eq!(rooms.clearance(&coordinator)["state"], "cleared");

    // Told afterwards, it is kept, and neither pass clears anybody.
    let late = rooms.tells_afterwards(respirator);
    assert_eq!(late["state"]["verdict"]["outcome"], "pass");
    let held = rooms.clearance(&coordinator);
    assert_eq!((&held["state"], &held["reasons"]), (&json!("held"), &json!(["in_doubt"])));
    let overlaps = rooms.overlaps(&coordinator);
    assert_eq!(overlaps[0]["attempt_ids"], json!([late["id"], first["id"]]), "{overlaps}");
    assert_eq!(overlaps[0]["person_id"], json!(rooms.person));
    assert_eq!(overlaps.as_array().map(Vec::len), Some(1));

    // Somebody decides: one of the two was somebody else.
    let correction =
        json!({ "id": Uuid::now_v7(), "reason": "A colleague sat there.", "happened_at": hospital.now() });
    coordinator.post(&format!("/api/v1/attempts/{}/corrections", id_of(&late)), &correction).ok(201);
    assert_eq!(rooms.overlaps(&coordinator), json!([]));
    assert_eq!(rooms.clearance(&coordinator)["state"], "cleared");
    // Nothing was deleted.
    let kept = rooms.alone.tester.get(&format!("/api/v1/attempts/{}", id_of(&late))).ok(200);
    assert_eq!(kept["state"]["verdict"]["outcome"], "pass");
}

#[test]
fn only_a_station_that_had_called_the_person_can_tell_of_them_afterwards() {
    let hospital = Hospital::open();
    let rooms = two_rooms(&hospital);
    // Told as if it happened now, it is refused: the person went back into the queue.
    let mut body = rooms.screening(&rooms.alone.station, 25);
    rooms.alone.tester.post("/api/v1/screenings", &body).refused(422, "visit_not_open");
    body["station_id"] = json!(id_of(&rooms.other));
    body["afterwards"] = json!(true);
    rooms.alone.tester.post("/api/v1/screenings", &body).refused(422, "visit_not_open");
    body["station_id"] = json!(id_of(&rooms.alone.station));
    body["happened_at"] = json!(rooms.start - seconds(5));
    rooms.alone.tester.post("/api/v1/screenings", &body).refused(422, "visit_not_open");
}

#[test]
fn the_plan_that_lies_ready_is_the_plan_of_the_attempt() {
    let hospital = Hospital::open();
    let start = hospital.now();
    let room = hospital.room(start);
    let visit = room.check_in(id_of(&hospital.permitted_person("0047")), start);
    hospital.clock.shift(TimeDelta::hours(1));
    let path = format!("/api/v1/stations/{}/plans", id_of(&room.station));
    let plans = room.tester.get(&path).ok(200);
    assert_eq!((&plans["screening"]["sets"], &plans["screening"]["set_squeezes"]), (&json!(3), &json!(10)));

    let screening = room.screens(&visit, Some(20), start);
    let body = room.attempt(&visit, id_of(&hospital.respirator("M")), &screening, start + seconds(120));
    let opened = room.tester.post("/api/v1/attempts", &body).ok(201);
    let ready = plans["attempts"].as_array().expect("plans").iter().find(|ready| {
        ready["plan"]["method"] == "saccharin" && ready["level"] == 20 && ready["full_facepiece"] == false
    });
    assert_eq!(ready.expect("a plan for level 20")["plan"], opened["plan"]);
}

#[test]
fn another_site_and_an_unknown_place_have_nothing() {
    let hospital = Hospital::open();
    let room = hospital.room(hospital.now());
    let foreign = hospital.another_site("Elsewhere");
    let stranger = hospital.signed_in_at(foreign, &[Role::Tester, Role::Coordinator]);
    let plans = format!("/api/v1/stations/{}/plans", id_of(&room.station));
    let overlaps = format!("/api/v1/days/{}/overlaps", id_of(&room.day));
    stranger.get(&plans).refused(404, "not_found");
    stranger.get(&overlaps).refused(404, "not_found");
    let nowhere = format!("/api/v1/stations/{}/plans", Uuid::now_v7());
    room.tester.get(&nowhere).refused(404, "not_found");
}
