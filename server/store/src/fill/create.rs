//! Filling a nebulizer: from a bottle that may be used and holds enough, onto nothing but what may be there.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use sellion_rules::{
    equipment::EquipmentKind,
    refusal::{Code, Refusal},
    stock::{BottlePlace, at_hand},
    supplies,
};
use uuid::Uuid;

use super::{Fill, Filled, find};
use crate::{
    StoreError, Tx,
    bottle::{self, Supply},
    day, equipment, insert_once, look_back, on_constraint, placement,
    schema::{bottles, fill_emptyings, fills, lots},
    site,
    station::{self, Station},
    stop::{self, Used},
};

/// The word for a fill that was made out of reach of the server.
const AFTERWARDS: &str = "afterwards";

/// A filling to be recorded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewFill {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// Where it was made.
    pub station_id: Uuid,
    /// The bottle it came from.
    pub bottle_id: Uuid,
    /// What is written on the nebulizer.
    pub nebulizer: String,
    /// How much, in microlitres.
    pub volume_ul: i64,
    /// Whether the nebulizer was rinsed before.
    pub rinsed: bool,
    /// Whether it was made on top of a rest, as it should not be: it then counts for both.
    pub topped_up: bool,
    /// Whether it was made out of reach of the server.
    pub afterwards: bool,
    /// When it was made.
    pub happened_at: DateTime<Utc>,
}

#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = fills, check_for_backend(diesel::pg::Pg))]
struct Row {
    id: Uuid,
    site_id: Uuid,
    station_id: Uuid,
    bottle_id: Uuid,
    nebulizer: String,
    volume_ul: i64,
    rinsed: bool,
    topped_up_fill_id: Option<Uuid>,
    reported: Option<String>,
    happened_at: DateTime<Utc>,
}

/// Records a filling. The bottle must be usable at that moment and hold enough, and the nebulizer be fit for it.
pub fn create(tx: &mut Tx<'_>, new: &NewFill) -> Result<Filled, StoreError> {
    // A label that is known is kept as it is written there, so that its fills are always found by it.
    let known = equipment::labelled(tx.conn, new.site_id, EquipmentKind::Nebulizer, &new.nebulizer)?;
    let nebulizer = known.map_or_else(|| new.nebulizer.clone(), |known| known.label);
    let new = &NewFill { nebulizer, ..new.clone() };
    let station = station::find(tx.conn, new.site_id, new.station_id)?;
    // Fillings of one station's day and entries of one bottle each come one after the other.
    let day = day::lock(tx, station.day_id)?;
    bottle::lock(tx, new.bottle_id)?;
    let supply = bottle::find(tx.conn, new.site_id, new.bottle_id)?;
    let stored = fills::table.find(new.id).select(Row::as_select()).first(tx.conn).optional()?;
    // Only a new fill is judged: a repeat has to find its row even when the lot was stopped since.
    let topped_up_fill_id = match &stored {
        Some(stored) => stored.topped_up_fill_id,
        None => judged(tx, new, &station, &day, &supply)?,
    };
    let row = Row {
        id: new.id,
        site_id: new.site_id,
        station_id: new.station_id,
        bottle_id: new.bottle_id,
        nebulizer: new.nebulizer.clone(),
        volume_ul: new.volume_ul,
        rinsed: new.rinsed,
        topped_up_fill_id,
        reported: new.afterwards.then(|| AFTERWARDS.to_owned()),
        happened_at: new.happened_at,
    };
    insert(tx, &row, &supply)?;
    if stored.is_none() {
        look_back::refilled(tx, new.id)?;
    }
    find(tx.conn, new.site_id, new.id)
}

