//! Screenings and attempts as they are stored, and as the rules look at them.

use std::collections::{HashMap, HashSet};

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    look_back::{Content, Fillings, Gap, Run, Spray, Worn},
    method::Method,
    supplies::{Agent, Solution},
};
use uuid::Uuid;

use super::{fillings, gaps};
use crate::{
    StoreError,
    schema::{attempt_corrections, attempt_verdicts, attempts, screening_verdicts, screenings},
    stored::word,
};

/// Which kind of run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum RunKind {
    /// A screening.
    Screening,
    /// An attempt.
    Attempt,
}

/// One screening or attempt.
#[derive(Debug, Clone)]
pub(super) struct RunRow {
    pub(super) kind: RunKind,
    pub(super) id: Uuid,
    pub(super) person_id: Uuid,
    pub(super) station_id: Uuid,
    pub(super) tester_id: Uuid,
    pub(super) respirator_id: Option<Uuid>,
    pub(super) screening_id: Option<Uuid>,
    pub(super) fill_id: Option<Uuid>,
    pub(super) hood_id: Option<Uuid>,
    facepiece_lot_id: Option<Uuid>,
    pub(super) began_at: DateTime<Utc>,
    pub(super) ended_at: Option<DateTime<Utc>>,
    pub(super) outcome: Option<String>,
    pub(super) corrected: bool,
    liquid: Option<(Agent, Solution)>,
}

type Ended = Option<(String, DateTime<Utc>)>;
type ScreeningRow = (Uuid, Uuid, Uuid, Uuid, String, Uuid, Option<Uuid>, DateTime<Utc>, Ended);
type AttemptKeys = (Uuid, Uuid, Uuid, Uuid, Uuid, Option<Uuid>, Option<Uuid>, Option<Uuid>, Option<Uuid>);
type AttemptRow = (AttemptKeys, String, DateTime<Utc>, Ended, Option<DateTime<Utc>>);

