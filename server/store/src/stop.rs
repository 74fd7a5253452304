//! Stops: what must not be used, and whose results are in doubt, until somebody releases it.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    clearance::StopFact,
    look_back::Span,
    refusal::{Code, Refusal},
};
use uuid::Uuid;

use crate::{
    Added, StoreError, Tx, insert_once,
    look_back::{self, Asked},
    lot, on_constraint,
    schema::{equipment, lot_marks, stop_releases, stops},
    user,
};

/// A stop of something else than a lot.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = stops, check_for_backend(diesel::pg::Pg))]
pub struct NewStop {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// Of a bottle.
    pub bottle_id: Option<Uuid>,
    /// Of a filling.
    pub fill_id: Option<Uuid>,
    /// Of a nebulizer or a hood.
    pub equipment_id: Option<Uuid>,
    /// Of the runs of somebody who tests.
    pub tester_id: Option<Uuid>,
    /// Of the runs at a station.
    pub station_id: Option<Uuid>,
    /// The first moment that is in doubt.
    pub from_at: Option<DateTime<Utc>>,
    /// The first moment after it.
    pub until_at: Option<DateTime<Utc>>,
    /// `possibly` where it also holds what may stand on it; none where only what surely does.
    pub reach: Option<String>,
    /// Why, in words.
    pub reason: String,
    /// When it was decided.
    pub happened_at: DateTime<Utc>,
}

impl NewStop {
    /// What it is a stop of: exactly one thing is named.
    pub fn asked(&self) -> Result<Asked, StoreError> {
        let span = Span { from: self.from_at, until: self.until_at };
        let named = [
            self.bottle_id.map(Asked::Bottle),
            self.fill_id.map(Asked::Fill),
            self.equipment_id.map(|id| Asked::Equipment(id, span)),
            self.tester_id.map(|id| Asked::Tester(id, span)),
            self.station_id.map(|id| Asked::Station(id, span)),
        ];
        named.into_iter().flatten().next().ok_or_else(|| StoreError::internal("a stop of nothing"))
    }
}

/// The release of a stop.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = stop_releases, check_for_backend(diesel::pg::Pg))]
pub struct NewStopRelease {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The stop.
    pub stop_id: Uuid,
    /// Why, in words.
    pub reason: String,
    /// When it was decided.
    pub happened_at: DateTime<Utc>,
}

/// A stop as stored, with its release.
#[derive(Debug, Clone)]
pub struct Stop {
    /// What was decided.
    pub stop: NewStop,
    /// When the server learned of it.
    pub recorded_at: DateTime<Utc>,
    /// Who decided, by the name that is shown; none where it was the program.
    pub by: Option<String>,
    /// Its release, if it was released, and who decided that.
    pub release: Option<(NewStopRelease, Option<String>)>,
}

/// What is stored of a stop and its release, with who recorded each.
type StopRow = (NewStop, DateTime<Utc>, Uuid, Option<NewStopRelease>, Option<Uuid>);

fn with_names(conn: &mut PgConnection, rows: Vec<StopRow>) -> Result<Vec<Stop>, StoreError> {
    let by: Vec<Uuid> =
        rows.iter().flat_map(|(_, _, by, _, released_by)| [Some(*by), *released_by]).flatten().collect();
    let names = user::names(conn, &by)?;
    let named = rows.into_iter().map(|(stop, recorded_at, by, release, released_by)| Stop {
        by: names.get(&by).cloned(),
        release: release.map(|release| (release, released_by.and_then(|by| names.get(&by).cloned()))),
        stop,
        recorded_at,
    });
    Ok(named.collect())
}

/// A stop of the site.
pub fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<Stop, StoreError> {
    let found: Vec<StopRow> = stops::table
        .left_join(stop_releases::table)
        .filter(stops::id.eq(id))
        .filter(stops::site_id.eq(site_id))
        .select((
            NewStop::as_select(),
            stops::recorded_at,
            stops::recorded_by,
            Option::<NewStopRelease>::as_select(),
            stop_releases::recorded_by.nullable(),
        ))
        .load(conn)?;
    let found = with_names(conn, found)?;
    found.into_iter().next().ok_or_else(|| StoreError::not_found("stop"))
}

