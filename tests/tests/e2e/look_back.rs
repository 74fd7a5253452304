//! Look-backs and stops: a whole recall with an expectation written by hand, and everything that is refused.

use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Client, Hospital,
    day::id_of,
    taste::{Ending, Room},
    tells,
};
use serde_json::{Value, json};
use uuid::Uuid;

fn items<'v>(answer: &'v Value, certainty: &str) -> Vec<&'v Value> {
    let all = answer["items"].as_array().unwrap();
    all.iter().filter(|item| item["certainty"] == certainty).collect()
}

fn ids(people: &[&Value]) -> Vec<Uuid> {
    people.iter().map(|person| person["person_id"].as_str().unwrap().parse().unwrap()).collect()
}

fn reasons(person: &Value, kind: &str) -> Value {
    let runs = person["runs"].as_array().unwrap();
    runs.iter().find(|run| run["kind"] == kind).unwrap()["reasons"].clone()
}

/// Screens and tests somebody at level 10 from `at` on, with a pass.
fn passes(room: &Room<'_>, person: Uuid, respirator: Uuid, at: DateTime<Utc>) -> Value {
    let visit = room.check_in(person, at);
    let screening = room.screens(&visit, Some(10), at);
    room.tests(&visit, respirator, &screening, Ending::Pass, at + TimeDelta::seconds(60))
}

fn stop_body(hospital: &Hospital, what: &str, id: Uuid) -> Value {
    json!({ "id": Uuid::now_v7(), what: id, "reason": "it leaks", "happened_at": hospital.now() })
}

fn state_of(coordinator: &Client, person: Uuid) -> (Value, Value) {
    let found = coordinator.get(&format!("/api/v1/people/{person}/clearances")).ok(200);
    (found["items"][0]["state"].clone(), found["items"][0]["reasons"].clone())
}

/// Three people, one room: the first stands on the lot, the second, half an hour later, on another one that was filled
/// since, and the third lies in a gap, where nobody knows what was sprayed.
struct Recall<'h> {
    hospital: &'h Hospital,
    people: Vec<Uuid>,
    lot: Uuid,
    gate: Uuid,
    badges: Vec<Value>,
    coordinator: Client,
    gatekeeper: Client,
}

fn recall(hospital: &Hospital) -> Recall<'_> {
    let respirator = id_of(&hospital.respirator("M"));
    let people: Vec<Uuid> =
        ["01", "02", "03"].map(|number| id_of(&hospital.permitted_person(number))).to_vec();
    let start = hospital.ago(5400);
    let room = hospital.room(start - TimeDelta::minutes(10));
    let lots = room.fill_with("saccharin", start - TimeDelta::minutes(5));
    let _ = passes(&room, people[0], respirator, start);
    let _ = room.fill_with("saccharin", start + TimeDelta::minutes(25));
    let _ = passes(&room, people[1], respirator, start + TimeDelta::minutes(30));
    let _ = passes(&room, people[2], respirator, start + TimeDelta::minutes(60));
    let gap = json!({
        "id": Uuid::now_v7(), "station_id": id_of(&room.station), "agent": "saccharin", "solution": "test",
        "from": start + TimeDelta::minutes(58), "until": start + TimeDelta::minutes(80),
        "reason": "Nobody wrote the fill down.", "happened_at": hospital.now(),
    });
    let tester = hospital.signed_in(Role::Tester);
    let stored = tester.post("/api/v1/fill_gaps", &gap).ok(201);
    assert_eq!(tester.post("/api/v1/fill_gaps", &gap).ok(201), stored, "a repeat");
    let desk = hospital.signed_in(Role::BadgeDesk);
    Recall {
        hospital,
        lot: id_of(&lots.1),
        gate: hospital.gate_accepting("Heron north", &[respirator]),
        badges: people.iter().map(|person| hospital.badge(&desk, *person)).collect(),
        people,
        coordinator: hospital.signed_in(Role::Coordinator),
        gatekeeper: hospital.signed_in(Role::Gate),
    }
}

impl Recall<'_> {
    fn scan(&self, person: usize) -> Value {
        let serial = &self.badges[person]["serial"];
        let body = json!({ "id": Uuid::now_v7(), "serial": serial, "happened_at": self.hospital.now() });
        let path = format!("/api/v1/gates/{}/scans", self.gate);
        self.gatekeeper.post(&path, &body).ok(201)["answer"].clone()
    }

    fn read(&self) -> Value {
        self.coordinator.get(&format!("/api/v1/look_backs?lot_id={}", self.lot)).ok(200)
    }

    fn stop(&self, reach: &str) {
        let body = json!({
            "id": Uuid::now_v7(), "reason": "Recalled.", "reach": reach, "happened_at": self.hospital.now(),
        });
        self.coordinator.post(&format!("/api/v1/lots/{}/stops", self.lot), &body).ok(201);
    }

    /// The states of the three people's clearances.
    fn states(&self) -> [String; 3] {
        let state = |person: &Uuid| {
            let (state, reasons) = state_of(&self.coordinator, *person);
            let held = state == "held";
            assert_eq!(reasons, if held { json!(["lot_stopped"]) } else { json!([]) });
            state.as_str().unwrap().to_owned()
        };
        [state(&self.people[0]), state(&self.people[1]), state(&self.people[2])]
    }
}

