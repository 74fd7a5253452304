//! Fit-testing days.

use actix_web::{
    HttpResponse, get, patch, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{refusal::Refusal, roles::op};
use sellion_store::day::{self, Day, DayChange};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::moment,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    version::{IfMatch, with_etag},
    words::{SHORT, line},
};

/// One fit-testing day.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DayView {
    id: Uuid,
    /// Where it is held.
    #[schema(example = "Heron ward, ground floor")]
    place: String,
    opens_at: DateTime<Utc>,
    closes_at: DateTime<Utc>,
    /// The rule set every run of the day is judged under.
    rule_set: RuleSetName,
    /// When it was closed; absent while it takes visits and runs.
    #[serde(skip_serializing_if = "Option::is_none")]
    closed_at: Option<DateTime<Utc>>,
    /// Counts the changes; also sent as `ETag`.
    version: i32,
    created_at: DateTime<Utc>,
}

/// A rule set by its name and version.
#[derive(Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RuleSetName {
    #[schema(example = "us-29cfr1910-134")]
    name: String,
    #[schema(example = "2019-09-26.1")]
    version: String,
}

impl From<Day> for DayView {
    fn from(day: Day) -> Self {
        let Day { id, place, opens_at, closes_at, closed_at, version, created_at, .. } = day;
        let rule_set = RuleSetName { name: day.rule_set_name, version: day.rule_set_version };
        Self { id, place, opens_at, closes_at, rule_set, closed_at, version, created_at }
    }
}

/// A day to be planned.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewDay {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    #[schema(example = "Heron ward, ground floor")]
    place: String,
    #[schema(example = "2026-03-10T07:00:00Z")]
    opens_at: DateTime<Utc>,
    #[schema(example = "2026-03-10T19:00:00Z")]
    closes_at: DateTime<Utc>,
    /// Another rule set than the one of the site.
    rule_set: Option<RuleSetName>,
}

/// What may change about a day; members left out stay as they are.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct DayPatch {
    #[schema(example = "Plover ward, first floor")]
    place: Option<String>,
    opens_at: Option<DateTime<Utc>>,
    closes_at: Option<DateTime<Utc>>,
    /// True closes the day: no visits, calls or runs from now on; what happened before may still be entered.
    /// False opens it again.
    #[schema(example = true)]
    closed: Option<bool>,
}

impl DayPatch {
    fn change(self) -> Result<DayChange, Refusal> {
        let Self { place, opens_at, closes_at, closed } = self;
        let place = place.map(|place| line(&place, "place", SHORT)).transpose()?;
        let opens_at = opens_at.map(|at| moment(at, "opens_at")).transpose()?;
        let closes_at = closes_at.map(|at| moment(at, "closes_at")).transpose()?;
        Ok(DayChange { place, opens_at, closes_at, closed })
    }
}

/// Fit-testing days of the site.
#[utoipa::path(tag = "days", params(PageQuery), responses((status = 200, body = Page<DayView>)))]
#[get("/api/v1/days")]
pub(crate) async fn list_days(
    caller: Caller<op::ListDays>,
    page: Query<PageQuery>,
) -> Result<Json<Page<DayView>>, Problem> {
    let (site_id, window) = (caller.site_id(), page.window()?);
    let rows = caller.read_store(move |conn| day::list(conn, site_id, window.fetch())).await?;
    Ok(Json(Page::of(rows, window, |day| day.id, DayView::from)))
}

/// Plans a day, under the rule set of the site unless another one is named.
#[utoipa::path(tag = "days", responses(
    (status = 201, body = DayView),
    (status = 409, description = "The id is another day's.", body = ProblemBody),
    (status = 422, description = "The hours or the rule set cannot be.", body = ProblemBody)
))]
#[post("/api/v1/days")]
pub(crate) async fn create_day(
    caller: Caller<op::CreateDay>,
    body: Json<NewDay>,
) -> Result<HttpResponse, Problem> {
    let NewDay { id, place, opens_at, closes_at, rule_set } = body.into_inner();
    let place = line(&place, "place", SHORT)?;
    let rule_set = rule_set.map(|RuleSetName { name, version }| (name, version));
    let new = (id, place, moment(opens_at, "opens_at")?, moment(closes_at, "closes_at")?);
    let day = caller.write(move |tx| day::create(tx, new.clone(), rule_set.clone())).await?;
    Ok(with_etag(HttpResponse::Created(), day.version).json(DayView::from(day)))
}

/// One day.
#[utoipa::path(tag = "days", responses(
    (status = 200, body = DayView), (status = 404, description = "No such day here.", body = ProblemBody)
))]
#[get("/api/v1/days/{day_id}")]
pub(crate) async fn read_day(
    caller: Caller<op::ReadDay>,
    day_id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let (site_id, id) = (caller.site_id(), *day_id);
    let day = caller.read_store(move |conn| day::find(conn, site_id, id)).await?;
    Ok(with_etag(HttpResponse::Ok(), day.version).json(DayView::from(day)))
}

/// Changes, closes or reopens a day.
#[utoipa::path(tag = "days", params(IfMatch), responses(
    (status = 200, body = DayView),
    (status = 404, description = "No such day here.", body = ProblemBody),
    (status = 409, description = "Somebody changed the day meanwhile.", body = ProblemBody),
    (status = 422, description = "The hours cannot be.", body = ProblemBody)
))]
#[patch("/api/v1/days/{day_id}")]
pub(crate) async fn update_day(
    caller: Caller<op::UpdateDay>,
    day_id: Path<Uuid>,
    version: IfMatch,
    body: Json<DayPatch>,
) -> Result<HttpResponse, Problem> {
    let (id, change) = (*day_id, body.into_inner().change()?);
    let day = caller.write(move |tx| day::update(tx, id, version.0, &change)).await?;
    Ok(with_etag(HttpResponse::Ok(), day.version).json(DayView::from(day)))
}
