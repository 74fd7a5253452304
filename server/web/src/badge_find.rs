//! Badges that somebody found. Whoever reports one is told what to do with it, and nothing of it.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{badge::FOUND_INSTRUCTION, roles::op};
use sellion_store::{
    StoreError, badge,
    badge_find::{self, Find, NewFind},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    badge::BadgeView,
    badge_hand_over::serial_of,
    extract::happened,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    words::{SHORT, line},
};

/// A badge that was found.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewBadgeFind {
    /// Made by the client: a UUIDv7, the same on a repeat.
    #[schema(example = "01930b6e-6f00-7000-8000-0000000000d5")]
    id: Uuid,
    /// The text of the code, or the serial that was typed.
    #[schema(example = "7KQ2M-XW9RD")]
    text: String,
    /// Where it was found.
    #[schema(example = "Stairs to Heron ward")]
    place: String,
    /// When.
    happened_at: DateTime<Utc>,
}

/// What whoever found a badge is told: the same for every badge.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BadgeFindKept {
    id: Uuid,
    #[schema(example = "Thank you. Keep the badge until the badge desk has it, and hand it to nobody else.")]
    instruction: &'static str,
}

/// Keeps that a badge was found, and holds or ends it by the site's rule. The answer tells nothing of the badge or its
/// person, not even whether it counted.
#[utoipa::path(tag = "badges", responses(
    (status = 201, body = BadgeFindKept),
    (status = 404, description = "None of our badges.", body = ProblemBody),
    (status = 409, body = ProblemBody), (status = 422, body = ProblemBody)
))]
#[post("/api/v1/badge_finds")]
pub(crate) async fn create_badge_find(
    caller: Caller<op::CreateBadgeFind>,
    body: Json<NewBadgeFind>,
) -> Result<HttpResponse, Problem> {
    let NewBadgeFind { id, text, place, happened_at } = body.into_inner();
    let (place, happened_at) = (line(&place, "place", SHORT)?, happened(happened_at, caller.now)?);
    let serial = serial_of(&caller, &text).await?.ok_or_else(|| StoreError::not_found("badge"))?;
    let (site_id, gate_id) = (caller.site_id(), caller.sign_in().gate);
    caller
        .write(move |tx| {
            let found = badge::with_serial(tx.conn, site_id, &serial)?;
            let badge_id = found.ok_or_else(|| StoreError::not_found("badge"))?.badge.id;
            let place = place.clone();
            badge_find::create(tx, &NewFind { id, site_id, badge_id, gate_id, place, happened_at })
        })
        .await?;
    Ok(HttpResponse::Created().json(BadgeFindKept { id, instruction: FOUND_INSTRUCTION }))
}

/// A find, for those who keep badges.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BadgeFindView {
    id: Uuid,
    #[schema(example = "Stairs to Heron ward")]
    place: String,
    /// The gate that reported it, where one did.
    #[serde(skip_serializing_if = "Option::is_none")]
    gate_id: Option<Uuid>,
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "North entrance")]
    gate: Option<String>,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
    /// The badge as it is now.
    badge: BadgeView,
}

impl BadgeFindView {
    fn new(find: Find, now: DateTime<Utc>) -> Self {
        let Find { told, gate, recorded_at, standing } = find;
        Self {
            id: told.id,
            place: told.place,
            gate_id: told.gate_id,
            gate,
            happened_at: told.happened_at,
            recorded_at,
            badge: BadgeView::new(standing, false, now),
        }
    }
}

/// Badges that were found, and where.
#[utoipa::path(tag = "badges", params(PageQuery), responses((status = 200, body = Page<BadgeFindView>)))]
#[get("/api/v1/badge_finds")]
pub(crate) async fn list_badge_finds(
    caller: Caller<op::ListBadgeFinds>,
    page: Query<PageQuery>,
) -> Result<Json<Page<BadgeFindView>>, Problem> {
    let (site_id, now, window) = (caller.site_id(), caller.now, page.window()?);
    let rows = caller.read_store(move |conn| badge_find::list(conn, site_id, window.fetch())).await?;
    Ok(Json(Page::of(rows, window, |find| find.told.id, |find| BadgeFindView::new(find, now))))
}