#[test]
fn a_look_back_tells_three_lists_with_reasons_before_anything_is_stopped() {
    let hospital = Hospital::open();
    let recall = recall(&hospital);
    for person in [0, 1, 2] {
        assert_eq!(recall.scan(person), "enter");
    }
    // Long enough after the first that it is no nervous second reading, which would not count.
    hospital.clock.shift(TimeDelta::minutes(1));
    assert_eq!(recall.scan(0), "enter");
    let found = recall.read();
    let totals = &found["totals"];
    assert_eq!(totals["surely"], json!({ "people": 1, "screenings": 0, "attempts": 1 }));
    assert_eq!(totals["possibly"], json!({ "people": 1, "screenings": 0, "attempts": 1 }));
    assert_eq!(totals["not_affected"], json!({ "people": 1, "screenings": 3, "attempts": 1 }));
    let [sure, possible, not] = ["surely", "possibly", "not_affected"].map(|list| items(&found, list));
    let people = &recall.people;
    assert_eq!((ids(&sure), ids(&possible), ids(&not)), (vec![people[0]], vec![people[2]], vec![people[1]]));
    assert_eq!(reasons(sure[0], "attempt"), json!(["own_fill"]));
    assert_eq!(reasons(sure[0], "screening"), json!(["other_lot"]));
    assert_eq!(reasons(possible[0], "attempt"), json!(["fill_unknown"]));
    assert_eq!(reasons(not[0], "attempt"), json!(["other_lot"]));

    let clearance = &sure[0]["clearances"][0];
    assert_eq!(clearance["now"]["state"], "cleared", "nothing is stopped yet");
    assert_eq!(
        (&clearance["without_sure"]["state"], &clearance["retest"]),
        (&json!("held"), &json!("surely"))
    );
    let clearance = &possible[0]["clearances"][0];
    assert_eq!(clearance["without_sure"]["state"], "cleared");
    assert_eq!(
        (&clearance["without_possible"]["state"], &clearance["retest"]),
        (&json!("held"), &json!("possibly"))
    );
    assert_eq!(not[0]["clearances"][0].get("retest"), None);
    let gate = &sure[0]["entries"][0];
    assert_eq!((&gate["gate"], &gate["count"]), (&json!("Heron north"), &json!(2)));
    assert_eq!(not[0]["entries"], json!([]), "nobody asks where those are who do not stand on it");
    assert_eq!(sure[0]["badges"][0]["badge_id"], recall.badges[0]["id"]);

    // Who looked, and for what, is in the audit chain; whoever only counts is not.
    let auditor = hospital.signed_in(Role::Auditor);
    let rows = auditor.get("/api/v1/audit_rows?limit=500").ok(200);
    let read =
        |row: &&Value| row["subject_table"] == "look_back_readings" && row["action"] == "read_look_back";
    assert_eq!(rows["items"].as_array().unwrap().iter().filter(read).count(), 1, "{rows}");

    let path = format!("/api/v1/look_backs?lot_id={}&limit=1", recall.lot);
    let first = recall.coordinator.get(&path).ok(200);
    assert_eq!(&first["totals"], totals, "of the whole of it");
    let rest = recall.coordinator.get(&format!("{path}&cursor={}", first["next"].as_str().unwrap())).ok(200);
    assert_eq!([&first["items"][0], &rest["items"][0]], [&found["items"][0], &found["items"][1]]);
}

#[test]
fn a_recalled_lot_from_the_stop_to_the_release() {
    let hospital = Hospital::open();
    let recall = recall(&hospital);
    recall.stop("possibly");
    assert_eq!(recall.states(), ["held", "cleared", "held"]);
    assert_eq!([recall.scan(0), recall.scan(1)], ["cannot_confirm", "enter"]);
    let after = recall.read();
    let clearance = &items(&after, "surely")[0]["clearances"][0];
    assert_eq!(
        (&clearance["before"]["state"], &clearance["now"]["state"]),
        (&json!("cleared"), &json!("held"))
    );
    release_lot(&hospital, recall.lot);
    assert_eq!(recall.states(), ["cleared", "cleared", "cleared"]);
    recall.stop("surely");
    assert_eq!(recall.states(), ["held", "cleared", "cleared"], "the third only may stand on the lot");
    release_lot(&hospital, recall.lot);
    for person in 0..3 {
        assert_eq!(recall.scan(person), "enter");
    }
    for_the_storekeeper(&hospital, recall.lot);
    as_a_table(&hospital, recall.lot);
    replayed(&hospital);
}