/// Stops of the site by id, from the one after `after`.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Stop>, StoreError> {
    let found: Vec<StopRow> = stops::table
        .left_join(stop_releases::table)
        .filter(stops::site_id.eq(site_id))
        .filter(stops::id.gt(after))
        .order(stops::id)
        .limit(limit)
        .select((
            NewStop::as_select(),
            stops::recorded_at,
            stops::recorded_by,
            Option::<NewStopRelease>::as_select(),
            stop_releases::recorded_by.nullable(),
        ))
        .load(conn)?;
    with_names(conn, found)
}

/// Stops something, and with it whatever stands on it, in the same transaction.
pub fn create(tx: &mut Tx<'_>, new: &NewStop) -> Result<Stop, StoreError> {
    let (now, by) = (tx.now, tx.actor.id);
    let asked = new.asked()?;
    look_back::known(tx.conn, new.site_id, &asked)?;
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(stops::table)
                .values((new, stops::recorded_at.eq(now), stops::recorded_by.eq(by)))
                .on_conflict(stops::id)
                .do_nothing();
            Ok(made.execute(conn)?)
        },
        |conn| {
            let stored = stops::table.find(new.id).filter(stops::site_id.eq(new.site_id));
            stored.select(NewStop::as_select()).first(conn).optional()
        },
    )?;
    follow(tx, added, "stops", new.id, asked)?;
    find(tx.conn, new.site_id, new.id)
}

/// Releases a stop: what was held by it alone counts again.
pub fn release(tx: &mut Tx<'_>, new: &NewStopRelease) -> Result<Stop, StoreError> {
    let (now, by) = (tx.now, tx.actor.id);
    let asked = find(tx.conn, new.site_id, new.stop_id)?.stop.asked()?;
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(stop_releases::table)
                .values((new, stop_releases::recorded_at.eq(now), stop_releases::recorded_by.eq(by)))
                .on_conflict(stop_releases::id)
                .do_nothing();
            on_constraint(made.execute(conn), "stop_releases_released_already", || {
                Refusal::new(Code::StopReleased, "This stop was released before: nothing is left to do.")
            })
        },
        |conn| {
            let stored = stop_releases::table.find(new.id).filter(stop_releases::site_id.eq(new.site_id));
            stored.select(NewStopRelease::as_select()).first(conn).optional()
        },
    )?;
    follow(tx, added, "stop_releases", new.id, asked)?;
    find(tx.conn, new.site_id, new.stop_id)
}

fn follow(
    tx: &mut Tx<'_>,
    added: Added,
    table: &'static str,
    id: Uuid,
    asked: Asked,
) -> Result<(), StoreError> {
    if added.is_new() {
        tx.touched(table, id);
        look_back::after_stop(tx, asked)?;
    }
    Ok(())
}

/// Something that is about to be used.
#[derive(Debug, Clone, Copy)]
pub enum Used<'u> {
    /// A bottle.
    Bottle(Uuid),
    /// A filling.
    Fill(Uuid),
    /// A nebulizer or a hood.
    Equipment(Uuid),
    /// A nebulizer by its label, registered or not.
    Nebulizer(&'u str),
}

/// Whether it is stopped for that moment.
///
/// A nebulizer or hood is as well when the lot it came with is; of bottles that is a matter of the lot's own mark.
pub fn in_force(
    conn: &mut PgConnection,
    site_id: Uuid,
    used: Used<'_>,
    at: DateTime<Utc>,
) -> Result<bool, StoreError> {
    let (equipment_id, lot_id) = match used {
        Used::Bottle(_) | Used::Fill(_) => (None, None),
        Used::Equipment(id) => piece(conn, site_id, Some(id), None)?,
        Used::Nebulizer(label) => piece(conn, site_id, None, Some(label))?,
    };
    if let Some(lot_id) = lot_id
        && !lot::stopped(conn, site_id, &[lot_id])?.is_empty()
    {
        return Ok(true);
    }
    let mut query = stops::table
        .left_join(stop_releases::table)
        .filter(stops::site_id.eq(site_id))
        .filter(stop_releases::id.is_null())
        .filter(stops::from_at.is_null().or(stops::from_at.le(at)))
        .filter(stops::until_at.is_null().or(stops::until_at.gt(at)))
        .into_boxed();
    query = match (used, equipment_id) {
        (Used::Bottle(id), _) => query.filter(stops::bottle_id.eq(id)),
        (Used::Fill(id), _) => query.filter(stops::fill_id.eq(id)),
        (_, Some(id)) => query.filter(stops::equipment_id.eq(id)),
        (_, None) => return Ok(false),
    };
    let found: Option<Uuid> = query.select(stops::id).first(conn).optional()?;
    Ok(found.is_some())
}

