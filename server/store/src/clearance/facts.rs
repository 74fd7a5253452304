//! The facts that clearances follow from, for many people in a handful of queries.

use std::collections::{BTreeMap, HashMap};

use chrono::{DateTime, NaiveDate, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    clearance::{AttemptResult, LeavingFact, PersonRespiratorFacts, StopFact},
    respirator::AirSupply,
};
use uuid::Uuid;

use crate::{
    StoreError,
    ladder::permissions_of,
    look_back, overlap,
    schema::{attempt_corrections, attempt_verdicts, attempts, people, respirators},
    stored::{read_count, word},
};

/// Person and respirator.
pub(crate) type Pair = (Uuid, Uuid);

/// The facts of every pair of these people and a respirator they have a pass or a fail on, in the order of ids.
pub(crate) fn load(
    conn: &mut PgConnection,
    site_id: Uuid,
    people: &[Uuid],
) -> Result<BTreeMap<Pair, PersonRespiratorFacts>, StoreError> {
    let results = results(conn, site_id, people)?;
    let mut stops = look_back::doubts(conn, site_id, people)?;
    for (attempt, doubts) in overlap::doubts(conn, site_id, people)? {
        stops.entry(attempt).or_default().extend(doubts);
    }
    let permissions = permissions_of(conn, site_id, people)?;
    let leavings = leavings(conn, site_id, people)?;
    let mut found: BTreeMap<Pair, PersonRespiratorFacts> = BTreeMap::new();
    for row in results {
        let facts = match found.entry((row.person_id, row.respirator_id)) {
            std::collections::btree_map::Entry::Occupied(entry) => entry.into_mut(),
            std::collections::btree_map::Entry::Vacant(entry) => entry.insert(PersonRespiratorFacts {
                attempts: Vec::new(),
                permissions: permissions.get(&row.person_id).cloned().unwrap_or_default(),
                leaving: leavings.get(&row.person_id).copied(),
                supply: row.air_supply.as_deref().map_or(Ok(AirSupply::AirPurifying), word)?,
                protection_factor: read_count(row.protection_factor)?,
            }),
        };
        let stops = stops.remove(&row.id).unwrap_or_default();
        facts.attempts.push(row.into_result(stops)?);
    }
    Ok(found)
}

#[derive(Queryable)]
struct ResultRow {
    id: Uuid,
    person_id: Uuid,
    respirator_id: Uuid,
    protection_factor: i32,
    air_supply: Option<String>,
    method: String,
    outcome: String,
    testing_started_at: Option<DateTime<Utc>>,
    ended_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
    corrected_recorded_at: Option<DateTime<Utc>>,
}

impl ResultRow {
    fn into_result(self, stops: Vec<StopFact>) -> Result<AttemptResult, StoreError> {
        Ok(AttemptResult {
            id: self.id,
            method: word(&self.method)?,
            outcome: word(&self.outcome)?,
            testing_started_at: self.testing_started_at,
            ended_at: self.ended_at,
            recorded_at: self.recorded_at,
            corrected_recorded_at: self.corrected_recorded_at,
            stops,
        })
    }
}

fn results(conn: &mut PgConnection, site_id: Uuid, people: &[Uuid]) -> Result<Vec<ResultRow>, StoreError> {
    let rows = attempts::table
        .inner_join(attempt_verdicts::table)
        .inner_join(respirators::table)
        .left_join(attempt_corrections::table)
        .filter(attempts::site_id.eq(site_id))
        .filter(attempts::person_id.eq_any(people))
        .filter(attempt_verdicts::outcome.eq_any(["pass", "fail"]))
        .order(attempts::id)
        .select((
            attempts::id,
            attempts::person_id,
            attempts::respirator_id,
            respirators::protection_factor,
            respirators::air_supply,
            attempts::method,
            attempt_verdicts::outcome,
            attempt_verdicts::started_testing_at,
            attempt_verdicts::ended_at,
            attempt_verdicts::recorded_at,
            attempt_corrections::recorded_at.nullable(),
        ))
        .load(conn)?;
    Ok(rows)
}

fn leavings(
    conn: &mut PgConnection,
    site_id: Uuid,
    ids: &[Uuid],
) -> Result<HashMap<Uuid, LeavingFact>, StoreError> {
    let rows: Vec<(Uuid, Option<NaiveDate>, Option<DateTime<Utc>>)> = people::table
        .filter(people::site_id.eq(site_id))
        .filter(people::id.eq_any(ids))
        .filter(people::left_on.is_not_null())
        .select((people::id, people::left_on, people::left_recorded_at))
        .load(conn)?;
    let leaving = rows.into_iter().filter_map(|(id, last_day, recorded_at)| {
        last_day.zip(recorded_at).map(|(last_day, recorded_at)| (id, LeavingFact { last_day, recorded_at }))
    });
    Ok(leaving.collect())
}
