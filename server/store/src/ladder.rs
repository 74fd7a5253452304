//! What the retest ladder has to know of one visit, and the step that follows from it.

use std::{
    collections::{HashMap, HashSet},
    sync::Arc,
};

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    attempt::{Outcome, VerdictReason},
    dates::local_date,
    ladder::{AttemptFact, NextStep, ScreeningFact, VisitFacts, next_step},
    level::Level,
    permission::PermissionFact,
    ruleset::RuleSet,
    screening::ScreeningOutcome,
    supplies::Agent,
};
use uuid::Uuid;

use crate::{
    StoreError, Tx,
    day::{self, Day},
    referral,
    schema::{
        attempt_corrections, attempt_verdicts, attempts, people, permissions, screening_verdicts, screenings,
    },
    site,
    station::{self, Measuring},
    stored::word,
    visit::{self, Visit},
};

/// One visit with everything that its next run depends on.
pub(crate) struct OnLadder {
    pub(crate) visit: Visit,
    pub(crate) day: Day,
    pub(crate) rules: Arc<RuleSet>,
    pub(crate) feels_well: bool,
    pub(crate) left_on: Option<NaiveDate>,
    pub(crate) facts: VisitFacts,
}

impl OnLadder {
    /// The next step at `at`. The day starts with the agent that its rule set names first.
    pub(crate) fn next_step(&self, at: DateTime<Utc>) -> NextStep {
        let preferred = self.rules.agents.first().copied().unwrap_or(Agent::Saccharin);
        next_step(&self.facts, &self.rules, preferred, at)
    }
}

/// The next step of a visit at `at`.
pub fn next_of(
    conn: &mut PgConnection,
    site_id: Uuid,
    visit_id: Uuid,
    at: DateTime<Utc>,
) -> Result<NextStep, StoreError> {
    Ok(load(conn, site_id, visit_id, at)?.next_step(at))
}

/// Moves a visit on after one of its runs ended or ceased to count, and says where to.
pub(crate) fn advance(tx: &mut Tx<'_>, visit_id: Uuid, at: DateTime<Utc>) -> Result<NextStep, StoreError> {
    let next = lock(tx, visit_id, at)?.next_step(at);
    visit::set_next(tx, visit_id, &next, at)?;
    Ok(next)
}

/// As [`load`], and holds the visit until the transaction ends, so that its runs are opened one after the other.
pub(crate) fn lock(tx: &mut Tx<'_>, visit_id: Uuid, at: DateTime<Utc>) -> Result<OnLadder, StoreError> {
    let visit = visit::lock(tx, visit_id)?;
    of(tx.conn, visit, at)
}

/// The visit as the ladder sees it for a run at `at`.
pub(crate) fn load(
    conn: &mut PgConnection,
    site_id: Uuid,
    visit_id: Uuid,
    at: DateTime<Utc>,
) -> Result<OnLadder, StoreError> {
    let visit = visit::find(conn, site_id, visit_id)?;
    of(conn, visit, at)
}

fn of(conn: &mut PgConnection, visit: Visit, at: DateTime<Utc>) -> Result<OnLadder, StoreError> {
    let day = day::find(conn, visit.site_id, visit.day_id)?;
    let rules = day::rules(conn, &day)?;
    let zone = site::zone(conn, visit.site_id)?;
    let answers = visit::newest_answers(conn, visit.site_id, visit.id)?;
    let mut permissions = permissions_of(conn, visit.site_id, &[visit.person_id])?;
    let left_on = people::table.find(visit.person_id).select(people::left_on).first(conn)?;
    let facts = VisitFacts {
        on: local_date(at, zone),
        permissions: permissions.remove(&visit.person_id).unwrap_or_default(),
        hair_at_seal: answers.hair_at_seal,
        last_intake_at: answers.last_intake_at,
        to_be_measured: match station::measuring(conn, day.id, &rules)? {
            Measuring::Nobody => false,
            Measuring::Referred => referral::is_referred(conn, visit.id)?,
            Measuring::Everybody => true,
        },
        screenings: screenings_of(conn, visit.id, zone)?,
        attempts: attempts_of(conn, visit.id)?,
    };
    Ok(OnLadder { visit, day, rules, feels_well: answers.feels_well, left_on, facts })
}

