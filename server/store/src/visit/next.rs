//! Moving a visit on: what the ladder decided, or a person who did not come.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use sellion_rules::{
    dates::seconds_after,
    day::{VisitStep, ready_at},
    ladder::NextStep,
    refusal::{Code, Refusal},
};
use uuid::Uuid;

use super::{Visit, answers};
use crate::{
    StoreError, Tx, day,
    insert::id_reused,
    referral,
    schema::{attempt_verdicts, attempts, screening_verdicts, screenings, visit_returns, visits},
    station,
};

/// A person goes back into the queue.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewReturn {
    /// Its id.
    pub id: Uuid,
    /// The visit.
    pub visit_id: Uuid,
    /// Why, as its word.
    pub reason: String,
    /// Seconds until they may be called again.
    pub wait_seconds: i32,
    /// When they went back.
    pub happened_at: DateTime<Utc>,
}

/// Takes the ladder's answer after a run ended at `at`: the visit's step, its place in the queue, a referral.
///
/// The station keeps the person when the next step can follow at once and it is set up for it.
pub fn set_next(
    tx: &mut Tx<'_>,
    visit_id: Uuid,
    next: &NextStep,
    at: DateTime<Utc>,
) -> Result<(), StoreError> {
    let visit = super::lock(tx, visit_id)?;
    let (step, not_before) = match next {
        // A run is open: nothing has been decided yet.
        NextStep::FinishScreening { .. } | NextStep::FinishAttempt { .. } => return Ok(()),
        NextStep::Screen { not_before, .. } => (VisitStep::Screening, not_before.unwrap_or(at).max(at)),
        NextStep::Attempt { not_before, .. } => (VisitStep::Testing, not_before.unwrap_or(at).max(at)),
        // The facts hold the person back, so the place in the queue is that of afterwards: whoever had to see a
        // clinician begins again with a screening, which the ladder allows after every kind of run.
        NextStep::SeeClinician => return place(tx, &visit, VisitStep::Screening, at, None),
        NextStep::Shave => return place(tx, &visit, VisitStep::Testing, at, None),
        NextStep::Measure { .. } => (VisitStep::Measuring, at),
        NextStep::Refer { reason } => {
            referral::append_once(tx, &visit, *reason, at)?;
            let step = referral::step_after(tx, &visit, at)?;
            (step, at)
        }
        NextStep::Done { .. } => (VisitStep::Done, at),
    };
    let kept_by = match (visit.held_by_station_id, step.part()) {
        (Some(station_id), Some(part)) if not_before <= at => {
            let station = station::find(tx.conn, visit.site_id, station_id)?;
            station.can(part).then_some(station_id)
        }
        _ => None,
    };
    place(tx, &visit, step, not_before, kept_by)
}

/// Puts the person back into the queue.
pub fn give_back(tx: &mut Tx<'_>, new: &NewReturn) -> Result<Visit, StoreError> {
    let visit = super::lock(tx, new.visit_id)?;
    if let Some(before) = stored_return(tx, new.id)? {
        return if before == *new { Ok(visit) } else { Err(id_reused()) };
    }
    let Some(station_id) = visit.held_by_station_id else {
        let sentence = "No station has called this person: there is nothing to take back.";
        return Err(Refusal::new(Code::EventNotNow, sentence).fact("step", visit.step.as_str()).into());
    };
    refuse_open_run(tx, &visit)?;
    let made = diesel::insert_into(visit_returns::table)
        .values((
            visit_returns::id.eq(new.id),
            visit_returns::site_id.eq(visit.site_id),
            visit_returns::visit_id.eq(visit.id),
            visit_returns::station_id.eq(station_id),
            visit_returns::reason.eq(&new.reason),
            visit_returns::wait_seconds.eq(new.wait_seconds),
            visit_returns::happened_at.eq(new.happened_at),
            visit_returns::recorded_at.eq(tx.now),
            visit_returns::recorded_by.eq(tx.actor.id),
        ))
        .on_conflict(visit_returns::id)
        .do_nothing()
        .execute(tx.conn)?;
    if made == 0 {
        return Err(id_reused());
    }
    tx.touched("visit_returns", new.id);
    let again_at = seconds_after(new.happened_at, u32::try_from(new.wait_seconds).unwrap_or(0));
    place(tx, &visit, visit.step()?, again_at.max(visit.not_before), None)?;
    super::find(tx.conn, visit.site_id, visit.id)
}

fn stored_return(tx: &mut Tx<'_>, id: Uuid) -> Result<Option<NewReturn>, StoreError> {
    let row: Option<(Uuid, Uuid, String, i32, DateTime<Utc>)> = visit_returns::table
        .find(id)
        .filter(visit_returns::site_id.eq(tx.site_id()))
        .select((
            visit_returns::id,
            visit_returns::visit_id,
            visit_returns::reason,
            visit_returns::wait_seconds,
            visit_returns::happened_at,
        ))
        .first(tx.conn)
        .optional()?;
    Ok(row.map(|(id, visit_id, reason, wait_seconds, happened_at)| NewReturn {
        id,
        visit_id,
        reason,
        wait_seconds,
        happened_at,
    }))
}

/// Refuses to take a person away from a run that has not ended.
pub(crate) fn refuse_open_run(tx: &mut Tx<'_>, visit: &Visit) -> Result<(), StoreError> {
    let screening: Option<Uuid> = screenings::table
        .left_join(screening_verdicts::table)
        .filter(screenings::visit_id.eq(visit.id))
        .filter(screening_verdicts::screening_id.is_null())
        .select(screenings::id)
        .first(tx.conn)
        .optional()?;
    if let Some(id) = screening {
        let sentence = "A screening of this visit is still open: end it first.";
        return Err(Refusal::new(Code::ScreeningOpen, sentence).fact("screening_id", id.to_string()).into());
    }
    let attempt: Option<Uuid> = attempts::table
        .left_join(attempt_verdicts::table)
        .filter(attempts::visit_id.eq(visit.id))
        .filter(attempt_verdicts::attempt_id.is_null())
        .select(attempts::id)
        .first(tx.conn)
        .optional()?;
    if let Some(id) = attempt {
        let sentence = "An attempt of this visit is still open: end it first.";
        return Err(Refusal::new(Code::AttemptOpen, sentence).fact("attempt_id", id.to_string()).into());
    }
    Ok(())
}

/// Writes the step and the place in the queue.
pub(crate) fn place(
    tx: &mut Tx<'_>,
    visit: &Visit,
    step: VisitStep,
    not_before: DateTime<Utc>,
    held_by: Option<Uuid>,
) -> Result<(), StoreError> {
    let day = day::find(tx.conn, visit.site_id, visit.day_id)?;
    let intake = answers::newest(tx.conn, visit.site_id, visit.id)?.last_intake_at;
    let rules = day::rules(tx.conn, &day)?;
    diesel::update(visits::table.find(visit.id).filter(visits::site_id.eq(visit.site_id)))
        .set((
            visits::step.eq(step.as_str()),
            visits::not_before.eq(not_before),
            visits::ready_at.eq(ready_at(not_before, intake, &rules)),
            visits::held_by_station_id.eq(held_by),
        ))
        .execute(tx.conn)?;
    tx.touched("visits", visit.id);
    Ok(())
}
