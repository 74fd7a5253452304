//! Holds of badges, and their releases: a held badge opens no gate while something is being looked into.

use actix_web::{
    HttpResponse, post,
    web::{Json, Path},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    badge::{HoldReason, HoldReleaseReason},
    roles::op,
};
use sellion_store::{
    badge,
    badge_hold::{self, Hold, NewHold, NewHoldRelease},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    badge::BadgeView,
    extract::happened,
    problem::{Problem, ProblemBody},
};

/// A hold that is in force.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BadgeHoldView {
    id: Uuid,
    reason: HoldReason,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl From<Hold> for BadgeHoldView {
    fn from(Hold { id, reason, happened_at, recorded_at }: Hold) -> Self {
        Self { id, reason, happened_at, recorded_at }
    }
}

/// A hold.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewBadgeHold {
    /// Made by the client: a UUIDv7, the same on a repeat.
    #[schema(example = "01930b6e-6f00-7000-8000-0000000000c3")]
    id: Uuid,
    reason: HoldReason,
    /// When it was decided.
    happened_at: DateTime<Utc>,
}

/// Holds a badge: from the next scan on, gates cannot confirm it, until every hold of it is released.
///
/// No new badge is issued to its person while a badge is held as under review; for any other reason a new badge
/// replaces the held one, and ends it.
#[utoipa::path(tag = "badges", params(("badge_id" = Uuid, Path)), responses(
    (status = 201, body = BadgeView),
    (status = 404, description = "No such badge here.", body = ProblemBody),
    (status = 409, description = "The badge has ended, or the id is another's.", body = ProblemBody)
))]
#[post("/api/v1/badges/{badge_id}/holds")]
pub(crate) async fn create_badge_hold(
    caller: Caller<op::CreateBadgeHold>,
    badge_id: Path<Uuid>,
    body: Json<NewBadgeHold>,
) -> Result<HttpResponse, Problem> {
    let NewBadgeHold { id, reason, happened_at } = body.into_inner();
    let new = NewHold {
        id,
        site_id: caller.site_id(),
        badge_id: *badge_id,
        reason: reason.as_str().to_owned(),
        happened_at: happened(happened_at, caller.now)?,
    };
    let now = caller.now;
    let standing = caller
        .write(move |tx| {
            badge_hold::create(tx, &new)?;
            badge::find(tx.conn, new.site_id, new.badge_id)
        })
        .await?;
    Ok(HttpResponse::Created().json(BadgeView::new(standing, true, now)))
}

/// The release of a hold.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewBadgeHoldRelease {
    /// Made by the client: a UUIDv7, the same on a repeat.
    #[schema(example = "01930b6e-6f00-7000-8000-0000000000c4")]
    id: Uuid,
    reason: HoldReleaseReason,
    /// When it was decided.
    happened_at: DateTime<Utc>,
}

/// Releases a hold. The badge counts again unless another hold is in force.
#[utoipa::path(tag = "badges", params(("badge_hold_id" = Uuid, Path)), responses(
    (status = 201, body = BadgeView),
    (status = 404, description = "No such hold here.", body = ProblemBody),
    (status = 409, description = "It was released before, or the id is another's.", body = ProblemBody)
))]
#[post("/api/v1/badge_holds/{badge_hold_id}/releases")]
pub(crate) async fn create_badge_hold_release(
    caller: Caller<op::CreateBadgeHoldRelease>,
    badge_hold_id: Path<Uuid>,
    body: Json<NewBadgeHoldRelease>,
) -> Result<HttpResponse, Problem> {
    let NewBadgeHoldRelease { id, reason, happened_at } = body.into_inner();
    let new = NewHoldRelease {
        id,
        site_id: caller.site_id(),
        badge_hold_id: *badge_hold_id,
        reason: reason.as_str().to_owned(),
        happened_at: happened(happened_at, caller.now)?,
    };
    let now = caller.now;
    let standing = caller
        .write(move |tx| {
            let badge_id = badge_hold::release(tx, &new)?;
            badge::find(tx.conn, new.site_id, badge_id)
        })
        .await?;
    Ok(HttpResponse::Created().json(BadgeView::new(standing, true, now)))
}
