//! What a client gets when something did not work: RFC 9457 problem details, and nothing else.

use actix_web::{
    HttpResponse, ResponseError,
    http::{StatusCode, header},
};
use sellion_rules::refusal::{Code, FactValue, Refusal};
use sellion_store::StoreError;
use serde::Serialize;
use std::collections::BTreeMap;
use utoipa::ToSchema;

/// Seconds after which a client told to come back should do so.
const RETRY_AFTER_SECONDS: u32 = 1;

/// A refusal on its way to the client; for faults of ours, the cause stays behind for the log.
#[derive(Debug)]
pub(crate) struct Problem {
    /// In a box, because problems travel in results and most results are none.
    refusal: Box<Refusal>,
    cause: Option<String>,
    request_id: Option<String>,
}

/// The body of every answer that is not a success (RFC 9457, `application/problem+json`).
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ProblemBody {
    /// A stable name of the kind of problem, the same as `code`, as a URI.
    #[serde(rename = "type")]
    kind: String,
    /// What the code means, in one sentence.
    title: &'static str,
    /// The HTTP status.
    status: u16,
    /// What happened and what to do about it.
    detail: String,
    /// The stable code.
    code: Code,
    /// The member or parameter of the request that is meant.
    #[serde(skip_serializing_if = "Option::is_none")]
    field: Option<String>,
    /// Names this request in the server's log.
    request_id: String,
    /// Further members for programs, such as `seconds_remaining`, `expected_seq` or `earliest_start`.
    #[serde(flatten)]
    #[schema(inline, value_type = Object)]
    facts: BTreeMap<&'static str, FactValue>,
}

impl Problem {
    /// A problem that is nobody's to mend but ours. The cause is for the log.
    pub(crate) fn internal(cause: impl Into<String>) -> Self {
        let sentence =
            "Something went wrong here. Try again; if it stays so, give your administrator the request id.";
        let refusal = Box::new(Refusal::new(Code::Internal, sentence));
        Self { refusal, cause: Some(cause.into()), request_id: None }
    }

    /// What the log should say, for faults of ours.
    pub(crate) fn cause(&self) -> Option<&str> {
        self.cause.as_deref()
    }

    /// The same problem, naming the request it answers.
    pub(crate) fn with_request_id(mut self, request_id: &str) -> Self {
        self.request_id = Some(request_id.to_owned());
        self
    }

    /// A copy for another answer to the same request.
    pub(crate) fn copy(&self) -> Self {
        Self { refusal: self.refusal.clone(), cause: self.cause.clone(), request_id: self.request_id.clone() }
    }
}

impl From<Refusal> for Problem {
    fn from(refusal: Refusal) -> Self {
        Self { refusal: Box::new(refusal), cause: None, request_id: None }
    }
}

impl From<StoreError> for Problem {
    fn from(error: StoreError) -> Self {
        let busy = |code, sentence: &str, cause| Self {
            refusal: Box::new(Refusal::new(code, sentence)),
            cause,
            request_id: None,
        };
        match error {
            StoreError::Refused(refusal) => refusal.into(),
            StoreError::Busy => busy(Code::Busy, "The server is busy: try again in a moment.", None),
            StoreError::Unavailable(cause) => busy(
                Code::DatabaseUnavailable,
                "The database cannot be reached just now. Nothing was stored: try again in a moment.",
                Some(cause),
            ),
            StoreError::Internal(cause) => Self::internal(format!("{cause:#}")),
        }
    }
}

impl From<anyhow::Error> for Problem {
    fn from(error: anyhow::Error) -> Self {
        Self::internal(format!("{error:#}"))
    }
}

impl std::fmt::Display for Problem {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        std::fmt::Display::fmt(&self.refusal, formatter)
    }
}

impl std::error::Error for Problem {}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        status(self.refusal.code)
    }

    fn error_response(&self) -> HttpResponse {
        let status = self.status_code();
        let body = ProblemBody {
            kind: format!("urn:sellion:problem:{}", self.refusal.code),
            title: self.refusal.code.meaning(),
            status: status.as_u16(),
            detail: self.refusal.detail.clone(),
            code: self.refusal.code,
            field: self.refusal.field.clone(),
            request_id: self.request_id.clone().unwrap_or_default(),
            facts: self.refusal.facts.clone(),
        };
        let mut response = HttpResponse::build(status);
        if status == StatusCode::SERVICE_UNAVAILABLE {
            response.insert_header((header::RETRY_AFTER, RETRY_AFTER_SECONDS));
        }
        if status == StatusCode::UNAUTHORIZED {
            // RFC 9110 s.11.6.1: such an answer names a way to sign in. A cookie is none of the registered ones.
            response.insert_header((header::WWW_AUTHENTICATE, "Bearer"));
        }
        if let Some(FactValue::Number(seconds)) = self.refusal.facts.get("retry_after_seconds") {
            response.insert_header((header::RETRY_AFTER, *seconds));
        }
        if let Some(request_id) = &self.request_id {
            response.insert_header(("x-request-id", request_id.as_str()));
        }
        // `json` would overwrite the content type, so the text is made here.
        match serde_json::to_string(&body) {
            Ok(text) => response.content_type("application/problem+json").body(text),
            Err(_) => response.finish(),
        }
    }
}

/// The HTTP status of each code: what a client that knows nothing of our codes should make of it.
pub(crate) fn status(code: Code) -> StatusCode {
    use Code as C;
    match code {
        C::BadJson | C::InvalidCursor => StatusCode::BAD_REQUEST,
        C::NotSignedIn | C::SessionEnded | C::SignInRefused => StatusCode::UNAUTHORIZED,
        C::WrongRole | C::TlsRequired => StatusCode::FORBIDDEN,
        C::NotFound | C::UnknownPath => StatusCode::NOT_FOUND,
        C::MethodNotAllowed => StatusCode::METHOD_NOT_ALLOWED,
        C::IdReused
        | C::AlreadyExists
        | C::StaleVersion
        | C::EventOutOfOrder
        | C::EventConflict
        | C::BadgeAlreadyEnded
        | C::AlreadyReviewed
        | C::AlreadyCorrected
        | C::MovedMeanwhile
        | C::BadgeHeld
        | C::BadgeOutdated
        | C::BadgeHandedOver
        | C::BatchRunning
        | C::HoldReleased
        | C::StopReleased => StatusCode::CONFLICT,
        C::BodyTooLarge => StatusCode::PAYLOAD_TOO_LARGE,
        C::WrongContentType => StatusCode::UNSUPPORTED_MEDIA_TYPE,
        C::SignInThrottled => StatusCode::TOO_MANY_REQUESTS,
        C::Internal => StatusCode::INTERNAL_SERVER_ERROR,
        C::Busy | C::StreamsFull | C::DatabaseUnavailable => StatusCode::SERVICE_UNAVAILABLE,
        // Everything else is a well-formed request that the rules of the trade do not allow.
        _ => StatusCode::UNPROCESSABLE_ENTITY,
    }
}
