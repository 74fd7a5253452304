//! The measuring station: whoever was referred has the fit factor measured, the first of them by a file of readings.

use anyhow::Context;
use chrono::{DateTime, TimeDelta, Utc};
use serde_json::{Value, json};

use super::{
    invent::{Person, RESPIRATORS},
    runs::Events,
    stage::new_id,
    station::Station,
};

/// What is written on the invented instrument.
const INSTRUMENT: &str = "Counter 1";
/// Seconds from the opening to the instrument's start: put on, seal checked, five minutes worn.
const BEFORE_SECONDS: i64 = 360;

impl Station<'_> {
    /// One measured attempt on the first respirator that is not excluded; returns what comes next.
    pub(super) fn measure(&mut self, visit_id: &str, person: &Person, next: &Value) -> anyhow::Result<Value> {
        let (place, respirator) = self.first_free(next)?;
        let filtering =
            RESPIRATORS.get(place).is_some_and(|respirator| respirator[4] == "filtering_facepiece");
        let method = if filtering { "modified_ambient_aerosol_filtering" } else { "ambient_aerosol" };
        let body = json!({
            "id": new_id(), "visit_id": visit_id, "station_id": self.id(), "respirator_id": respirator,
            "method": method, "instrument": INSTRUMENT, "happened_at": self.clock(),
        });
        let attempt = self.tester().post("/api/v1/attempts", &body)?;
        let opened_at = self.clock();
        let leaks = person.traits.leaks.get(place).copied().flatten().is_some();
        let began_at = opened_at + TimeDelta::seconds(BEFORE_SECONDS);
        self.post_events("attempts", &attempt, fitting(opened_at))?;
        let measured = self.measured(&attempt, began_at, leaks)?;
        if measured["state"]["verdict"].is_object() {
            self.advance_to(&measured);
            return Ok(measured["next_step"].clone());
        }
        let ended_at: DateTime<Utc> = last_moment(&measured)?;
        let closing = closing(ended_at);
        self.post_events_from(&measured, closing)
    }

    /// The readings: out of a file the first time, with its recording; typed and recorded the other times.
    fn measured(&mut self, attempt: &Value, began_at: DateTime<Utc>, leaks: bool) -> anyhow::Result<Value> {
        let id = attempt["id"].as_str().context("an attempt without an id")?.to_owned();
        let readings = readings(&attempt["plan"], leaks);
        if let Some(mapping_id) = self.take_mapping() {
            let path = format!(
                "/api/v1/attempts/{id}/reading_files?id={}&mapping_id={mapping_id}&began_at={}",
                new_id(),
                began_at.format("%Y-%m-%dT%H:%M:%SZ")
            );
            let mut file = String::from("exercise,fit factor\r\n");
            for (exercise, factor, _) in &readings {
                file.push_str(&format!("{exercise},{factor}\r\n"));
            }
            let answer = self.tester().post_bytes(&path, "text/csv", file.as_bytes())?;
            return Ok(serde_json::from_slice(&answer)?);
        }
        let mut events: Events = vec![(began_at, json!({ "kind": "measuring_started" }))];
        for (exercise, factor, second) in &readings {
            let reading = json!({ "basis": "fit_factor", "fit_factor": factor });
            let event = json!({ "kind": "measured", "exercise": exercise, "reading": reading });
            events.push((began_at + TimeDelta::seconds(*second), event));
        }
        let seconds = attempt["plan"]["exercise_seconds"].as_i64().unwrap_or_default();
        events.push((began_at + TimeDelta::seconds(seconds), json!({ "kind": "measuring_ended" })));
        let measured = self.post_all("attempts", attempt, 3, &events)?;
        let path = format!(
            "/api/v1/attempts/{id}/recordings?id={}&name=curve.svg&happened_at={}",
            new_id(),
            (began_at + TimeDelta::seconds(seconds)).format("%Y-%m-%dT%H:%M:%SZ")
        );
        self.tester().post_bytes(&path, "image/svg+xml", curve(&readings).as_bytes())?;
        Ok(measured)
    }
}

/// What comes before the instrument starts.
fn fitting(opened_at: DateTime<Utc>) -> Events {
    let donned = opened_at + TimeDelta::seconds(40);
    vec![
        (donned, json!({ "kind": "donned", "by_wearer": true })),
        (donned + TimeDelta::seconds(10), json!({ "kind": "seal_checked", "result": "ok" })),
    ]
}

/// What comes after a fit that is good enough.
fn closing(ended_at: DateTime<Utc>) -> Events {
    let at = |seconds| ended_at + TimeDelta::seconds(seconds);
    vec![
        (at(10), json!({ "kind": "asked_again", "tasted": false, "comfortable": true })),
        (at(40), json!({ "kind": "modification_removed" })),
        (at(50), json!({ "kind": "signed" })),
    ]
}

/// The scored exercises of a plan, each with a fit factor and the second at which it has been measured.
fn readings(plan: &Value, leaks: bool) -> Vec<(u64, String, i64)> {
    let mut second = 0;
    let mut found = Vec::new();
    for exercise in plan["exercises"].as_array().into_iter().flatten() {
        let part = |name: &str| exercise[name].as_i64().unwrap_or_default();
        second += part("seconds") + part("measuring_seconds");
        if part("measurements") > 0 {
            let number = exercise["number"].as_u64().unwrap_or_default();
            let factor = if leaks { 38 + 7 * number } else { 164 + 11 * number };
            found.push((number, format!("{factor}.5"), second));
        }
    }
    found
}

/// A curve as an instrument might draw it.
fn curve(readings: &[(u64, String, i64)]) -> String {
    let bars = readings
        .iter()
        .map(|(number, factor, _)| format!("<rect x=\"{}\" width=\"8\" height=\"{factor}\"/>", number * 10));
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"100\" height=\"300\">{}</svg>",
        bars.collect::<String>()
    )
}

/// The moment of the newest event.
fn last_moment(attempt: &Value) -> anyhow::Result<DateTime<Utc>> {
    let events = attempt["events"].as_array().context("an attempt without events")?;
    let at = events.last().and_then(|event| event["happened_at"].as_str()).context("no event")?;
    Ok(at.parse()?)
}
