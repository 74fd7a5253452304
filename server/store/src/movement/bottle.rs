//! What happened to what is in a bottle. It happened, so it is kept, whatever the books then say.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use sellion_rules::{
    refusal::{Code, Refusal},
    stock::BottleMovement,
    supplies::plausible_in_bottle,
};
use uuid::Uuid;

use crate::{
    StoreError, Tx,
    balance::{self, BottleEntry},
    bottle, insert_once, lot, place,
    schema::{bottle_movements, bottles},
};

/// A movement to be recorded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewBottleMovement {
    /// Its id.
    pub id: Uuid,
    /// The bottle.
    pub bottle_id: Uuid,
    /// What happened.
    pub movement: BottleMovement,
    /// How much, in microlitres: what left the bottle, or what was counted in it. None for all that is left.
    pub volume_ul: Option<i64>,
    /// Whether the volume is a guess.
    pub guessed: bool,
    /// What it was made into.
    pub prepared_lot_id: Option<Uuid>,
    /// Where it happened, where that matters.
    pub place_id: Option<Uuid>,
    /// Why, in words.
    pub reason: String,
    /// When.
    pub happened_at: DateTime<Utc>,
}

#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = bottle_movements, check_for_backend(diesel::pg::Pg))]
struct Row {
    id: Uuid,
    site_id: Uuid,
    bottle_id: Uuid,
    movement: String,
    volume_ul: i64,
    guessed: bool,
    prepared_lot_id: Option<Uuid>,
    place_id: Option<Uuid>,
    reason: String,
    happened_at: DateTime<Utc>,
}

/// Records a movement, and returns its entry in the ledger of the bottle.
pub fn create(tx: &mut Tx<'_>, new: &NewBottleMovement) -> Result<BottleEntry, StoreError> {
    let (now, by, site_id) = (tx.now, tx.actor.id, tx.site_id());
    // Entries of one bottle wait for each other: all that is left is what is left when it is said.
    bottle::lock(tx, new.bottle_id)?;
    fits(tx, new)?;
    let stored = bottle_movements::table.find(new.id).filter(bottle_movements::site_id.eq(site_id));
    let before: Option<Row> = stored.select(Row::as_select()).first(tx.conn).optional()?;
    if let (Some(volume_ul), None) = (new.volume_ul, &before) {
        let came_with = bottles::table.find(new.bottle_id).select(bottles::volume_ul).first(tx.conn)?;
        plausible_in_bottle(volume_ul, came_with)?;
    }
    let row = Row {
        id: new.id,
        site_id,
        bottle_id: new.bottle_id,
        movement: new.movement.as_str().to_owned(),
        volume_ul: match (new.volume_ul, &before) {
            (Some(volume_ul), _) => volume_ul,
            // What was left when it was said the first time.
            (None, Some(before)) => before.volume_ul,
            (None, None) => rest(tx, new.bottle_id)?,
        },
        guessed: new.guessed,
        prepared_lot_id: new.prepared_lot_id,
        place_id: new.place_id,
        reason: new.reason.clone(),
        happened_at: new.happened_at,
    };
    let added = insert_once(
        tx.conn,
        &row,
        |conn, row| {
            let made = diesel::insert_into(bottle_movements::table).values((
                row,
                bottle_movements::recorded_at.eq(now),
                bottle_movements::recorded_by.eq(by),
            ));
            Ok(made.on_conflict(bottle_movements::id).do_nothing().execute(conn)?)
        },
        |_| Ok(before),
    )?;
    if added.is_new() {
        tx.touched("bottle_movements", new.id);
    }
    let entries = balance::of_bottle(tx.conn, site_id, new.bottle_id)?;
    let entry = entries.into_iter().find(|entry| entry.id == new.id);
    entry.ok_or_else(|| StoreError::internal("a movement is not in the ledger of its bottle"))
}

fn fits(tx: &mut Tx<'_>, new: &NewBottleMovement) -> Result<(), StoreError> {
    let site_id = tx.site_id();
    if let Some(place_id) = new.place_id {
        place::find(tx.conn, site_id, place_id)?;
    }
    match (new.movement, new.prepared_lot_id) {
        (BottleMovement::Prepare, Some(lot_id)) => {
            let (made, _) = lot::find(tx.conn, site_id, lot_id)?;
            if made.prepared.is_some() {
                return Ok(());
            }
            let sentence = "That lot was not made in-house: record the preparation first.";
            Err(Refusal::new(Code::InvalidValue, sentence).field("prepared_lot_id").into())
        }
        (BottleMovement::Prepare, None) => {
            let sentence = "Say which preparation it went into.";
            Err(Refusal::new(Code::InvalidValue, sentence).field("prepared_lot_id").into())
        }
        (_, Some(_)) => {
            let sentence = "Only what was taken to make another solution went into a preparation.";
            Err(Refusal::new(Code::InvalidValue, sentence).field("prepared_lot_id").into())
        }
        (_, None) => Ok(()),
    }
}

fn rest(tx: &mut Tx<'_>, bottle_id: Uuid) -> Result<i64, StoreError> {
    let left = balance::of_bottles(tx.conn, &[bottle_id])?.remove(&bottle_id).unwrap_or_default();
    if left > 0 {
        return Ok(left);
    }
    let sentence = "By the books nothing is left in it: say how much it was.";
    Err(Refusal::new(Code::BottleEmpty, sentence).field("volume_ul").fact("on_hand_ul", left).into())
}
