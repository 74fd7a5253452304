//! Whether the program runs, and whether it can serve.

use actix_web::{HttpResponse, get, web::Data};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{problem::Problem, state::State};

/// How the program is.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Health {
    /// Always `ok`: otherwise there is a problem instead of this.
    status: &'static str,
    /// The version of the program.
    version: &'static str,
}

const OK: Health = Health { status: "ok", version: env!("CARGO_PKG_VERSION") };

/// Whether the program runs.
///
/// Says nothing about the database: a program that waits for it should not be restarted.
#[utoipa::path(tag = "health", responses((status = 200, body = Health)))]
#[get("/health/live")]
pub(crate) async fn read_liveness() -> HttpResponse {
    HttpResponse::Ok().json(OK)
}

/// Whether the program can serve: it reached its database just now.
#[utoipa::path(tag = "health", responses((status = 200, body = Health)))]
#[get("/health/ready")]
pub(crate) async fn read_readiness(state: Data<State>) -> Result<HttpResponse, Problem> {
    state.store.run(sellion_store::health::ping).await?;
    Ok(HttpResponse::Ok().json(OK))
}
