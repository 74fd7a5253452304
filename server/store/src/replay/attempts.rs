//! Attempts, played again, and compared with the screenings they stand on.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use diesel::{PgConnection, prelude::*};
use sellion_rules::attempt::{AttemptEvent, replay};
use serde::Serialize;
use uuid::Uuid;

use super::{AT_ONCE, Run, rows};
use crate::{
    StoreError,
    attempt::{Attempt, VerdictRow, read_event},
    schema::{attempt_events, attempt_verdicts, attempts, screening_verdicts, screenings},
    site,
};

pub(super) fn count(conn: &mut PgConnection, site_id: Uuid) -> Result<u64, StoreError> {
    Ok(rows(attempts::table.filter(attempts::site_id.eq(site_id)).count().get_result(conn)?))
}

pub(super) fn all(conn: &mut PgConnection, run: &mut Run<'_>) -> Result<(), StoreError> {
    let zone = site::zone(conn, run.site_id)?;
    let mut after = Uuid::nil();
    loop {
        let some: Vec<(Attempt, Option<VerdictRow>)> = attempts::table
            .left_join(attempt_verdicts::table)
            .filter(attempts::site_id.eq(run.site_id))
            .filter(attempts::id.gt(after))
            .order(attempts::id)
            .limit(AT_ONCE)
            .select((Attempt::as_select(), Option::<VerdictRow>::as_select()))
            .load(conn)?;
        let Some((last, _)) = some.last() else { return Ok(()) };
        after = last.id;
        let ids: Vec<Uuid> = some.iter().map(|(attempt, _)| attempt.id).collect();
        let mut events = events_of(conn, &ids)?;
        let bases = bases_of(conn, &ids)?;
        for (attempt, stored) in some {
            let id = attempt.id;
            let events = events.remove(&id).unwrap_or_default();
            let computed = verdict_of(&attempt, &events, zone);
            let computed = computed.as_ref().map(Option::as_ref).map_err(Clone::clone);
            run.compare(("attempt_verdicts", id, None), stored.as_ref(), computed);
            if let Ok(setup) = attempt.read_setup() {
                let level = setup.level.map(|level| i32::from(level.squeezes()));
                let agent = setup.method.as_str().to_owned();
                let started_from = setup.screened_at.map(|screened_at| Basis { agent, level, screened_at });
                run.compare(("attempts", id, None), started_from.as_ref(), Ok(bases.get(&id)));
            }
            run.report.attempts += 1;
        }
        run.told();
    }
}

fn verdict_of(attempt: &Attempt, events: &[AttemptEvent], zone: Tz) -> Result<Option<VerdictRow>, String> {
    let setup = attempt.read_setup().map_err(|error| error.to_string())?;
    let state = replay(setup, events)
        .map_err(|(index, refusal)| format!("event {} is refused: {refusal}", index.saturating_add(1)))?;
    let row = state.verdict().map(|verdict| VerdictRow::of(attempt.id, &state, &verdict, zone));
    row.transpose().map_err(|error| error.to_string())
}

/// What an attempt takes from its screening.
#[derive(Debug, PartialEq, Eq, Serialize, Queryable)]
struct Basis {
    agent: String,
    level: Option<i32>,
    screened_at: DateTime<Utc>,
}

/// What the screening of each attempt found.
fn bases_of(conn: &mut PgConnection, ids: &[Uuid]) -> Result<HashMap<Uuid, Basis>, StoreError> {
    let rows: Vec<(Uuid, Basis)> = attempts::table
        .inner_join(screenings::table.inner_join(screening_verdicts::table))
        .filter(attempts::id.eq_any(ids))
        .select((attempts::id, (screenings::agent, screening_verdicts::level, screening_verdicts::ended_at)))
        .load(conn)?;
    Ok(rows.into_iter().collect())
}

fn events_of(conn: &mut PgConnection, ids: &[Uuid]) -> Result<HashMap<Uuid, Vec<AttemptEvent>>, StoreError> {
    let rows = attempt_events::table
        .filter(attempt_events::attempt_id.eq_any(ids))
        .order((attempt_events::attempt_id, attempt_events::seq))
        .select((
            attempt_events::attempt_id,
            (attempt_events::seq, attempt_events::happened_at, attempt_events::event),
        ))
        .load(conn)?;
    let mut found: HashMap<Uuid, Vec<AttemptEvent>> = HashMap::new();
    for (id, row) in rows {
        found.entry(id).or_default().push(read_event(row)?);
    }
    Ok(found)
}