fn insert(tx: &mut Tx<'_>, row: &Row, supply: &Supply) -> Result<(), StoreError> {
    let (now, by) = (tx.now, tx.actor.id);
    let added = insert_once(
        tx.conn,
        row,
        |conn, row| {
            let made = diesel::insert_into(fills::table)
                .values((row, fills::recorded_at.eq(now), fills::recorded_by.eq(by)))
                .on_conflict(fills::id)
                .do_nothing();
            on_constraint(made.execute(conn), "fills_bottle_holds_enough", || {
                let left = supply.on_hand_ul;
                let sentence = format!(
                    "By the books {} holds {left} microlitres: count what is in it, or take another bottle.",
                    supply.bottle.label
                );
                Refusal::new(Code::BottleEmpty, sentence).field("volume_ul").fact("on_hand_ul", left)
            })
        },
        |conn| {
            let stored = fills::table.find(row.id).filter(fills::site_id.eq(row.site_id));
            stored.select(Row::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("fills", row.id);
    }
    Ok(())
}

/// Whether the bottle and the nebulizer allow it, and which fill it tops up, if it does.
///
/// What was done out of reach of the server has happened: neither a stop that nobody there knew of nor a bottle that
/// the books have elsewhere takes it back. The stop holds what comes of it, and the difference is shown with the fill.
fn judged(
    tx: &mut Tx<'_>,
    new: &NewFill,
    station: &Station,
    day: &day::Day,
    supply: &Supply,
) -> Result<Option<Uuid>, StoreError> {
    let tz = site::zone(tx.conn, new.site_id)?;
    let rules = day::rules(tx.conn, day)?;
    let mut facts = supply.facts(&rules, tz)?;
    facts.stopped = facts.stopped && !new.afterwards;
    let agent = supply.lot.agent()?;
    supplies::plausible_fill(agent, new.volume_ul)?;
    supplies::bottle_usable(&facts, new.happened_at, tz)?;
    if !new.afterwards {
        stop::refuse_stopped(tx.conn, new.site_id, Used::Bottle(new.bottle_id), new.happened_at)?;
        is_at_hand(tx, new, station, supply)?;
    }
    if !agent.is_tasted() {
        return Ok(None);
    }
    equipment::registered_nebulizer(tx, &new.nebulizer)?;
    equipment::must_spray(tx.conn, new.site_id, &new.nebulizer, new.happened_at)?;
    if !new.afterwards {
        stop::refuse_stopped(tx.conn, new.site_id, Used::Nebulizer(&new.nebulizer), new.happened_at)?;
    }
    let Some(held) = held(tx, new)? else { return Ok(None) };
    onto(new, &held, supply)
}

/// Whether the books have the bottle at the station, or where any station's nebulizers are filled.
fn is_at_hand(tx: &mut Tx<'_>, new: &NewFill, station: &Station, supply: &Supply) -> Result<(), StoreError> {
    let placed = placement::place_at(tx.conn, new.site_id, new.bottle_id, new.happened_at)?;
    let place = placed.as_ref().map(|placed| BottlePlace {
        name: &placed.place.name,
        here: placed.place.id == station.id,
        filling_point: placed.place.is_filling_point(),
    });
    at_hand(&supply.bottle.label, place.as_ref()).map_err(|refusal| match &placed {
        Some(placed) => refusal.fact("place_id", placed.place.id.to_string()).into(),
        None => refusal.into(),
    })
}

/// What the nebulizer was filled with last.
struct Held {
    fill: Fill,
    agent: String,
    solution: String,
    emptying: Option<bool>,
}

fn held(tx: &mut Tx<'_>, new: &NewFill) -> Result<Option<Held>, StoreError> {
    let newest = fills::table
        .inner_join(bottles::table.inner_join(lots::table))
        .left_join(fill_emptyings::table)
        .filter(fills::site_id.eq(new.site_id))
        .filter(fills::nebulizer.eq(&new.nebulizer))
        .filter(fills::happened_at.le(new.happened_at))
        .order((fills::happened_at.desc(), fills::recorded_at.desc(), fills::id.desc()))
        .select((
            Fill::as_select(),
            lots::agent.assume_not_null(),
            lots::solution.assume_not_null(),
            fill_emptyings::rinsed.nullable(),
        ))
        .first::<(Fill, String, String, Option<bool>)>(tx.conn)
        .optional()?;
    Ok(newest.map(|(fill, agent, solution, emptying)| Held { fill, agent, solution, emptying }))
}

/// A nebulizer that is not rinsed keeps to one liquid, because a rest of the other would falsify the next dose; and
/// it is never topped up, because a rest grows older than its life. Where that happened all the same, it is told.
fn onto(new: &NewFill, held: &Held, supply: &Supply) -> Result<Option<Uuid>, StoreError> {
    if new.rinsed || held.emptying == Some(true) {
        return Ok(None);
    }
    let (agent, solution) = (supply.lot.agent()?, supply.lot.solution()?);
    if (held.agent.as_str(), held.solution.as_str()) != (agent.as_str(), solution.as_str()) {
        let other_agent = held.agent != agent.as_str();
        let code = if other_agent { Code::FillWrongAgent } else { Code::FillWrongSolution };
        let sentence = format!(
            "{} held another liquid: take the nebulizer for {} of {}, or rinse this one and say so.",
            new.nebulizer,
            solution.name(),
            agent.name()
        );
        return Err(Refusal::new(code, sentence).field("nebulizer").into());
    }
    match held.emptying {
        Some(_) => Ok(None),
        None if new.topped_up => Ok(Some(held.fill.id)),
        None => {
            let sentence = format!(
                "{} still holds what was filled in before: empty and rinse it, and say so.",
                new.nebulizer
            );
            let refusal = Refusal::new(Code::FillOnTop, sentence).field("rinsed");
            Err(refusal.fact("filled_at", held.fill.happened_at).into())
        }
    }
}
