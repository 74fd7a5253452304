//! The fillings of the days that matter, with what their bottles were made from and what is recorded of rinses.

use std::collections::{HashMap, HashSet};

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::look_back::{FillRecord, Fillings, Rinse, Source};
use uuid::Uuid;

use crate::{
    StoreError,
    schema::{bottle_movements, bottles, equipment, equipment_checks, fill_emptyings, fills, stations},
};

/// All fillings of the days on which these were made, and of the days of what they were made on top of.
pub(super) fn around(conn: &mut PgConnection, site_id: Uuid, ids: &[Uuid]) -> Result<Fillings, StoreError> {
    let mut days: HashSet<Uuid> = HashSet::new();
    let mut wanted: Vec<Uuid> = ids.to_vec();
    let mut rows: Vec<Row> = Vec::new();
    // What was filled up on top of another day's filling is rare enough for a round of its own.
    loop {
        let new: Vec<Uuid> = fills::table
            .inner_join(stations::table)
            .filter(fills::site_id.eq(site_id))
            .filter(fills::id.eq_any(&wanted))
            .select(stations::day_id)
            .distinct()
            .load(conn)?;
        let new: Vec<Uuid> = new.into_iter().filter(|day| days.insert(*day)).collect();
        if new.is_empty() {
            break;
        }
        rows.extend(of_days(conn, site_id, &new)?);
        let known: HashSet<Uuid> = rows.iter().map(|row| row.id).collect();
        let below = rows.iter().filter_map(|row| row.topped_up_fill_id);
        wanted = below.filter(|id| !known.contains(id)).collect();
    }
    records(conn, site_id, rows)
}

#[derive(Queryable)]
struct Row {
    id: Uuid,
    day: Uuid,
    station: Uuid,
    nebulizer: String,
    source: (Uuid, Uuid),
    rinsed: bool,
    topped_up_fill_id: Option<Uuid>,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
    emptied: Option<(DateTime<Utc>, bool)>,
}

fn of_days(conn: &mut PgConnection, site_id: Uuid, days: &[Uuid]) -> Result<Vec<Row>, StoreError> {
    Ok(fills::table
        .inner_join(stations::table)
        .inner_join(bottles::table)
        .left_join(fill_emptyings::table)
        .filter(fills::site_id.eq(site_id))
        .filter(stations::day_id.eq_any(days))
        .select((
            fills::id,
            stations::day_id,
            fills::station_id,
            fills::nebulizer,
            (bottles::lot_id, bottles::id),
            fills::rinsed,
            fills::topped_up_fill_id,
            fills::happened_at,
            fills::recorded_at,
            (fill_emptyings::happened_at, fill_emptyings::rinsed).nullable(),
        ))
        .load(conn)?)
}

fn records(conn: &mut PgConnection, site_id: Uuid, rows: Vec<Row>) -> Result<Fillings, StoreError> {
    let made_from = made_from(conn, rows.iter().map(|row| row.source.0).collect())?;
    let labels: HashSet<&str> = rows.iter().map(|row| row.nebulizer.as_str()).collect();
    let labels: Vec<&str> = labels.into_iter().collect();
    let first = rows.iter().map(|row| row.happened_at).min();
    let rinses: Vec<(String, DateTime<Utc>)> = equipment_checks::table
        .inner_join(equipment::table.on(equipment::id.eq(equipment_checks::equipment_id)))
        .filter(equipment::site_id.eq(site_id))
        .filter(equipment::kind.eq("nebulizer"))
        .filter(equipment::label.eq_any(labels))
        .filter(equipment_checks::finding.eq("rinsed"))
        .filter(equipment_checks::happened_at.ge(first.unwrap_or_default()))
        .select((equipment::label, equipment_checks::happened_at))
        .load(conn)?;
    let rinses: Vec<Rinse> = rinses.into_iter().map(|(nebulizer, at)| Rinse { nebulizer, at }).collect();
    let record = |row: Row| {
        let (lot, bottle) = row.source;
        let mut sources = vec![Source { lot, bottle }];
        sources.extend(made_from.get(&lot).into_iter().flatten());
        FillRecord {
            id: row.id,
            day: row.day,
            station: row.station,
            nebulizer: row.nebulizer,
            sources,
            rinsed: row.rinsed,
            topped_up: row.topped_up_fill_id,
            happened_at: row.happened_at,
            recorded_at: row.recorded_at,
            rinsed_out_at: row.emptied.and_then(|(at, rinsed)| rinsed.then_some(at)),
        }
    };
    Ok(Fillings::new(rows.into_iter().map(record).collect(), &rinses))
}

/// The bottles that each of these lots was made from, and those that their lots were made from.
fn made_from(conn: &mut PgConnection, lots: HashSet<Uuid>) -> Result<HashMap<Uuid, Vec<Source>>, StoreError> {
    let mut direct: HashMap<Uuid, Vec<Source>> = HashMap::new();
    let mut asked: HashSet<Uuid> = HashSet::new();
    let mut open: Vec<Uuid> = lots.iter().copied().collect();
    while !open.is_empty() {
        asked.extend(&open);
        let found: Vec<(Option<Uuid>, Uuid, Uuid)> = bottle_movements::table
            .inner_join(bottles::table)
            .filter(bottle_movements::prepared_lot_id.eq_any(&open))
            .select((bottle_movements::prepared_lot_id, bottles::lot_id, bottles::id))
            .load(conn)?;
        open.clear();
        for (made, lot, bottle) in found {
            direct.entry(made.unwrap_or_default()).or_default().push(Source { lot, bottle });
            if !asked.contains(&lot) && !open.contains(&lot) {
                open.push(lot);
            }
        }
    }
    let all = |lot: &Uuid| {
        let mut sources: Vec<Source> = direct.get(lot).cloned().unwrap_or_default();
        let mut done = 0;
        while let Some(source) = sources.get(done).copied() {
            done += 1;
            for further in direct.get(&source.lot).into_iter().flatten() {
                if !sources.contains(further) {
                    sources.push(*further);
                }
            }
        }
        (*lot, sources)
    };
    Ok(if direct.is_empty() { HashMap::new() } else { lots.iter().map(all).collect() })
}
