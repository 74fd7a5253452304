//! Balances and ledgers: where every microlitre and every piece is or went.

use std::collections::HashMap;

use actix_web::{
    get,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::roles::op;
use sellion_store::{
    balance::{self, BottleEntry, PieceEntry, Pieces, Volumes},
    bottle, lot,
    placement::{self, Thing},
};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    lot::LotView,
    page::{Page, PageQuery},
    placement::PlacementView,
    problem::{Problem, ProblemBody},
};

/// Where the volume of a lot of solution went, in microlitres. What was received and counts found to be more is what
/// is held and what is gone; `astray_ul` is what does not add up, and is 0 as long as the books are whole.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct VolumesView {
    received_ul: i64,
    in_bottles_ul: i64,
    in_nebulizers_ul: i64,
    /// Sprayed, or thrown away without being measured.
    used_ul: i64,
    discarded_ul: i64,
    spilled_ul: i64,
    /// Taken to make another solution.
    prepared_ul: i64,
    /// By how much counts disagreed; below zero where less was found than the books said.
    difference_ul: i64,
    astray_ul: i64,
}

impl From<&Volumes> for VolumesView {
    fn from(volumes: &Volumes) -> Self {
        Self {
            received_ul: volumes.received_ul,
            in_bottles_ul: volumes.in_bottles_ul,
            in_nebulizers_ul: volumes.in_nebulizers_ul,
            used_ul: volumes.used_ul,
            discarded_ul: volumes.discarded_ul,
            spilled_ul: volumes.spilled_ul,
            prepared_ul: volumes.prepared_ul,
            difference_ul: volumes.difference_ul,
            astray_ul: volumes.astray_ul(),
        }
    }
}

/// Pieces of a lot at one place.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PiecesView {
    place_id: Uuid,
    /// What is there by the books; below zero where more was recorded as taken than was there.
    #[schema(example = 40)]
    on_hand: i64,
}

impl From<Pieces> for PiecesView {
    fn from(pieces: Pieces) -> Self {
        Self { place_id: pieces.place_id, on_hand: pieces.on_hand }
    }
}

/// The balance of one lot.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BalanceView {
    lot: LotView,
    /// Of a solution; absent before its first bottle came.
    #[serde(skip_serializing_if = "Option::is_none")]
    volumes: Option<VolumesView>,
    /// What is counted in pieces, by place.
    pieces: Vec<PiecesView>,
}

/// One entry in the ledger of a bottle.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BottleEntryView {
    /// The bottle itself, a fill, or a movement.
    id: Uuid,
    /// `receive`, `fill`, `discard`, `spill`, `prepare` or `count`.
    #[schema(example = "fill")]
    movement: String,
    /// By how much it changed what is in the bottle; 0 for a count.
    #[schema(example = -1000)]
    change_ul: i64,
    /// What a count found.
    #[serde(skip_serializing_if = "Option::is_none")]
    counted_ul: Option<i64>,
    /// By how much a count disagreed with the books; below zero where less was there.
    #[serde(skip_serializing_if = "Option::is_none")]
    difference_ul: Option<i64>,
    /// What is in the bottle afterwards by the books.
    #[schema(example = 54000)]
    on_hand_ul: i64,
    /// Who recorded it; absent where it was a device.
    #[serde(skip_serializing_if = "Option::is_none")]
    by: Option<String>,
    /// Why, of what is neither a fill nor the coming of the bottle.
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<String>,
    /// Whether the volume is a guess.
    guessed: bool,
    /// What it was made into.
    #[serde(skip_serializing_if = "Option::is_none")]
    prepared_lot_id: Option<Uuid>,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl From<BottleEntry> for BottleEntryView {
    fn from(entry: BottleEntry) -> Self {
        Self {
            id: entry.id,
            movement: entry.movement,
            change_ul: entry.change_ul,
            counted_ul: entry.counted_ul,
            difference_ul: entry.difference_ul,
            on_hand_ul: entry.on_hand_ul,
            by: entry.by,
            reason: entry.reason,
            guessed: entry.guessed,
            prepared_lot_id: entry.prepared_lot_id,
            happened_at: entry.happened_at,
            recorded_at: entry.recorded_at,
        }
    }
}

/// Everything that happened to a bottle.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BottleLedger {
    bottle_id: Uuid,
    lot_id: Uuid,
    opened_at: Option<DateTime<Utc>>,
    /// What changed in it, in the order in which it happened.
    entries: Vec<BottleEntryView>,
    /// Where it was, in the order in which it happened.
    placements: Vec<PlacementView>,
}

