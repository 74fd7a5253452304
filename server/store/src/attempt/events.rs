//! The events of an attempt as they come in, and the verdict they lead to.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use diesel::prelude::*;
use sellion_rules::{
    attempt::{AttemptEvent, Outcome, Phase, State, Verdict, VerdictReason},
    dates::local_date,
    sequence::Applied,
};
use serde::Serialize;
use uuid::Uuid;

use super::{Attempt, AttemptRun, first_dose, read, state_of};
use crate::{
    StoreError, Tx, clearance, equipment, ladder,
    look_back::{self, Halt, RunKind},
    run,
    schema::{attempt_events, attempt_verdicts, attempts},
    site,
    stored::{count, to_json},
};

/// Adds events in their order, all or none, except that those after the end are only named; the one that ends the
/// attempt also settles clearances and the visit.
pub fn append_events(tx: &mut Tx<'_>, id: Uuid, events: &[AttemptEvent]) -> Result<AttemptRun, StoreError> {
    let site_id = tx.site_id();
    let attempt = attempts::table
        .find(id)
        .filter(attempts::site_id.eq(site_id))
        .select(Attempt::as_select())
        .for_no_key_update()
        .first(tx.conn)
        .optional()?
        .ok_or_else(|| StoreError::not_found("attempt"))?;
    let mut state = state_of(tx.conn, &attempt)?;
    let (stored, ended_before) = (state.events().len(), state.verdict().is_some());
    run::after_opening(attempt.happened_at, events)?;
    let halts = look_back::halts(tx.conn, site_id, RunKind::Attempt, id)?;
    let not_stored = run::take_batch(events, |event| apply(tx, &attempt, &halts, &mut state, event))?;
    insert_events(tx, id, state.events().get(stored..).unwrap_or_default())?;
    let mut at = state.events().last().map_or(attempt.happened_at, |event| event.happened_at);
    if let Some(verdict) = state.verdict().filter(|_| !ended_before) {
        at = verdict.ended_at;
        insert_verdict(tx, id, &state, &verdict)?;
        if let (VerdictReason::NebulizerClogged, Some(fill_id)) = (verdict.reason, attempt.fill_id) {
            equipment::clogged_at_closing(tx, fill_id, verdict.at)?;
        }
        clearance::recompute_person(tx, attempt.person_id)?;
        ladder::advance(tx, attempt.visit_id, at)?;
    }
    Ok(AttemptRun { not_stored, ..read(tx.conn, site_id, id, at)? })
}

/// One event, and the number of the one that has ended the run, if one has.
fn apply(
    tx: &mut Tx<'_>,
    attempt: &Attempt,
    halts: &[Halt],
    state: &mut State,
    event: &AttemptEvent,
) -> Result<Option<u32>, StoreError> {
    let was_fitting = state.phase() == Phase::Fitting;
    let ended_before = state.verdict().is_some();
    if state.apply(event)? == Applied::New && !ended_before {
        let spoilt = state.verdict().is_some_and(|verdict| verdict.outcome != Outcome::Pass);
        run::refuse_halted(halts, event.happened_at, spoilt)?;
    }
    // A beginning that is a fail at once, by its peak, is a beginning too.
    let begun = state.verdict().is_some_and(|verdict| verdict.started_testing_at.is_some());
    if was_fitting && (begun || state.phase() == Phase::Testing) {
        first_dose::check(tx, attempt, event.happened_at)?;
    }
    Ok(state.ended_by())
}

fn insert_events(tx: &mut Tx<'_>, id: Uuid, events: &[AttemptEvent]) -> Result<(), StoreError> {
    let (Some(first), Some(last)) = (events.first(), events.last()) else { return Ok(()) };
    let rows = events.iter().map(|event| {
        Ok((
            attempt_events::attempt_id.eq(id),
            attempt_events::seq.eq(count(event.seq)?),
            attempt_events::event.eq(to_json(&event.kind)?),
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
