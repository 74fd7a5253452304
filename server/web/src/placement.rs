//! Placements: a bottle, a nebulizer or a hood goes from one place to another.

use actix_web::{
    HttpResponse, post,
    web::{Json, Path},
};
use chrono::{DateTime, Utc};
use sellion_rules::{refusal::Refusal, roles::op, stock::PlaceMovement};
use sellion_store::{
    StoreError,
    placement::{self, NewPlacement as NewRow, Placement, Thing},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::happened,
    problem::{Problem, ProblemBody},
    words::{LONG, line_or_none, username},
};

/// One change of place.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PlacementView {
    id: Uuid,
    #[serde(skip_serializing_if = "Option::is_none")]
    bottle_id: Option<Uuid>,
    #[serde(skip_serializing_if = "Option::is_none")]
    equipment_id: Option<Uuid>,
    movement: PlaceMovement,
    from_place_id: Option<Uuid>,
    to_place_id: Uuid,
    /// The user who took it.
    handed_to: Option<Uuid>,
    reason: Option<String>,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl TryFrom<Placement> for PlacementView {
    type Error = StoreError;

    fn try_from(row: Placement) -> Result<Self, StoreError> {
        let unknown = |_| StoreError::internal("a stored way is no movement");
        Ok(Self {
            id: row.id,
            bottle_id: row.bottle_id,
            equipment_id: row.equipment_id,
            movement: row.movement.parse().map_err(unknown)?,
            from_place_id: row.from_place_id,
            to_place_id: row.to_place_id,
            handed_to: row.handed_to,
            reason: row.reason,
            happened_at: row.happened_at,
            recorded_at: row.recorded_at,
        })
    }
}

/// A change of place to be recorded.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewPlacement {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    /// Where you believe it to be; left out where nobody has said yet. Two who take it at once do not both succeed.
    from_place_id: Option<Uuid>,
    to_place_id: Uuid,
    /// The user name of who takes it. Needed from one station to another.
    #[schema(example = "ada")]
    handed_to: Option<String>,
    /// Why it is not the one that ends first.
    #[schema(example = "the older one is kept for the second day")]
    reason: Option<String>,
    #[schema(example = "2026-03-10T06:40:00Z")]
    happened_at: DateTime<Utc>,
}

impl NewPlacement {
    fn row(self, thing: Thing, now: DateTime<Utc>) -> Result<NewRow, Refusal> {
        Ok(NewRow {
            id: self.id,
            thing,
            from_place_id: self.from_place_id,
            to_place_id: self.to_place_id,
            handed_to: self.handed_to.as_deref().map(username).transpose()?,
            reason: line_or_none(self.reason.as_deref(), "reason", LONG)?,
            happened_at: happened(self.happened_at, now)?,
        })
    }
}

/// Issues a bottle to a station, hands it on, moves it or takes it back.
///
/// From a storeroom to a station the bottle that ends first goes first; another one needs a reason. What is stopped or
/// out of date does not go to a station at all.
#[utoipa::path(tag = "bottles", responses(
    (status = 201, body = PlacementView),
    (status = 404, description = "No such bottle or place here.", body = ProblemBody),
    (status = 409, description = "It is no longer where you believe it to be, or the id is another's.", body = ProblemBody),
    (status = 422, description = "It may not go there, or another one goes first.", body = ProblemBody)
))]
#[post("/api/v1/bottles/{bottle_id}/placements")]
pub(crate) async fn create_bottle_placement(
    caller: Caller<op::CreateBottlePlacement>,
    bottle_id: Path<Uuid>,
    body: Json<NewPlacement>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().row(Thing::Bottle(*bottle_id), caller.now)?;
    let made = caller.write(move |tx| placement::create(tx, &new)).await?;
    Ok(HttpResponse::Created().json(PlacementView::try_from(made)?))
}

/// Issues a nebulizer or a hood to a station, hands it on, moves it or takes it back.
#[utoipa::path(tag = "equipment", responses(
    (status = 201, body = PlacementView),
    (status = 404, description = "No such nebulizer, hood or place here.", body = ProblemBody),
    (status = 409, description = "It is no longer where you believe it to be, or the id is another's.", body = ProblemBody),
    (status = 422, description = "It may not go there.", body = ProblemBody)
))]
#[post("/api/v1/equipment/{equipment_id}/placements")]
pub(crate) async fn create_equipment_placement(
    caller: Caller<op::CreateEquipmentPlacement>,
    equipment_id: Path<Uuid>,
    body: Json<NewPlacement>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().row(Thing::Equipment(*equipment_id), caller.now)?;
    let made = caller.write(move |tx| placement::create(tx, &new)).await?;
    Ok(HttpResponse::Created().json(PlacementView::try_from(made)?))
}