/// One entry in the ledger of pieces.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PieceEntryView {
    id: Uuid,
    place_id: Uuid,
    /// `receive`, `issue`, `hand_over`, `move`, `return`, `use`, `discard` or `count`.
    #[schema(example = "issue")]
    movement: String,
    /// By how much it changed what is at the place; 0 for a count.
    #[schema(example = -20)]
    change: i64,
    #[serde(skip_serializing_if = "Option::is_none")]
    counted: Option<i64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    difference: Option<i64>,
    #[schema(example = 40)]
    on_hand: i64,
    /// Who recorded it; absent where it was a device.
    #[serde(skip_serializing_if = "Option::is_none")]
    by: Option<String>,
    /// Who took them.
    #[serde(skip_serializing_if = "Option::is_none")]
    handed_to: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<String>,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl From<PieceEntry> for PieceEntryView {
    fn from(entry: PieceEntry) -> Self {
        Self {
            id: entry.id,
            place_id: entry.place_id,
            movement: entry.movement,
            change: entry.change,
            counted: entry.counted,
            difference: entry.difference,
            on_hand: entry.on_hand,
            by: entry.by,
            handed_to: entry.handed_to,
            reason: entry.reason,
            happened_at: entry.happened_at,
            recorded_at: entry.recorded_at,
        }
    }
}

/// The balances of the lots of the site, by id.
#[utoipa::path(tag = "balances", params(PageQuery), responses((status = 200, body = Page<BalanceView>)))]
#[get("/api/v1/balances")]
pub(crate) async fn list_balances(
    caller: Caller<op::ListBalances>,
    page: Query<PageQuery>,
) -> Result<Json<Page<BalanceView>>, Problem> {
    let (site_id, window) = (caller.site_id(), page.window()?);
    let rows = caller
        .read_store(move |conn| {
            let found = lot::list(conn, site_id, None, window.fetch())?;
            let ids: Vec<Uuid> = found.iter().map(|(lot, _)| lot.id).collect();
            let volumes = balance::of_lots(conn, &ids)?;
            let mut pieces: HashMap<Uuid, Vec<PiecesView>> = HashMap::new();
            for counted in balance::pieces_of_lots(conn, &ids)? {
                pieces.entry(counted.lot_id).or_default().push(counted.into());
            }
            let of_lot = |(lot, stopped): (lot::Lot, bool)| {
                let id = lot.id;
                Ok(BalanceView {
                    lot: LotView::try_from((lot, stopped))?,
                    volumes: volumes.iter().find(|volumes| volumes.lot_id == id).map(VolumesView::from),
                    pieces: pieces.remove(&id).unwrap_or_default(),
                })
            };
            found.into_iter().map(of_lot).collect::<Result<Vec<_>, _>>()
        })
        .await?;
    Ok(Json(Page::of(rows, window, |view| view.lot.id(), |view| view)))
}

/// Everything that happened to a bottle: what changed in it, and where it was.
#[utoipa::path(tag = "bottles", responses(
    (status = 200, body = BottleLedger),
    (status = 404, description = "No such bottle here.", body = ProblemBody)
))]
#[get("/api/v1/bottles/{bottle_id}/ledger")]
pub(crate) async fn read_bottle_ledger(
    caller: Caller<op::ReadBottleLedger>,
    bottle_id: Path<Uuid>,
) -> Result<Json<BottleLedger>, Problem> {
    let (site_id, id) = (caller.site_id(), *bottle_id);
    let ledger = caller
        .read_store(move |conn| {
            let supply = bottle::find(conn, site_id, id)?;
            let entries = balance::of_bottle(conn, site_id, id)?;
            let ways = placement::list(conn, site_id, Thing::Bottle(id))?;
            Ok(BottleLedger {
                bottle_id: id,
                lot_id: supply.lot.id,
                opened_at: supply.opened_at,
                entries: entries.into_iter().map(BottleEntryView::from).collect(),
                placements: ways.into_iter().map(PlacementView::try_from).collect::<Result<_, _>>()?,
            })
        })
        .await?;
    Ok(Json(ledger))
}

/// Everything that happened to the pieces of a lot, place by place in the order in which it happened.
#[utoipa::path(tag = "lots", responses(
    (status = 200, body = Vec<PieceEntryView>),
    (status = 404, description = "No such lot here.", body = ProblemBody)
))]
#[get("/api/v1/lots/{lot_id}/ledger")]
pub(crate) async fn read_lot_ledger(
    caller: Caller<op::ReadLotLedger>,
    lot_id: Path<Uuid>,
) -> Result<Json<Vec<PieceEntryView>>, Problem> {
    let (site_id, id) = (caller.site_id(), *lot_id);
    let entries = caller
        .read_store(move |conn| {
            lot::find(conn, site_id, id)?;
            balance::of_pieces(conn, site_id, id)
        })
        .await?;
    Ok(Json(entries.into_iter().map(PieceEntryView::from).collect()))
}
