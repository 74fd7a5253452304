//! Bottles of a lot: adding them, opening them, and until when they may be used.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    refusal::{Code, Refusal},
    roles::op,
    supplies::{Agent, Solution, bottle_usable},
};
use sellion_store::{
    StoreError,
    bottle::{self, NewBottle as NewRow, NewOpening, Supply},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::happened,
    judge::Judge,
    page::{Page, PageQuery},
    parameters::SearchQuery,
    place::PlaceName,
    problem::{Problem, ProblemBody},
    words::{SHORT, number},
};

/// Ten litres, in microlitres: more is not a bottle.
pub(crate) const VOLUME_UL_MAX: i64 = 10_000_000;

/// One container of one solution.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BottleView {
    id: Uuid,
    lot_id: Uuid,
    /// What is written on it.
    #[schema(example = "T-14")]
    label: String,
    agent: Agent,
    solution: Solution,
    /// What it held when it came, in microlitres.
    #[schema(example = 55000)]
    volume_ul: i64,
    /// What is in it now by the books; below zero where more was recorded as taken than was there.
    #[schema(example = 53000)]
    on_hand_ul: i64,
    /// Where it is, where anybody has said so.
    #[serde(skip_serializing_if = "Option::is_none")]
    place: Option<PlaceName>,
    opened_at: Option<DateTime<Utc>>,
    /// Whether it may be used now.
    usable: bool,
    /// The first moment at which it may no longer be used, when it may be used now.
    #[serde(skip_serializing_if = "Option::is_none")]
    usable_until: Option<DateTime<Utc>>,
    /// Why it may not be used now, as a code.
    #[serde(skip_serializing_if = "Option::is_none")]
    not_usable: Option<Code>,
    /// The same in words, with what to do.
    #[serde(skip_serializing_if = "Option::is_none")]
    not_usable_because: Option<String>,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl BottleView {
    pub(crate) fn judged(judge: &Judge, supply: Supply) -> Result<Self, StoreError> {
        let usable = bottle_usable(&supply.facts(&judge.rules, judge.tz)?, judge.now, judge.tz);
        let (usable_until, refusal) = (usable.as_ref().ok().copied(), usable.err());
        let Supply { bottle, lot, opened_at, on_hand_ul, placed, .. } = supply;
        Ok(Self {
            id: bottle.id,
            lot_id: bottle.lot_id,
            label: bottle.label,
            agent: lot.agent()?,
            solution: lot.solution()?,
            volume_ul: bottle.volume_ul,
            on_hand_ul,
            place: placed.map(PlaceName::from),
            opened_at,
            usable: usable_until.is_some(),
            usable_until,
            not_usable: refusal.as_ref().map(|refusal| refusal.code),
            not_usable_because: refusal.map(|refusal| refusal.detail),
            happened_at: bottle.happened_at,
            recorded_at: bottle.recorded_at,
        })
    }
}

/// A bottle to be added.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewBottle {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    lot_id: Uuid,
    /// What is written on it; no two bottles of the site share one.
    #[schema(example = "T-14")]
    label: String,
    /// What it holds, in microlitres.
    #[schema(example = 55000)]
    volume_ul: i64,
    /// Where it was put; left out, the first storeroom of the site.
    place_id: Option<Uuid>,
    #[schema(example = "2026-03-02T09:05:00Z")]
    happened_at: DateTime<Utc>,
}

/// The opening of a bottle.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewBottleOpening {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    #[schema(example = "2026-03-10T06:45:00Z")]
    happened_at: DateTime<Utc>,
}

/// Which bottles.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct BottleQuery {
    /// Those of this lot only.
    lot_id: Option<Uuid>,
}

/// A volume of something that exists, in microlitres.
pub(crate) fn volume(volume_ul: i64) -> Result<i64, Refusal> {
    if (1..=VOLUME_UL_MAX).contains(&volume_ul) {
        return Ok(volume_ul);
    }
    let sentence = format!("A volume is 1 to {VOLUME_UL_MAX} microlitres.");
    Err(Refusal::new(Code::InvalidValue, sentence).field("volume_ul"))
}

/// Bottles of the site, by id; with `q`, those that have that text on their label or in the number of their lot.
#[utoipa::path(tag = "bottles", params(BottleQuery, SearchQuery, PageQuery), responses((status = 200, body = Page<BottleView>)))]
#[get("/api/v1/bottles")]
pub(crate) async fn list_bottles(
    caller: Caller<op::ListBottles>,
    filter: Query<BottleQuery>,
    search: Query<SearchQuery>,
    page: Query<PageQuery>,
) -> Result<Json<Page<BottleView>>, Problem> {
    let (site_id, window, now) = (caller.site_id(), page.window()?, caller.now);
    let (lot_id, text) = (filter.lot_id, search.text()?);
    let rows = caller
        .read_store(move |conn| {
            let judge = Judge::of_site(conn, site_id, now)?;
            let found = bottle::list(conn, site_id, (lot_id, text.as_deref()), window.fetch())?;
            found.into_iter().map(|supply| BottleView::judged(&judge, supply)).collect::<Result<Vec<_>, _>>()
        })
        .await?;
    Ok(Json(Page::of(rows, window, |view| view.id, |view| view)))
}

/// Adds a bottle of a lot.
#[utoipa::path(tag = "bottles", responses(
    (status = 201, body = BottleView),
    (status = 404, description = "No such lot here.", body = ProblemBody),
    (status = 409, description = "Another bottle has this label, or the id is another's.", body = ProblemBody),
    (status = 422, description = "The label or the volume cannot be.", body = ProblemBody)
))]
#[post("/api/v1/bottles")]
pub(crate) async fn create_bottle(
    caller: Caller<op::CreateBottle>,
    body: Json<NewBottle>,
) -> Result<HttpResponse, Problem> {
    let NewBottle { id, lot_id, label, volume_ul, place_id, happened_at } = body.into_inner();
    let (site_id, now) = (caller.site_id(), caller.now);
    let happened_at = happened(happened_at, now)?;
    let label = number(&label, "label", SHORT)?;
    let new = NewRow { id, site_id, lot_id, label, volume_ul: volume(volume_ul)?, happened_at };
    let view = caller
        .write(move |tx| {
            let made = bottle::create(tx, &new, place_id)?;
            BottleView::judged(&Judge::of_site(tx.conn, site_id, now)?, made)
        })
        .await?;
    Ok(HttpResponse::Created().json(view))
}

/// Records that a bottle was opened. Its opened life counts from that day on.
#[utoipa::path(tag = "bottles", responses(
    (status = 201, body = BottleView),
    (status = 404, description = "No such bottle here.", body = ProblemBody),
    (status = 409, description = "The bottle was opened before, or the id is another's.", body = ProblemBody)
))]
#[post("/api/v1/bottles/{bottle_id}/openings")]
pub(crate) async fn create_bottle_opening(
    caller: Caller<op::CreateBottleOpening>,
    bottle_id: Path<Uuid>,
    body: Json<NewBottleOpening>,
) -> Result<HttpResponse, Problem> {
    let NewBottleOpening { id, happened_at } = body.into_inner();
    let (site_id, now) = (caller.site_id(), caller.now);
    let new = NewOpening { id, site_id, bottle_id: *bottle_id, happened_at: happened(happened_at, now)? };
    let view = caller
        .write(move |tx| {
            let made = bottle::open(tx, &new)?;
            BottleView::judged(&Judge::of_site(tx.conn, site_id, now)?, made)
        })
        .await?;
    Ok(HttpResponse::Created().json(view))
}
