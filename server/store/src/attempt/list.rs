//! Attempts in a list, each with how it ended.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    attempt::{Outcome, VerdictReason},
    method::Method,
};
use uuid::Uuid;

use crate::{
    StoreError,
    schema::{attempt_corrections, attempt_verdicts, attempts, visits},
    stored::word,
};

/// Which attempts.
#[derive(Debug, Clone, Copy, Default)]
pub struct Filter {
    /// Of this person only.
    pub person_id: Option<Uuid>,
    /// Of this day only.
    pub day_id: Option<Uuid>,
}

/// Outcome, reason, day of the test, end, fit factor.
type VerdictColumns = (String, String, NaiveDate, DateTime<Utc>, Option<String>);

/// One attempt in a list.
#[derive(Debug, Clone, Queryable)]
pub struct Listed {
    /// Its id.
    pub id: Uuid,
    /// The visit.
    pub visit_id: Uuid,
    /// Who was tested.
    pub person_id: Uuid,
    /// Where.
    pub station_id: Uuid,
    /// On which respirator.
    pub respirator_id: Uuid,
    /// The method, as its word.
    pub method: String,
    /// When it was opened.
    pub happened_at: DateTime<Utc>,
    /// When that was stored.
    pub recorded_at: DateTime<Utc>,
    verdict: Option<VerdictColumns>,
    /// When a correction of it was stored.
    pub corrected_at: Option<DateTime<Utc>>,
}

/// How an attempt of a list ended.
#[derive(Debug, Clone)]
pub struct ListedVerdict {
    /// How it ended.
    pub outcome: Outcome,
    /// What decided it.
    pub reason: VerdictReason,
    /// The local day of the test.
    pub tested_on: NaiveDate,
    /// When it ended.
    pub ended_at: DateTime<Utc>,
    /// The overall fit factor, where it was measured to the end.
    pub fit_factor: Option<String>,
}

impl Listed {
    /// Its method.
    pub fn method(&self) -> Result<Method, StoreError> {
        word(&self.method)
    }

    /// How it ended; none while it is open.
    pub fn verdict(&self) -> Result<Option<ListedVerdict>, StoreError> {
        let Some((outcome, reason, tested_on, ended_at, fit_factor)) = &self.verdict else { return Ok(None) };
        let (outcome, reason) = (word(outcome)?, word(reason)?);
        let (tested_on, ended_at, fit_factor) = (*tested_on, *ended_at, fit_factor.clone());
        Ok(Some(ListedVerdict { outcome, reason, tested_on, ended_at, fit_factor }))
    }
}

/// A page of attempts, by id, from the one after `after`.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    filter: Filter,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Listed>, StoreError> {
    let verdict = (
        attempt_verdicts::outcome,
        attempt_verdicts::reason,
        attempt_verdicts::tested_on,
        attempt_verdicts::ended_at,
        attempt_verdicts::fit_factor,
    );
    let mut query = attempts::table
        .inner_join(visits::table)
        .left_join(attempt_verdicts::table)
        .left_join(attempt_corrections::table)
        .filter(attempts::site_id.eq(site_id))
        .filter(attempts::id.gt(after))
        .select((
            attempts::id,
            attempts::visit_id,
            attempts::person_id,
            attempts::station_id,
            attempts::respirator_id,
            attempts::method,
            attempts::happened_at,
            attempts::recorded_at,
            verdict.nullable(),
            attempt_corrections::recorded_at.nullable(),
        ))
        .order(attempts::id)
        .limit(limit)
        .into_boxed();
    if let Some(person_id) = filter.person_id {
        query = query.filter(attempts::person_id.eq(person_id));
    }
    if let Some(day_id) = filter.day_id {
        query = query.filter(visits::day_id.eq(day_id));
    }
    Ok(query.load(conn)?)
}
