//! Fills of nebulizers.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    refusal::{Code, Refusal},
    roles::{Op, op},
    supplies::{Agent, Solution, Vessel},
};
use sellion_store::{
    PgConnection, StoreError,
    fill::{self, Filled, NewEmptying as NewEmptyingRow, NewFill as NewRow},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    bottle::{VOLUME_UL_MAX, volume},
    extract::happened,
    judge::Judge,
    page::{Page, PageQuery},
    place::PlaceName,
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
    /// What was filled: a nebulizer, or for the odour a jar or the towel, or for smoke the tube itself.
    vessel: Vessel,
    /// What is written on it.
    #[schema(example = "3 test")]
    nebulizer: String,
    /// How much, in microlitres.
    #[schema(example = 2000)]
    volume_ul: i64,
    /// Whether the nebulizer was rinsed before.
    rinsed: bool,
    /// The fill whose rest it was made on top of: it counts for both, and is as old as the older.
    #[serde(skip_serializing_if = "Option::is_none")]
    topped_up_fill_id: Option<Uuid>,
    /// Whether it was made out of reach of the server and told afterwards.
    afterwards: bool,
    /// Where the books had the bottle at that moment, if neither at the station nor at a filling point: a difference,
    /// until somebody records how it came here.
    #[serde(skip_serializing_if = "Option::is_none")]
    bottle_was_at: Option<PlaceName>,
    /// When the nebulizer was emptied, if it was.
    #[serde(skip_serializing_if = "Option::is_none")]
    emptied_at: Option<DateTime<Utc>>,
    /// When the nebulizer was filled again, if it was.
    #[serde(skip_serializing_if = "Option::is_none")]
    refilled_at: Option<DateTime<Utc>>,
    /// The first moment at which no run may use it any more, when one may use it now.
    #[serde(skip_serializing_if = "Option::is_none")]
    usable_until: Option<DateTime<Utc>>,
    /// Why no run may use it now, though it is in its nebulizer.
    #[serde(skip_serializing_if = "Option::is_none")]
    not_usable: Option<Code>,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl FillView {
    fn judged(judge: &Judge, conn: &mut PgConnection, filled: Filled) -> Result<Self, StoreError> {
        let standing = filled.standing(conn, judge.site_id, (&judge.rules, judge.tz), judge.now)?;
        let (usable_until, refusal) = match standing.usable {
            Some(Ok(until)) => (Some(until), None),
            Some(Err(refusal)) => (None, Some(refusal)),
            None => (None, None),
        };
        let Filled { fill, supply, emptied_at, bottle_was_at, .. } = filled;
        let (agent, solution) = (supply.lot.agent()?, supply.lot.solution()?);
        Ok(Self {
            id: fill.id,
            station_id: fill.station_id,
            bottle_id: fill.bottle_id,
            lot_id: supply.lot.id,
            agent,
            solution,
            vessel: agent.vessel(solution),
            bottle_label: supply.bottle.label,
            nebulizer: fill.nebulizer,
            volume_ul: fill.volume_ul,
            rinsed: fill.rinsed,
            topped_up_fill_id: fill.topped_up_fill_id,
            afterwards: fill.reported.is_some(),
            bottle_was_at: bottle_was_at.map(PlaceName::from),
            emptied_at,
            refilled_at: standing.refilled_at,
            usable_until,
            not_usable: refusal.map(|refusal| refusal.code),
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
    /// What is written on the nebulizer, in small or capital letters. It has to be registered: a slip of the pen is
    /// refused, with the label that may be meant.
    #[schema(example = "3 test")]
    nebulizer: String,
    /// How much, in microlitres.
    #[schema(example = 2000)]
    volume_ul: i64,
    /// Whether the nebulizer was rinsed before. Without it, it takes no other liquid than it held.
    #[serde(default)]
    rinsed: bool,
    /// Whether it was made on top of a rest, as it should not be. It then counts for both bottles, and is as old as the
    /// older; without this word it is refused.
    #[serde(default)]
    topped_up: bool,
    /// Whether it was made out of reach of the server. It is then kept even where the books say that the bottle does
    /// not hold that much, and the balance goes below zero; where they have the bottle elsewhere, which is shown as
    /// `bottle_was_at`; and where the lot was stopped, which holds whatever stands on it.
    #[serde(default)]
    afterwards: bool,
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
    let (site_id, station_id, now, window) = (caller.site_id(), *station_id, caller.now, page.window()?);
    let rows = caller
        .read_store(move |conn| {
            let judge = Judge::of_station(conn, (site_id, station_id), now)?;
            let found = fill::list(conn, site_id, station_id, window.fetch())?;
            found
                .into_iter()
                .map(|filled| FillView::judged(&judge, conn, filled))
                .collect::<Result<Vec<_>, _>>()
        })
        .await?;
    Ok(Json(Page::of(rows, window, |view| view.id, |view| view)))
}

/// Records the filling of a nebulizer.
///
/// The bottle has to be usable at that moment: opened, in date, within its opened life, of a lot that is not stopped;
/// and by the books it is at the station, or at a filling point.
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
    let body = body.into_inner();
    let new = NewRow {
        id: body.id,
        site_id: caller.site_id(),
        station_id: body.station_id,
        bottle_id: body.bottle_id,
        nebulizer: number(&body.nebulizer, "nebulizer", SHORT)?,
        volume_ul: volume(body.volume_ul)?,
        rinsed: body.rinsed,
        topped_up: body.topped_up,
        afterwards: body.afterwards,
        happened_at: happened(body.happened_at, caller.now)?,
    };
    let made = caller.write(move |tx| fill::create(tx, &new)).await?;
    Ok(HttpResponse::Created().json(shown(&caller, made).await?))
}

/// A fill as it stands now.
async fn shown<O: Op>(caller: &Caller<O>, filled: Filled) -> Result<FillView, Problem> {
    let (site_id, now) = (caller.site_id(), caller.now);
    let view = move |conn: &mut PgConnection| {
        let judge = Judge::of_station(conn, (site_id, filled.fill.station_id), now)?;
        FillView::judged(&judge, conn, filled.clone())
    };
    caller.read_store(view).await
}

/// An emptying.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewFillEmptying {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    /// What was left and thrown away, in microlitres, where somebody measured it.
    #[schema(example = 350)]
    discarded_ul: Option<i64>,
    /// Whether the nebulizer was rinsed with it.
    rinsed: bool,
    #[schema(example = "2026-03-10T11:02:00Z")]
    happened_at: DateTime<Utc>,
}

/// Records that a nebulizer was emptied: from then on this fill cannot be used.
#[utoipa::path(tag = "fills", responses(
    (status = 201, body = FillView),
    (status = 404, description = "No such fill here.", body = ProblemBody),
    (status = 409, description = "It was emptied before, or the id belongs to another emptying.", body = ProblemBody),
    (status = 422, description = "More is said to be left than was filled in.", body = ProblemBody)
))]
#[post("/api/v1/fills/{fill_id}/emptyings")]
pub(crate) async fn create_fill_emptying(
    caller: Caller<op::CreateFillEmptying>,
    fill_id: Path<Uuid>,
    body: Json<NewFillEmptying>,
) -> Result<HttpResponse, Problem> {
    let NewFillEmptying { id, discarded_ul, rinsed, happened_at } = body.into_inner();
    if discarded_ul.is_some_and(|left| !(0..=VOLUME_UL_MAX).contains(&left)) {
        let sentence = format!("What is left is 0 to {VOLUME_UL_MAX} microlitres, or left out.");
        return Err(Refusal::new(Code::InvalidValue, sentence).field("discarded_ul").into());
    }
    let happened_at = happened(happened_at, caller.now)?;
    let new = NewEmptyingRow {
        id,
        site_id: caller.site_id(),
        fill_id: *fill_id,
        discarded_ul,
        rinsed,
        happened_at,
    };
    let made = caller.write(move |tx| fill::create_emptying(tx, &new)).await?;
    Ok(HttpResponse::Created().json(shown(&caller, made).await?))
}
