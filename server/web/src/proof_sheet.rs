//! Proof sheets: rulers and a code, so that a printer is set right before badges are printed.

use actix_web::{
    HttpResponse, post,
    web::{Data, Json},
};
use sellion_badge::sheet;
use sellion_rules::roles::op;
use serde::Deserialize;
use utoipa::ToSchema;

use crate::{
    auth::Caller,
    printer::{Layout, PrinterSettings},
    problem::{Problem, ProblemBody},
    state::State,
};

/// Which paper and printer to try.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewProofSheet {
    layout: Layout,
    #[serde(default)]
    printer: PrinterSettings,
}

/// Prints rulers from the edges of the paper, the outlines of the badges and a code that is none of ours.
#[utoipa::path(tag = "badges", responses(
    (status = 200, body = Vec<u8>, content_type = "application/pdf"),
    (status = 422, description = "There is no such printer.", body = ProblemBody)
))]
#[post("/api/v1/proof_sheets")]
pub(crate) async fn create_proof_sheet(
    caller: Caller<op::CreateProofSheet>,
    state: Data<State>,
    body: Json<NewProofSheet>,
) -> Result<HttpResponse, Problem> {
    let NewProofSheet { layout, printer } = body.into_inner();
    let printer = printer.printer()?;
    // Nothing of the site is on it, but whoever signed out prints nothing.
    caller.read_store(|_| Ok(())).await?;
    let pdf = actix_web::web::block(move || {
        let fonts = state.fonts.get()?;
        sheet::render_proof(layout.into(), printer, &fonts)
            .map_err(|error| Problem::internal(error.to_string()))
    })
    .await
    .map_err(|error| Problem::internal(error.to_string()))??;
    Ok(HttpResponse::Ok()
        .content_type("application/pdf")
        .insert_header(("content-disposition", "inline; filename=\"proof.pdf\""))
        .body(pdf))
}