/// The id of a nebulizer or hood, and the lot it came with.
fn piece(
    conn: &mut PgConnection,
    site_id: Uuid,
    id: Option<Uuid>,
    label: Option<&str>,
) -> Result<(Option<Uuid>, Option<Uuid>), StoreError> {
    let mut query = equipment::table.filter(equipment::site_id.eq(site_id)).into_boxed();
    if let Some(id) = id {
        query = query.filter(equipment::id.eq(id));
    }
    if let Some(label) = label {
        query = query.filter(equipment::kind.eq("nebulizer")).filter(equipment::label.eq(label));
    }
    let found = query.select((equipment::id, equipment::lot_id)).first::<(Uuid, Option<Uuid>)>(conn);
    Ok(found.optional()?.map_or((None, None), |(id, lot)| (Some(id), lot)))
}

/// Refuses what is stopped.
pub fn refuse_stopped(
    conn: &mut PgConnection,
    site_id: Uuid,
    used: Used<'_>,
    at: DateTime<Utc>,
) -> Result<(), StoreError> {
    if !in_force(conn, site_id, used, at)? {
        return Ok(());
    }
    let sentence = match used {
        Used::Bottle(_) => "This bottle is stopped: take another one.",
        Used::Fill(_) => "This fill is stopped: rinse the nebulizer and fill it again from another bottle.",
        Used::Equipment(_) => "This piece is stopped: take another one.",
        Used::Nebulizer(_) => "This nebulizer is stopped: take another one.",
    };
    Err(Refusal::new(Code::Stopped, sentence).into())
}

/// A stop with what it does to results.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Known {
    /// Of what.
    pub(crate) asked: Asked,
    /// Whether it also holds what may stand on it.
    pub(crate) possibly: bool,
    /// As clearances look at it.
    pub(crate) fact: StopFact,
}

/// Every stop that the site ever made, of lots and of everything else, released ones too: there are few.
pub(crate) fn of_site(conn: &mut PgConnection, site_id: Uuid) -> Result<Vec<Known>, StoreError> {
    let mut known = of_lots(conn, site_id)?;
    type Row = (NewStop, DateTime<Utc>, Option<DateTime<Utc>>);
    let rows: Vec<Row> = stops::table
        .left_join(stop_releases::table)
        .filter(stops::site_id.eq(site_id))
        .order(stops::id)
        .select((NewStop::as_select(), stops::recorded_at, stop_releases::recorded_at.nullable()))
        .load(conn)?;
    for (stop, recorded_at, released_recorded_at) in rows {
        let fact = StopFact { stop: stop.id, of_lot: false, recorded_at, released_recorded_at };
        known.push(Known { asked: stop.asked()?, possibly: stop.reach.is_some(), fact });
    }
    Ok(known)
}

/// Marks of one lot count in the order in which they were stored.
fn of_lots(conn: &mut PgConnection, site_id: Uuid) -> Result<Vec<Known>, StoreError> {
    type Row = (Uuid, Uuid, String, Option<String>, DateTime<Utc>);
    let marks: Vec<Row> = lot_marks::table
        .filter(lot_marks::site_id.eq(site_id))
        .order((lot_marks::recorded_at, lot_marks::id))
        .select((lot_marks::id, lot_marks::lot_id, lot_marks::mark, lot_marks::reach, lot_marks::recorded_at))
        .load(conn)?;
    let mut found: HashMap<Uuid, Vec<Known>> = HashMap::new();
    for (id, lot, mark, reach, recorded_at) in marks {
        let of_lot = found.entry(lot).or_default();
        if mark == lot::STOP {
            let fact = StopFact { stop: id, of_lot: true, recorded_at, released_recorded_at: None };
            of_lot.push(Known { asked: Asked::Lot(lot), possibly: reach.is_some(), fact });
        } else {
            for stop in of_lot.iter_mut().filter(|stop| stop.fact.released_recorded_at.is_none()) {
                stop.fact.released_recorded_at = Some(recorded_at);
            }
        }
    }
    Ok(found.into_values().flatten().collect())
}
