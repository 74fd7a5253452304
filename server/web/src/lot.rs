//! Lots of solution: receiving them, stopping them, releasing them.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, NaiveDate, Utc};
use sellion_rules::{
    dates::PrintedExpiry,
    refusal::{Code, Refusal},
    roles::op,
    supplies::{Agent, Solution},
};
use sellion_store::{
    StoreError,
    lot::{self, Lot, NewLot as NewRow, NewLotMark},
};
use serde::{Deserialize, Serialize};
use serde_json::from_value;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::{happened, plausible},
    page::{Page, PageQuery},
    preparation::Prepared,
    problem::{Problem, ProblemBody},
    words::{LONG, SHORT, line, number},
};

/// Ten years: a longer life after opening is a slip of the pen.
const OPENED_LIFE_DAYS_MAX: u32 = 3650;

/// One supplied batch of one solution.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LotView {
    id: Uuid,
    agent: Agent,
    solution: Solution,
    /// As on the label.
    #[schema(example = "SB-2231")]
    lot_number: String,
    /// The expiry, as printed.
    #[schema(example = "2027-08")]
    printed_expiry: String,
    /// The last day that the printed expiry names.
    #[schema(example = "2027-08-31")]
    expires_on: NaiveDate,
    /// Days its bottles may be used after the day of opening, where its label says so.
    #[schema(example = 90)]
    opened_life_days: Option<i32>,
    /// How it was made, where it was made in-house.
    #[serde(skip_serializing_if = "Option::is_none")]
    prepared: Option<Prepared>,
    /// Whether it must not be used.
    stopped: bool,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl TryFrom<(Lot, bool)> for LotView {
    type Error = StoreError;

    fn try_from((lot, stopped): (Lot, bool)) -> Result<Self, StoreError> {
        let (agent, solution) = (lot.agent()?, lot.solution()?);
        let prepared = lot.prepared.clone().map(from_value).transpose();
        let prepared = prepared.map_err(|error| StoreError::internal(error.to_string()))?;
        let Lot { id, lot_number, printed_expiry, expires_on, opened_life_days, .. } = lot;
        let (happened_at, recorded_at) = (lot.happened_at, lot.recorded_at);
        Ok(Self {
            id,
            agent,
            solution,
            lot_number,
            printed_expiry,
            expires_on,
            opened_life_days,
            prepared,
            stopped,
            happened_at,
            recorded_at,
        })
    }
}

/// A lot to be received.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewLot {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    agent: Agent,
    solution: Solution,
    #[schema(example = "SB-2231")]
    lot_number: String,
    /// As printed: a day, or a month whose last day is meant.
    #[schema(example = "2027-08")]
    printed_expiry: String,
    /// Days its bottles may be used after the day of opening, where its label says so.
    #[schema(example = 90)]
    opened_life_days: Option<u32>,
    #[schema(example = "2026-03-02T09:00:00Z")]
    happened_at: DateTime<Utc>,
}

impl NewLot {
    fn row(self, site_id: Uuid, happened_at: DateTime<Utc>) -> Result<NewRow, Refusal> {
        let refused = |sentence: String| Err(Refusal::new(Code::InvalidValue, sentence).field("solution"));
        let what = format!("{} of {}", self.solution.name(), self.agent.name());
        if !self.agent.has(self.solution) {
            return refused(format!("There is no {what}."));
        }
        if self.agent.is_made_in_house(self.solution) {
            return refused(format!(
                "The {what} is made in-house and lasts days: record it as a preparation."
            ));
        }
        let printed: PrintedExpiry = self.printed_expiry.trim().parse()?;
        let expires_on = plausible(printed.last_day(), "printed_expiry")?;
        if self.opened_life_days.is_some_and(|days| !(1..=OPENED_LIFE_DAYS_MAX).contains(&days)) {
            let sentence =
                format!("The life after opening is 1 to {OPENED_LIFE_DAYS_MAX} days, or left out.");
            return Err(Refusal::new(Code::InvalidValue, sentence).field("opened_life_days"));
        }
        Ok(NewRow {
            id: self.id,
            site_id,
            agent: self.agent.as_str().to_owned(),
            solution: self.solution.as_str().to_owned(),
            lot_number: number(&self.lot_number, "lot_number", SHORT)?,
            printed_expiry: printed.as_printed().to_owned(),
            expires_on,
            opened_life_days: self.opened_life_days.and_then(|days| i32::try_from(days).ok()),
            prepared: None,
            happened_at,
        })
    }
}

/// A stop or a release.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewLotDecision {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    /// Why, in words.
    #[schema(example = "the supplier recalls this lot")]
    reason: String,
    #[schema(example = "2026-03-10T11:20:00Z")]
    happened_at: DateTime<Utc>,
}

impl NewLotDecision {
    fn row(
        self,
        mark: &'static str,
        (site_id, lot_id): (Uuid, Uuid),
        now: DateTime<Utc>,
    ) -> Result<NewLotMark, Refusal> {
        let happened_at = happened(self.happened_at, now)?;
        let reason = line(&self.reason, "reason", LONG)?;
        Ok(NewLotMark { id: self.id, site_id, lot_id, mark: mark.to_owned(), reason, happened_at })
    }
}

/// Lots of the site, by id.
#[utoipa::path(tag = "lots", params(PageQuery), responses((status = 200, body = Page<LotView>)))]
#[get("/api/v1/lots")]
pub(crate) async fn list_lots(
    caller: Caller<op::ListLots>,
    page: Query<PageQuery>,
) -> Result<Json<Page<LotView>>, Problem> {
    let (site_id, window) = (caller.site_id(), page.window()?);
    let rows = caller
        .read_store(move |conn| {
            let found = lot::list(conn, site_id, window.fetch())?;
            found.into_iter().map(LotView::try_from).collect::<Result<Vec<_>, _>>()
        })
        .await?;
    Ok(Json(Page::of(rows, window, |view| view.id, |view| view)))
}

/// Receives a lot.
#[utoipa::path(tag = "lots", responses(
    (status = 201, body = LotView),
    (status = 409, description = "The lot is known already, or the id is another's.", body = ProblemBody),
    (status = 422, description = "The expiry cannot be read, or a value cannot be.", body = ProblemBody)
))]
#[post("/api/v1/lots")]
pub(crate) async fn create_lot(
    caller: Caller<op::CreateLot>,
    body: Json<NewLot>,
) -> Result<HttpResponse, Problem> {
    let body = body.into_inner();
    let at = happened(body.happened_at, caller.now)?;
    let new = body.row(caller.site_id(), at)?;
    let made = caller.write(move |tx| lot::create(tx, &new)).await?;
    Ok(HttpResponse::Created().json(LotView::try_from(made)?))
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
    body: Json<NewLotDecision>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().row("stop", (caller.site_id(), *lot_id), caller.now)?;
    let made = caller.write(move |tx| lot::mark(tx, &new)).await?;
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
    body: Json<NewLotDecision>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().row("release", (caller.site_id(), *lot_id), caller.now)?;
    let made = caller.write(move |tx| lot::mark(tx, &new)).await?;
    Ok(HttpResponse::Created().json(LotView::try_from(made)?))
}
