//! Opening an attempt: everything that has to be right before a respirator is put on.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    attempt::AttemptSetup,
    clearance::required_fit_factor,
    day::StationPart,
    ladder::{AttemptBasis, may_start_attempt},
    refusal::{Code, Refusal},
    ruleset::RuleSet,
    supplies::Solution,
};
use uuid::Uuid;

use super::{Attempt, AttemptRun, find, read};
use crate::{
    StoreError, Tx,
    insert::{id_reused, insert_once},
    ladder::{self, OnLadder},
    run,
    schema::{attempts, respirators},
    station::Station,
    stored::{read_count, to_json},
};

/// An attempt to be opened.
#[derive(Debug, Clone)]
pub struct NewAttempt {
    /// Its id.
    pub id: Uuid,
    /// The visit.
    pub visit_id: Uuid,
    /// The station.
    pub station_id: Uuid,
    /// The respirator.
    pub respirator_id: Uuid,
    /// The screening it stands on.
    pub screening_id: Uuid,
    /// When it is opened.
    pub happened_at: DateTime<Utc>,
}

impl NewAttempt {
    fn is(&self, stored: &Attempt) -> bool {
        self.visit_id == stored.visit_id
            && self.station_id == stored.station_id
            && self.respirator_id == stored.respirator_id
            && self.screening_id == stored.screening_id
            && self.happened_at == stored.happened_at
    }
}

/// Opens an attempt, if the person, the respirator, the ladder, the station and its fill allow one.
pub fn create(tx: &mut Tx<'_>, new: &NewAttempt) -> Result<AttemptRun, StoreError> {
    let (site_id, at) = (tx.site_id(), new.happened_at);
    let person = ladder::lock(tx, new.visit_id, at)?;
    // A repeat is recognised first: by now the attempt itself stands in the way of a new one.
    if let Some(stored) = find(tx.conn, site_id, new.id)? {
        if new.is(&stored) {
            return read(tx.conn, site_id, new.id, at);
        }
        return Err(id_reused());
    }
    let station = run::station(tx, new.station_id, &person, StationPart::Testing)?;
    respirator_testable(tx.conn, site_id, new.respirator_id, person.rules)?;
    let basis = basis(&person, new)?;
    person.may_run(&station, at)?;
    let fill_id = run::usable_fill(tx, &station, &person, (basis.agent, Solution::Test), at)?;
    insert(tx, &opened(&person, &station, &basis, new, fill_id)?)?;
    read(tx.conn, site_id, new.id, at)
}

/// Whether a taste test of this respirator can mean anything.
fn respirator_testable(
    conn: &mut PgConnection,
    site_id: Uuid,
    id: Uuid,
    rules: &RuleSet,
) -> Result<(), StoreError> {
    let found: Option<(i32, Option<DateTime<Utc>>)> = respirators::table
        .find(id)
        .filter(respirators::site_id.eq(site_id))
        .select((respirators::protection_factor, respirators::retired_at))
        .first(conn)
        .optional()?;
    let (factor, retired_at) = found.ok_or_else(|| StoreError::not_found("respirator"))?;
    if retired_at.is_some() {
        let detail = "This respirator is no longer handed out here: choose another one.";
        return Err(Refusal::new(Code::InvalidValue, detail).field("respirator_id").into());
    }
    let required = required_fit_factor(read_count(factor)?);
    // 29 CFR 1910.134(f)(6): a qualitative test cannot show more.
    if required > rules.clearance.qualitative_fit_factor_max {
        let detail =
            "A taste test cannot show the fit this respirator's use asks for: refer to a counted test.";
        let refusal = Refusal::new(Code::TestMethodNotAllowed, detail).field("respirator_id");
        return Err(refusal.fact("required_fit_factor", required).into());
    }
    Ok(())
}

/// What the attempt stands on: the newest screening that counts, which the caller has to name.
fn basis(person: &OnLadder, new: &NewAttempt) -> Result<AttemptBasis, StoreError> {
    let basis = may_start_attempt(&person.facts, person.rules, new.respirator_id, new.happened_at)?;
    if basis.screening == new.screening_id {
        return Ok(basis);
    }
    if !person.facts.screenings.iter().any(|screening| screening.id == new.screening_id) {
        return Err(StoreError::not_found("screening"));
    }
    let detail = "An attempt stands on the newest screening that found a level: name that one.";
    let refusal = Refusal::new(Code::NewScreeningRequired, detail).field("screening_id");
    Err(refusal.fact("screening_id", basis.screening.to_string()).into())
}

fn opened(
    person: &OnLadder,
    station: &Station,
    basis: &AttemptBasis,
    new: &NewAttempt,
    fill_id: Uuid,
) -> Result<Attempt, StoreError> {
    let setup = AttemptSetup::new(
        person.rules,
        basis.agent,
        basis.level,
        station.hood_forbids_bending,
        basis.screened_at,
        person.facts.last_intake_at,
    );
    Ok(Attempt {
        id: new.id,
        site_id: person.visit.site_id,
        visit_id: person.visit.id,
        person_id: person.visit.person_id,
        station_id: station.id,
        respirator_id: new.respirator_id,
        screening_id: basis.screening,
        fill_id,
        method: basis.agent.as_str().to_owned(),
        rule_set_name: person.rules.name.clone(),
        rule_set_version: person.rules.version.clone(),
        setup: to_json(&setup)?,
        happened_at: new.happened_at,
    })
}

fn insert(tx: &mut Tx<'_>, attempt: &Attempt) -> Result<(), StoreError> {
    let recorded = (attempts::recorded_at.eq(tx.now), attempts::recorded_by.eq(tx.actor.id));
    insert_once(
        tx.conn,
        attempt,
        |conn, new| {
            let made = diesel::insert_into(attempts::table).values((new, recorded));
            Ok(made.on_conflict(attempts::id).do_nothing().execute(conn)?)
        },
        |conn| {
            let found = attempts::table.find(attempt.id).filter(attempts::site_id.eq(attempt.site_id));
            found.select(Attempt::as_select()).first(conn).optional()
        },
    )?;
    tx.touched("attempts", attempt.id);
    Ok(())
}
