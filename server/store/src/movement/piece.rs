//! Pieces of a lot: received, moved, used, thrown away, counted.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use sellion_rules::{
    dates::local_date,
    refusal::{Code, Refusal},
    stock::{Candidate, PieceMovement, PlaceMovement, first_expired_first},
    supplies::Agent,
};
use uuid::Uuid;

use crate::{
    StoreError, Tx,
    balance::{self, Pieces},
    insert_once,
    lot::{self, Lot},
    place::{self, Place},
    placement,
    schema::{lots, piece_movements},
    site, user,
};

/// A movement to be recorded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewPieceMovement {
    /// Its id.
    pub id: Uuid,
    /// The lot.
    pub lot_id: Uuid,
    /// What happened.
    pub movement: PieceMovement,
    /// How many; none of a receipt where the label of the box counts them.
    pub pieces: Option<i64>,
    /// What a scanner read from the box that came.
    pub scanned: Option<ScannedBox>,
    /// Where they were, or where they were counted.
    pub from_place_id: Option<Uuid>,
    /// Where they went.
    pub to_place_id: Option<Uuid>,
    /// The user name of who took them.
    pub handed_to: Option<String>,
    /// Why, in words.
    pub reason: Option<String>,
    /// When.
    pub happened_at: DateTime<Utc>,
}

/// What the label of a box says of what is in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScannedBox {
    /// The lot number, where the label has one.
    pub lot_number: Option<String>,
    /// How many.
    pub count: Option<i64>,
}

#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = piece_movements, check_for_backend(diesel::pg::Pg))]
struct Row {
    id: Uuid,
    site_id: Uuid,
    lot_id: Uuid,
    movement: String,
    pieces: i64,
    from_place_id: Option<Uuid>,
    to_place_id: Option<Uuid>,
    handed_to: Option<Uuid>,
    reason: Option<String>,
    happened_at: DateTime<Utc>,
}

/// Records a movement, and returns what is where of this lot afterwards: a place below zero is shown as it is.
pub fn create(tx: &mut Tx<'_>, new: &NewPieceMovement) -> Result<Vec<Pieces>, StoreError> {
    let (now, by, site_id) = (tx.now, tx.actor.id, tx.site_id());
    // Entries of one lot wait for each other, and a stop waits for them.
    let locked = lots::table.find(new.lot_id).filter(lots::site_id.eq(site_id));
    let locked: Option<Uuid> = locked.select(lots::id).for_no_key_update().first(tx.conn).optional()?;
    locked.ok_or_else(|| StoreError::not_found("lot"))?;
    let (lot, stopped) = lot::find(tx.conn, site_id, new.lot_id)?;
    counted_in_pieces(&lot)?;
    let from = new.from_place_id.map(|id| place::find(tx.conn, site_id, id)).transpose()?;
    let to = new.to_place_id.map(|id| place::find(tx.conn, site_id, id)).transpose()?;
    let pieces = pieces(new, &lot)?;
    let row = row(tx, (new, pieces), from.as_ref(), to.as_ref())?;
    let added = insert_once(
        tx.conn,
        &row,
        |conn, row| {
            let made = diesel::insert_into(piece_movements::table).values((
                row,
                piece_movements::recorded_at.eq(now),
                piece_movements::recorded_by.eq(by),
            ));
            Ok(made.on_conflict(piece_movements::id).do_nothing().execute(conn)?)
        },
        |conn| {
            let stored = piece_movements::table.find(new.id).filter(piece_movements::site_id.eq(site_id));
            stored.select(Row::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        if let (PieceMovement::Move, Some(from), Some(to)) = (new.movement, &from, &to) {
            may_leave(tx, (&lot, stopped), (from, to), new)?;
        }
        tx.touched("piece_movements", new.id);
    }
    balance::pieces_of_lots(tx.conn, &[new.lot_id])
}

fn counted_in_pieces(lot: &Lot) -> Result<(), StoreError> {
    if lot.supply.is_some() || lot.agent.as_deref() == Some(Agent::IrritantSmoke.as_str()) {
        return Ok(());
    }
    let sentence = "A solution is measured in volume: record what happened to its bottle.";
    Err(Refusal::new(Code::InvalidValue, sentence).field("lot_id").into())
}

/// How many: as it was counted, or as the label of the box counts them.
fn pieces(new: &NewPieceMovement, lot: &Lot) -> Result<i64, StoreError> {
    let refused = |field: &'static str, sentence: String| {
        Err(StoreError::from(Refusal::new(Code::InvalidValue, sentence).field(field)))
    };
    if new.movement != PieceMovement::Receive && new.scanned.is_some() {
        return refused("label", "Only a box that comes is scanned: leave the label out.".to_owned());
    }
    let scanned = new.scanned.as_ref();
    if let Some(number) = scanned.and_then(|scanned| scanned.lot_number.as_ref())
        && *number != lot.lot_number
        && lot.box_lot_number.as_ref() != Some(number)
    {
        let sentence =
            format!("This box is of lot {number} and not of {}: look at the label.", lot.lot_number);
        return refused("label", sentence);
    }
    let on_label = scanned.and_then(|scanned| scanned.count);
    match (new.pieces, on_label) {
        (Some(counted), Some(on_label)) if counted != on_label => {
            let sentence = format!(
                "The label counts {on_label}: count again, and leave the label out where the box holds {counted}."
            );
            refused("pieces", sentence)
        }
        (Some(counted), _) => Ok(counted),
        (None, Some(on_label)) => Ok(on_label),
        (None, None) => match lot.box_count.filter(|_| new.movement == PieceMovement::Receive) {
            Some(count) => Ok(count.into()),
            None => refused("pieces", "Say how many: no label of a box says it.".to_owned()),
        },
    }
}

fn row(
    tx: &mut Tx<'_>,
    (new, pieces): (&NewPieceMovement, i64),
    from: Option<&Place>,
    to: Option<&Place>,
) -> Result<Row, StoreError> {
    let refused = |field: &'static str, sentence: &str| {
        Err(StoreError::from(Refusal::new(Code::InvalidValue, sentence).field(field)))
    };
    let movement = match (new.movement, from, to) {
        (PieceMovement::Receive, None, Some(_)) => PieceMovement::Receive.as_str(),
        (PieceMovement::Receive, ..) => {
            return refused("to_place_id", "What is received comes to one place and from none of ours.");
        }
        (PieceMovement::Move, Some(from), Some(to)) if from.id != to.id => {
            placement::between(Some(from), to).as_str()
        }
        (PieceMovement::Move, ..) => {
            return refused("to_place_id", "What moves goes from one place to another: name both.");
        }
        (movement, Some(_), None) => movement.as_str(),
        _ => return refused("from_place_id", "Say where that was, and no place where it went."),
    };
    if movement == PlaceMovement::HandOver.as_str() && new.handed_to.is_none() {
        return refused("handed_to", "A hand-over has two names: say who takes them.");
    }
    let says_why = matches!(new.movement, PieceMovement::Discard | PieceMovement::Count);
    if says_why && new.reason.is_none() {
        return refused("reason", "Say why, in words.");
    }
    let handed_to = new.handed_to.as_deref().map(|name| user::id_of(tx.conn, tx.actor.site_id, name));
    Ok(Row {
        id: new.id,
        site_id: tx.site_id(),
        lot_id: new.lot_id,
        movement: movement.to_owned(),
        pieces,
        from_place_id: new.from_place_id,
        to_place_id: new.to_place_id,
        handed_to: handed_to.transpose()?,
        reason: new.reason.clone(),
        happened_at: new.happened_at,
    })
}

