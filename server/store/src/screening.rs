//! Screenings: opened at a station, told by their events, ended by what the events say.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    day::StationPart,
    ladder::{NextStep, may_start_screening},
    screening::{
        ScreeningEvent, ScreeningEventKind, ScreeningSetup, ScreeningState, ScreeningVerdict, replay,
    },
    sequence::NotStored,
    supplies::{Agent, Solution},
};
use serde::Serialize;
use serde_json::Value;
use uuid::Uuid;

use crate::{
    StoreError, Tx, equipment,
    insert::{id_reused, insert_once},
    ladder, run,
    schema::{screening_events, screening_verdicts, screenings},
    stored::{count, read_count, read_json, to_json, word},
};

/// A screening as it was opened.
#[derive(Debug, Clone, PartialEq, Insertable, Queryable, Selectable)]
#[diesel(table_name = screenings, check_for_backend(diesel::pg::Pg))]
pub struct Screening {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The visit it belongs to.
    pub visit_id: Uuid,
    /// Who is screened.
    pub person_id: Uuid,
    /// Where.
    pub station_id: Uuid,
    /// The agent, as its word.
    pub agent: String,
    /// The fill of screening solution it uses.
    pub fill_id: Uuid,
    /// The hood, where it was named.
    pub hood_id: Option<Uuid>,
    /// The rule set of the day.
    pub rule_set_name: String,
    /// That rule set's version.
    pub rule_set_version: String,
    /// `afterwards` where it was run out of reach of the server.
    pub reported: Option<String>,
    /// The [`ScreeningSetup`] it started from: with the events, all that its verdict depends on.
    pub setup: Value,
    /// When it was opened.
    pub happened_at: DateTime<Utc>,
}

impl Screening {
    /// Its agent.
    pub fn agent(&self) -> Result<Agent, StoreError> {
        word(&self.agent)
    }
}

/// A screening to be opened.
#[derive(Debug, Clone)]
pub struct NewScreening {
    /// Its id.
    pub id: Uuid,
    /// The visit.
    pub visit_id: Uuid,
    /// The station.
    pub station_id: Uuid,
    /// The agent.
    pub agent: Agent,
    /// The hood, where it is named.
    pub hood_id: Option<Uuid>,
    /// Whether the station was out of reach and tells of it afterwards.
    pub afterwards: bool,
    /// When it is opened.
    pub happened_at: DateTime<Utc>,
}

impl NewScreening {
    fn is(&self, stored: &Screening) -> bool {
        self.visit_id == stored.visit_id
            && self.station_id == stored.station_id
            && self.agent.as_str() == stored.agent
            && self.hood_id == stored.hood_id
            && self.afterwards == stored.reported.is_some()
            && self.happened_at == stored.happened_at
    }
}

/// A screening as far as its events tell, and what comes after it.
#[derive(Debug, Clone)]
pub struct ScreeningRun {
    /// As it was opened.
    pub screening: Screening,
    /// What its events say.
    pub state: ScreeningState,
    /// The next step of the visit.
    pub next_step: NextStep,
    /// Events of the batch just sent that came after its end, and were not stored.
    pub not_stored: Vec<NotStored>,
}

/// One screening, and the next step of its visit at `at`.
pub fn read(
    conn: &mut PgConnection,
    site_id: Uuid,
    id: Uuid,
    at: DateTime<Utc>,
) -> Result<ScreeningRun, StoreError> {
    let screening = find(conn, site_id, id)?.ok_or_else(|| StoreError::not_found("screening"))?;
    let state = state_of(conn, &screening)?;
    let next_step = ladder::next_of(conn, site_id, screening.visit_id, at)?;
    Ok(ScreeningRun { screening, state, next_step, not_stored: Vec::new() })
}

/// Opens a screening, if the ladder, the station and its fill allow one.
pub fn create(tx: &mut Tx<'_>, new: &NewScreening) -> Result<ScreeningRun, StoreError> {
    let (site_id, at) = (tx.site_id(), new.happened_at);
    let person = ladder::lock(tx, new.visit_id, at)?;
    // A repeat is recognised first: by now the screening itself stands in the way of a new one.
    if let Some(stored) = find(tx.conn, site_id, new.id)? {
        if new.is(&stored) {
            return read(tx.conn, site_id, new.id, at);
        }
        return Err(id_reused());
    }
    let station = run::station(tx, new.station_id, &person, StationPart::Screening)?;
    let person = if new.afterwards { run::as_known_out_of_reach(tx, person, &station, at)? } else { person };
    may_start_screening(&person.facts, &person.rules, new.agent, at)?;
    person.may_run(&station, at)?;
    // A smoke tube has one strength; less of it is what screens.
    let solution = if new.agent == Agent::IrritantSmoke { Solution::Test } else { Solution::Screening };
    let reach = (at, !new.afterwards);
    let fill_id = run::usable_fill(tx, &station, &person, (new.agent, solution), reach)?;
    equipment::usable_hood(tx, new.hood_id, new.visit_id, reach)?;
    let setup = ScreeningSetup::new(&person.rules, new.agent, person.facts.last_intake_at);
    let screening = Screening {
        id: new.id,
        site_id,
        visit_id: person.visit.id,
        person_id: person.visit.person_id,
        station_id: station.id,
        agent: new.agent.as_str().to_owned(),
        fill_id,
        hood_id: new.hood_id,
        reported: new.afterwards.then(|| run::AFTERWARDS.to_owned()),
        rule_set_name: person.rules.name.clone(),
        rule_set_version: person.rules.version.clone(),
        setup: to_json(&setup)?,
        happened_at: at,
    };
    let recorded = (screenings::recorded_at.eq(tx.now), screenings::recorded_by.eq(tx.actor.id));
    insert_once(
        tx.conn,
        &screening,
        |conn, new| {
            let made = diesel::insert_into(screenings::table).values((new, recorded));
            Ok(made.on_conflict(screenings::id).do_nothing().execute(conn)?)
        },
        |conn| {
            let found = screenings::table.find(new.id).filter(screenings::site_id.eq(site_id));
            found.select(Screening::as_select()).first(conn).optional()
        },
    )?;
    tx.touched("screenings", new.id);
    read(tx.conn, site_id, new.id, at)
}

