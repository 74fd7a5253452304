//! What happens around every request: its id, its log line, and that nothing but problem details leaves on failure.

use std::{panic::AssertUnwindSafe, time::Instant};

use actix_web::{
    Error, ResponseError,
    body::{BodySize, BoxBody, MessageBody, None as NoBody},
    dev::{ServiceRequest, ServiceResponse},
    error::{JsonPayloadError, PathError, QueryPayloadError},
    http::{
        Method, StatusCode,
        header::{self, HeaderName, HeaderValue},
    },
    middleware::Next,
};
use futures_util::FutureExt;
use sellion_rules::refusal::{Code, Refusal};
use uuid::Uuid;

use crate::{problem::Problem, screens, unread};

/// The version of the program, on every answer, so that a client that stayed open learns of a newer server.
const VERSION: &str = env!("CARGO_PKG_VERSION");

/// Wraps the whole application.
pub(crate) async fn around(
    mut request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let started = Instant::now();
    let id = Uuid::now_v7().to_string();
    let (method, path) = (request.method().clone(), request.path().to_owned());
    let only_head = method == Method::HEAD;
    if only_head {
        // RFC 9110 s.9.3.2: answered as GET is; the connection remembers what was asked and sends no body.
        request.head_mut().method = Method::GET;
    }
    // A panic must not close the connection without a word; the state it leaves is only that of one request.
    let called = AssertUnwindSafe(next.call(request)).catch_unwind().await;
    let result = match called {
        Ok(Ok(response)) => {
            let endless = only_head && response.response().body().size() == BodySize::Stream;
            let response = response.map_into_boxed_body();
            // Nobody would read it, and it would keep the connection for as long as it goes on.
            let response =
                if endless { response.map_body(|_, _| BoxBody::new(NoBody::new())) } else { response };
            Ok(answered(response, &id))
        }
        Ok(Err(error)) => Err(problem_of(&error).with_request_id(&id)),
        Err(panic) => Err(Problem::internal(words_of(panic.as_ref())).with_request_id(&id)),
    };
    let (status, route, cause) = match &result {
        Ok(response) => (
            response.status(),
            response.request().match_pattern(),
            response.response().error().and_then(Error::as_error::<Problem>).and_then(Problem::cause),
        ),
        Err(problem) => (problem.status_code(), None, problem.cause()),
    };
    let micros = u64::try_from(started.elapsed().as_micros()).unwrap_or(u64::MAX);
    // The pattern, not the path: ids of people do not belong into logs.
    let route = route.as_deref().unwrap_or("-");
    match cause {
        Some(cause) => {
            tracing::error!(%method, route, status = status.as_u16(), micros, request_id = id, cause, "failed")
        }
        None => tracing::info!(%method, route, status = status.as_u16(), micros, request_id = id, "answered"),
    }
    tracing::trace!(path, "path");
    result.map_err(Error::from)
}

/// An answer with the headers that all have, and with problem details where it is a failure.
fn answered(response: ServiceResponse<BoxBody>, id: &str) -> ServiceResponse<BoxBody> {
    let status = response.status();
    let failed = status.is_client_error() || status.is_server_error();
    let mut response = if failed && !is_problem_with_id(&response) {
        let problem = match response.response().error() {
            Some(error) => problem_of(error),
            None => problem_for_status(status),
        };
        let problem = problem.with_request_id(id);
        let allow = response.headers().get(header::ALLOW).cloned();
        let mut rendered = problem.error_response();
        if let Some(allow) = allow {
            rendered.headers_mut().insert(header::ALLOW, allow);
        }
        let (request, _) = response.into_parts();
        // `from_err` keeps the error with the answer, so that the log line can name its cause.
        let mut made = ServiceResponse::from_err(problem, request);
        *made.response_mut().headers_mut() = rendered.headers().clone();
        made
    } else {
        response
    };
    let headers = response.headers_mut();
    if let Ok(value) = HeaderValue::from_str(id) {
        headers.insert(HeaderName::from_static("x-request-id"), value);
    }
    headers.insert(HeaderName::from_static("sellion-version"), HeaderValue::from_static(VERSION));
    if let Some(build) = screens::build() {
        headers.insert(HeaderName::from_static("sellion-screens"), build);
    }
    headers.insert(header::X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    headers.insert(header::REFERRER_POLICY, HeaderValue::from_static("no-referrer"));
    if !headers.contains_key(header::CACHE_CONTROL) {
        headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    }
    response
}

fn is_problem_with_id(response: &ServiceResponse<BoxBody>) -> bool {
    response.headers().contains_key("x-request-id")
}

/// What the framework's own errors mean in our words.
fn problem_of(error: &Error) -> Problem {
    if let Some(problem) = error.as_error::<Problem>() {
        return problem.copy();
    }
    if let Some(error) = error.as_error::<JsonPayloadError>() {
        return json_problem(error);
    }
    if error.as_error::<PathError>().is_some() {
        return Refusal::new(Code::NotFound, "The address holds an id that cannot be one.").into();
    }
    if let Some(error) = error.as_error::<QueryPayloadError>() {
        return unread::query(&error.to_string()).into();
    }
    let status = error.as_response_error().status_code();
    if status.is_server_error() {
        return Problem::internal(error.to_string());
    }
    problem_for_status(status)
}

fn json_problem(error: &JsonPayloadError) -> Problem {
    match error {
        JsonPayloadError::Overflow { limit } | JsonPayloadError::OverflowKnownLength { limit, .. } => {
            let sentence = format!("The body is larger than the {limit} bytes that are accepted here.");
            Refusal::new(Code::BodyTooLarge, sentence).into()
        }
        JsonPayloadError::ContentType => {
            let sentence = "Send the body as JSON, with the content type application/json.";
            Refusal::new(Code::WrongContentType, sentence).into()
        }
        JsonPayloadError::Deserialize(error) => unread::body(&error.to_string()).into(),
        _ => Refusal::new(Code::BadJson, "The body did not arrive whole: send it again.").into(),
    }
}

/// Failures that carry nothing but a status.
fn problem_for_status(status: StatusCode) -> Problem {
    let refusal = match status {
        StatusCode::NOT_FOUND => {
            Refusal::new(Code::UnknownPath, "Nothing is at this address: see /docs for what is.")
        }
        StatusCode::METHOD_NOT_ALLOWED => {
            Refusal::new(Code::MethodNotAllowed, "This address exists, but not for this method: see /docs.")
        }
        StatusCode::PAYLOAD_TOO_LARGE => {
            Refusal::new(Code::BodyTooLarge, "The body is too large for this address.")
        }
        StatusCode::UNSUPPORTED_MEDIA_TYPE => {
            Refusal::new(Code::WrongContentType, "This address does not take this content type: see /docs.")
        }
        _ if status.is_server_error() => return Problem::internal(format!("a bare {status}")),
        _ => Refusal::new(Code::InvalidValue, "The request cannot be understood: see /docs."),
    };
    refusal.into()
}

fn words_of(panic: &(dyn std::any::Any + Send)) -> String {
    let words = panic
        .downcast_ref::<&str>()
        .map(|words| (*words).to_owned())
        .or_else(|| panic.downcast_ref::<String>().cloned());
    format!("a panic: {}", words.unwrap_or_else(|| "without words".to_owned()))
}
