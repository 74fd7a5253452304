//! Fills of nebulizers.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    roles::op,
    supplies::{Agent, Solution},
};
use sellion_store::{
    StoreError,
    fill::{self, Filled, NewFill as NewRow},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    bottle::volume,
    extract::happened,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    words::{SHORT, number},
};

/// One filling of one nebulizer from one bottle.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FillView {
    id: Uuid,
    station_id: Uuid,
    bottle_id: Uuid,
    lot_id: Uuid,
    /// What is written on the bottle.
    #[schema(example = "T-14")]
    bottle_label: String,
    agent: Agent,
    solution: Solution,
    /// What is written on the nebulizer.
    #[schema(example = "3 test")]
    nebulizer: String,
    /// How much, in microlitres.
    #[schema(example = 2000)]
    volume_ul: i64,
    /// Whether the nebulizer was rinsed before.
    rinsed: bool,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl TryFrom<Filled> for FillView {
    type Error = StoreError;

    fn try_from(Filled { fill, supply }: Filled) -> Result<Self, StoreError> {
        Ok(Self {
            id: fill.id,
            station_id: fill.station_id,
            bottle_id: fill.bottle_id,
            lot_id: supply.lot.id,
            agent: supply.lot.agent()?,
            solution: supply.lot.solution()?,
            bottle_label: supply.bottle.label,
            nebulizer: fill.nebulizer,
            volume_ul: fill.volume_ul,
            rinsed: fill.rinsed,
            happened_at: fill.happened_at,
            recorded_at: fill.recorded_at,
        })
    }
}

/// A filling to be recorded.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewFill {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    station_id: Uuid,
    bottle_id: Uuid,
    /// What is written on the nebulizer; on one day the same words are the same nebulizer, at whatever station.
    #[schema(example = "3 test")]
    nebulizer: String,
    /// How much, in microlitres.
    #[schema(example = 2000)]
    volume_ul: i64,
    /// Whether the nebulizer was rinsed before. Without it, it takes no other liquid than it held.
    #[serde(default)]
    rinsed: bool,
    #[schema(example = "2026-03-10T07:05:00Z")]
    happened_at: DateTime<Utc>,
}

/// The fills made at a station, by id.
#[utoipa::path(tag = "fills", params(PageQuery), responses(
    (status = 200, body = Page<FillView>),
    (status = 404, description = "No such station here.", body = ProblemBody)
))]
#[get("/api/v1/stations/{station_id}/fills")]
pub(crate) async fn list_fills(
    caller: Caller<op::ListFills>,
    station_id: Path<Uuid>,
    page: Query<PageQuery>,
) -> Result<Json<Page<FillView>>, Problem> {
    let (site_id, station_id, window) = (caller.site_id(), *station_id, page.window()?);
    let rows = caller
        .read_store(move |conn| {
            let found = fill::list(conn, site_id, station_id, window.fetch())?;
            found.into_iter().map(FillView::try_from).collect::<Result<Vec<_>, _>>()
        })
        .await?;
    Ok(Json(Page::of(rows, window, |view| view.id, |view| view)))
}

/// Records the filling of a nebulizer.
///
/// The bottle has to be usable at that moment: opened, in date, within its opened life, of a lot that is not stopped.
#[utoipa::path(tag = "fills", responses(
    (status = 201, body = FillView),
    (status = 404, description = "No such station or bottle here.", body = ProblemBody),
    (status = 409, description = "The id belongs to another fill.", body = ProblemBody),
    (status = 422, description = "The bottle may not be used, or the nebulizer held another liquid.", body = ProblemBody)
))]
#[post("/api/v1/fills")]
pub(crate) async fn create_fill(
    caller: Caller<op::CreateFill>,
    body: Json<NewFill>,
) -> Result<HttpResponse, Problem> {
    let NewFill { id, station_id, bottle_id, nebulizer, volume_ul, rinsed, happened_at } = body.into_inner();
    let new = NewRow {
        id,
        site_id: caller.site_id(),
        station_id,
        bottle_id,
        nebulizer: number(&nebulizer, "nebulizer", SHORT)?,
        volume_ul: volume(volume_ul)?,
        rinsed,
        happened_at: happened(happened_at, caller.now)?,
    };
    let made = caller.write(move |tx| fill::create(tx, &new)).await?;
    Ok(HttpResponse::Created().json(FillView::try_from(made)?))
}
