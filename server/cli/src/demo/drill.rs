//! A recall as a drill: stop the lot, see who stands on it, test one of them again with another lot, release it.

use anyhow::{Context, bail};
use chrono::{DateTime, TimeDelta, Utc};
use serde_json::{Value, json};

use super::{
    desk::Badge,
    gate::scan,
    invent::Person,
    runs::{self, Events},
    stage::{FILL_UL, Staff, Stage, id_of, new_id},
};

/// How long before now the lot is stopped: long enough for one whole retest.
const STOPPED_MINUTES: i64 = 44;

/// What the drill found.
#[derive(Debug, Default)]
pub(super) struct Drilled {
    surely: u64,
    possibly: u64,
    not_affected: u64,
    held_at_gate: u64,
    retested: u64,
}

impl Drilled {
    /// As it stands in the summary.
    pub(super) fn told(&self) -> Value {
        json!({
            "surely": self.surely, "possibly": self.possibly, "not_affected": self.not_affected,
            "held_at_gate": self.held_at_gate, "retested": self.retested,
        })
    }
}

/// Plays the drill with the sweet test solution of the first lot.
pub(super) fn play(
    staff: &Staff,
    stage: &Stage,
    people: &[Person],
    badges: &[Badge],
    now: DateTime<Utc>,
) -> anyhow::Result<Drilled> {
    let stopped_at = now - TimeDelta::minutes(STOPPED_MINUTES);
    let lot = &stage.recalled_lot;
    let mark =
        |reason: &str, at: DateTime<Utc>| json!({ "id": new_id(), "reason": reason, "happened_at": at });
    let stop = mark("the maker called the lot back", stopped_at);
    staff.storekeeper.post(&format!("/api/v1/lots/{lot}/stops"), &stop)?;
    take_on(staff, &stage.day_id, stopped_at + TimeDelta::minutes(2))?;

    let counts = staff.storekeeper.get(&format!("/api/v1/look_backs/counts?lot_id={lot}"))?;
    let number = |kind: &str| counts["totals"][kind]["people"].as_u64().unwrap_or_default();
    let mut drilled = Drilled {
        surely: number("surely"),
        possibly: number("possibly"),
        not_affected: number("not_affected"),
        ..Drilled::default()
    };
    let listed = staff.coordinator.list(&format!("/api/v1/look_backs?lot_id={lot}&certainty=surely"))?;
    let gate = stage.gates.first().context("there is a gate")?;
    for person in &listed {
        let lost = person["retests"].as_array().is_some_and(|retests| !retests.is_empty());
        let Some(badge) = badges.iter().find(|badge| person["person_id"] == badge.person_id.as_str()) else {
            continue;
        };
        if !lost {
            continue;
        }
        if scan(gate, &badge.code, now)? == "enter" {
            bail!("somebody who stands on the stopped lot alone was let in");
        }
        drilled.held_at_gate += 1;
    }
    let found = listed.iter().find(|person| person["retests"][0].is_object());
    if let Some(person) = found {
        retest(staff, stage, people, person, stopped_at)?;
        let after = staff.coordinator.list(&format!("/api/v1/look_backs?lot_id={lot}&certainty=surely"))?;
        let same = after.iter().find(|other| other["person_id"] == person["person_id"]);
        if same.is_some_and(|person| person["retests"][0].is_object()) {
            bail!("whoever passed with another lot needs no retest any more");
        }
        drilled.retested = 1;
    }
    let release = mark("the maker's second test found nothing", now);
    staff.storekeeper.post(&format!("/api/v1/lots/{lot}/releases"), &release)?;
    Ok(drilled)
}

/// The coordinator takes on what the board says of the stop; other alarms stay open.
fn take_on(staff: &Staff, day: &str, at: DateTime<Utc>) -> anyhow::Result<()> {
    let board = staff.coordinator.get(&format!("/api/v1/days/{day}/board"))?;
    let alarms = board["alarms"].as_array().context("a board without alarms")?;
    for alarm in alarms.iter().filter(|alarm| alarm["kind"] == "lot_stopped") {
        let taken = json!({
            "id": new_id(), "kind": alarm["kind"], "subject_id": alarm["subject_id"], "happened_at": at,
        });
        staff.coordinator.post(&format!("/api/v1/days/{day}/alarm_acknowledgements"), &taken)?;
    }
    Ok(())
}

