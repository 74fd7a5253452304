//! Corrections: an attempt is taken out of every later judgement, and stays readable.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use sellion_rules::refusal::{Code, Refusal};
use uuid::Uuid;

use super::{AttemptRun, read};
use crate::{
    StoreError, Tx, clearance, insert_once, ladder, on_constraint,
    schema::{attempt_corrections, attempt_verdicts, attempts, days, visits},
};

/// A correction, which takes one attempt out of every later judgement. It can never make one pass.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = attempt_corrections, check_for_backend(diesel::pg::Pg))]
pub struct Correction {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The attempt it corrects.
    pub attempt_id: Uuid,
    /// Why, in words.
    pub reason: String,
    /// When it was decided.
    pub happened_at: DateTime<Utc>,
}

/// Corrects an attempt; clearances and, on an open day, the visit follow.
pub fn create_correction(tx: &mut Tx<'_>, new: &Correction) -> Result<AttemptRun, StoreError> {
    let site_id = tx.site_id();
    let (person_id, visit_id, day_open) = corrected(tx, new.attempt_id)?;
    let recorded =
        (attempt_corrections::recorded_at.eq(tx.now), attempt_corrections::recorded_by.eq(tx.actor.id));
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(attempt_corrections::table)
                .values((new, recorded))
                .on_conflict(attempt_corrections::id)
                .do_nothing()
                .execute(conn);
            on_constraint(made, "attempt_corrections_withdrawn_already", || {
                Refusal::new(
                    Code::AlreadyCorrected,
                    "This attempt was corrected before: nothing is left to do.",
                )
            })
        },
        |conn| {
            let found = attempt_corrections::table.find(new.id);
            let found = found.filter(attempt_corrections::site_id.eq(site_id));
            found.select(Correction::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("attempt_corrections", new.id);
        clearance::recompute_person(tx, person_id)?;
        if day_open {
            ladder::advance(tx, visit_id, new.happened_at)?;
        }
    }
    read(tx.conn, site_id, new.attempt_id, new.happened_at)
}

/// Person and visit of an ended attempt, and whether its day still runs. Only what has ended can be corrected.
fn corrected(tx: &mut Tx<'_>, attempt_id: Uuid) -> Result<(Uuid, Uuid, bool), StoreError> {
    type Row = (Uuid, Uuid, Option<DateTime<Utc>>, Option<DateTime<Utc>>);
    let site_id = tx.site_id();
    let found: Option<Row> = attempts::table
        .inner_join(visits::table.inner_join(days::table))
        .left_join(attempt_verdicts::table)
        .filter(attempts::id.eq(attempt_id))
        .filter(attempts::site_id.eq(site_id))
        .select((
            attempts::person_id,
            attempts::visit_id,
            days::closed_at,
            attempt_verdicts::ended_at.nullable(),
        ))
        .first(tx.conn)
        .optional()?;
    match found.ok_or_else(|| StoreError::not_found("attempt"))? {
        (person, visit, closed_at, Some(_)) => Ok((person, visit, closed_at.is_none())),
        (_, _, _, None) => {
            let detail = "This attempt is still open: end it first, as interrupted if need be.";
            let id = attempt_id.to_string();
            Err(Refusal::new(Code::AttemptOpen, detail).fact("attempt_id", id).into())
        }
    }
}
