//! Stops of lots and their releases: making them, and who decided what and why.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{refusal::Refusal, roles::op};
use sellion_store::lot_stop::{self, LotReleased, LotStop, NewLotMark};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::happened,
    lot::LotView,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    stop::{Reach, StopReleaseView},
    words::{LONG, line},
};

/// A stop.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewLotStop {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    /// Whether what may stand on the lot is held as well; it is unless told otherwise.
    #[serde(default)]
    reach: Reach,
    /// Why, in words.
    #[schema(example = "the supplier recalls this lot")]
    reason: String,
    #[schema(example = "2026-03-10T11:20:00Z")]
    happened_at: DateTime<Utc>,
}

/// A release.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewLotRelease {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    /// Why, in words.
    #[schema(example = "the supplier recalls this lot")]
    reason: String,
    #[schema(example = "2026-03-10T11:20:00Z")]
    happened_at: DateTime<Utc>,
}

impl NewLotStop {
    fn row(self, (site_id, lot_id): (Uuid, Uuid), now: DateTime<Utc>) -> Result<NewLotMark, Refusal> {
        let release = NewLotRelease { id: self.id, reason: self.reason, happened_at: self.happened_at };
        let mark = release.row((site_id, lot_id), now)?;
        Ok(NewLotMark { mark: "stop".to_owned(), reach: self.reach.stored(), ..mark })
    }
}

impl NewLotRelease {
    fn row(self, (site_id, lot_id): (Uuid, Uuid), now: DateTime<Utc>) -> Result<NewLotMark, Refusal> {
        let happened_at = happened(self.happened_at, now)?;
        let reason = line(&self.reason, "reason", LONG)?;
        let mark = "release".to_owned();
        Ok(NewLotMark { id: self.id, site_id, lot_id, mark, reach: None, reason, happened_at })
    }
}

/// A stop of a lot, with its release.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LotStopView {
    id: Uuid,
    lot_id: Uuid,
    #[schema(example = "SB-2231")]
    lot_number: String,
    reach: Reach,
    reason: String,
    /// Who decided, by the name that is shown; absent where it was the program.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ines Valdrun")]
    by: Option<String>,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
    /// Absent while the stop is in force.
    #[serde(skip_serializing_if = "Option::is_none")]
    release: Option<StopReleaseView>,
}

impl From<LotStop> for LotStopView {
    fn from(stop: LotStop) -> Self {
        let LotReleased { release_id, release_reason, released_at, released_by } = stop.release;
        let release = release_id.zip(release_reason).zip(released_at);
        Self {
            id: stop.id,
            lot_id: stop.lot_id,
            lot_number: stop.lot_number,
            reach: Reach::of(stop.reach.as_deref()),
            reason: stop.reason,
            by: stop.by,
            happened_at: stop.happened_at,
            recorded_at: stop.recorded_at,
            release: release.map(|((id, reason), happened_at)| StopReleaseView {
                id,
                reason,
                by: released_by,
                happened_at,
            }),
        }
    }
}

/// Whose stops.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct LotStopQuery {
    /// Of this lot only.
    lot_id: Option<Uuid>,
}

/// Stops of lots by id, each with who decided and why, and its release.
#[utoipa::path(tag = "lots", params(LotStopQuery, PageQuery), responses((status = 200, body = Page<LotStopView>)))]
#[get("/api/v1/lot_stops")]
pub(crate) async fn list_lot_stops(
    caller: Caller<op::ListLotStops>,
    of: Query<LotStopQuery>,
    page: Query<PageQuery>,
) -> Result<Json<Page<LotStopView>>, Problem> {
    let (site_id, window, lot_id) = (caller.site_id(), page.window()?, of.lot_id);
    let rows = caller.read_store(move |conn| lot_stop::list(conn, site_id, lot_id, window.fetch())).await?;
    Ok(Json(Page::of(rows, window, |row| row.id, LotStopView::from)))
}

/// Stops a lot: from now on every station refuses it, and clearances that stand on it are held.
#[utoipa::path(tag = "lots", responses(
    (status = 201, body = LotView),
    (status = 404, description = "No such lot here.", body = ProblemBody),
    (status = 409, description = "The id belongs to another decision.", body = ProblemBody),
    (status = 422, description = "A reason is needed.", body = ProblemBody)
))]
#[post("/api/v1/lots/{lot_id}/stops")]
pub(crate) async fn create_lot_stop(
    caller: Caller<op::CreateLotStop>,
    lot_id: Path<Uuid>,
    body: Json<NewLotStop>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().row((caller.site_id(), *lot_id), caller.now)?;
    let made = caller.write(move |tx| lot_stop::mark(tx, &new)).await?;
    Ok(HttpResponse::Created().json(LotView::try_from(made)?))
}

/// Releases a stopped lot: what was held by the stop alone counts again.
#[utoipa::path(tag = "lots", responses(
    (status = 201, body = LotView),
    (status = 404, description = "No such lot here.", body = ProblemBody),
    (status = 409, description = "The id belongs to another decision.", body = ProblemBody),
    (status = 422, description = "A reason is needed.", body = ProblemBody)
))]
#[post("/api/v1/lots/{lot_id}/releases")]
pub(crate) async fn create_lot_release(
    caller: Caller<op::CreateLotRelease>,
    lot_id: Path<Uuid>,
    body: Json<NewLotRelease>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().row((caller.site_id(), *lot_id), caller.now)?;
    let made = caller.write(move |tx| lot_stop::mark(tx, &new)).await?;
    Ok(HttpResponse::Created().json(LotView::try_from(made)?))
}