/// Adds events in their order, all or none, except that those after the end are only named; the one that ends the
/// screening also moves the visit on.
pub fn append_events(
    tx: &mut Tx<'_>,
    id: Uuid,
    events: &[ScreeningEvent],
) -> Result<ScreeningRun, StoreError> {
    let site_id = tx.site_id();
    let screening = screenings::table
        .find(id)
        .filter(screenings::site_id.eq(site_id))
        .select(Screening::as_select())
        .for_no_key_update()
        .first(tx.conn)
        .optional()?
        .ok_or_else(|| StoreError::not_found("screening"))?;
    let mut state = state_of(tx.conn, &screening)?;
    let (stored, ended_before) = (state.events().len(), state.verdict().is_some());
    run::after_opening(screening.happened_at, events)?;
    // A screening that runs may end, also after a stop of what it is made with: the stop holds what stands on it.
    let not_stored = run::take_batch(events, |event| {
        state.apply(event)?;
        Ok(state.ended_by())
    })?;
    insert_events(tx, id, state.events().get(stored..).unwrap_or_default())?;
    let last_at = state.events().last().map_or(screening.happened_at, |event| event.happened_at);
    let next_step = match state.verdict().filter(|_| !ended_before) {
        Some(verdict) => {
            insert_verdict(tx, &VerdictRow::of(id, &verdict))?;
            ladder::advance(tx, screening.visit_id, verdict.ended_at)?
        }
        None => ladder::next_of(tx.conn, site_id, screening.visit_id, last_at)?,
    };
    Ok(ScreeningRun { screening, state, next_step, not_stored })
}

fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<Option<Screening>, StoreError> {
    let found = screenings::table.find(id).filter(screenings::site_id.eq(site_id));
    Ok(found.select(Screening::as_select()).first(conn).optional()?)
}

fn state_of(conn: &mut PgConnection, screening: &Screening) -> Result<ScreeningState, StoreError> {
    let rows = screening_events::table
        .filter(screening_events::screening_id.eq(screening.id))
        .order(screening_events::seq)
        .select((screening_events::seq, screening_events::happened_at, screening_events::event))
        .load(conn)?;
    let events: Vec<_> = rows.into_iter().map(read_event).collect::<Result<_, _>>()?;
    replay(read_json::<ScreeningSetup>(screening.setup.clone())?, &events).map_err(|(index, refusal)| {
        let id = screening.id;
        StoreError::internal(format!("stored event {} of screening {id} is refused: {refusal}", index + 1))
    })
}

/// An event from its row: number, moment, and what happened as JSON.
pub(crate) fn read_event(row: (i32, DateTime<Utc>, Value)) -> Result<ScreeningEvent, StoreError> {
    let (seq, happened_at, kind) = row;
    let kind: ScreeningEventKind = read_json(kind)?;
    Ok(ScreeningEvent { seq: read_count(seq)?, happened_at, kind })
}

fn insert_events(tx: &mut Tx<'_>, id: Uuid, events: &[ScreeningEvent]) -> Result<(), StoreError> {
    let (Some(first), Some(last)) = (events.first(), events.last()) else { return Ok(()) };
    let rows = events.iter().map(|event| {
        Ok((
            screening_events::screening_id.eq(id),
            screening_events::seq.eq(count(event.seq)?),
            screening_events::event.eq(to_json(&event.kind)?),
            screening_events::happened_at.eq(event.happened_at),
            screening_events::recorded_at.eq(tx.now),
            screening_events::recorded_by.eq(tx.actor.id),
        ))
    });
    let rows = rows.collect::<Result<Vec<_>, StoreError>>()?;
    diesel::insert_into(screening_events::table).values(rows).execute(tx.conn)?;
    tx.touched_events("screening_events", id, count(first.seq)?, count(last.seq)?);
    Ok(())
}

/// A verdict as it is stored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Insertable, Queryable, Selectable)]
#[diesel(table_name = screening_verdicts, check_for_backend(diesel::pg::Pg))]
pub(crate) struct VerdictRow {
    #[serde(skip)]
    pub(crate) screening_id: Uuid,
    pub(crate) outcome: String,
    pub(crate) reason: String,
    pub(crate) level: Option<i32>,
    pub(crate) squeezes: i32,
    pub(crate) ended_at: DateTime<Utc>,
}

impl VerdictRow {
    pub(crate) fn of(screening_id: Uuid, verdict: &ScreeningVerdict) -> Self {
        Self {
            screening_id,
            outcome: verdict.outcome.as_str().to_owned(),
            reason: verdict.reason.as_str().to_owned(),
            level: verdict.level.map(|level| i32::from(level.squeezes())),
            squeezes: i32::from(verdict.squeezes),
            ended_at: verdict.ended_at,
        }
    }
}

fn insert_verdict(tx: &mut Tx<'_>, row: &VerdictRow) -> Result<(), StoreError> {
    diesel::insert_into(screening_verdicts::table)
        .values((row, screening_verdicts::recorded_at.eq(tx.now)))
        .execute(tx.conn)?;
    tx.touched("screening_verdicts", row.screening_id);
    Ok(())
}
