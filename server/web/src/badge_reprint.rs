//! A badge in place of another one, and the badge of somebody who has lost it.

use actix_web::{
    HttpResponse, post,
    web::{Data, Json, Path},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    badge::{MisprintCause, ReprintReason},
    refusal::{Code, Refusal},
    roles::op,
};
use sellion_store::{
    badge,
    badge_reprint::{self, NewReprint},
};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    badge::{BadgeView, issue},
    extract::happened,
    problem::{Problem, ProblemBody},
    state::State,
};

/// A badge to be made in place of another one.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewBadgeReprint {
    /// The id of the new badge: a UUIDv7 made by the client, the same on a repeat.
    #[schema(example = "01930b6e-6f00-7000-8000-0000000000d3")]
    id: Uuid,
    reason: ReprintReason,
    /// With the reason `misprint`: how the old one was spoiled.
    misprint: Option<MisprintCause>,
    /// When it was asked for.
    happened_at: DateTime<Utc>,
}

impl NewBadgeReprint {
    fn row(self, replaces_id: Uuid, now: DateTime<Utc>) -> Result<NewReprint, Refusal> {
        if (self.reason == ReprintReason::Misprint) != self.misprint.is_some() {
            let sentence =
                "With a misprint say how the badge was spoiled; with any other reason leave it out.";
            return Err(Refusal::new(Code::InvalidValue, sentence).field("misprint"));
        }
        Ok(NewReprint {
            id: self.id,
            replaces_id,
            reason: self.reason,
            misprint: self.misprint,
            happened_at: happened(self.happened_at, now)?,
        })
    }
}

/// Makes a badge in place of another one, which ends in the same transaction: never are there two, never none.
///
/// The new badge has a new serial and says what holds now. Whoever is cleared for nothing any more gets none; then end
/// the old one by itself.
#[utoipa::path(tag = "badges", params(("badge_id" = Uuid, Path)), responses(
    (status = 201, body = BadgeView), (status = 404, body = ProblemBody),
    (status = 409, description = "The old badge has ended, or is under review.", body = ProblemBody),
    (status = 422, body = ProblemBody)
))]
#[post("/api/v1/badges/{badge_id}/reprints")]
pub(crate) async fn create_badge_reprint(
    caller: Caller<op::CreateBadgeReprint>,
    state: Data<State>,
    badge_id: Path<Uuid>,
    body: Json<NewBadgeReprint>,
) -> Result<HttpResponse, Problem> {
    let (new, now) = (body.into_inner().row(*badge_id, caller.now)?, caller.now);
    let standing = caller
        .write(move |tx| {
            badge_reprint::create(tx, &new, &|tx, badge| issue(&state, tx, badge))?;
            let site_id = tx.site_id();
            badge::find(tx.conn, site_id, new.id)
        })
        .await?;
    Ok(HttpResponse::Created().json(BadgeView::new(standing, true, now)))
}

/// That somebody has lost their badge.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewLostBadge {
    /// Made by the client: a UUIDv7, the same on a repeat.
    #[schema(example = "01930b6e-6f00-7000-8000-0000000000d4")]
    id: Uuid,
    /// When it was missed.
    happened_at: DateTime<Utc>,
}

/// Ends the badge of somebody who has lost it, whichever it is: nobody has to know its serial.
#[utoipa::path(tag = "badges", params(("person_id" = Uuid, Path)), responses(
    (status = 201, description = "The badge that ended.", body = BadgeView),
    (status = 404, body = ProblemBody), (status = 409, body = ProblemBody),
    (status = 422, description = "The person has no badge that counts.", body = ProblemBody)
))]
#[post("/api/v1/people/{person_id}/lost_badges")]
pub(crate) async fn create_lost_badge(
    caller: Caller<op::CreateLostBadge>,
    person_id: Path<Uuid>,
    body: Json<NewLostBadge>,
) -> Result<HttpResponse, Problem> {
    let NewLostBadge { id, happened_at } = body.into_inner();
    let (person_id, happened_at, now) = (*person_id, happened(happened_at, caller.now)?, caller.now);
    let standing = caller
        .write(move |tx| {
            let badge_id = badge::lose(tx, person_id, (id, happened_at))?;
            let site_id = tx.site_id();
            badge::find(tx.conn, site_id, badge_id)
        })
        .await?;
    Ok(HttpResponse::Created().json(BadgeView::new(standing, true, now)))
}
