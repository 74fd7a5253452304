//! Gates: places where badges are scanned.

use actix_web::{
    HttpResponse, get, patch, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::roles::{Op, op};
use sellion_store::{
    StoreError,
    gate::{self, Gate},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    version::{IfMatch, with_etag},
    words::{SHORT, line},
};

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
    /// Counts the changes; also sent as `ETag`.
    #[schema(example = 1)]
    version: i32,
    created_at: DateTime<Utc>,
}

impl From<Gate> for GateView {
    fn from(gate: Gate) -> Self {
        let version = gate.version();
        let Gate { id, name, created_at, .. } = gate;
        Self { id, name, version, created_at }
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

/// What may change about a gate; members left out stay as they are.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct GatePatch {
    #[schema(example = "North entrance, ward side")]
    name: Option<String>,
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
    (status = 201, body = GateView), (status = 409, body = ProblemBody), (status = 422, body = ProblemBody)
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
    Ok(with_etag(HttpResponse::Created(), stored.version()).json(GateView::from(stored)))
}

/// Names a gate anew. What it accepts is decided by its policies.
#[utoipa::path(tag = "gates", params(IfMatch), responses(
    (status = 200, body = GateView),
    (status = 404, description = "No such gate here.", body = ProblemBody),
    (status = 409, description = "Somebody changed the gate meanwhile, or another has the name.", body = ProblemBody),
    (status = 422, description = "The name cannot be.", body = ProblemBody)
))]
#[patch("/api/v1/gates/{gate_id}")]
pub(crate) async fn update_gate(
    caller: Caller<op::UpdateGate>,
    gate_id: Path<Uuid>,
    version: IfMatch,
    body: Json<GatePatch>,
) -> Result<HttpResponse, Problem> {
    let GatePatch { name } = body.into_inner();
    let (id, name) = (*gate_id, name.map(|name| line(&name, "name", SHORT)).transpose()?);
    let gate = caller.write(move |tx| gate::update(tx, id, version.0, name.as_deref())).await?;
    Ok(with_etag(HttpResponse::Ok(), gate.version()).json(GateView::from(gate)))
}
