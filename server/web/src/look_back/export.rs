//! A look-back as a table: one line for each run, with what is known of its person beside it.

use std::collections::HashMap;

use chrono::{DateTime, SecondsFormat, Utc};
use csv::{Terminator, WriterBuilder};
use sellion_rules::look_back::Certainty;
use sellion_store::{
    PgConnection, StoreError,
    look_back::{Asked, Judged, PersonDetail, RunKind, details, look_back, stations_used},
};
use uuid::Uuid;

/// How many people are looked at in one go.
const PEOPLE_AT_ONCE: usize = 500;

const COLUMNS: [&str; 21] = [
    "person_certainty",
    "staff_number",
    "given_name",
    "family_name",
    "unit",
    "run",
    "run_id",
    "station",
    "place",
    "happened_at",
    "outcome",
    "corrected",
    "certainty",
    "reasons",
    "respirator",
    "clearance_before",
    "clearance_now",
    "retest",
    "entries_since",
    "last_entry_at",
    "badges",
];

/// Everybody of the look-back. RFC 4180: CRLF, quotes where they are needed, a line of names first.
pub(super) fn table(
    conn: &mut PgConnection,
    site_id: Uuid,
    asked: Asked,
    now: DateTime<Utc>,
) -> Result<Vec<u8>, StoreError> {
    let found = look_back(conn, site_id, asked)?;
    let stations = stations_used(conn, site_id, &found)?;
    let stations: HashMap<Uuid, (String, String)> =
        stations.into_iter().map(|used| (used.station_id, (used.name, used.place))).collect();
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(Vec::new());
    writer.write_record(COLUMNS).map_err(unwritten)?;
    for some in found.people.chunks(PEOPLE_AT_ONCE) {
        for person in details(conn, site_id, asked, some.to_vec(), now)? {
            for run in &person.found.runs {
                writer.write_record(line(&person, run, &stations)).map_err(unwritten)?;
            }
        }
    }
    writer.into_inner().map_err(|error| StoreError::internal(format!("a table: {error}")))
}

fn unwritten(error: csv::Error) -> StoreError {
    StoreError::internal(format!("a table: {error}"))
}

fn moment(at: DateTime<Utc>) -> String {
    at.to_rfc3339_opts(SecondsFormat::Secs, true)
}

fn line(
    person: &PersonDetail,
    run: &Judged,
    stations: &HashMap<Uuid, (String, String)>,
) -> [String; COLUMNS.len()] {
    let (station, place) = stations.get(&run.station_id).cloned().unwrap_or_default();
    let clearance = person.clearances.iter().find(|doubt| Some(doubt.respirator_id) == run.respirator_id);
    let state = |state: Option<&str>| state.unwrap_or_default().to_owned();
    let reasons: Vec<&str> = run.verdict.reasons.iter().map(|reason| reason.as_str()).collect();
    let entries: i64 = person.entries.iter().map(|gate| gate.count).sum();
    let last = person.entries.iter().map(|gate| gate.last_at).max();
    let badges: Vec<&str> = person.badges.iter().map(|badge| badge.serial.as_str()).collect();
    let kind = match run.kind {
        RunKind::Screening => "screening",
        RunKind::Attempt => "attempt",
    };
    [
        person.found.certainty.as_str().to_owned(),
        person.staff_number.clone(),
        person.given_name.clone(),
        person.family_name.clone(),
        person.unit.clone(),
        kind.to_owned(),
        run.id.to_string(),
        station,
        place,
        moment(run.began_at),
        run.outcome.clone().unwrap_or_default(),
        if run.corrected { "yes" } else { "no" }.to_owned(),
        run.verdict.certainty.as_str().to_owned(),
        reasons.join(" "),
        clearance.map(|doubt| doubt.respirator.clone()).unwrap_or_default(),
        state(clearance.map(|doubt| doubt.before.state.as_str())),
        state(clearance.map(|doubt| doubt.now.state.as_str())),
        state(clearance.and_then(|doubt| doubt.retest()).map(Certainty::as_str)),
        entries.to_string(),
        last.map(moment).unwrap_or_default(),
        badges.join(" "),
    ]
}
