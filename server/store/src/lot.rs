//! Lots: supplied batches, each of one maker and number.

use std::collections::HashSet;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    printed_expiry::PrintedExpiry,
    refusal::{Code, Refusal},
    supplies::{Agent, LabelReading, PieceKind, Solution},
};
use serde_json::Value;
use uuid::Uuid;

use crate::{
    StoreError, Tx, insert_once, on_constraint,
    schema::{lot_marks, lots, respirators},
    search,
    stored::word,
};

/// The word for a mark that stops a lot.
pub(crate) const STOP: &str = "stop";

/// One supplied batch.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = lots, check_for_backend(diesel::pg::Pg))]
pub struct Lot {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// What is noticed, as its word; none of what is counted in pieces.
    pub agent: Option<String>,
    /// The strength, as its word; none of what is counted in pieces.
    pub solution: Option<String>,
    /// What is counted in pieces, as its word.
    pub supply: Option<String>,
    /// Of facepieces, which respirator.
    pub respirator_id: Option<Uuid>,
    /// The number on the label.
    pub lot_number: String,
    /// The number on the outer box, where it is another one.
    pub box_lot_number: Option<String>,
    /// Who made it; none of what was received before anybody asked, and of what was made in-house.
    pub maker: Option<String>,
    /// The trade item number, where the label has one.
    pub gtin: Option<String>,
    /// How many pieces or bottles the scanned label of the box counts.
    pub box_count: Option<i32>,
    /// How its label was read: scanned, or typed twice; none where it was typed once.
    pub label_read: Option<String>,
    /// The expiry, as printed; none where pieces have none.
    pub printed_expiry: Option<String>,
    /// The last day that the printed expiry names.
    pub expires_on: Option<NaiveDate>,
    /// Days its bottles may be used after opening, where its label says so.
    pub opened_life_days: Option<i32>,
    /// How it was made, where it was made in-house.
    pub prepared: Option<Value>,
    /// When it was received.
    pub happened_at: DateTime<Utc>,
    /// When the server learned of it.
    pub recorded_at: DateTime<Utc>,
}

/// A lot to be received.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = lots, check_for_backend(diesel::pg::Pg))]
pub struct NewLot {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// What is noticed, as its word; none of what is counted in pieces.
    pub agent: Option<String>,
    /// The strength, as its word; none of what is counted in pieces.
    pub solution: Option<String>,
    /// What is counted in pieces, as its word.
    pub supply: Option<String>,
    /// Of facepieces, which respirator.
    pub respirator_id: Option<Uuid>,
    /// The number on the label.
    pub lot_number: String,
    /// The number on the outer box, where it is another one.
    pub box_lot_number: Option<String>,
    /// Who made it; none of what was received before anybody asked, and of what was made in-house.
    pub maker: Option<String>,
    /// The trade item number, where the label has one.
    pub gtin: Option<String>,
    /// How many pieces or bottles the scanned label of the box counts.
    pub box_count: Option<i32>,
    /// How its label was read: scanned, or typed twice; none where it was typed once.
    pub label_read: Option<String>,
    /// The expiry, as printed; none where pieces have none.
    pub printed_expiry: Option<String>,
    /// The last day that the printed expiry names.
    pub expires_on: Option<NaiveDate>,
    /// Days its bottles may be used after opening, where its label says so.
    pub opened_life_days: Option<i32>,
    /// How it was made, where it was made in-house.
    pub prepared: Option<Value>,
    /// When it was received.
    pub happened_at: DateTime<Utc>,
}

impl Lot {
    /// What is noticed; refused where the lot is counted in pieces.
    pub fn agent(&self) -> Result<Agent, StoreError> {
        word(self.agent.as_ref().ok_or_else(no_solution)?)
    }

    /// The strength; refused where the lot is counted in pieces.
    pub fn solution(&self) -> Result<Solution, StoreError> {
        word(self.solution.as_ref().ok_or_else(no_solution)?)
    }

    /// What is counted in pieces; none of a solution.
    pub fn piece_kind(&self) -> Result<Option<PieceKind>, StoreError> {
        self.supply.as_deref().map(word).transpose()
    }

    /// How its label was read; none where it was typed once.
    pub fn label_read(&self) -> Result<Option<LabelReading>, StoreError> {
        self.label_read.as_deref().map(word).transpose()
    }

    /// The expiry on its label; refused where the lot is counted in pieces.
    pub fn printed_expiry(&self) -> Result<PrintedExpiry, StoreError> {
        Ok(self.printed_expiry.as_ref().ok_or_else(no_solution)?.parse()?)
    }
}

fn no_solution() -> Refusal {
    let sentence = "This lot is counted in pieces: it has no bottles.";
    Refusal::new(Code::InvalidValue, sentence).field("lot_id")
}

/// A lot of the site, and whether it is stopped.
pub fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<(Lot, bool), StoreError> {
    let found = lots::table.find(id).filter(lots::site_id.eq(site_id));
    let lot = found.select(Lot::as_select()).first(conn).optional()?;
    let lot = lot.ok_or_else(|| StoreError::not_found("lot"))?;
    let stopped = !stopped(conn, site_id, &[id])?.is_empty();
    Ok((lot, stopped))
}

