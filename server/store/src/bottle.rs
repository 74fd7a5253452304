//! Bottles: single containers of a lot, and when each was opened.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    dates::local_date,
    refusal::{Code, Refusal},
    ruleset::RuleSet,
    stock::PlaceMovement,
    supplies::{BottleFacts, plausible_bottle},
};
use uuid::Uuid;

use crate::{
    StoreError, Tx, balance, insert_once,
    lot::{self, Lot},
    on_constraint, place,
    placement::{self, Placed, Thing},
    schema::{bottle_openings, bottles, lots},
    search,
};

/// One container.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = bottles, check_for_backend(diesel::pg::Pg))]
pub struct Bottle {
    /// Its id.
    pub id: Uuid,
    /// Its lot.
    pub lot_id: Uuid,
    /// What is written on it.
    pub label: String,
    /// What it held when it came, in microlitres.
    pub volume_ul: i64,
    /// When it came.
    pub happened_at: DateTime<Utc>,
    /// When the server learned of it.
    pub recorded_at: DateTime<Utc>,
}

/// A bottle with everything that decides until when it may be used.
#[derive(Debug, Clone)]
pub struct Supply {
    /// The bottle.
    pub bottle: Bottle,
    /// Its lot.
    pub lot: Lot,
    /// When it was opened.
    pub opened_at: Option<DateTime<Utc>>,
    /// Whether its lot is stopped now.
    pub stopped: bool,
    /// What is in it now by the books, in microlitres; below zero where more was recorded as taken than was there.
    pub on_hand_ul: i64,
    /// Where it is, where anybody has said so.
    pub placed: Option<Placed>,
}

impl Supply {
    /// Whether its lot was stopped by what was recorded until `at`.
    pub(crate) fn stopped_by(&self, conn: &mut PgConnection, at: DateTime<Utc>) -> Result<bool, StoreError> {
        // Without a stop now there may have been one that was released since: it is over.
        Ok(self.stopped && !lot::stopped_by(conn, self.lot.site_id, &[self.lot.id], at)?.is_empty())
    }

    /// The facts as the rules ask for them. A lot's own opened life goes before that of the rule set.
    pub fn facts(&self, rules: &RuleSet, tz: Tz) -> Result<BottleFacts, StoreError> {
        let of_lot = self.lot.opened_life_days.and_then(|days| u32::try_from(days).ok());
        Ok(BottleFacts {
            printed_expiry: self.lot.printed_expiry()?,
            opened_on: self.opened_at.map(|at| local_date(at, tz)),
            opened_life_days: of_lot.or(rules.supplies.opened_life_days),
            stopped: self.stopped,
        })
    }
}

/// A bottle to be added.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = bottles, check_for_backend(diesel::pg::Pg))]
pub struct NewBottle {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// Its lot.
    pub lot_id: Uuid,
    /// What is written on it.
    pub label: String,
    /// What it holds, in microlitres.
    pub volume_ul: i64,
    /// When it came.
    pub happened_at: DateTime<Utc>,
}

/// The opening of a bottle.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = bottle_openings, check_for_backend(diesel::pg::Pg))]
pub struct NewOpening {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The bottle.
    pub bottle_id: Uuid,
    /// When it was opened.
    pub happened_at: DateTime<Utc>,
}

type Row = (Bottle, Lot, Option<DateTime<Utc>>);

/// A bottle of the site with its lot and opening.
pub fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<Supply, StoreError> {
    let found = of_ids(conn, site_id, &[id])?;
    found.into_iter().next().ok_or_else(|| StoreError::not_found("bottle"))
}

/// Some bottles of the site with their lots and openings, by id.
pub(crate) fn of_ids(
    conn: &mut PgConnection,
    site_id: Uuid,
    ids: &[Uuid],
) -> Result<Vec<Supply>, StoreError> {
    let rows: Vec<Row> = bottles::table
        .inner_join(lots::table)
        .left_join(bottle_openings::table)
        .filter(bottles::site_id.eq(site_id))
        .filter(bottles::id.eq_any(ids))
        .order(bottles::id)
        .select((Bottle::as_select(), Lot::as_select(), bottle_openings::happened_at.nullable()))
        .load(conn)?;
    let lot_ids: Vec<Uuid> = rows.iter().map(|(_, lot, _)| lot.id).collect();
    let stopped = lot::stopped(conn, site_id, &lot_ids)?;
    let held = balance::of_bottles(conn, ids)?;
    let mut where_now = placement::places_of(conn, site_id, ids)?;
    let supply = |(bottle, lot, opened_at): Row| {
        let stopped = stopped.contains(&lot.id);
        let on_hand_ul = held.get(&bottle.id).copied().unwrap_or_default();
        let placed = where_now.remove(&bottle.id);
        Supply { bottle, lot, opened_at, stopped, on_hand_ul, placed }
    };
    Ok(rows.into_iter().map(supply).collect())
}

