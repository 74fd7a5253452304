//! Edits that do not overwrite each other: `ETag` on answers, `If-Match` on changes (RFC 9110 s.8.8.3, s.13.1.1).

use std::future::{Ready, ready};

use actix_web::{FromRequest, HttpRequest, HttpResponse, HttpResponseBuilder, dev::Payload, http::header};
use sellion_rules::refusal::{Code, Refusal};
use utoipa::{
    IntoParams,
    openapi::{
        Object, Type,
        path::{Parameter, ParameterBuilder, ParameterIn},
    },
};

use crate::problem::Problem;

/// The version a change was made on top of, from the `If-Match` header.
#[derive(Debug, Clone, Copy)]
pub(crate) struct IfMatch(pub(crate) i32);

impl FromRequest for IfMatch {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let version = request
            .headers()
            .get(header::IF_MATCH)
            .and_then(|value| value.to_str().ok())
            .and_then(|text| text.trim().strip_prefix('"')?.strip_suffix('"')?.parse().ok());
        ready(version.map(Self).ok_or_else(|| {
            let sentence = "Send the ETag of what you read as If-Match, so that nobody's change is lost.";
            Refusal::new(Code::InvalidValue, sentence).field("If-Match").into()
        }))
    }
}

impl IntoParams for IfMatch {
    fn into_params(_: impl Fn() -> Option<ParameterIn>) -> Vec<Parameter> {
        vec![
            ParameterBuilder::new()
                .name("If-Match")
                .parameter_in(ParameterIn::Header)
                .required(utoipa::openapi::Required::True)
                .description(Some("The ETag of the version that is being changed."))
                .schema(Some(Object::with_type(Type::String)))
                .build(),
        ]
    }
}

/// Adds the version as an `ETag`.
pub(crate) fn with_etag(mut response: HttpResponseBuilder, version: i32) -> HttpResponseBuilder {
    response.insert_header((header::ETAG, format!("\"{version}\"")));
    response
}

/// The answer to a caller who holds this very version already (RFC 9110 s.13.1.2): nothing, with the headers that a
/// cache is kept by.
pub(crate) fn not_modified(request: &HttpRequest, etag: &str, cache: &str) -> Option<HttpResponse> {
    let opaque = |tag: &str| tag.trim().trim_start_matches("W/").to_owned();
    let sent = request.headers().get_all(header::IF_NONE_MATCH).filter_map(|value| value.to_str().ok());
    let mut tags = sent.flat_map(|text| text.split(','));
    let held = tags.any(|tag| tag.trim() == "*" || opaque(tag) == opaque(etag));
    held.then(|| {
        HttpResponse::NotModified()
            .insert_header((header::ETAG, etag))
            .insert_header((header::CACHE_CONTROL, cache))
            .finish()
    })
}