fn release_lot(hospital: &Hospital, lot: Uuid) {
    let body = json!({ "id": Uuid::now_v7(), "reason": "Tested good.", "happened_at": hospital.now() });
    hospital.signed_in(Role::Storekeeper).post(&format!("/api/v1/lots/{lot}/releases"), &body).ok(201);
}

/// Numbers and stations, no person and no result; and a list to walk with.
fn for_the_storekeeper(hospital: &Hospital, lot: Uuid) {
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let path = format!("/api/v1/look_backs?lot_id={lot}");
    storekeeper.get(&path).refused(403, "wrong_role");
    let counts = storekeeper.get(&format!("/api/v1/look_backs/counts?lot_id={lot}")).ok(200);
    assert_eq!(counts["totals"]["surely"]["people"], 1);
    let stations = counts["stations"].as_array().unwrap();
    assert_eq!(stations.len(), 1);
    assert_eq!((&stations[0]["station"], &stations[0]["surely"]), (&json!("Room 2"), &json!(1)));
    let text = counts.to_string();
    assert!(!text.contains("person_id") && !text.contains("outcome") && !text.contains("Valdrun"), "{text}");

    let pdf = storekeeper.get(&format!("/api/v1/look_backs/runner_list?lot_id={lot}"));
    assert_eq!(pdf.status, 200);
    assert!(pdf.body.starts_with(b"%PDF-"));
}

/// RFC 4180: CRLF after every line, a line of names first, as many fields in each.
fn as_a_table(hospital: &Hospital, lot: Uuid) {
    let auditor = hospital.signed_in(Role::Auditor);
    let reply = auditor.get(&format!("/api/v1/look_backs/export?lot_id={lot}"));
    assert_eq!(reply.status, 200);
    let text = reply.text();
    let lines: Vec<&str> = text.split("\r\n").collect();
    assert_eq!(lines.len(), 1 + 6 + 1, "{text}");
    assert_eq!(lines.last(), Some(&""));
    let fields = lines[0].split(',').count();
    assert!(lines[..7].iter().all(|line| line.split(',').count() == fields), "{text}");
    assert!(!tells(&text, "1988") && tells(&text, "fill_unknown"), "{text}");
}

fn replayed(hospital: &Hospital) {
    let report = sellion_store::replay::replay(&mut hospital.db(), hospital.site_id, |_, _| ()).unwrap();
    assert_eq!(report.differences, []);
}

#[test]
fn a_stopped_bottle_and_a_time_at_a_station_hold_what_stands_on_them() {
    let hospital = Hospital::open();
    let (person, respirator) = (id_of(&hospital.permitted_person("01")), id_of(&hospital.respirator("M")));
    let start = hospital.ago(1500);
    let room = hospital.room(start - TimeDelta::minutes(10));
    let attempt = passes(&room, person, respirator, start);
    let (coordinator, storekeeper) =
        (hospital.signed_in(Role::Coordinator), hospital.signed_in(Role::Storekeeper));
    let fills = storekeeper.get(&format!("/api/v1/stations/{}/fills", id_of(&room.station))).ok(200);
    let fill = fills["items"].as_array().unwrap().iter().find(|fill| fill["solution"] == "test").unwrap();
    let bottle: Uuid = fill["bottle_id"].as_str().unwrap().parse().unwrap();
    let at_station = |from: i64, until: i64| {
        let mut body = stop_body(&hospital, "station_id", id_of(&room.station));
        body["from"] = json!(start + TimeDelta::minutes(from));
        body["until"] = json!(start + TimeDelta::minutes(until));
        body
    };
    let in_doubt = (json!("held"), json!(["in_doubt"]));
    let cleared = (json!("cleared"), json!([]));
    let bodies = [
        stop_body(&hospital, "bottle_id", bottle),
        stop_body(&hospital, "fill_id", id_of(fill)),
        at_station(-5, 2),
    ];
    for body in bodies {
        let stopped = storekeeper.post("/api/v1/stops", &body).ok(201);
        assert_eq!(storekeeper.post("/api/v1/stops", &body).ok(201), stopped, "a repeat");
        assert_eq!(stopped["reach"], "possibly");
        assert_eq!(state_of(&coordinator, person), in_doubt, "{body}");
        let path = format!("/api/v1/stops/{}/releases", id_of(&stopped));
        let release =
            json!({ "id": Uuid::now_v7(), "reason": "Another one.", "happened_at": hospital.now() });
        let released = storekeeper.post(&path, &release).ok(201);
        assert_eq!(released["release"]["reason"], "Another one.");
        assert_eq!(storekeeper.post(&path, &release).ok(201), released, "a repeat");
        assert_eq!(state_of(&coordinator, person), cleared);
        let mut again = release;
        again["id"] = json!(Uuid::now_v7());
        storekeeper.post(&path, &again).refused(409, "stop_released");
    }
    let elsewhen = storekeeper.post("/api/v1/stops", &at_station(-60, -30)).ok(201);
    assert_eq!(state_of(&coordinator, person), cleared, "another time");
    let listed = coordinator.get("/api/v1/stops").ok(200);
    assert_eq!(listed["items"].as_array().unwrap().len(), 4);
    assert_eq!(listed["items"][3], elsewhen);
    let path = format!("/api/v1/look_backs?bottle_id={bottle}&certainty=surely");
    let found = coordinator.get(&path).ok(200);
    assert_eq!(ids(&items(&found, "surely")), [person]);
    assert_eq!(found["items"][0]["runs"][1]["id"], attempt["id"]);
    replayed(&hospital);
}

