//! Permissions: what a clinician decided about one person; never why.

use std::convert::identity;

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, NaiveDate, Utc};
use sellion_rules::{
    permission::Decision,
    refusal::{Code, Refusal},
    roles::op,
};
use sellion_store::{
    StoreError,
    permission::{self, NewPermission as NewRow, Permission},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::{happened, plausible},
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    words::{LONG, line_or_none},
};

/// One decision.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PermissionView {
    id: Uuid,
    person_id: Uuid,
    decision: Decision,
    /// What the wearer has to keep to, where the decision sets limits; no medical word.
    #[schema(example = "At most two hours without a break")]
    limits: Option<String>,
    /// The first day it holds.
    valid_from: NaiveDate,
    /// The last day it holds; absent when it was given without an end.
    valid_until: Option<NaiveDate>,
    /// When it was decided.
    happened_at: DateTime<Utc>,
    /// When the server learned of it.
    recorded_at: DateTime<Utc>,
    /// The user who stored it.
    recorded_by: Uuid,
}

impl TryFrom<Permission> for PermissionView {
    type Error = StoreError;

    fn try_from(row: Permission) -> Result<Self, StoreError> {
        let decision = row.decision.parse().map_err(|error| StoreError::internal(format!("{error}")))?;
        let Permission { id, person_id, limits, valid_from, valid_until, .. } = row;
        let Permission { happened_at, recorded_at, recorded_by, .. } = row;
        Ok(Self {
            id,
            person_id,
            decision,
            limits,
            valid_from,
            valid_until,
            happened_at,
            recorded_at,
            recorded_by,
        })
    }
}

/// A decision to be stored.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewPermission {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    decision: Decision,
    /// Needed for `permitted_with_limits`, and only there. Write no medical word.
    #[schema(example = "At most two hours without a break")]
    limits: Option<String>,
    /// The first day it holds.
    valid_from: NaiveDate,
    /// The last day it holds; left out when it is given without an end.
    valid_until: Option<NaiveDate>,
    /// When it was decided.
    happened_at: DateTime<Utc>,
}

impl NewPermission {
    fn row(self, site_id: Uuid, person_id: Uuid, now: DateTime<Utc>) -> Result<NewRow, Refusal> {
        let limits = line_or_none(self.limits.as_deref(), "limits", LONG)?;
        if limits.is_some() != (self.decision == Decision::PermittedWithLimits) {
            let sentence =
                "Limits belong to a permission with limits, which needs them, and to no other decision.";
            return Err(Refusal::new(Code::InvalidValue, sentence).field("limits"));
        }
        Ok(NewRow {
            id: self.id,
            site_id,
            person_id,
            decision: self.decision.as_str().to_owned(),
            limits,
            valid_from: plausible(self.valid_from, "valid_from")?,
            valid_until: self.valid_until.map(|date| plausible(date, "valid_until")).transpose()?,
            happened_at: happened(self.happened_at, now)?,
        })
    }
}

/// The decisions about one person.
#[utoipa::path(tag = "permissions", params(PageQuery), responses((status = 200, body = Page<PermissionView>), (status = 404, body = ProblemBody)))]
#[get("/api/v1/people/{person_id}/permissions")]
pub(crate) async fn list_permissions(
    caller: Caller<op::ListPermissions>,
    person_id: Path<Uuid>,
    page: Query<PageQuery>,
) -> Result<Json<Page<PermissionView>>, Problem> {
    let (site_id, person_id, window) = (caller.site_id(), person_id.into_inner(), page.window()?);
    let rows =
        caller.read_store(move |conn| permission::list(conn, site_id, person_id, window.fetch())).await?;
    let views: Vec<_> = rows.into_iter().map(PermissionView::try_from).collect::<Result<_, _>>()?;
    Ok(Json(Page::of(views, window, |view| view.id, identity)))
}

/// Stores a clinician's decision. The person's clearances follow in the same moment.
#[utoipa::path(tag = "permissions", responses((status = 201, body = PermissionView), (status = 404, body = ProblemBody), (status = 409, body = ProblemBody), (status = 422, body = ProblemBody)))]
#[post("/api/v1/people/{person_id}/permissions")]
pub(crate) async fn create_permission(
    caller: Caller<op::CreatePermission>,
    person_id: Path<Uuid>,
    body: Json<NewPermission>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().row(caller.site_id(), person_id.into_inner(), caller.now)?;
    let row = caller.write(move |tx| permission::create(tx, &new)).await?;
    Ok(HttpResponse::Created().json(PermissionView::try_from(row)?))
}
