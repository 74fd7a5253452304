//! Which stops put which attempts in doubt, for a handful of people at a time and never for a whole table.

use std::collections::{HashMap, HashSet};

use chrono::{DateTime, Utc};
use diesel::PgConnection;
use sellion_rules::{
    clearance::StopFact,
    look_back::{Certainty, Subject, judge},
};
use uuid::Uuid;

use super::{
    Asked, RunKind,
    found::verdict,
    rows::{self, RunRow, Wanted},
    subjects::{self, Detail},
};
use crate::{
    StoreError,
    stop::{self, Known},
};

/// The stops of everything that these people's passes stand on, by attempt. Released ones are among them.
pub(crate) fn doubts(
    conn: &mut PgConnection,
    site_id: Uuid,
    people: &[Uuid],
) -> Result<HashMap<Uuid, Vec<StopFact>>, StoreError> {
    let stops = stop::of_site(conn, site_id)?;
    if stops.is_empty() {
        return Ok(HashMap::new());
    }
    let passes = rows::attempts(conn, site_id, &Wanted::PassesOf(people))?;
    if passes.is_empty() {
        return Ok(HashMap::new());
    }
    let screenings: HashSet<Uuid> = passes.iter().filter_map(|row| row.screening_id).collect();
    let screenings: Vec<Uuid> = screenings.into_iter().collect();
    let screenings = rows::screenings(conn, site_id, &Wanted::Ids(&screenings))?;
    let all: Vec<&RunRow> = passes.iter().chain(&screenings).collect();
    let around = rows::around(conn, site_id, &all)?;
    let detail = if around.gaps.is_empty() { Detail::Names } else { Detail::Whereabouts };
    let asked: Vec<Asked> = stops.iter().map(|stop| stop.asked).collect();
    let stations: HashSet<Uuid> = all.iter().map(|row| row.station_id).collect();
    let stations: Vec<Uuid> = stations.into_iter().collect();
    let subjects = subjects::load(conn, site_id, &asked, detail, Some(&stations))?;
    let screenings: HashMap<Uuid, &RunRow> = screenings.iter().map(|row| (row.id, row)).collect();
    let mut found: HashMap<Uuid, Vec<StopFact>> = HashMap::new();
    for row in &passes {
        let holds =
            |(stop, subjects): &(&Known, &Vec<Subject>)| match verdict(subjects, &around, row, &screenings)
                .certainty
            {
                Certainty::Surely => true,
                Certainty::Possibly => stop.possibly,
                Certainty::NotAffected => false,
            };
        let holding = stops.iter().zip(&subjects).filter(holds).map(|(stop, _)| stop.fact);
        found.insert(row.id, holding.collect());
    }
    Ok(found)
}

/// A stop that a running screening or attempt must not go on under.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Halt {
    /// Whether it is one of a lot.
    pub(crate) of_lot: bool,
    /// When it was stored: before that nobody can have known.
    pub(crate) from: DateTime<Utc>,
}

/// The stops in force of what a run is made with.
pub(crate) fn halts(
    conn: &mut PgConnection,
    site_id: Uuid,
    kind: RunKind,
    id: Uuid,
) -> Result<Vec<Halt>, StoreError> {
    let of_things = |stop: &Known| {
        let thing = !matches!(stop.asked, Asked::Tester(..) | Asked::Station(..));
        thing && stop.fact.released_recorded_at.is_none()
    };
    let stops: Vec<Known> = stop::of_site(conn, site_id)?.into_iter().filter(of_things).collect();
    if stops.is_empty() {
        return Ok(Vec::new());
    }
    let wanted = [id];
    let rows = match kind {
        RunKind::Screening => rows::screenings(conn, site_id, &Wanted::Ids(&wanted))?,
        RunKind::Attempt => rows::attempts(conn, site_id, &Wanted::Ids(&wanted))?,
    };
    let Some(row) = rows.first() else { return Ok(Vec::new()) };
    let around = rows::around(conn, site_id, &[row])?;
    let asked: Vec<Asked> = stops.iter().map(|stop| stop.asked).collect();
    let subjects = subjects::load(conn, site_id, &asked, Detail::Names, Some(&[row.station_id]))?;
    let run = around.run(row);
    let surely = stops
        .iter()
        .zip(&subjects)
        .filter(|(_, subjects)| judge(subjects, &run).certainty == Certainty::Surely);
    Ok(surely.map(|(stop, _)| Halt { of_lot: stop.fact.of_lot, from: stop.fact.recorded_at }).collect())
}