/// Which runs are wanted.
pub(super) enum Wanted<'w> {
    /// Those at these stations.
    Stations(&'w [Uuid]),
    /// Those of these ids.
    Ids(&'w [Uuid]),
    /// Attempts that stand on these screenings.
    StandingOn(&'w [Uuid]),
    /// Passes of these people.
    PassesOf(&'w [Uuid]),
}

/// Screenings, by id.
pub(super) fn screenings(
    conn: &mut PgConnection,
    site_id: Uuid,
    wanted: &Wanted<'_>,
) -> Result<Vec<RunRow>, StoreError> {
    let mut query = screenings::table
        .left_join(screening_verdicts::table)
        .filter(screenings::site_id.eq(site_id))
        .order(screenings::id)
        .select((
            screenings::id,
            screenings::person_id,
            screenings::station_id,
            screenings::recorded_by,
            screenings::agent,
            screenings::fill_id,
            screenings::hood_id,
            screenings::happened_at,
            (screening_verdicts::outcome, screening_verdicts::ended_at).nullable(),
        ))
        .into_boxed();
    query = match wanted {
        Wanted::Stations(ids) => query.filter(screenings::station_id.eq_any(*ids)),
        Wanted::Ids(ids) => query.filter(screenings::id.eq_any(*ids)),
        Wanted::PassesOf(_) | Wanted::StandingOn(_) => return Ok(Vec::new()),
    };
    let rows: Vec<ScreeningRow> = query.load(conn)?;
    rows.into_iter().map(screening).collect()
}

fn screening(row: ScreeningRow) -> Result<RunRow, StoreError> {
    let (id, person_id, station_id, tester_id, agent, fill_id, hood_id, began_at, ended) = row;
    let agent: Agent = word(&agent)?;
    // A smoke tube has one strength; less of it is what screens.
    let solution = if agent == Agent::IrritantSmoke { Solution::Test } else { Solution::Screening };
    let (outcome, ended_at) = ended.unzip();
    Ok(RunRow {
        kind: RunKind::Screening,
        id,
        person_id,
        station_id,
        tester_id,
        respirator_id: None,
        screening_id: None,
        fill_id: Some(fill_id),
        hood_id,
        facepiece_lot_id: None,
        began_at,
        ended_at,
        outcome,
        corrected: false,
        liquid: Some((agent, solution)),
    })
}

/// Attempts, by id.
pub(super) fn attempts(
    conn: &mut PgConnection,
    site_id: Uuid,
    wanted: &Wanted<'_>,
) -> Result<Vec<RunRow>, StoreError> {
    let mut query = attempts::table
        .left_join(attempt_verdicts::table)
        .left_join(attempt_corrections::table)
        .filter(attempts::site_id.eq(site_id))
        .order(attempts::id)
        .select((
            (
                attempts::id,
                attempts::person_id,
                attempts::station_id,
                attempts::recorded_by,
                attempts::respirator_id,
                attempts::screening_id,
                attempts::fill_id,
                attempts::hood_id,
                attempts::facepiece_lot_id,
            ),
            attempts::method,
            attempts::happened_at,
            (attempt_verdicts::outcome, attempt_verdicts::ended_at).nullable(),
            attempt_corrections::recorded_at.nullable(),
        ))
        .into_boxed();
    query = match wanted {
        Wanted::Stations(ids) => query.filter(attempts::station_id.eq_any(*ids)),
        Wanted::Ids(ids) => query.filter(attempts::id.eq_any(*ids)),
        Wanted::StandingOn(ids) => query.filter(attempts::screening_id.eq_any(*ids)),
        Wanted::PassesOf(people) => {
            query.filter(attempts::person_id.eq_any(*people)).filter(attempt_verdicts::outcome.eq("pass"))
        }
    };
    let rows: Vec<AttemptRow> = query.load(conn)?;
    rows.into_iter().map(attempt).collect()
}

fn attempt(row: AttemptRow) -> Result<RunRow, StoreError> {
    let (keys, method, began_at, ended, corrected) = row;
    let (id, person_id, station_id, tester_id, respirator_id, screening_id, fill_id, hood_id, lot_id) = keys;
    let method: Method = word(&method)?;
    let (outcome, ended_at) = ended.unzip();
    Ok(RunRow {
        kind: RunKind::Attempt,
        id,
        person_id,
        station_id,
        tester_id,
        respirator_id: Some(respirator_id),
        screening_id,
        fill_id,
        hood_id,
        facepiece_lot_id: lot_id,
        began_at,
        ended_at,
        outcome,
        corrected: corrected.is_some(),
        liquid: method.agent().map(|agent| (agent, Solution::Test)),
    })
}

/// What bears on runs beside themselves.
pub(super) struct Around {
    fillings: Fillings,
    pub(super) gaps: HashMap<Uuid, Vec<Gap>>,
}

/// What bears on these runs: their fillings with what came into them, and the gaps of their stations.
pub(super) fn around(conn: &mut PgConnection, site_id: Uuid, rows: &[&RunRow]) -> Result<Around, StoreError> {
    let fills: HashSet<Uuid> = rows.iter().filter_map(|row| row.fill_id).collect();
    let stations: HashSet<Uuid> = rows.iter().map(|row| row.station_id).collect();
    let (fills, stations): (Vec<_>, Vec<_>) = (fills.into_iter().collect(), stations.into_iter().collect());
    Ok(Around {
        fillings: fillings::around(conn, site_id, &fills)?,
        gaps: gaps::by_station(conn, site_id, Some(&stations))?,
    })
}

impl Around {
    /// A run as the rules look at it.
    pub(super) fn run<'a>(&'a self, row: &RunRow) -> Run<'a> {
        let mut run = Run {
            tester: row.tester_id,
            station: row.station_id,
            began_at: row.began_at,
            ended_at: row.ended_at,
            hood: row.hood_id,
            spray: None,
            worn: row.respirator_id.map(|respirator| Worn { respirator, lot: row.facepiece_lot_id }),
        };
        let until = run.over_at();
        let contents = |fill: Uuid| -> Vec<Content<'a>> { self.fillings.contents(fill, until) };
        run.spray = row.liquid.map(|(agent, solution)| Spray {
            agent,
            solution,
            contents: row.fill_id.map(contents).unwrap_or_default(),
            gaps: self.gaps.get(&row.station_id).cloned().unwrap_or_default(),
        });
        run
    }
}
