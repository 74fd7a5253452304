//! Referrals to another kind of test.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{ladder::ReferralReason, roles::op};
use sellion_store::{
    StoreError,
    referral::{self, Referral, ReferralFilter},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::happened,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
};

/// One referral.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ReferralView {
    id: Uuid,
    visit_id: Uuid,
    person_id: Uuid,
    reason: ReferralReason,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl TryFrom<Referral> for ReferralView {
    type Error = StoreError;

    fn try_from(row: Referral) -> Result<Self, StoreError> {
        let reason = row.reason.parse().map_err(|error| StoreError::internal(format!("{error}")))?;
        let Referral { id, visit_id, person_id, happened_at, recorded_at, .. } = row;
        Ok(Self { id, visit_id, person_id, reason, happened_at, recorded_at })
    }
}

/// A referral decided by a person; those that the ladder asks for appear by themselves.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewReferral {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    visit_id: Uuid,
    reason: ReferralReason,
    #[schema(example = "2026-03-10T10:05:00Z")]
    happened_at: DateTime<Utc>,
}

/// Which referrals.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ReferralQuery {
    /// Those of this visit only.
    visit_id: Option<Uuid>,
    /// Those of this person only.
    person_id: Option<Uuid>,
}

/// Referrals, by id.
#[utoipa::path(tag = "referrals", params(ReferralQuery, PageQuery),
    responses((status = 200, body = Page<ReferralView>)))]
#[get("/api/v1/referrals")]
pub(crate) async fn list_referrals(
    caller: Caller<op::ListReferrals>,
    filter: Query<ReferralQuery>,
    page: Query<PageQuery>,
) -> Result<Json<Page<ReferralView>>, Problem> {
    let (site_id, window) = (caller.site_id(), page.window()?);
    let filter = ReferralFilter { visit_id: filter.visit_id, person_id: filter.person_id };
    let rows = caller
        .read_store(move |conn| {
            let found = referral::list(conn, site_id, filter, window.fetch())?;
            found.into_iter().map(ReferralView::try_from).collect::<Result<Vec<_>, _>>()
        })
        .await?;
    Ok(Json(Page::of(rows, window, |view| view.id, |view| view)))
}

/// Refers a person to another kind of test; their visit leaves the queue.
#[utoipa::path(tag = "referrals", responses(
    (status = 201, body = ReferralView),
    (status = 404, description = "No such visit here.", body = ProblemBody),
    (status = 409, description = "The id belongs to another referral.", body = ProblemBody),
    (status = 422, description = "A screening or an attempt is still open.", body = ProblemBody)
))]
#[post("/api/v1/referrals")]
pub(crate) async fn create_referral(
    caller: Caller<op::CreateReferral>,
    body: Json<NewReferral>,
) -> Result<HttpResponse, Problem> {
    let NewReferral { id, visit_id, reason, happened_at } = body.into_inner();
    let at = happened(happened_at, caller.now)?;
    let made = caller.write(move |tx| referral::create(tx, id, visit_id, reason, at)).await?;
    Ok(HttpResponse::Created().json(ReferralView::try_from(made)?))
}
