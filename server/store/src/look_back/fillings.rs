//! Fillings with what may have been in the nebulizer with them: what they were made on top of, what was in it before and
//! not rinsed out, and what was poured in by mistake. A nebulizer keeps its label, so this goes on over days.

use std::collections::{HashMap, HashSet};

use chrono::{DateTime, Utc};
use diesel::{
    PgConnection, QueryableByName,
    prelude::*,
    sql_types::{Array, Text, Timestamptz, Uuid as SqlUuid},
};
use sellion_rules::look_back::{FillRecord, Fillings, MixUp, Rinse, Source};
use uuid::Uuid;

use crate::{
    StoreError,
    schema::{bottle_movements, bottles, equipment, equipment_checks, fill_emptyings, fills},
};

/// These fillings and every one that may have left or brought something in their nebulizers.
pub(super) fn around(conn: &mut PgConnection, site_id: Uuid, ids: &[Uuid]) -> Result<Fillings, StoreError> {
    let mix_ups = mix_ups(conn, site_id)?;
    let mut rows: HashMap<Uuid, Row> = HashMap::new();
    let mut wanted: Vec<Uuid> = ids.to_vec();
    while !wanted.is_empty() {
        let mut new = of_ids(conn, site_id, &wanted)?;
        // Most fillings are made in a rinsed nebulizer, and nothing lies below them.
        let open: Vec<Uuid> = new.iter().filter(|row| row.lies_on_something()).map(|row| row.id).collect();
        if !open.is_empty() {
            let below = below(conn, site_id, &open)?;
            new.extend(of_ids(conn, site_id, &below)?);
        }
        rows.extend(new.into_iter().map(|row| (row.id, row)));
        wanted = mixed_with(conn, site_id, &mix_ups, &rows)?;
    }
    records(conn, site_id, rows.into_values().collect(), &mix_ups)
}

/// These fillings and every one that may hold something of them: filled up on top of them, made in the same nebulizer
/// without a rinse, or mixed up with it.
pub(super) fn onward(conn: &mut PgConnection, site_id: Uuid, ids: &[Uuid]) -> Result<Vec<Uuid>, StoreError> {
    #[derive(QueryableByName)]
    struct Found {
        #[diesel(sql_type = SqlUuid)]
        id: Uuid,
    }
    let found: Vec<Found> = diesel::sql_query(
        "with recursive reached (id) as (
           select unnest($2)
           union
           select n.id from reached r join fills f on f.id = r.id cross join lateral (
             select t.id from fills t where t.topped_up_fill_id = f.id
             union all
             select l.id from (
               select l.id, l.rinsed from fills l
                where l.site_id = $1 and l.nebulizer = f.nebulizer
                  and (l.happened_at, l.recorded_at, l.id) > (f.happened_at, f.recorded_at, f.id)
                order by l.happened_at, l.recorded_at, l.id limit 1) l
              where not l.rinsed
             union all
             select o.id from equipment_checks c
               join equipment y on y.id in (c.equipment_id, c.other_equipment_id) and y.label = f.nebulizer
               join equipment x on x.id in (c.equipment_id, c.other_equipment_id) and x.id <> y.id
               cross join lateral (
                 -- What the other held then, and what was filled into it after that.
                 (select o.id from fills o
                   where o.site_id = $1 and o.nebulizer = x.label and o.happened_at <= c.happened_at
                   order by o.happened_at desc, o.recorded_at desc, o.id desc limit 1)
                 union all
                 (select o.id from fills o
                   where o.site_id = $1 and o.nebulizer = x.label and o.happened_at > c.happened_at
                   order by o.happened_at, o.recorded_at, o.id limit 1)) o
              where c.site_id = $1 and c.finding = 'mixed_up' and c.happened_at >= f.happened_at
                and not exists (
                  select from fills l where l.site_id = $1 and l.nebulizer = f.nebulizer
                     and l.happened_at <= c.happened_at
                     and (l.happened_at, l.recorded_at, l.id) > (f.happened_at, f.recorded_at, f.id))
           ) n
         )
         select id from reached",
    )
    .bind::<SqlUuid, _>(site_id)
    .bind::<Array<SqlUuid>, _>(ids)
    .load(conn)?;
    Ok(found.into_iter().map(|found| found.id).collect())
}

