//! Opening an attempt: everything that has to be right before a respirator is put on.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    attempt::AttemptSetup,
    day::StationPart,
    eligibility::{Way, Worn, may_test},
    ladder::{AttemptBasis, may_measure, may_start_attempt},
    method::{Family, Method},
    refusal::{Code, Refusal},
    ruleset::RuleSet,
    supplies::{Agent, Solution},
};
use uuid::Uuid;

use super::{Attempt, AttemptRun, NamedFacepiece, facepiece, find, read};
use crate::{
    StoreError, Tx, equipment,
    insert::{id_reused, insert_once},
    ladder::{self, OnLadder},
    respirator::{self, Respirator},
    run,
    schema::{attempts, screenings},
    station::Station,
    stored::{read_count, to_json},
};

/// The word for a test without the respirator's own air.
const NEGATIVE_PRESSURE: &str = "negative_pressure";

/// What a new attempt stands on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NewBasis {
    /// A screening of the visit; the method follows from its agent.
    Screening(Uuid),
    /// An instrument.
    Instrument {
        /// The method.
        method: Method,
        /// What is written on the instrument.
        instrument: String,
    },
}

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
    /// What it stands on.
    pub basis: NewBasis,
    /// The hood, where it is named.
    pub hood_id: Option<Uuid>,
    /// The lot of the facepiece, where it is named.
    pub facepiece: Option<NamedFacepiece>,
    /// The words for another filter that is fitted for the test.
    pub fitted_filter: Option<String>,
    /// Whether the respirator is tested without its own air.
    pub negative_pressure_mode: bool,
    /// Whether the station was out of reach and tells of it afterwards.
    pub afterwards: bool,
    /// When it is opened.
    pub happened_at: DateTime<Utc>,
}

impl NewAttempt {
    fn is(&self, stored: &Attempt, facepiece_lot_id: Option<Uuid>) -> bool {
        let basis = match &self.basis {
            NewBasis::Screening(id) => stored.screening_id == Some(*id),
            NewBasis::Instrument { method, instrument } => {
                stored.method == method.as_str() && stored.instrument.as_ref() == Some(instrument)
            }
        };
        basis
            && self.visit_id == stored.visit_id
            && self.station_id == stored.station_id
            && self.respirator_id == stored.respirator_id
            && self.hood_id == stored.hood_id
            && facepiece_lot_id == stored.facepiece_lot_id
            && self.afterwards == stored.reported.is_some()
            && self.fitted_filter == stored.fitted_filter
            && self.negative_pressure_mode == stored.in_negative_pressure_mode()
            && self.happened_at == stored.happened_at
    }
}

/// What an attempt stands on, found in order.
struct Standing {
    method: Method,
    screening: Option<AttemptBasis>,
    fill_id: Option<Uuid>,
    instrument: Option<String>,
}

/// Opens an attempt, if the person, the respirator, the ladder, the station and its fill allow one.
pub fn create(tx: &mut Tx<'_>, new: &NewAttempt) -> Result<AttemptRun, StoreError> {
    let (site_id, at) = (tx.site_id(), new.happened_at);
    let person = ladder::lock(tx, new.visit_id, at)?;
    let named = facepiece::named(tx.conn, site_id, new.respirator_id, new.facepiece.as_ref())?;
    let facepiece_lot_id = named.as_ref().map(|(lot, _)| lot.id);
    // A repeat is recognised first: by now the attempt itself stands in the way of a new one.
    if let Some(stored) = find(tx.conn, site_id, new.id)? {
        if new.is(&stored, facepiece_lot_id) {
            return read(tx.conn, site_id, new.id, at);
        }
        return Err(id_reused());
    }
    let part = match new.basis {
        NewBasis::Screening(_) => StationPart::Testing,
        NewBasis::Instrument { .. } => StationPart::Measuring,
    };
    let station = run::station(tx, new.station_id, &person, part)?;
    let person = if new.afterwards { run::as_known_out_of_reach(tx, person, &station, at)? } else { person };
    let respirator = respirator::find(tx.conn, site_id, new.respirator_id)?;
    if let Some(named) = &named {
        facepiece::usable(named, person.facts.on, !new.afterwards)?;
    }
    let standing = match &new.basis {
        NewBasis::Screening(screening_id) => noticed(tx, &person, &station, new, *screening_id, &respirator)?,
        NewBasis::Instrument { method, instrument } => {
            if new.hood_id.is_some() {
                let detail = "Nothing is sprayed where a fit factor is measured: leave the hood out.";
                return Err(Refusal::new(Code::InvalidValue, detail).field("hood_id").into());
            }
            testable(&respirator, *method, new, &person.rules)?;
            may_measure(&person.facts, &person.rules, *method, new.respirator_id)?;
            person.may_run(&station, at)?;
            let instrument = Some(instrument.clone());
            Standing { method: *method, screening: None, fill_id: None, instrument }
        }
    };
    let opened = opened(&person, &station, standing, new, &respirator)?;
    insert(tx, &Attempt { facepiece_lot_id, ..opened })?;
    read(tx.conn, site_id, new.id, at)
}

