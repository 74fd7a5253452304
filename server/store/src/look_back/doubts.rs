//! Which stops put which attempts in doubt, for a handful of people at a time and never for a whole table.

use std::collections::{HashMap, HashSet};

use diesel::PgConnection;
use sellion_rules::{
    clearance::StopFact,
    look_back::{Certainty, Subject},
};
use uuid::Uuid;

use super::{
    Asked,
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