/// Every decision about each of these people.
pub(crate) fn permissions_of(
    conn: &mut PgConnection,
    site_id: Uuid,
    people: &[Uuid],
) -> Result<HashMap<Uuid, Vec<PermissionFact>>, StoreError> {
    type Row = (Uuid, Uuid, String, NaiveDate, Option<NaiveDate>, DateTime<Utc>, DateTime<Utc>);
    let rows: Vec<Row> = permissions::table
        .filter(permissions::site_id.eq(site_id))
        .filter(permissions::person_id.eq_any(people))
        .order((permissions::recorded_at, permissions::id))
        .select((
            permissions::person_id,
            permissions::id,
            permissions::decision,
            permissions::valid_from,
            permissions::valid_until,
            permissions::happened_at,
            permissions::recorded_at,
        ))
        .load(conn)?;
    let mut found: HashMap<Uuid, Vec<PermissionFact>> = HashMap::new();
    for (person, id, decision, valid_from, valid_until, happened_at, recorded_at) in rows {
        let decision = word(&decision)?;
        let fact = PermissionFact { id, decision, valid_from, valid_until, happened_at, recorded_at };
        found.entry(person).or_default().push(fact);
    }
    Ok(found)
}

fn screenings_of(
    conn: &mut PgConnection,
    visit_id: Uuid,
    zone: Tz,
) -> Result<Vec<ScreeningFact>, StoreError> {
    type Row = (Uuid, String, DateTime<Utc>, Option<(String, Option<i32>, DateTime<Utc>)>);
    let verdict = (screening_verdicts::outcome, screening_verdicts::level, screening_verdicts::ended_at);
    let rows: Vec<Row> = screenings::table
        .left_join(screening_verdicts::table)
        .filter(screenings::visit_id.eq(visit_id))
        .order(screenings::id)
        .select((screenings::id, screenings::agent, screenings::happened_at, verdict.nullable()))
        .load(conn)?;
    rows.into_iter()
        .map(|(id, agent, started_at, verdict)| {
            let (outcome, level, ended_at) = match verdict {
                Some((outcome, level, ended_at)) => {
                    (Some(word::<ScreeningOutcome>(&outcome)?), level, Some(ended_at))
                }
                None => (None, None, None),
            };
            let level = level.map(read_level).transpose()?;
            let on = local_date(ended_at.unwrap_or(started_at), zone);
            Ok(ScreeningFact { id, agent: word(&agent)?, started_at, outcome, level, ended_at, on })
        })
        .collect()
}

/// The screenings and attempts of a visit that were run at this station.
pub(crate) fn runs_at(
    conn: &mut PgConnection,
    visit_id: Uuid,
    station_id: Uuid,
) -> Result<HashSet<Uuid>, StoreError> {
    let screened: Vec<Uuid> = screenings::table
        .filter(screenings::visit_id.eq(visit_id))
        .filter(screenings::station_id.eq(station_id))
        .select(screenings::id)
        .load(conn)?;
    let tested: Vec<Uuid> = attempts::table
        .filter(attempts::visit_id.eq(visit_id))
        .filter(attempts::station_id.eq(station_id))
        .select(attempts::id)
        .load(conn)?;
    Ok(screened.into_iter().chain(tested).collect())
}

/// A level from its column.
pub(crate) fn read_level(number: i32) -> Result<Level, StoreError> {
    u8::try_from(number)
        .ok()
        .and_then(|number| Level::try_from(number).ok())
        .ok_or_else(|| StoreError::internal(format!("the stored number {number} is no level")))
}

/// The attempts of the visit, without those that a correction took away.
fn attempts_of(conn: &mut PgConnection, visit_id: Uuid) -> Result<Vec<AttemptFact>, StoreError> {
    type Row = (Uuid, Uuid, String, DateTime<Utc>, Option<(String, String, DateTime<Utc>)>);
    let verdict = (attempt_verdicts::outcome, attempt_verdicts::reason, attempt_verdicts::ended_at);
    let rows: Vec<Row> = attempts::table
        .left_join(attempt_verdicts::table)
        .left_join(attempt_corrections::table)
        .filter(attempts::visit_id.eq(visit_id))
        .filter(attempt_corrections::id.is_null())
        .order(attempts::id)
        .select((
            attempts::id,
            attempts::respirator_id,
            attempts::method,
            attempts::happened_at,
            verdict.nullable(),
        ))
        .load(conn)?;
    rows.into_iter()
        .map(|(id, respirator, method, started_at, verdict)| {
            let (outcome, reason, ended_at) = match verdict {
                Some((outcome, reason, ended_at)) => {
                    (Some(word::<Outcome>(&outcome)?), Some(word::<VerdictReason>(&reason)?), Some(ended_at))
                }
                None => (None, None, None),
            };
            let method = word(&method)?;
            Ok(AttemptFact { id, respirator, method, started_at, outcome, reason, ended_at })
        })
        .collect()
}
