//! The gaps in what is known of a station's fillings.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::look_back::Gap;
use uuid::Uuid;

use crate::{StoreError, schema::fill_gaps, stored::word};

type Row = (Uuid, Option<String>, Option<String>, DateTime<Utc>, DateTime<Utc>);

/// The gaps by station: of these stations, or of all.
pub(super) fn by_station(
    conn: &mut PgConnection,
    site_id: Uuid,
    stations: Option<&[Uuid]>,
) -> Result<HashMap<Uuid, Vec<Gap>>, StoreError> {
    let mut query = fill_gaps::table
        .filter(fill_gaps::site_id.eq(site_id))
        .order(fill_gaps::id)
        .select((
            fill_gaps::station_id,
            fill_gaps::agent,
            fill_gaps::solution,
            fill_gaps::from_at,
            fill_gaps::until_at,
        ))
        .into_boxed();
    if let Some(stations) = stations {
        query = query.filter(fill_gaps::station_id.eq_any(stations));
    }
    let rows: Vec<Row> = query.load(conn)?;
    let mut found: HashMap<Uuid, Vec<Gap>> = HashMap::new();
    for (station, agent, solution, from, until) in rows {
        let agent = agent.as_deref().map(word).transpose()?;
        let solution = solution.as_deref().map(word).transpose()?;
        found.entry(station).or_default().push(Gap { agent, solution, from, until });
    }
    Ok(found)
}