#[test]
fn what_is_not_one_thing_is_refused() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let lot = id_of(&hospital.lot("saccharin", "test"));
    let id = Uuid::now_v7();
    for path in ["look_backs", "look_backs/counts", "look_backs/export", "look_backs/runner_list"] {
        let path = format!("/api/v1/{path}");
        coordinator.get(&path).refused(422, "invalid_value");
        coordinator.get(&format!("{path}?lot_id={lot}&bottle_id={lot}")).refused(422, "invalid_value");
        coordinator
            .get(&format!("{path}?lot_id={lot}&from=2026-03-10T09:00:00Z"))
            .refused(422, "invalid_value");
        coordinator.get(&format!("{path}?station_id={id}")).refused(422, "invalid_value");
        let backwards = "from=2026-03-10T09:00:00Z&until=2026-03-10T08:00:00Z";
        coordinator.get(&format!("{path}?tester_id={id}&{backwards}")).refused(422, "invalid_value");
        for subject in ["lot_id", "bottle_id", "fill_id", "equipment_id", "tester_id"] {
            coordinator.get(&format!("{path}?{subject}={id}")).refused(404, "not_found");
        }
    }
    let nothing = json!({ "id": Uuid::now_v7(), "reason": "it leaks", "happened_at": hospital.now() });
    coordinator.post("/api/v1/stops", &nothing).refused(422, "invalid_value");
    let mut two = stop_body(&hospital, "bottle_id", id);
    two["fill_id"] = json!(id);
    coordinator.post("/api/v1/stops", &two).refused(422, "invalid_value");
    coordinator.post("/api/v1/stops", &stop_body(&hospital, "bottle_id", id)).refused(404, "not_found");
    coordinator.post("/api/v1/stops", &stop_body(&hospital, "station_id", id)).refused(422, "invalid_value");
    let release = json!({ "id": Uuid::now_v7(), "reason": "Good.", "happened_at": hospital.now() });
    coordinator.post(&format!("/api/v1/stops/{id}/releases"), &release).refused(404, "not_found");

    let station = hospital.station(&hospital.day(), "Station 1", &["testing"]);
    let gap = |from: i64, until: i64| {
        json!({
            "id": Uuid::now_v7(), "station_id": id_of(&station), "from": hospital.ago(from),
            "until": hospital.ago(until), "reason": "lost", "happened_at": hospital.now(),
        })
    };
    coordinator.post("/api/v1/fill_gaps", &gap(60, 120)).refused(422, "invalid_value");
    coordinator.post("/api/v1/fill_gaps", &gap(60, -900)).refused(422, "happened_in_future");
    let stored = coordinator.post("/api/v1/fill_gaps", &gap(120, 60)).ok(201);
    let path = format!("/api/v1/fill_gaps?station_id={}", id_of(&station));
    assert_eq!(coordinator.get(&path).ok(200)["items"], json!([stored]));
    let stranger = hospital.signed_in_at(hospital.another_site("Fenwick"), &[Role::Coordinator]);
    stranger.get(&format!("/api/v1/look_backs?lot_id={lot}")).refused(404, "not_found");
    stranger.post("/api/v1/fill_gaps", &gap(120, 60)).refused(404, "not_found");
    assert_eq!(stranger.get("/api/v1/fill_gaps").ok(200)["items"], json!([]));
}
