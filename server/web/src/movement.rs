//! Movements: what left a bottle other than by a fill, pieces that came and went, and what was counted.

use actix_web::{
    HttpResponse, post,
    web::{Json, Path},
};
use chrono::{DateTime, Datelike, Utc};
use sellion_rules::{
    gs1,
    refusal::{Code, Refusal},
    roles::op,
    stock::{BottleMovement, PieceMovement},
};
use sellion_store::movement::{
    self, NewBottleMovement as NewBottleRow, NewPieceMovement as NewPieceRow, ScannedBox,
};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    balance::{BottleEntryView, PiecesView},
    bottle::VOLUME_UL_MAX,
    extract::happened,
    problem::{Problem, ProblemBody},
    words::{LONG, line, line_or_none, username},
};

/// More pieces than any delivery has.
const PIECES_MAX: i64 = 1_000_000;

/// What happened to what is in a bottle.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewBottleMovement {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    movement: BottleMovement,
    /// How much left the bottle, or how much was counted in it, in microlitres. Left out where all that is left was
    /// thrown away.
    #[schema(example = 30000)]
    volume_ul: Option<i64>,
    /// Whether the volume is a guess, as of a spill.
    #[serde(default)]
    guessed: bool,
    /// The lot it was made into.
    prepared_lot_id: Option<Uuid>,
    /// Where it happened, where that matters.
    place_id: Option<Uuid>,
    #[schema(example = "knocked over at station 2; the room is aired")]
    reason: String,
    #[schema(example = "2026-03-10T10:20:00Z")]
    happened_at: DateTime<Utc>,
}

impl NewBottleMovement {
    fn row(self, bottle_id: Uuid, now: DateTime<Utc>) -> Result<NewBottleRow, Refusal> {
        let least = if self.movement == BottleMovement::Count { 0 } else { 1 };
        let all_of_it = self.volume_ul.is_none() && self.movement == BottleMovement::Discard;
        if !all_of_it && !self.volume_ul.is_some_and(|volume| (least..=VOLUME_UL_MAX).contains(&volume)) {
            let sentence = format!(
                "A volume is {least} to {VOLUME_UL_MAX} microlitres; it is left out only where all is thrown away."
            );
            return Err(Refusal::new(Code::InvalidValue, sentence).field("volume_ul"));
        }
        Ok(NewBottleRow {
            id: self.id,
            bottle_id,
            movement: self.movement,
            volume_ul: self.volume_ul,
            guessed: self.guessed,
            prepared_lot_id: self.prepared_lot_id,
            place_id: self.place_id,
            reason: line(&self.reason, "reason", LONG)?,
            happened_at: happened(self.happened_at, now)?,
        })
    }
}

/// What happened to pieces of a lot.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewLotMovement {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    movement: PieceMovement,
    /// How many; of a count what was found. Left out of what is received where the label of the box counts them, here
    /// or when the lot was received.
    #[schema(example = 20)]
    pieces: Option<i64>,
    /// What a scanner read from the box that came: a GS1 element string.
    label: Option<String>,
    /// Where they were, or where they were counted; left out when they are received.
    from_place_id: Option<Uuid>,
    /// Where they went; left out when they are used, thrown away or counted.
    to_place_id: Option<Uuid>,
    /// The user name of who took them.
    handed_to: Option<String>,
    /// Why: needed of what is thrown away or counted, and where these are not the ones that end first.
    #[schema(example = "the box was crushed")]
    reason: Option<String>,
    #[schema(example = "2026-03-10T06:50:00Z")]
    happened_at: DateTime<Utc>,
}

impl NewLotMovement {
    fn row(self, lot_id: Uuid, now: DateTime<Utc>) -> Result<NewPieceRow, Refusal> {
        let least = if self.movement == PieceMovement::Count { 0 } else { 1 };
        if self.pieces.is_some_and(|pieces| !(least..=PIECES_MAX).contains(&pieces)) {
            let sentence = format!("Pieces are {least} to {PIECES_MAX}.");
            return Err(Refusal::new(Code::InvalidValue, sentence).field("pieces"));
        }
        let scanned = self.label.as_deref().map(|text| scanned(text, now)).transpose()?;
        Ok(NewPieceRow {
            id: self.id,
            lot_id,
            movement: self.movement,
            pieces: self.pieces,
            scanned,
            from_place_id: self.from_place_id,
            to_place_id: self.to_place_id,
            handed_to: self.handed_to.as_deref().map(username).transpose()?,
            reason: line_or_none(self.reason.as_deref(), "reason", LONG)?,
            happened_at: happened(self.happened_at, now)?,
        })
    }
}

fn scanned(text: &str, now: DateTime<Utc>) -> Result<ScannedBox, Refusal> {
    let read = gs1::read_label(text, now.year()).map_err(|refusal| refusal.field("label"))?;
    let count = read.count.map(i64::from).filter(|count| (1..=PIECES_MAX).contains(count));
    Ok(ScannedBox { lot_number: read.lot_number, count })
}

/// Records what was thrown away, spilled, taken to make another solution, or counted in a bottle.
///
/// A count that disagrees is a recorded difference and never an overwrite; what happened is kept even where the books
/// then show less than nothing.
#[utoipa::path(tag = "bottles", responses(
    (status = 201, body = BottleEntryView),
    (status = 404, description = "No such bottle, place or lot here.", body = ProblemBody),
    (status = 409, description = "The id belongs to another movement.", body = ProblemBody),
    (status = 422, description = "The volume cannot be, or nothing is left.", body = ProblemBody)
))]
#[post("/api/v1/bottles/{bottle_id}/movements")]
pub(crate) async fn create_bottle_movement(
    caller: Caller<op::CreateBottleMovement>,
    bottle_id: Path<Uuid>,
    body: Json<NewBottleMovement>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().row(*bottle_id, caller.now)?;
    let entry = caller.write(move |tx| movement::create_bottle_movement(tx, &new)).await?;
    Ok(HttpResponse::Created().json(BottleEntryView::from(entry)))
}

/// Records pieces of a lot that were received, moved, used, thrown away or counted, and tells what is where then.
#[utoipa::path(tag = "lots", responses(
    (status = 201, body = Vec<PiecesView>),
    (status = 404, description = "No such lot or place here.", body = ProblemBody),
    (status = 409, description = "The id belongs to another movement.", body = ProblemBody),
    (status = 422, description = "They may not go there, others go first, or the lot is measured in volume.", body = ProblemBody)
))]
#[post("/api/v1/lots/{lot_id}/movements")]
pub(crate) async fn create_lot_movement(
    caller: Caller<op::CreateLotMovement>,
    lot_id: Path<Uuid>,
    body: Json<NewLotMovement>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().row(*lot_id, caller.now)?;
    let pieces = caller.write(move |tx| movement::create_piece_movement(tx, &new)).await?;
    let views: Vec<PiecesView> = pieces.into_iter().map(PiecesView::from).collect();
    Ok(HttpResponse::Created().json(views))
}
