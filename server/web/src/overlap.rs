//! Attempts of one person that overlap at two stations: a decision for a coordinator.

use actix_web::{
    get,
    web::{Json, Path},
};
use chrono::{DateTime, Utc};
use sellion_rules::roles::op;
use sellion_store::overlap::{self, Overlap};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    problem::{Problem, ProblemBody},
};

/// The overlaps of a day that nobody has decided.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct OverlapsView {
    /// The first known in front.
    items: Vec<OverlapView>,
}

/// Two attempts of one person at two stations at the same time. Until one of them is corrected, neither clears.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct OverlapView {
    person_id: Uuid,
    #[schema(example = "Ines")]
    given_name: String,
    #[schema(example = "Valdrun")]
    family_name: String,
    #[schema(example = "0047192")]
    staff_number: String,
    /// The two attempts, the one that was opened first in front.
    attempt_ids: Vec<Uuid>,
    /// Since when both are known.
    known_since: DateTime<Utc>,
}

impl From<Overlap> for OverlapView {
    fn from(overlap: Overlap) -> Self {
        let Overlap { person_id, given_name, family_name, staff_number, attempts, known_since } = overlap;
        let attempt_ids = attempts.to_vec();
        Self { person_id, given_name, family_name, staff_number, attempt_ids, known_since }
    }
}

/// Attempts of one person that overlap at two stations, as long as none of the two is corrected.
#[utoipa::path(tag = "attempts", responses(
    (status = 200, body = OverlapsView), (status = 404, description = "No such day here.", body = ProblemBody)
))]
#[get("/api/v1/days/{day_id}/overlaps")]
pub(crate) async fn list_attempt_overlaps(
    caller: Caller<op::ListAttemptOverlaps>,
    day_id: Path<Uuid>,
) -> Result<Json<OverlapsView>, Problem> {
    let (site_id, day_id) = (caller.site_id(), *day_id);
    let found = caller.read_store(move |conn| overlap::list(conn, site_id, day_id)).await?;
    Ok(Json(OverlapsView { items: found.into_iter().map(OverlapView::from).collect() }))
}
