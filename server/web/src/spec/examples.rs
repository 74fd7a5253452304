//! Whole examples, as recorded from a real server under api-spec/examples, at the bodies they belong to.

use serde::Deserialize;
use serde_json::Value;
use utoipa::openapi::{Content, RefOr, path::Operation};

use crate::routes::EXAMPLES;

/// One exchange that succeeded.
#[derive(Deserialize)]
struct Example {
    request: Request,
    response: Response,
}

#[derive(Deserialize)]
struct Request {
    body: Value,
}

#[derive(Deserialize)]
struct Response {
    status: u16,
    body: Value,
}

/// Puts the recorded bodies into the operation. A file that is none yet leaves it bare, which a test tells.
pub(crate) fn add(operation: &mut Operation, operation_id: &str) {
    let recorded = EXAMPLES.iter().find(|(id, _)| *id == operation_id);
    let Some(example) = recorded.and_then(|(_, text)| serde_json::from_str::<Example>(text).ok()) else {
        return;
    };
    if let Some(RefOr::T(body)) = &mut operation.request_body {
        show(body.content.values_mut(), &example.request.body);
    }
    let status = example.response.status.to_string();
    if let Some(RefOr::T(response)) = operation.responses.responses.get_mut(&status) {
        show(response.content.values_mut(), &example.response.body);
    }
}

fn show<'a>(contents: impl Iterator<Item = &'a mut RefOr<Content>>, body: &Value) {
    for content in contents {
        if let (RefOr::T(content), false) = (content, body.is_null()) {
            content.example = Some(body.clone());
        }
    }
}
