//! What holds visits back, worked out from the facts whenever somebody asks, so that a permission or an answer
//! recorded by anybody counts at once.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    attempt::Outcome,
    dates::local_date,
    day::{Hold, HoldFacts, holds},
    screening::ScreeningOutcome,
};
use uuid::Uuid;

use super::{Answers, Visit, answers};
use crate::{
    StoreError, ladder,
    schema::{attempt_corrections, attempt_verdicts, attempts, people, screening_verdicts, screenings},
    site,
};

/// How a visit stands apart from its place in the queue.
#[derive(Debug, Clone)]
pub struct Standing {
    /// The newest answers.
    pub answers: Answers,
    /// What holds the person back; empty when nothing does.
    pub holds: Vec<Hold>,
}

/// How each of the visits stands, with the same few queries however many they are.
pub fn of(
    conn: &mut PgConnection,
    site_id: Uuid,
    visits: &[Visit],
) -> Result<HashMap<Uuid, Standing>, StoreError> {
    let tz = site::zone(conn, site_id)?;
    let visit_ids: Vec<Uuid> = visits.iter().map(|visit| visit.id).collect();
    let person_ids: Vec<Uuid> = visits.iter().map(|visit| visit.person_id).collect();
    let mut newest: HashMap<Uuid, Answers> = answers::newest_of(conn, site_id, &visit_ids)?
        .into_iter()
        .map(|answers| (answers.visit_id, answers))
        .collect();
    let decided = ladder::permissions_of(conn, site_id, &person_ids)?;
    let left_on = leavings_of(conn, site_id, &person_ids)?;
    let stopped_at = stops_of(conn, site_id, &visit_ids)?;
    let mut found = HashMap::with_capacity(visits.len());
    for visit in visits {
        let answers =
            newest.remove(&visit.id).ok_or_else(|| StoreError::internal("a visit has no answers"))?;
        let facts = HoldFacts {
            on: local_date(visit.happened_at, tz),
            permissions: decided.get(&visit.person_id).cloned().unwrap_or_default(),
            stopped_at: stopped_at.get(&visit.id).copied(),
            hair_at_seal: answers.hair_at_seal,
            feels_well: answers.feels_well,
            left_on: left_on.get(&visit.person_id).copied(),
        };
        found.insert(visit.id, Standing { answers, holds: holds(&facts) });
    }
    Ok(found)
}

fn leavings_of(
    conn: &mut PgConnection,
    site_id: Uuid,
    person_ids: &[Uuid],
) -> Result<HashMap<Uuid, NaiveDate>, StoreError> {
    let rows: Vec<(Uuid, NaiveDate)> = people::table
        .filter(people::site_id.eq(site_id))
        .filter(people::id.eq_any(person_ids))
        .filter(people::left_on.is_not_null())
        .select((people::id, people::left_on.assume_not_null()))
        .load(conn)?;
    Ok(rows.into_iter().collect())
}

/// The newest run of each visit that was stopped because the person was unwell, unless it was withdrawn.
fn stops_of(
    conn: &mut PgConnection,
    site_id: Uuid,
    visit_ids: &[Uuid],
) -> Result<HashMap<Uuid, DateTime<Utc>>, StoreError> {
    let mut rows: Vec<(Uuid, DateTime<Utc>)> = attempts::table
        .inner_join(attempt_verdicts::table)
        .left_join(attempt_corrections::table)
        .filter(attempts::site_id.eq(site_id))
        .filter(attempts::visit_id.eq_any(visit_ids))
        .filter(attempt_verdicts::outcome.eq(Outcome::Stopped.as_str()))
        .filter(attempt_corrections::id.is_null())
        .select((attempts::visit_id, attempt_verdicts::ended_at))
        .load(conn)?;
    let screened: Vec<(Uuid, DateTime<Utc>)> = screenings::table
        .inner_join(screening_verdicts::table)
        .filter(screenings::site_id.eq(site_id))
        .filter(screenings::visit_id.eq_any(visit_ids))
        .filter(screening_verdicts::outcome.eq(ScreeningOutcome::Stopped.as_str()))
        .select((screenings::visit_id, screening_verdicts::ended_at))
        .load(conn)?;
    rows.extend(screened);
    let mut found: HashMap<Uuid, DateTime<Utc>> = HashMap::new();
    for (visit_id, ended_at) in rows {
        let newest = found.entry(visit_id).or_insert(ended_at);
        *newest = ended_at.max(*newest);
    }
    Ok(found)
}