/// One person comes back to a table with bottles of the other lot.
fn retest(
    staff: &Staff,
    stage: &Stage,
    people: &[Person],
    found: &Value,
    stopped_at: DateTime<Utc>,
) -> anyhow::Result<()> {
    let place = stage.person_ids.iter().position(|id| found["person_id"] == id.as_str());
    let (place, person) =
        place.zip(place.and_then(|place| people.get(place))).context("an invented person")?;
    let respirator = found["retests"][0]["respirator"].as_str().context("a respirator")?;
    let offered =
        stage.respirators.iter().position(|id| id == respirator).context("a respirator of the day")?;
    let mut at = stopped_at + TimeDelta::seconds(30);
    let day = json!({
        "id": new_id(), "place": "Retests, side room", "opens_at": at, "closes_at": at + TimeDelta::hours(2),
    });
    let day = id_of(&staff.coordinator.post("/api/v1/days", &day)?);
    let station = json!({ "id": new_id(), "name": "Side table", "parts": ["screening", "testing"] });
    let station = id_of(&staff.coordinator.post(&format!("/api/v1/days/{day}/stations"), &station)?);
    let tester = staff.testers.first().context("a tester")?;
    for solution in ["screening", "test"] {
        let nebulizer = json!({
            "id": new_id(), "kind": "nebulizer", "label": format!("side {solution}"), "place_id": station,
            "happened_at": at,
        });
        staff.storekeeper.post("/api/v1/equipment", &nebulizer)?;
        let fill = json!({
            "id": new_id(), "station_id": station, "nebulizer": format!("side {solution}"), "rinsed": true,
            "bottle_id": stage.bottle("saccharin", solution, 1), "volume_ul": FILL_UL, "happened_at": at,
        });
        tester.post("/api/v1/fills", &fill)?;
    }
    let visit = json!({
        "id": new_id(), "day_id": day, "person_id": stage.person_ids[place], "happened_at": at,
        "answers": { "hair_at_seal": false, "feels_well": true, "face_changed": false },
    });
    let visit = id_of(&staff.check_in.post("/api/v1/visits", &visit)?);
    let call = json!({ "id": new_id(), "step": "screening", "happened_at": at });
    tester.post(&format!("/api/v1/stations/{station}/calls"), &call)?;
    let body = json!({
        "id": new_id(), "visit_id": visit, "station_id": station, "agent": "saccharin", "happened_at": at,
    });
    let screening = tester.post("/api/v1/screenings", &body)?;
    let events = runs::screening(&person.traits, "saccharin", at);
    at = post(staff, "screenings", &screening, &events)?;
    let mut body = json!({
        "id": new_id(), "visit_id": visit, "station_id": station, "respirator_id": respirator,
        "screening_id": screening["id"], "happened_at": at,
    });
    let attempt = tester.post("/api/v1/attempts", &body)?;
    let events = runs::attempt(&person.traits, offered, None, &attempt["plan"], at);
    at = post(staff, "attempts", &attempt, &events)?;
    let other = stage.respirators.iter().find(|id| *id != respirator).context("another respirator")?;
    body["id"] = json!(new_id());
    body["respirator_id"] = json!(other);
    body["happened_at"] = json!(at);
    let attempt = tester.post("/api/v1/attempts", &body)?;
    out_of_reach(staff, person, &attempt, at)
}

/// The side table goes out of reach in the middle of an attempt on another model; somebody finds its nebulizer clogged,
/// which voids the attempt at once, and what the table did after that is kept when it is back.
fn out_of_reach(staff: &Staff, person: &Person, attempt: &Value, at: DateTime<Utc>) -> anyhow::Result<()> {
    let tester = staff.testers.first().context("a tester")?;
    let events = numbered(&runs::attempt(&person.traits, usize::MAX, None, &attempt["plan"], at));
    let (told, kept) = events.split_at(events.len() / 2);
    let path = format!("/api/v1/attempts/{}/events", id_of(attempt));
    tester.post(&path, &json!({ "events": told }))?;
    let equipment = staff.storekeeper.list("/api/v1/equipment?q=side")?;
    let nebulizer = equipment.iter().find(|thing| thing["label"] == "side test").context("a nebulizer")?;
    let found = json!({
        "id": new_id(), "finding": "clogged",
        "happened_at": told.last().context("half an attempt")?["happened_at"],
    });
    staff.storekeeper.post(&format!("/api/v1/equipment/{}/checks", id_of(nebulizer)), &found)?;
    let ended = tester.post(&path, &json!({ "events": kept }))?;
    let late = ended["late_events"].as_array().map_or(0, Vec::len);
    if ended["state"]["verdict"]["reason"] != "nebulizer_clogged" || late != kept.len() {
        bail!("a clog did not void the attempt, or what was done after it is lost: {ended}");
    }
    Ok(())
}

/// Sends the events of a run at once; the moment of the last one.
fn post(staff: &Staff, kind: &str, run: &Value, events: &Events) -> anyhow::Result<DateTime<Utc>> {
    let tester = staff.testers.first().context("a tester")?;
    let path = format!("/api/v1/{kind}/{}/events", run["id"].as_str().unwrap_or_default());
    tester.post(&path, &json!({ "events": numbered(events) }))?;
    events.last().map(|(at, _)| *at).context("a run without events")
}

/// The events with their numbers and moments.
fn numbered(events: &Events) -> Vec<Value> {
    let events = (1_u32..).zip(events).map(|(seq, (at, event))| {
        let mut event = event.clone();
        event["seq"] = json!(seq);
        event["happened_at"] = json!(at);
        event
    });
    events.collect()
}
