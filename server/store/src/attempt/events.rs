//! The events of an attempt as they come in, and the verdict they lead to.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use diesel::prelude::*;
use sellion_rules::{
    attempt::{AttemptEvent, State, Verdict, VerdictReason},
    dates::local_date,
};
use serde::Serialize;
use uuid::Uuid;

use super::{
    Attempt, AttemptRun, read, state_of,
    taking::{self, Taking},
};
use crate::{
    StoreError, Tx, clearance, equipment, ladder, run,
    schema::{attempt_events, attempt_verdicts, attempts},
    site,
    stored::{count, to_json},
};

/// The word for an event that follows from what was found on the nebulizer.
pub(super) const BY_CHECK: &str = "equipment_check";

/// Adds events in their order, all or none, except that those after the end are only named; the one that ends the
/// attempt also settles clearances and the visit.
pub fn append_events(tx: &mut Tx<'_>, id: Uuid, events: &[AttemptEvent]) -> Result<AttemptRun, StoreError> {
    let attempt = locked(tx, id)?;
    run::after_opening(attempt.happened_at, events)?;
    let mut taking = Taking::of(tx, &attempt)?;
    let not_stored = run::take_batch(events, |event| taking.take(tx, &attempt, event))?;
    Ok(AttemptRun { not_stored, ..settled(tx, &attempt, taking)? })
}

/// Ends an attempt that is in its doses, because its nebulizer was found out of order then: what it would find proves
/// nothing. One that has not begun or has ended stays as it is.
pub(crate) fn spoil(tx: &mut Tx<'_>, id: Uuid, found_at: DateTime<Utc>) -> Result<(), StoreError> {
    let attempt = locked(tx, id)?;
    let state = state_of(tx.conn, &attempt)?;
    let mut taking = Taking::spoilt(state, found_at);
    taking.end_where_spoilt(found_at)?;
    settled(tx, &attempt, taking).map(drop)
}

fn locked(tx: &mut Tx<'_>, id: Uuid) -> Result<Attempt, StoreError> {
    let found = attempts::table.find(id).filter(attempts::site_id.eq(tx.site_id()));
    let held = found.select(Attempt::as_select()).for_no_key_update().first(tx.conn).optional()?;
    held.ok_or_else(|| StoreError::not_found("attempt"))
}

/// Stores what was taken, and whatever follows from a verdict.
fn settled(tx: &mut Tx<'_>, attempt: &Attempt, taken: Taking) -> Result<AttemptRun, StoreError> {
    let (id, state) = (attempt.id, &taken.state);
    insert_events(tx, id, state.events().get(taken.stored..).unwrap_or_default(), taken.checked)?;
    taking::keep_late(tx, id, &taken)?;
    let mut at = state.events().last().map_or(attempt.happened_at, |event| event.happened_at);
    if let Some(verdict) = state.verdict().filter(|_| !taken.ended_before) {
        at = verdict.ended_at;
        insert_verdict(tx, id, state, &verdict)?;
        let found_here = verdict.reason == VerdictReason::NebulizerClogged && taken.checked.is_none();
        if let Some(fill_id) = attempt.fill_id.filter(|_| found_here) {
            equipment::clogged_at_closing(tx, fill_id, verdict.at)?;
        }
        clearance::recompute_person(tx, attempt.person_id)?;
        ladder::advance(tx, attempt.visit_id, at)?;
    }
    read(tx.conn, tx.actor.site_id, id, at)
}

fn insert_events(
    tx: &mut Tx<'_>,
    id: Uuid,
    events: &[AttemptEvent],
    checked: Option<u32>,
) -> Result<(), StoreError> {
    let (Some(first), Some(last)) = (events.first(), events.last()) else { return Ok(()) };
    let rows = events.iter().map(|event| {
        Ok((
            attempt_events::attempt_id.eq(id),
            attempt_events::seq.eq(count(event.seq)?),
            attempt_events::event.eq(to_json(&event.kind)?),
            attempt_events::told_by.eq((Some(event.seq) == checked).then_some(BY_CHECK)),
            attempt_events::happened_at.eq(event.happened_at),
            attempt_events::recorded_at.eq(tx.now),
            attempt_events::recorded_by.eq(tx.actor.id),
        ))
    });
    let rows = rows.collect::<Result<Vec<_>, StoreError>>()?;
    diesel::insert_into(attempt_events::table).values(rows).execute(tx.conn)?;
    tx.touched_events("attempt_events", id, count(first.seq)?, count(last.seq)?);
    Ok(())
}

/// A verdict as it is stored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Insertable, Queryable, Selectable)]
#[diesel(table_name = attempt_verdicts, check_for_backend(diesel::pg::Pg))]
pub(crate) struct VerdictRow {
    #[serde(skip)]
    pub(crate) attempt_id: Uuid,
    pub(crate) outcome: String,
    pub(crate) reason: String,
    pub(crate) tested_on: NaiveDate,
    pub(crate) started_testing_at: Option<DateTime<Utc>>,
    pub(crate) decided_at: DateTime<Utc>,
    pub(crate) ended_at: DateTime<Utc>,
    pub(crate) exercise: Option<i32>,
    pub(crate) second: Option<i32>,
    pub(crate) fit_factor: Option<String>,
    pub(crate) pass_level: Option<i32>,
}

impl VerdictRow {
    /// The row of a run that has ended.
    pub(crate) fn of(
        attempt_id: Uuid,
        state: &State,
        verdict: &Verdict,
        zone: Tz,
    ) -> Result<Self, StoreError> {
        let fit = state.fit();
        Ok(Self {
            attempt_id,
            outcome: verdict.outcome.as_str().to_owned(),
            reason: verdict.reason.as_str().to_owned(),
            tested_on: local_date(verdict.started_testing_at.unwrap_or(verdict.ended_at), zone),
            started_testing_at: verdict.started_testing_at,
            decided_at: verdict.at,
            ended_at: verdict.ended_at,
            exercise: verdict.exercise.map(i32::from),
            second: verdict.second.map(count).transpose()?,
            pass_level: fit.as_ref().map(|fit| count(fit.pass_level)).transpose()?,
            fit_factor: fit.and_then(|fit| fit.overall),
        })
    }
}

fn insert_verdict(tx: &mut Tx<'_>, id: Uuid, state: &State, verdict: &Verdict) -> Result<(), StoreError> {
    let site_id = tx.site_id();
    let row = VerdictRow::of(id, state, verdict, site::zone(tx.conn, site_id)?)?;
    diesel::insert_into(attempt_verdicts::table)
        .values((&row, attempt_verdicts::recorded_at.eq(tx.now)))
        .execute(tx.conn)?;
    tx.touched("attempt_verdicts", id);
    Ok(())
}