/// Lots of the site, by id, each with whether it is stopped; those that have this text in a number or in the maker.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    text: Option<&str>,
    (after, limit): (Uuid, i64),
) -> Result<Vec<(Lot, bool)>, StoreError> {
    let of_site = lots::table.filter(lots::site_id.eq(site_id)).filter(lots::id.gt(after));
    let mut page = of_site.order(lots::id).limit(limit).select(Lot::as_select()).into_boxed();
    if let Some(text) = text {
        let like = search::containing(text);
        let numbers = lots::lot_number
            .ilike(like.clone())
            .or(lots::box_lot_number.assume_not_null().ilike(like.clone()));
        let labels =
            lots::gtin.assume_not_null().ilike(like.clone()).or(lots::maker.assume_not_null().ilike(like));
        page = page.filter(numbers.or(labels));
    }
    let found: Vec<Lot> = page.load(conn)?;
    with_stops(conn, site_id, found)
}

/// The lots of the site that carry this number, each with whether it is stopped. Where the label names a trade item,
/// lots of another one are left out.
pub fn numbered(
    conn: &mut PgConnection,
    site_id: Uuid,
    number: &str,
    gtin: Option<&str>,
) -> Result<Vec<(Lot, bool)>, StoreError> {
    let found = lots::table.filter(lots::site_id.eq(site_id)).filter(lots::lot_number.eq(number));
    let mut found = found.order(lots::id).select(Lot::as_select()).into_boxed();
    if let Some(gtin) = gtin {
        found = found.filter(lots::gtin.is_null().or(lots::gtin.eq(gtin)));
    }
    let found: Vec<Lot> = found.load(conn)?;
    with_stops(conn, site_id, found)
}

fn with_stops(
    conn: &mut PgConnection,
    site_id: Uuid,
    found: Vec<Lot>,
) -> Result<Vec<(Lot, bool)>, StoreError> {
    let ids: Vec<Uuid> = found.iter().map(|lot| lot.id).collect();
    let stopped = stopped(conn, site_id, &ids)?;
    let marked = found.into_iter().map(|lot| {
        let is_stopped = stopped.contains(&lot.id);
        (lot, is_stopped)
    });
    Ok(marked.collect())
}

/// Those of the lots whose newest mark is a stop.
pub fn stopped(
    conn: &mut PgConnection,
    site_id: Uuid,
    lot_ids: &[Uuid],
) -> Result<HashSet<Uuid>, StoreError> {
    stopped_by(conn, site_id, lot_ids, DateTime::<Utc>::MAX_UTC)
}

/// Those of the lots that were stopped by what was recorded until `at`: nobody could know of a later stop then.
pub(crate) fn stopped_by(
    conn: &mut PgConnection,
    site_id: Uuid,
    lot_ids: &[Uuid],
    at: DateTime<Utc>,
) -> Result<HashSet<Uuid>, StoreError> {
    let mut marks = lot_marks::table
        .filter(lot_marks::site_id.eq(site_id))
        .filter(lot_marks::lot_id.eq_any(lot_ids))
        .distinct_on(lot_marks::lot_id)
        .order((lot_marks::lot_id, lot_marks::recorded_at.desc(), lot_marks::id.desc()))
        .select((lot_marks::lot_id, lot_marks::mark))
        .into_boxed();
    // The database knows no moment as late as the last one.
    if at < DateTime::<Utc>::MAX_UTC {
        marks = marks.filter(lot_marks::recorded_at.le(at));
    }
    let newest: Vec<(Uuid, String)> = marks.load(conn)?;
    Ok(newest.into_iter().filter(|(_, mark)| mark == STOP).map(|(lot_id, _)| lot_id).collect())
}

/// Receives a lot. Where no maker is named it is that of the respirator, or of the lots with the same trade item number.
pub fn create(tx: &mut Tx<'_>, new: &NewLot) -> Result<(Lot, bool), StoreError> {
    let (now, by) = (tx.now, tx.actor.id);
    let new = &NewLot { maker: maker(tx.conn, new)?, ..new.clone() };
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(lots::table)
                .values((new, lots::recorded_at.eq(now), lots::recorded_by.eq(by)))
                .on_conflict(lots::id)
                .do_nothing();
            let made = made.execute(conn);
            let pieces = "lots_pieces_known_already";
            let constraint = if new.supply.is_some() { pieces } else { "lots_known_already" };
            on_constraint(made, constraint, || {
                let sentence =
                    "This lot of this maker is known already: add bottles or pieces to it instead.";
                Refusal::new(Code::AlreadyExists, sentence).field("lot_number")
            })
        },
        |conn| {
            let stored = lots::table.find(new.id).filter(lots::site_id.eq(new.site_id));
            stored.select(NewLot::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("lots", new.id);
    }
    find(tx.conn, new.site_id, new.id)
}

fn maker(conn: &mut PgConnection, new: &NewLot) -> Result<Option<String>, StoreError> {
    if new.maker.is_some() || new.prepared.is_some() {
        return Ok(new.maker.clone());
    }
    if let Some(respirator_id) = new.respirator_id {
        let of_site = respirators::table.find(respirator_id).filter(respirators::site_id.eq(new.site_id));
        let make: Option<String> = of_site.select(respirators::make).first(conn).optional()?;
        return Ok(Some(make.ok_or_else(|| StoreError::not_found("respirator"))?));
    }
    let mut known = None;
    if let Some(gtin) = &new.gtin {
        let alike = lots::table.filter(lots::site_id.eq(new.site_id)).filter(lots::gtin.eq(gtin));
        let newest = alike.filter(lots::maker.is_not_null()).order(lots::recorded_at.desc());
        known = newest.select(lots::maker.assume_not_null()).first::<String>(conn).optional()?;
    }
    if known.is_none() {
        let sentence = "Say who made it: two makers may print the same number.";
        return Err(Refusal::new(Code::InvalidValue, sentence).field("maker").into());
    }
    Ok(known)
}
