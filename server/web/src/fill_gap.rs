//! Gaps: times for which nobody knows what a station sprayed.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    refusal::{Code, Refusal},
    roles::op,
    supplies::{Agent, Solution},
};
use sellion_store::{
    StoreError,
    fill_gap::{self, FillGap, NewFillGap as NewRow},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::{happened, moment},
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    words::{LONG, line},
};

/// A time for which nobody knows what a station sprayed. It stays one: nothing is filled in afterwards.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FillGapView {
    id: Uuid,
    station_id: Uuid,
    /// Absent where it is about any.
    #[serde(skip_serializing_if = "Option::is_none")]
    agent: Option<Agent>,
    /// Absent where it is about any.
    #[serde(skip_serializing_if = "Option::is_none")]
    solution: Option<Solution>,
    from: DateTime<Utc>,
    /// The first moment after it.
    until: DateTime<Utc>,
    reason: String,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl TryFrom<FillGap> for FillGapView {
    type Error = StoreError;

    fn try_from((row, recorded_at): FillGap) -> Result<Self, StoreError> {
        let fault = |error| StoreError::internal(format!("a stored gap: {error}"));
        Ok(Self {
            id: row.id,
            station_id: row.station_id,
            agent: row.agent.map(|word| word.parse()).transpose().map_err(fault)?,
            solution: row.solution.map(|word| word.parse()).transpose().map_err(fault)?,
            from: row.from_at,
            until: row.until_at,
            reason: row.reason,
            happened_at: row.happened_at,
            recorded_at,
        })
    }
}

/// A gap to be recorded.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewFillGap {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    station_id: Uuid,
    /// Left out where it is about any.
    agent: Option<Agent>,
    /// Screening or test solution; left out where it is about both.
    solution: Option<Solution>,
    #[schema(example = "2026-03-10T09:00:00Z")]
    from: DateTime<Utc>,
    /// The first moment after it: up to now.
    #[schema(example = "2026-03-10T09:40:00Z")]
    until: DateTime<Utc>,
    /// Why, in words.
    #[schema(example = "nobody wrote the fills down")]
    reason: String,
    /// When it was noticed.
    #[schema(example = "2026-03-10T09:45:00Z")]
    happened_at: DateTime<Utc>,
}

impl NewFillGap {
    fn row(self, site_id: Uuid, now: DateTime<Utc>) -> Result<NewRow, Refusal> {
        let refused = |field, sentence: &str| Err(Refusal::new(Code::InvalidValue, sentence).field(field));
        let (from_at, until_at) = (moment(self.from, "from")?, moment(self.until, "until")?);
        if until_at <= from_at {
            return refused("until", "The end lies before the beginning.");
        }
        let happened_at = happened(self.happened_at, now)?;
        // What is still to come can be recorded when it comes.
        happened(until_at, now).map_err(|refusal| refusal.field("until"))?;
        if self.solution == Some(Solution::Stock) {
            return refused("solution", "Stock solution is never sprayed.");
        }
        Ok(NewRow {
            id: self.id,
            site_id,
            station_id: self.station_id,
            agent: self.agent.map(|agent| agent.as_str().to_owned()),
            solution: self.solution.map(|solution| solution.as_str().to_owned()),
            from_at,
            until_at,
            reason: line(&self.reason, "reason", LONG)?,
            happened_at,
        })
    }
}

/// Which gaps.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct FillGapQuery {
    /// Those of this station only.
    station_id: Option<Uuid>,
}

/// Records a gap: runs that lie in it may have been made with what was there then.
#[utoipa::path(tag = "stops", responses(
    (status = 201, body = FillGapView),
    (status = 404, description = "No such station here.", body = ProblemBody),
    (status = 409, description = "The id belongs to another gap.", body = ProblemBody),
    (status = 422, description = "The times make no span, or lie ahead.", body = ProblemBody)
))]
#[post("/api/v1/fill_gaps")]
pub(crate) async fn create_fill_gap(
    caller: Caller<op::CreateFillGap>,
    body: Json<NewFillGap>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().row(caller.site_id(), caller.now)?;
    let made = caller.write(move |tx| fill_gap::create(tx, &new)).await?;
    Ok(HttpResponse::Created().json(FillGapView::try_from(made)?))
}

/// Gaps, by id.
#[utoipa::path(tag = "stops", params(FillGapQuery, PageQuery),
    responses((status = 200, body = Page<FillGapView>)))]
#[get("/api/v1/fill_gaps")]
pub(crate) async fn list_fill_gaps(
    caller: Caller<op::ListFillGaps>,
    filter: Query<FillGapQuery>,
    page: Query<PageQuery>,
) -> Result<Json<Page<FillGapView>>, Problem> {
    let (site_id, window, station_id) = (caller.site_id(), page.window()?, filter.station_id);
    let rows = caller
        .read_store(move |conn| {
            let found = fill_gap::list(conn, site_id, station_id, window.fetch())?;
            found.into_iter().map(FillGapView::try_from).collect::<Result<Vec<_>, _>>()
        })
        .await?;
    Ok(Json(Page::of(rows, window, |view| view.id, |view| view)))
}
