//! Clearances: what follows from the facts, at any moment, as known at any moment.

use actix_web::{
    get,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{clearance::Clearance, refusal::Refusal, roles::op};
use sellion_store::clearance::{self, Moments, PersonCleared, RespiratorClearance};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::moment,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
};

/// The two clocks of a question.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct MomentsQuery {
    /// The moment that is asked about; now unless told.
    #[param(example = "2026-03-11T06:30:00Z")]
    at: Option<DateTime<Utc>>,
    /// Only what was recorded by then counts; now unless told.
    #[param(example = "2026-03-11T06:30:00Z")]
    known_at: Option<DateTime<Utc>>,
}

impl MomentsQuery {
    fn moments(&self, now: DateTime<Utc>) -> Result<Moments, Refusal> {
        let at = moment(self.at.unwrap_or(now), "at")?;
        Ok(Moments { at, known_at: moment(self.known_at.unwrap_or(now), "known_at")? })
    }
}

/// One clearance for one respirator.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ClearanceView {
    respirator_id: Uuid,
    #[serde(flatten)]
    clearance: Clearance,
}

impl From<RespiratorClearance> for ClearanceView {
    fn from(found: RespiratorClearance) -> Self {
        let RespiratorClearance { respirator_id, clearance } = found;
        Self { respirator_id, clearance }
    }
}

/// One person's clearances at a moment.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ClearancesView {
    person_id: Uuid,
    /// The moment asked about.
    at: DateTime<Utc>,
    /// Only what was recorded by then was counted.
    known_at: DateTime<Utc>,
    /// One for each respirator on which the person has a pass or a fail, by respirator id.
    items: Vec<ClearanceView>,
}

/// One person who was cleared for a respirator that the gate accepted.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct GateClearanceItem {
    person_id: Uuid,
    #[schema(example = "004217")]
    staff_number: String,
    #[schema(example = "Oda")]
    given_name: String,
    #[schema(example = "Brennick")]
    family_name: String,
    /// The clearances that held, by respirator id.
    clearances: Vec<ClearanceView>,
}

impl From<PersonCleared> for GateClearanceItem {
    fn from(person: PersonCleared) -> Self {
        let PersonCleared { person_id, staff_number, given_name, family_name, clearances } = person;
        let clearances = clearances.into_iter().map(Into::into).collect();
        Self { person_id, staff_number, given_name, family_name, clearances }
    }
}

/// Who was cleared at a gate at a moment.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct GateClearancesView {
    gate_id: Uuid,
    /// The moment asked about.
    at: DateTime<Utc>,
    /// Only what was recorded by then was counted.
    known_at: DateTime<Utc>,
    /// The policy in force; absent where none was known.
    #[serde(skip_serializing_if = "Option::is_none")]
    policy_id: Option<Uuid>,
    /// Whether the gate asked for no respirator: then everybody could pass, and `items` is who was cleared all the same.
    none_needed: bool,
    /// The respirators it accepted.
    respirator_ids: Vec<Uuid>,
    /// Who was cleared, by person id.
    items: Vec<GateClearanceItem>,
    /// Send as `cursor` for the next page; absent on the last one.
    #[serde(skip_serializing_if = "Option::is_none")]
    next: Option<String>,
}

/// What one person is cleared for, with the reasons where they are not.
#[utoipa::path(tag = "clearances", params(MomentsQuery), responses(
    (status = 200, body = ClearancesView),
    (status = 404, description = "No such person here.", body = ProblemBody)
))]
#[get("/api/v1/people/{person_id}/clearances")]
pub(crate) async fn list_clearances(
    caller: Caller<op::ListClearances>,
    person_id: Path<Uuid>,
    query: Query<MomentsQuery>,
) -> Result<Json<ClearancesView>, Problem> {
    let (site_id, person_id) = (caller.site_id(), *person_id);
    let moments = query.moments(caller.now)?;
    let found =
        caller.read_store(move |conn| clearance::of_person(conn, site_id, person_id, moments)).await?;
    let items = found.into_iter().map(Into::into).collect();
    Ok(Json(ClearancesView { person_id, at: moments.at, known_at: moments.known_at, items }))
}

/// Who was cleared at a gate at a moment, under the policy in force then, as known then or now.
#[utoipa::path(tag = "clearances", params(MomentsQuery, PageQuery), responses(
    (status = 200, body = GateClearancesView),
    (status = 404, description = "No such gate here.", body = ProblemBody)
))]
#[get("/api/v1/gates/{gate_id}/clearances")]
pub(crate) async fn list_gate_clearances(
    caller: Caller<op::ListGateClearances>,
    gate_id: Path<Uuid>,
    query: Query<MomentsQuery>,
    page: Query<PageQuery>,
) -> Result<Json<GateClearancesView>, Problem> {
    let (site_id, gate_id, window) = (caller.site_id(), *gate_id, page.window()?);
    let moments = query.moments(caller.now)?;
    let found = caller
        .read_store(move |conn| clearance::cleared_at(conn, site_id, gate_id, moments, window.fetch()))
        .await?;
    let Page { items, next } = Page::of(found.people, window, |person| person.person_id, Into::into);
    Ok(Json(GateClearancesView {
        gate_id,
        at: moments.at,
        known_at: moments.known_at,
        policy_id: found.policy_id,
        none_needed: found.none_needed,
        respirator_ids: found.respirator_ids,
        items,
        next,
    }))
}
