//! One badge at two gates sooner than a person walks: a pair to look at, never an accusation.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::roles::op;
use sellion_store::twin_notice::{self, Seen, TwinNotice};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    review::{NewReview, ReviewView, ReviewedQuery},
};

/// One half of a pair.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SeenView {
    gate_id: Uuid,
    #[schema(example = "North entrance")]
    gate: String,
    /// When, by the gate's own clock.
    at: DateTime<Utc>,
}

impl From<Seen> for SeenView {
    fn from(seen: Seen) -> Self {
        let Seen { gate_id, gate, at } = seen;
        Self { gate_id, gate, at }
    }
}

/// The same badge was read at two gates sooner than a person walks from one to the other.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct TwinNoticeView {
    id: Uuid,
    badge_id: Uuid,
    #[schema(example = "7KQ2M-XW9RD")]
    serial: String,
    person_id: Uuid,
    #[schema(example = "Ines")]
    given_name: String,
    #[schema(example = "Valdrun")]
    family_name: String,
    first: SeenView,
    /// The later reading: there the guard was asked to check the name.
    second: SeenView,
    /// How long a person walks between the two.
    #[schema(example = 240)]
    walk_seconds: i32,
    /// What was allowed for the two clocks.
    #[schema(example = 30)]
    tolerance_seconds: i32,
    recorded_at: DateTime<Utc>,
    /// What was found; absent until somebody signed it off.
    #[serde(skip_serializing_if = "Option::is_none")]
    review: Option<ReviewView>,
}

impl From<TwinNotice> for TwinNoticeView {
    fn from(notice: TwinNotice) -> Self {
        Self {
            id: notice.id,
            badge_id: notice.badge_id,
            serial: notice.serial,
            person_id: notice.person_id,
            given_name: notice.given_name,
            family_name: notice.family_name,
            first: notice.first.into(),
            second: notice.second.into(),
            walk_seconds: notice.walk_seconds,
            tolerance_seconds: notice.tolerance_seconds,
            recorded_at: notice.recorded_at,
            review: notice.review.map(ReviewView::from),
        }
    }
}

/// Pairs of readings that no walk explains: those that wait for somebody, those signed off, or all. A wrong clock, a
/// lent badge and a copied one look alike here: people find out which it was.
#[utoipa::path(tag = "twin_notices", params(ReviewedQuery, PageQuery), responses((status = 200, body = Page<TwinNoticeView>)))]
#[get("/api/v1/twin_notices")]
pub(crate) async fn list_twin_notices(
    caller: Caller<op::ListTwinNotices>,
    query: Query<ReviewedQuery>,
    page: Query<PageQuery>,
) -> Result<Json<Page<TwinNoticeView>>, Problem> {
    let (site_id, reviewed, window) = (caller.site_id(), query.reviewed, page.window()?);
    let rows =
        caller.read_store(move |conn| twin_notice::list(conn, site_id, reviewed, window.fetch())).await?;
    Ok(Json(Page::of(rows, window, |notice| notice.id, TwinNoticeView::from)))
}

/// Signs a pair off, with your name and what you found.
#[utoipa::path(tag = "twin_notices", params(("twin_notice_id" = Uuid, Path)), responses(
    (status = 201, body = TwinNoticeView), (status = 404, body = ProblemBody),
    (status = 409, body = ProblemBody), (status = 422, body = ProblemBody)
))]
#[post("/api/v1/twin_notices/{twin_notice_id}/reviews")]
pub(crate) async fn create_twin_notice_review(
    caller: Caller<op::CreateTwinNoticeReview>,
    twin_notice_id: Path<Uuid>,
    body: Json<NewReview>,
) -> Result<HttpResponse, Problem> {
    let (id, new) = (*twin_notice_id, body.into_inner().row(caller.now)?);
    let notice = caller.write(move |tx| twin_notice::review(tx, id, &new)).await?;
    Ok(HttpResponse::Created().json(TwinNoticeView::from(notice)))
}