/// What an attempt that only tells noticed from not noticed stands on: a screening, and a fill.
fn noticed(
    tx: &mut Tx<'_>,
    person: &OnLadder,
    station: &Station,
    new: &NewAttempt,
    screening_id: Uuid,
    respirator: &Respirator,
) -> Result<Standing, StoreError> {
    let agent = person.facts.screenings.iter().find(|screening| screening.id == screening_id);
    // Whether the respirator can be tested so is said before what the ladder thinks, where the screening is known.
    if let Some(screening) = agent {
        testable(respirator, screening.agent.into(), new, &person.rules)?;
    }
    let basis = basis(person, new, screening_id)?;
    person.may_run(station, new.happened_at)?;
    let reach = (new.happened_at, !new.afterwards);
    let fill_id = run::usable_fill(tx, station, person, (basis.agent, Solution::Test), reach)?;
    if basis.agent == Agent::IrritantSmoke {
        same_tube(tx.conn, screening_id, fill_id)?;
    }
    equipment::usable_hood(tx, new.hood_id, new.visit_id, reach)?;
    let method = Method::from(basis.agent);
    Ok(Standing { method, screening: Some(basis), fill_id: Some(fill_id), instrument: None })
}

/// The tube of the sensitivity check is the tube of the test (29 CFR 1910.134 App. A I.B.5(c)(7)).
fn same_tube(conn: &mut PgConnection, screening_id: Uuid, fill_id: Uuid) -> Result<(), StoreError> {
    let screened: Uuid = screenings::table.find(screening_id).select(screenings::fill_id).first(conn)?;
    if screened == fill_id {
        return Ok(());
    }
    let detail =
        "Another tube was opened since the sensitivity check: check the sensitivity with this one first.";
    Err(Refusal::new(Code::NewScreeningRequired, detail).field("screening_id").into())
}

/// Whether a test of this respirator by this method can mean anything.
fn testable(
    respirator: &Respirator,
    method: Method,
    new: &NewAttempt,
    rules: &RuleSet,
) -> Result<(), StoreError> {
    if respirator.retired_at.is_some() {
        let detail = "This respirator is no longer handed out here: choose another one.";
        return Err(Refusal::new(Code::InvalidValue, detail).field("respirator_id").into());
    }
    let worn = Worn {
        facepiece: respirator.facepiece()?,
        supply: respirator.air_supply()?,
        protection_factor: read_count(respirator.protection_factor)?,
        filter: &respirator.filter_class,
    };
    Ok(may_test(&worn, &way(method, new), rules)?)
}

fn way(method: Method, new: &NewAttempt) -> Way<'_> {
    Way {
        method,
        negative_pressure_mode: new.negative_pressure_mode,
        fitted_filter: new.fitted_filter.as_deref(),
    }
}

/// What the attempt stands on: the newest screening that counts, which the caller has to name.
fn basis(person: &OnLadder, new: &NewAttempt, screening_id: Uuid) -> Result<AttemptBasis, StoreError> {
    let basis = may_start_attempt(&person.facts, &person.rules, new.respirator_id, new.happened_at)?;
    if basis.screening == screening_id {
        return Ok(basis);
    }
    if !person.facts.screenings.iter().any(|screening| screening.id == screening_id) {
        return Err(StoreError::not_found("screening"));
    }
    let detail = "An attempt stands on the newest screening that found a level: name that one.";
    let refusal = Refusal::new(Code::NewScreeningRequired, detail).field("screening_id");
    Err(refusal.fact("screening_id", basis.screening.to_string()).into())
}

fn opened(
    person: &OnLadder,
    station: &Station,
    standing: Standing,
    new: &NewAttempt,
    respirator: &Respirator,
) -> Result<Attempt, StoreError> {
    let Standing { method, screening, fill_id, instrument } = standing;
    let tasted = method.family() == Family::Taste;
    let setup = AttemptSetup {
        method,
        level: screening.as_ref().and_then(|basis| basis.level),
        jogging_instead_of_bending: station.hood_forbids_bending,
        screened_at: screening.as_ref().map(|basis| basis.screened_at),
        last_intake_at: person.facts.last_intake_at.filter(|_| tasted),
        modified_for_test: way(method, new).modifies(),
        rules: person.rules.method(method)?.attempt(respirator.facepiece()?).clone(),
    };
    Ok(Attempt {
        id: new.id,
        site_id: person.visit.site_id,
        visit_id: person.visit.id,
        person_id: person.visit.person_id,
        station_id: station.id,
        respirator_id: new.respirator_id,
        screening_id: screening.map(|basis| basis.screening),
        fill_id,
        hood_id: new.hood_id,
        facepiece_lot_id: None,
        reported: new.afterwards.then(|| run::AFTERWARDS.to_owned()),
        method: method.as_str().to_owned(),
        fitted_filter: new.fitted_filter.clone(),
        test_mode: new.negative_pressure_mode.then(|| NEGATIVE_PRESSURE.to_owned()),
        instrument,
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
