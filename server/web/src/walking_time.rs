//! How long somebody walks between two gates.

use actix_web::{HttpResponse, get, post, web::Json};
use chrono::{DateTime, Utc};
use sellion_rules::{
    refusal::{Code, Refusal},
    roles::op,
};
use sellion_store::walking_time::{self, NewWalkingTime as NewRow, WalkingTime};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::happened,
    problem::{Problem, ProblemBody},
};

/// A day: nobody walks longer between two gates of one site.
const SECONDS_MAX: i32 = 86_400;

/// How long somebody walks between two gates, whichever way.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct WalkingTimeView {
    id: Uuid,
    gate_id: Uuid,
    other_gate_id: Uuid,
    /// Zero where nobody wants to be told of these two.
    #[schema(example = 240)]
    seconds: i32,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
    recorded_by: Uuid,
}

impl From<WalkingTime> for WalkingTimeView {
    fn from(row: WalkingTime) -> Self {
        let WalkingTime { id, gate_id, other_gate_id, seconds, happened_at, recorded_at, recorded_by } = row;
        Self { id, gate_id, other_gate_id, seconds, happened_at, recorded_at, recorded_by }
    }
}

/// The walking times in force.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct WalkingTimesView {
    items: Vec<WalkingTimeView>,
}

/// A walking time, measured on site by the shortest way.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewWalkingTime {
    #[schema(example = "01930b6e-6f00-7000-8000-0000000000d1")]
    id: Uuid,
    gate_id: Uuid,
    other_gate_id: Uuid,
    /// Zero: nobody wants to be told of these two any more.
    #[schema(example = 240, minimum = 0, maximum = 86_400)]
    seconds: i32,
    /// When it was measured.
    happened_at: DateTime<Utc>,
}

impl NewWalkingTime {
    fn row(self, site_id: Uuid, now: DateTime<Utc>) -> Result<NewRow, Refusal> {
        let refused =
            |field: &str, sentence: &str| Err(Refusal::new(Code::InvalidValue, sentence).field(field));
        if self.gate_id == self.other_gate_id {
            return refused("other_gate_id", "Name two gates: from one to itself nobody walks.");
        }
        if !(0..=SECONDS_MAX).contains(&self.seconds) {
            return refused("seconds", "A walk between two gates takes 0 to 86400 seconds.");
        }
        let happened_at = happened(self.happened_at, now)?;
        let Self { id, gate_id, other_gate_id, seconds, .. } = self;
        Ok(NewRow { id, site_id, gate_id, other_gate_id, seconds, happened_at }.in_order())
    }
}

/// The walking times in force between the gates of the site.
#[utoipa::path(tag = "walking_times", responses((status = 200, body = WalkingTimesView)))]
#[get("/api/v1/walking_times")]
pub(crate) async fn list_walking_times(
    caller: Caller<op::ListWalkingTimes>,
) -> Result<Json<WalkingTimesView>, Problem> {
    let site_id = caller.site_id();
    let rows = caller.read_store(move |conn| walking_time::in_force(conn, site_id)).await?;
    Ok(Json(WalkingTimesView { items: rows.into_iter().map(Into::into).collect() }))
}

/// Stores how long somebody walks between two gates; the newest counts. A badge that is read at the other gate sooner
/// than that makes a pair for somebody to look at.
#[utoipa::path(tag = "walking_times", responses(
    (status = 201, body = WalkingTimeView), (status = 404, body = ProblemBody),
    (status = 409, body = ProblemBody), (status = 422, body = ProblemBody)
))]
#[post("/api/v1/walking_times")]
pub(crate) async fn create_walking_time(
    caller: Caller<op::CreateWalkingTime>,
    body: Json<NewWalkingTime>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().row(caller.site_id(), caller.now)?;
    let stored = caller.write(move |tx| walking_time::create(tx, &new)).await?;
    Ok(HttpResponse::Created().json(WalkingTimeView::from(stored)))
}