/// What each of these nebulizers was filled with last by that moment, and what after it.
pub(super) fn near(
    conn: &mut PgConnection,
    site_id: Uuid,
    nebulizers: &[&str],
    at: DateTime<Utc>,
) -> Result<Vec<Uuid>, StoreError> {
    let mut found = Vec::new();
    for nebulizer in nebulizers {
        let of_it = fills::table.filter(fills::site_id.eq(site_id)).filter(fills::nebulizer.eq(nebulizer));
        let newest = (fills::happened_at.desc(), fills::recorded_at.desc(), fills::id.desc());
        let before = of_it.filter(fills::happened_at.le(at)).order(newest).select(fills::id);
        found.extend(before.first::<Uuid>(conn).optional()?);
        let next = (fills::happened_at, fills::recorded_at, fills::id);
        let after = of_it.filter(fills::happened_at.gt(at)).order(next).select(fills::id);
        found.extend(after.first::<Uuid>(conn).optional()?);
    }
    Ok(found)
}

/// The fillings below these: filled up on, or in the nebulizer before without a rinse.
fn below(conn: &mut PgConnection, site_id: Uuid, ids: &[Uuid]) -> Result<Vec<Uuid>, StoreError> {
    #[derive(QueryableByName)]
    struct Found {
        #[diesel(sql_type = SqlUuid)]
        id: Uuid,
    }
    let found: Vec<Found> = diesel::sql_query(
        "with recursive reached (id) as (
           select unnest($2)
           union
           select b.id from reached r join fills f on f.id = r.id cross join lateral (
             select f.topped_up_fill_id as id where f.topped_up_fill_id is not null
             union all
             select e.id from (
               select e.id from fills e
                where e.site_id = $1 and e.nebulizer = f.nebulizer
                  and (e.happened_at, e.recorded_at, e.id) < (f.happened_at, f.recorded_at, f.id)
                order by e.happened_at desc, e.recorded_at desc, e.id desc limit 1) e
              where not f.rinsed
           ) b
         )
         select id from reached",
    )
    .bind::<SqlUuid, _>(site_id)
    .bind::<Array<SqlUuid>, _>(ids)
    .load(conn)?;
    Ok(found.into_iter().map(|found| found.id).collect())
}

#[derive(Queryable)]
struct Row {
    id: Uuid,
    station: Uuid,
    nebulizer: String,
    source: (Uuid, Uuid),
    rinsed: bool,
    topped_up_fill_id: Option<Uuid>,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
    emptied: Option<(DateTime<Utc>, bool)>,
}

impl Row {
    fn lies_on_something(&self) -> bool {
        !self.rinsed || self.topped_up_fill_id.is_some()
    }
}

fn of_ids(conn: &mut PgConnection, site_id: Uuid, ids: &[Uuid]) -> Result<Vec<Row>, StoreError> {
    Ok(fills::table
        .inner_join(bottles::table)
        .left_join(fill_emptyings::table)
        .filter(fills::site_id.eq(site_id))
        .filter(fills::id.eq_any(ids))
        .select((
            fills::id,
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

/// Every mix-up of the site in which it is known what was poured in: there are few.
fn mix_ups(conn: &mut PgConnection, site_id: Uuid) -> Result<Vec<MixUp>, StoreError> {
    #[derive(QueryableByName)]
    struct Found {
        #[diesel(sql_type = Text)]
        into: String,
        #[diesel(sql_type = Text)]
        from: String,
        #[diesel(sql_type = Timestamptz)]
        at: DateTime<Utc>,
    }
    let found: Vec<Found> = diesel::sql_query(
        "select x.label as into, y.label as from, c.happened_at as at from equipment_checks c
           join equipment x on x.id = c.equipment_id join equipment y on y.id = c.other_equipment_id
          where c.site_id = $1 and c.finding = 'mixed_up' order by c.happened_at, c.recorded_at, c.id",
    )
    .bind::<SqlUuid, _>(site_id)
    .load(conn)?;
    Ok(found.into_iter().map(|Found { into, from, at }| MixUp { into, from, at }).collect())
}

/// What either nebulizer of a mix-up held then, where it may have come into one of these, and is not among them yet.
fn mixed_with(
    conn: &mut PgConnection,
    site_id: Uuid,
    mix_ups: &[MixUp],
    rows: &HashMap<Uuid, Row>,
) -> Result<Vec<Uuid>, StoreError> {
    if mix_ups.is_empty() {
        return Ok(Vec::new());
    }
    let labels: HashSet<&str> = rows.values().map(|row| row.nebulizer.as_str()).collect();
    let mut found = Vec::new();
    for mix_up in mix_ups {
        let both = [mix_up.into.as_str(), mix_up.from.as_str()];
        if both.iter().any(|label| labels.contains(label)) {
            found.extend(near(conn, site_id, &both, mix_up.at)?);
        }
    }
    found.retain(|id| !rows.contains_key(id));
    Ok(found)
}

fn records(
    conn: &mut PgConnection,
    site_id: Uuid,
    rows: Vec<Row>,
    mix_ups: &[MixUp],
) -> Result<Fillings, StoreError> {
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
    Ok(Fillings::new(rows.into_iter().map(record).collect(), &rinses, mix_ups))
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
