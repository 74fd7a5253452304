//! What came of the day, read back from the server.

use serde_json::{Value, json};

use super::{
    stage::{Staff, Stage},
    station::Told,
};

/// The content of `summary.json`. Only `screenings` is counted by the stations: each the server accepted.
pub(super) fn summary(staff: &Staff, stage: &Stage, told: &Told, badges: usize) -> anyhow::Result<Value> {
    let coordinator = &staff.coordinator;
    let day = &stage.day_id;
    let mut attempts = json!({ "pass": 0, "fail": 0, "void": 0, "stopped": 0 });
    let mut measured = 0;
    for attempt in coordinator.list(&format!("/api/v1/attempts?day_id={day}"))? {
        measured += u64::from(attempt["verdict"]["fit_factor"].is_string());
        if let Some(outcome) = attempt["verdict"]["outcome"].as_str() {
            count(&mut attempts, outcome);
        }
    }
    let mut scans = json!({ "enter": 0, "not_cleared": 0, "cannot_confirm": 0, "not_valid": 0 });
    for gate in &stage.gates {
        for scan in coordinator.list(&format!("/api/v1/gates/{}/scans", gate.id))? {
            count(&mut scans, scan["answer"].as_str().unwrap_or_default());
        }
    }
    let mut clearances = 0;
    for person in &stage.person_ids {
        let found = coordinator.get(&format!("/api/v1/people/{person}/clearances"))?;
        let items = found["items"].as_array().into_iter().flatten();
        clearances += items.filter(|item| item["state"] == "cleared").count();
    }
    Ok(json!({
        "people": coordinator.list("/api/v1/people")?.len(),
        "visits": coordinator.list(&format!("/api/v1/visits?day_id={day}"))?.len(),
        "screenings": told.screenings,
        "attempts": attempts,
        "measured": measured,
        "referred": coordinator.list("/api/v1/referrals")?.len(),
        "clearances": clearances,
        "badges": badges,
        "scans": scans,
    }))
}

fn count(counts: &mut Value, name: &str) {
    counts[name] = json!(counts[name].as_u64().unwrap_or_default() + 1);
}