/// Pieces leave a storeroom for a place of use only when they are in date, of no stopped lot, and of the one that ends first.
fn may_leave(
    tx: &mut Tx<'_>,
    (lot, stopped): (&Lot, bool),
    (from, to): (&Place, &Place),
    new: &NewPieceMovement,
) -> Result<(), StoreError> {
    if !to.is_in_use() {
        return Ok(());
    }
    let site_id = tx.site_id();
    if stopped {
        let sentence = "This lot is stopped: take pieces of another lot.";
        return Err(Refusal::new(Code::LotStopped, sentence).into());
    }
    let today = local_date(new.happened_at, site::zone(tx.conn, site_id)?);
    if let Some(last_day) = lot.expires_on.filter(|last_day| *last_day < today) {
        let sentence = format!("These expired after {last_day}: take others.");
        let refusal = Refusal::new(Code::BottleExpired, sentence).fact("last_day", last_day.to_string());
        return Err(refusal.into());
    }
    if from.is_in_use() {
        return Ok(());
    }
    let here = balance::pieces_at(tx.conn, from.id)?;
    let ids = here.iter().filter(|pieces| pieces.on_hand > 0).map(|pieces| pieces.lot_id);
    let ids: Vec<Uuid> = ids.filter(|id| *id != lot.id).collect();
    let held_back = lot::stopped(tx.conn, site_id, &ids)?;
    let mut others = Vec::new();
    for id in ids.into_iter().filter(|id| !held_back.contains(id)) {
        let (other, _) = lot::find(tx.conn, site_id, id)?;
        let alike = (&other.supply, other.respirator_id, &other.agent)
            == (&lot.supply, lot.respirator_id, &lot.agent);
        if alike && other.expires_on.is_none_or(|last_day| last_day >= today) {
            others.push(candidate(&other));
        }
    }
    Ok(first_expired_first(&candidate(lot), &others, new.reason.as_deref())?)
}

fn candidate(lot: &Lot) -> Candidate {
    Candidate { label: lot.lot_number.clone(), expires_on: lot.expires_on }
}
