//! Attempts: one run of one person on one respirator, told by its events.

mod correction;
mod create;
mod events;
mod facepiece;
mod first_dose;
mod list;
mod taking;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    attempt::{AttemptEvent, AttemptEventKind, AttemptSetup, State, replay},
    ladder::NextStep,
    method::Method,
    sequence::NotStored,
    supplies::Agent,
};
use serde_json::Value;
use uuid::Uuid;

use crate::{
    StoreError, ladder,
    schema::{attempt_corrections, attempt_events, attempt_verdicts, attempts},
    stored::{read_count, read_json, word},
};

pub use correction::{Correction, create_correction};
pub use create::{NewAttempt, NewBasis, create};
pub use events::append_events;
pub(crate) use events::{VerdictRow, spoil};
pub use facepiece::NamedFacepiece;
pub use list::{Filter, Listed, ListedVerdict, list};

/// An attempt as it was opened.
#[derive(Debug, Clone, PartialEq, Insertable, Queryable, Selectable)]
#[diesel(table_name = attempts, check_for_backend(diesel::pg::Pg))]
pub struct Attempt {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The visit it belongs to.
    pub visit_id: Uuid,
    /// Who is tested.
    pub person_id: Uuid,
    /// Where.
    pub station_id: Uuid,
    /// On which respirator.
    pub respirator_id: Uuid,
    /// The screening it stands on, where the method has one.
    pub screening_id: Option<Uuid>,
    /// The fill of test solution it uses, where the method has one.
    pub fill_id: Option<Uuid>,
    /// The hood, where it was named.
    pub hood_id: Option<Uuid>,
    /// The lot of the facepiece, where it was named.
    pub facepiece_lot_id: Option<Uuid>,
    /// `afterwards` where it was run out of reach of the server.
    pub reported: Option<String>,
    /// The method, as its word.
    pub method: String,
    /// The words for another filter that was fitted for the test.
    pub fitted_filter: Option<String>,
    /// The word for negative-pressure mode, where the respirator is tested without its own air.
    pub test_mode: Option<String>,
    /// What is written on the instrument, where one measures.
    pub instrument: Option<String>,
    /// The rule set of the day.
    pub rule_set_name: String,
    /// That rule set's version.
    pub rule_set_version: String,
    /// The [`AttemptSetup`] it started from: with the events, all that its verdict depends on.
    pub setup: Value,
    /// When it was opened.
    pub happened_at: DateTime<Utc>,
}

impl Attempt {
    /// Whether the respirator is tested without its own air.
    pub fn in_negative_pressure_mode(&self) -> bool {
        self.test_mode.is_some()
    }

    /// Whether its agent is tasted.
    pub(crate) fn tastes(&self) -> bool {
        self.method.parse().is_ok_and(|agent: Agent| agent.is_tasted())
    }

    /// The method.
    pub fn method(&self) -> Result<Method, StoreError> {
        word(&self.method)
    }

    /// What it started from.
    pub fn read_setup(&self) -> Result<AttemptSetup, StoreError> {
        read_json(self.setup.clone())
    }
}

/// An attempt as far as its events tell, and what comes after it.
#[derive(Debug, Clone)]
pub struct AttemptRun {
    /// As it was opened.
    pub attempt: Attempt,
    /// What its events say.
    pub state: State,
    /// The local day of the test, once there is a verdict.
    pub tested_on: Option<NaiveDate>,
    /// What took it out of every later judgement, if anything did.
    pub correction: Option<Correction>,
    /// The next step of the visit.
    pub next_step: NextStep,
    /// Events of the batch just sent that came after its end, and were not stored.
    pub not_stored: Vec<NotStored>,
    /// What a station out of reach did after a finding on its nebulizer had ended the attempt: kept, and not judged.
    pub late_events: Vec<AttemptEvent>,
}

/// One attempt, and the next step of its visit at `at`.
pub fn read(
    conn: &mut PgConnection,
    site_id: Uuid,
    id: Uuid,
    at: DateTime<Utc>,
) -> Result<AttemptRun, StoreError> {
    let attempt = find(conn, site_id, id)?.ok_or_else(|| StoreError::not_found("attempt"))?;
    let state = state_of(conn, &attempt)?;
    let tested_on =
        attempt_verdicts::table.find(id).select(attempt_verdicts::tested_on).first(conn).optional()?;
    let correction = attempt_corrections::table
        .filter(attempt_corrections::attempt_id.eq(id))
        .select(Correction::as_select())
        .first(conn)
        .optional()?;
    let next_step = ladder::next_of(conn, site_id, attempt.visit_id, at)?;
    let late_events = taking::late_events(conn, id)?;
    let not_stored = Vec::new();
    Ok(AttemptRun { attempt, state, tested_on, correction, next_step, not_stored, late_events })
}

fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<Option<Attempt>, StoreError> {
    let found = attempts::table.find(id).filter(attempts::site_id.eq(site_id));
    Ok(found.select(Attempt::as_select()).first(conn).optional()?)
}

fn state_of(conn: &mut PgConnection, attempt: &Attempt) -> Result<State, StoreError> {
    let rows = attempt_events::table
        .filter(attempt_events::attempt_id.eq(attempt.id))
        .order(attempt_events::seq)
        .select((attempt_events::seq, attempt_events::happened_at, attempt_events::event))
        .load(conn)?;
    let events: Vec<_> = rows.into_iter().map(read_event).collect::<Result<_, _>>()?;
    replay(attempt.read_setup()?, &events).map_err(|(index, refusal)| {
        let id = attempt.id;
        StoreError::internal(format!("stored event {} of attempt {id} is refused: {refusal}", index + 1))
    })
}

/// An event from its row: number, moment, and what happened as JSON.
pub(crate) fn read_event(row: (i32, DateTime<Utc>, Value)) -> Result<AttemptEvent, StoreError> {
    let (seq, happened_at, kind) = row;
    let kind: AttemptEventKind = read_json(kind)?;
    Ok(AttemptEvent { seq: read_count(seq)?, happened_at, kind })
}
