//! The way to the page that shows the document, for people who type an address.

use std::sync::Arc;

use actix_web::{
    HttpResponse,
    http::header,
    web::{ServiceConfig, resource},
};
use utoipa_swagger_ui::Config;

use crate::problem::Problem;

/// Where the page is; it names its files relative to the slash at the end.
const DOCS: &str = "/docs/";

/// Must come before the page's own files, one of which is served here under the program's name.
pub(crate) fn configure(config: &mut ServiceConfig) {
    config.service(resource("/docs").get(to_docs));
    for path in [DOCS, "/docs/index.html"] {
        config.service(resource(path).get(docs));
    }
}

async fn to_docs() -> HttpResponse {
    HttpResponse::PermanentRedirect().insert_header((header::LOCATION, DOCS)).finish()
}

async fn docs() -> Result<HttpResponse, Problem> {
    let file = utoipa_swagger_ui::serve("index.html", Arc::new(Config::from("/api/v1/openapi.json")))
        .map_err(|error| Problem::internal(error.to_string()))?
        .ok_or_else(|| Problem::internal("the page of the document is missing from this program"))?;
    let text = String::from_utf8_lossy(&file.bytes);
    let text = text.replacen("<title>Swagger UI</title>", "<title>Sellion</title>", 1);
    Ok(HttpResponse::Ok().content_type("text/html; charset=utf-8").body(text))
}
