//! Gates, and what each accepts from when on.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    refusal::{Code, Refusal},
    roles::{Op, op},
};
use sellion_store::{
    StoreError,
    gate::{self, Gate, NewPolicy, Policy},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::{happened, moment},
    page::{Page, PageQuery},
    problem::Problem,
    words::{LONG, SHORT, line, line_or_empty},
};

/// More respirators than one gate has ever had in use; a longer list is a mistake.
const RESPIRATORS_MAX: usize = 100;
/// Ten days: a gate whose knowledge is older than that is not checked at all.
const KNOWLEDGE_AGE_MAX_SECONDS: i32 = 864_000;

/// The gate of the path, when the caller may know of it: a gate's device knows its own and no other.
pub(crate) fn own_gate<O: Op>(caller: &Caller<O>, gate_id: Uuid) -> Result<Uuid, StoreError> {
    match caller.sign_in().gate {
        Some(own) if own != gate_id => Err(StoreError::not_found("gate")),
        _ => Ok(gate_id),
    }
}

/// A gate.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct GateView {
    id: Uuid,
    /// What people call it.
    #[schema(example = "North entrance")]
    name: String,
    created_at: DateTime<Utc>,
}

impl From<Gate> for GateView {
    fn from(gate: Gate) -> Self {
        let Gate { id, name, created_at } = gate;
        Self { id, name, created_at }
    }
}

/// A gate to be set up.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewGate {
    #[schema(example = "01930b6e-6f00-7000-8000-0000000000b1")]
    id: Uuid,
    /// What people call it.
    #[schema(example = "North entrance")]
    name: String,
}

/// The gates of the site.
#[utoipa::path(tag = "gates", params(PageQuery), responses((status = 200, body = Page<GateView>)))]
#[get("/api/v1/gates")]
pub(crate) async fn list_gates(
    caller: Caller<op::ListGates>,
    page: Query<PageQuery>,
) -> Result<Json<Page<GateView>>, Problem> {
    let (site_id, window) = (caller.site_id(), page.window()?);
    let rows = caller.read_store(move |conn| gate::list(conn, site_id, window.fetch())).await?;
    Ok(Json(Page::of(rows, window, |gate| gate.id, GateView::from)))
}

/// Sets up a gate. It lets nobody in before it has a policy.
#[utoipa::path(tag = "gates", responses(
    (status = 201, body = GateView), (status = 409, body = crate::problem::ProblemBody),
    (status = 422, body = crate::problem::ProblemBody)
))]
#[post("/api/v1/gates")]
pub(crate) async fn create_gate(
    caller: Caller<op::CreateGate>,
    body: Json<NewGate>,
) -> Result<HttpResponse, Problem> {
    let NewGate { id, name } = body.into_inner();
    let new = gate::NewGate { id, site_id: caller.site_id(), name: line(&name, "name", SHORT)? };
    let stored = caller
        .write(move |tx| {
            gate::create(tx, &new)?;
            gate::find(tx.conn, new.site_id, new.id)
        })
        .await?;
    Ok(HttpResponse::Created().json(GateView::from(stored)))
}

/// What a gate accepts from a moment on.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct GatePolicyView {
    id: Uuid,
    gate_id: Uuid,
    /// From when on it is in force, until a later one is.
    effective_from: DateTime<Utc>,
    /// The respirators used here, the preferred one first.
    respirator_ids: Vec<Uuid>,
    /// Whether nobody needs a respirator here.
    none_needed: bool,
    /// The greatest age of knowledge, in seconds, on which the gate may still let somebody in.
    #[schema(example = 900)]
    knowledge_age_max_seconds: i32,
    /// What to do when nobody can tell, in the site's own words.
    #[schema(example = "Call the shift lead on 4410.")]
    fallback: String,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl From<Policy> for GatePolicyView {
    fn from(stored: Policy) -> Self {
        let Policy { policy, recorded_at, respirator_ids } = stored;
        Self {
            id: policy.id,
            gate_id: policy.gate_id,
            effective_from: policy.effective_from,
            respirator_ids,
            none_needed: policy.none_needed,
            knowledge_age_max_seconds: policy.knowledge_age_max_seconds,
            fallback: policy.fallback,
            happened_at: policy.happened_at,
            recorded_at,
        }
    }
}

