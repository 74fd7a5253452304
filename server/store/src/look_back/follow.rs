//! Clearances follow: whatever bears on a look-back has them computed anew in its own transaction.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::look_back::Certainty;
use uuid::Uuid;

use super::{Asked, fillings, look_back};
use crate::{
    StoreError, Tx, clearance,
    schema::{attempts, equipment, fill_gaps, fills, lot_marks, screenings, stops},
};

/// After a stop or its release.
pub(crate) fn after_stop(tx: &mut Tx<'_>, asked: Asked) -> Result<(), StoreError> {
    let site_id = tx.site_id();
    let found = look_back(tx.conn, site_id, asked)?;
    let affected = found.people.iter().filter(|person| person.certainty > Certainty::NotAffected);
    let people: Vec<Uuid> = affected.map(|person| person.person_id).collect();
    clearance::recompute_people(tx, &people)
}

/// After a gap in the record of a station.
pub(crate) fn after_gap(tx: &mut Tx<'_>, station_id: Uuid) -> Result<(), StoreError> {
    if !any_stop(tx)? {
        return Ok(());
    }
    let people = people_at(tx.conn, tx.actor.site_id, &[station_id])?;
    clearance::recompute_people(tx, &people)
}

/// After a filling was recorded. One that comes in late stands below others and may bring something into them, or its
/// rinse may take something out of them; and it shows that its bottle was at the station.
pub fn refilled(tx: &mut Tx<'_>, fill_id: Uuid) -> Result<(), StoreError> {
    if !any_stop(tx)? {
        return Ok(());
    }
    let site_id = tx.site_id();
    let (nebulizer, station, at): (String, Uuid, DateTime<Utc>) = fills::table
        .find(fill_id)
        .select((fills::nebulizer, fills::station_id, fills::happened_at))
        .first(tx.conn)?;
    let mut made = fillings::near(tx.conn, site_id, &[&nebulizer], at)?;
    made.push(fill_id);
    let mut people = people_on(tx.conn, site_id, &made)?;
    let gap: Option<Uuid> = fill_gaps::table
        .filter(fill_gaps::station_id.eq(station))
        .select(fill_gaps::id)
        .first(tx.conn)
        .optional()?;
    if gap.is_some() {
        people.extend(people_at(tx.conn, site_id, &[station])?);
    }
    clearance::recompute_people(tx, &people)
}

/// After a nebulizer was emptied or rinsed at some moment.
pub fn rinsed(tx: &mut Tx<'_>, nebulizer: &str, at: DateTime<Utc>) -> Result<(), StoreError> {
    if !any_stop(tx)? {
        return Ok(());
    }
    let site_id = tx.site_id();
    let made = fillings::near(tx.conn, site_id, &[nebulizer], at)?;
    let people = people_on(tx.conn, site_id, &made)?;
    clearance::recompute_people(tx, &people)
}

/// After liquid of one of these nebulizers was poured into the other at some moment.
pub(crate) fn mixed_up(tx: &mut Tx<'_>, ids: &[Uuid], at: DateTime<Utc>) -> Result<(), StoreError> {
    if !any_stop(tx)? {
        return Ok(());
    }
    let site_id = tx.site_id();
    let labels: Vec<String> =
        equipment::table.filter(equipment::id.eq_any(ids)).select(equipment::label).load(tx.conn)?;
    let labels: Vec<&str> = labels.iter().map(String::as_str).collect();
    let made = fillings::near(tx.conn, site_id, &labels, at)?;
    let people = people_on(tx.conn, site_id, &made)?;
    clearance::recompute_people(tx, &people)
}

/// After a bottle, a nebulizer or a hood was put into one of these places at some moment, or taken from it.
pub fn placed(tx: &mut Tx<'_>, places: &[Uuid], at: DateTime<Utc>) -> Result<(), StoreError> {
    if !any_stop(tx)? {
        return Ok(());
    }
    let site_id = tx.site_id();
    let mut stations: Vec<Uuid> = fill_gaps::table
        .filter(fill_gaps::site_id.eq(site_id))
        .filter(fill_gaps::until_at.gt(at))
        .select(fill_gaps::station_id)
        .distinct()
        .load(tx.conn)?;
    stations.extend(places);
    let people = people_at(tx.conn, site_id, &stations)?;
    clearance::recompute_people(tx, &people)
}

/// Without a stop nothing is in doubt, and nothing follows.
fn any_stop(tx: &mut Tx<'_>) -> Result<bool, StoreError> {
    let site_id = tx.site_id();
    let lot = lot_marks::table.filter(lot_marks::site_id.eq(site_id)).select(lot_marks::id);
    if lot.first::<Uuid>(tx.conn).optional()?.is_some() {
        return Ok(true);
    }
    let other = stops::table.filter(stops::site_id.eq(site_id)).select(stops::id);
    Ok(other.first::<Uuid>(tx.conn).optional()?.is_some())
}

/// Everybody with a run at these stations, or an attempt that stands on a screening there.
fn people_at(conn: &mut PgConnection, site_id: Uuid, stations: &[Uuid]) -> Result<Vec<Uuid>, StoreError> {
    let screened = screenings::table
        .filter(screenings::site_id.eq(site_id))
        .filter(screenings::station_id.eq_any(stations));
    let mut people: Vec<Uuid> = screened.select(screenings::person_id).distinct().load(conn)?;
    let tested =
        attempts::table.filter(attempts::site_id.eq(site_id)).filter(attempts::station_id.eq_any(stations));
    people.extend(tested.select(attempts::person_id).distinct().load::<Uuid>(conn)?);
    Ok(people)
}

/// Everybody with a run made with these fillings, or with what may have something of them.
fn people_on(conn: &mut PgConnection, site_id: Uuid, made: &[Uuid]) -> Result<Vec<Uuid>, StoreError> {
    if made.is_empty() {
        return Ok(Vec::new());
    }
    let fills = fillings::onward(conn, site_id, made)?;
    let screened = screenings::table.filter(screenings::fill_id.eq_any(&fills));
    let mut people: Vec<Uuid> = screened.select(screenings::person_id).distinct().load(conn)?;
    let tested = attempts::table.filter(attempts::fill_id.eq_any(&fills));
    people.extend(tested.select(attempts::person_id).distinct().load::<Uuid>(conn)?);
    Ok(people)
}