/// Holds a bottle, so that what is taken from it and where it goes is decided by one caller after another.
pub(crate) fn lock(tx: &mut Tx<'_>, id: Uuid) -> Result<(), StoreError> {
    let found = bottles::table.find(id).filter(bottles::site_id.eq(tx.site_id()));
    let held: Option<Uuid> = found.select(bottles::id).for_no_key_update().first(tx.conn).optional()?;
    held.map(drop).ok_or_else(|| StoreError::not_found("bottle"))
}

/// The bottle of this label.
pub fn labelled(conn: &mut PgConnection, site_id: Uuid, label: &str) -> Result<Option<Supply>, StoreError> {
    let found = bottles::table.filter(bottles::site_id.eq(site_id)).filter(bottles::label.eq(label));
    let ids: Vec<Uuid> = found.select(bottles::id).load(conn)?;
    Ok(of_ids(conn, site_id, &ids)?.into_iter().next())
}

/// The bottles that are at a place now.
pub fn at_place(conn: &mut PgConnection, site_id: Uuid, place_id: Uuid) -> Result<Vec<Supply>, StoreError> {
    let ids = placement::bottles_at(conn, site_id, place_id)?;
    of_ids(conn, site_id, &ids)
}

/// Bottles of the site, by id: of one lot, or with this text on their label or in the number of their lot.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    (lot_id, text): (Option<Uuid>, Option<&str>),
    (after, limit): (Uuid, i64),
) -> Result<Vec<Supply>, StoreError> {
    let mut page = bottles::table
        .inner_join(lots::table)
        .filter(bottles::site_id.eq(site_id))
        .filter(bottles::id.gt(after))
        .order(bottles::id)
        .limit(limit)
        .select(bottles::id)
        .into_boxed();
    if let Some(lot_id) = lot_id {
        page = page.filter(bottles::lot_id.eq(lot_id));
    }
    if let Some(text) = text {
        let like = search::containing(text);
        page = page.filter(bottles::label.ilike(like.clone()).or(lots::lot_number.ilike(like)));
    }
    let ids: Vec<Uuid> = page.load(conn)?;
    of_ids(conn, site_id, &ids)
}

/// Adds a bottle of a lot, at a place or in the first storeroom.
pub fn create(tx: &mut Tx<'_>, new: &NewBottle, place_id: Option<Uuid>) -> Result<Supply, StoreError> {
    let (now, by) = (tx.now, tx.actor.id);
    // Only a solution comes in bottles.
    plausible_bottle(lot::find(tx.conn, new.site_id, new.lot_id)?.0.agent()?, new.volume_ul)?;
    let place = match place_id {
        Some(id) => place::find(tx.conn, new.site_id, id)?,
        None => place::storeroom(tx.conn, new.site_id)?,
    };
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(bottles::table)
                .values((new, bottles::recorded_at.eq(now), bottles::recorded_by.eq(by)))
                .on_conflict(bottles::id)
                .do_nothing();
            on_constraint(made.execute(conn), "bottles_label_taken", || {
                let sentence = "Another bottle has this label: write a new one on this bottle.";
                Refusal::new(Code::AlreadyExists, sentence).field("label")
            })
        },
        |conn| {
            let stored = bottles::table.find(new.id).filter(bottles::site_id.eq(new.site_id));
            stored.select(NewBottle::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("bottles", new.id);
        let thing = Thing::Bottle(new.id);
        placement::append(tx, thing, PlaceMovement::Receive, (None, place.id), new.happened_at)?;
    }
    find(tx.conn, new.site_id, new.id)
}

/// Records that a bottle was opened. It can be opened once.
pub fn open(tx: &mut Tx<'_>, new: &NewOpening) -> Result<Supply, StoreError> {
    let (now, by) = (tx.now, tx.actor.id);
    find(tx.conn, new.site_id, new.bottle_id)?;
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(bottle_openings::table)
                .values((new, bottle_openings::recorded_at.eq(now), bottle_openings::recorded_by.eq(by)))
                .on_conflict(bottle_openings::id)
                .do_nothing();
            on_constraint(made.execute(conn), "bottle_openings_open_already", || {
                let sentence = "This bottle was opened before: the first opening counts.";
                Refusal::new(Code::AlreadyExists, sentence).field("id")
            })
        },
        |conn| {
            let stored = bottle_openings::table.find(new.id).filter(bottle_openings::site_id.eq(new.site_id));
            stored.select(NewOpening::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("bottle_openings", new.id);
    }
    find(tx.conn, new.site_id, new.bottle_id)
}