/// A policy to be put in force.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewGatePolicy {
    #[schema(example = "01930b6e-6f00-7000-8000-0000000000b2")]
    id: Uuid,
    /// From when on; may lie ahead.
    effective_from: DateTime<Utc>,
    /// The respirators used here, the preferred one first.
    respirator_ids: Vec<Uuid>,
    /// Whether nobody needs a respirator here.
    #[schema(example = false)]
    none_needed: bool,
    /// The greatest age of knowledge, in seconds, on which the gate may still let somebody in.
    #[schema(example = 900)]
    knowledge_age_max_seconds: i32,
    /// What to do when nobody can tell, in the site's own words.
    #[schema(example = "Call the shift lead on 4410.")]
    fallback: String,
    /// When it was decided.
    happened_at: DateTime<Utc>,
}

impl NewGatePolicy {
    fn check(&self) -> Result<(), Refusal> {
        let refused =
            |field: &str, sentence: String| Err(Refusal::new(Code::InvalidValue, sentence).field(field));
        if !(1..=KNOWLEDGE_AGE_MAX_SECONDS).contains(&self.knowledge_age_max_seconds) {
            let sentence =
                format!("The age of knowledge lies between 1 and {KNOWLEDGE_AGE_MAX_SECONDS} seconds.");
            return refused("knowledge_age_max_seconds", sentence);
        }
        if self.respirator_ids.is_empty() && !self.none_needed {
            return refused(
                "respirator_ids",
                "Name the respirators used here, or say that none is needed.".into(),
            );
        }
        if self.respirator_ids.len() > RESPIRATORS_MAX {
            return refused(
                "respirator_ids",
                format!("A policy names {RESPIRATORS_MAX} respirators at most."),
            );
        }
        let mut seen = std::collections::HashSet::new();
        if !self.respirator_ids.iter().all(|id| seen.insert(id)) {
            return refused("respirator_ids", "The same respirator is named twice.".into());
        }
        Ok(())
    }
}

/// What a gate accepted, accepts and will accept. A gate's device sees its own gate.
#[utoipa::path(tag = "gates", params(("gate_id" = Uuid, Path), PageQuery), responses(
    (status = 200, body = Page<GatePolicyView>), (status = 404, body = crate::problem::ProblemBody)
))]
#[get("/api/v1/gates/{gate_id}/policies")]
pub(crate) async fn list_gate_policies(
    caller: Caller<op::ListGatePolicies>,
    gate_id: Path<Uuid>,
    page: Query<PageQuery>,
) -> Result<Json<Page<GatePolicyView>>, Problem> {
    let gate_id = own_gate(&caller, *gate_id)?;
    let (site_id, window) = (caller.site_id(), page.window()?);
    let rows =
        caller.read_store(move |conn| gate::list_policies(conn, site_id, gate_id, window.fetch())).await?;
    Ok(Json(Page::of(rows, window, |stored| stored.policy.id, GatePolicyView::from)))
}

/// Decides what a gate accepts from a moment on. Earlier policies stay readable.
#[utoipa::path(tag = "gates", params(("gate_id" = Uuid, Path)), responses(
    (status = 201, body = GatePolicyView), (status = 404, body = crate::problem::ProblemBody),
    (status = 409, body = crate::problem::ProblemBody), (status = 422, body = crate::problem::ProblemBody)
))]
#[post("/api/v1/gates/{gate_id}/policies")]
pub(crate) async fn create_gate_policy(
    caller: Caller<op::CreateGatePolicy>,
    gate_id: Path<Uuid>,
    body: Json<NewGatePolicy>,
) -> Result<HttpResponse, Problem> {
    let body = body.into_inner();
    body.check()?;
    let policy = NewPolicy {
        id: body.id,
        site_id: caller.site_id(),
        gate_id: *gate_id,
        effective_from: moment(body.effective_from, "effective_from")?,
        none_needed: body.none_needed,
        knowledge_age_max_seconds: body.knowledge_age_max_seconds,
        fallback: line_or_empty(&body.fallback, "fallback", LONG)?,
        happened_at: happened(body.happened_at, caller.now)?,
    };
    let accepted = body.respirator_ids;
    let stored = caller.write(move |tx| gate::create_policy(tx, &policy, &accepted)).await?;
    Ok(HttpResponse::Created().json(GatePolicyView::from(stored)))
}
