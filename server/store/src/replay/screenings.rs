//! Screenings, played again.

use std::collections::HashMap;

use diesel::{PgConnection, prelude::*};
use sellion_rules::screening::{ScreeningEvent, ScreeningSetup, replay};
use uuid::Uuid;

use super::{AT_ONCE, Run, rows};
use crate::{
    StoreError,
    schema::{screening_events, screening_verdicts, screenings},
    screening::{Screening, VerdictRow, read_event},
    stored::read_json,
};

pub(super) fn count(conn: &mut PgConnection, site_id: Uuid) -> Result<u64, StoreError> {
    Ok(rows(screenings::table.filter(screenings::site_id.eq(site_id)).count().get_result(conn)?))
}

pub(super) fn all(conn: &mut PgConnection, run: &mut Run<'_>) -> Result<(), StoreError> {
    let mut after = Uuid::nil();
    loop {
        let some: Vec<(Screening, Option<VerdictRow>)> = screenings::table
            .left_join(screening_verdicts::table)
            .filter(screenings::site_id.eq(run.site_id))
            .filter(screenings::id.gt(after))
            .order(screenings::id)
            .limit(AT_ONCE)
            .select((Screening::as_select(), Option::<VerdictRow>::as_select()))
            .load(conn)?;
        let Some((last, _)) = some.last() else { return Ok(()) };
        after = last.id;
        let ids: Vec<Uuid> = some.iter().map(|(screening, _)| screening.id).collect();
        let mut events = events_of(conn, &ids)?;
        for (screening, stored) in some {
            let id = screening.id;
            let events = events.remove(&id).unwrap_or_default();
            let computed = verdict_of(&screening, &events);
            let computed = computed.as_ref().map(Option::as_ref).map_err(Clone::clone);
            run.compare(("screening_verdicts", id, None), stored.as_ref(), computed);
            run.report.screenings += 1;
        }
        run.told();
    }
}

fn verdict_of(screening: &Screening, events: &[ScreeningEvent]) -> Result<Option<VerdictRow>, String> {
    let setup: ScreeningSetup = read_json(screening.setup.clone()).map_err(|error| error.to_string())?;
    let state = replay(setup, events)
        .map_err(|(index, refusal)| format!("event {} is refused: {refusal}", index.saturating_add(1)))?;
    Ok(state.verdict().map(|verdict| VerdictRow::of(screening.id, &verdict)))
}

fn events_of(
    conn: &mut PgConnection,
    ids: &[Uuid],
) -> Result<HashMap<Uuid, Vec<ScreeningEvent>>, StoreError> {
    let rows = screening_events::table
        .filter(screening_events::screening_id.eq_any(ids))
        .order((screening_events::screening_id, screening_events::seq))
        .select((
            screening_events::screening_id,
            (screening_events::seq, screening_events::happened_at, screening_events::event),
        ))
        .load(conn)?;
    let mut found: HashMap<Uuid, Vec<ScreeningEvent>> = HashMap::new();
    for (id, row) in rows {
        found.entry(id).or_default().push(read_event(row)?);
    }
    Ok(found)
}
