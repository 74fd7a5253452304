//! Check-in: everybody arrives, is asked the questions, and gets a place in the queue.

use chrono::{DateTime, TimeDelta, Utc};
use serde_json::{Value, json};

use super::{
    api::Api,
    invent::Person,
    stage::{Stage, new_id},
};

/// Minutes until somebody sent to shave is back.
const SHAVE_MINUTES: i64 = 3;

/// Checks everybody in, `interval` apart, and returns their visits in the order of the roster.
pub(super) fn everybody(
    check_in: &Api,
    stage: &Stage,
    people: &[Person],
    opens_at: DateTime<Utc>,
    interval: TimeDelta,
    mut done: impl FnMut(),
) -> anyhow::Result<Vec<String>> {
    let mut visits = Vec::with_capacity(people.len());
    let mut at = opens_at;
    for (person, person_id) in people.iter().zip(&stage.person_ids) {
        let visit = json!({
            "id": new_id(), "day_id": stage.day_id, "person_id": person_id,
            "answers": answers(person, at, person.traits.hair_at_seal), "happened_at": at,
        });
        let visit = check_in.post("/api/v1/visits", &visit)?;
        let id = visit["id"].as_str().unwrap_or_default().to_owned();
        if person.traits.hair_at_seal {
            let back = at + TimeDelta::minutes(SHAVE_MINUTES);
            let again = json!({ "id": new_id(), "answers": answers(person, at, false), "happened_at": back });
            check_in.post(&format!("/api/v1/visits/{id}/answers"), &again)?;
        }
        visits.push(id);
        at += interval;
        done();
    }
    Ok(visits)
}

fn answers(person: &Person, at: DateTime<Utc>, hair_at_seal: bool) -> Value {
    let traits = &person.traits;
    json!({
        "last_intake_at": traits.ate_minutes_before.map(|minutes| at - TimeDelta::minutes(minutes)),
        "hair_at_seal": hair_at_seal,
        "feels_well": true,
        "face_changed": false,
        "gear_worn": traits.wears_glasses.then_some("glasses"),
    })
}
