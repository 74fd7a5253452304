//! The OpenAPI document: made from the handlers, completed with what holds for all of them, and served with its docs page.

mod examples;
mod refusals;

use actix_web::web::ServiceConfig;
use sellion_rules::{reading_file::Problem as ReadingFileProblem, refusal::Code, roles::Operation};
use utoipa::{
    Modify, OpenApi,
    openapi::{
        Content, RefOr, Response, ResponseBuilder,
        extensions::Extensions,
        path::Operation as SpecOperation,
        security::{ApiKey, ApiKeyValue, Http, HttpAuthScheme, SecurityScheme},
    },
};
use utoipa_swagger_ui::SwaggerUi;

use crate::{auth::COOKIE, problem::ProblemBody, routes::Operations, stream::ChangeView};

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Sellion",
        description = "A hospital's respirator fit-testing day: check-in, taste screening, attempts, supplies, \
                       clearances, badges and gates. This program keeps records and gives reminders. It does not \
                       decide whether a respirator protects a person: local rules and the judgement of competent \
                       and licensed people come first.",
        license(name = "Apache-2.0", identifier = "Apache-2.0")
    ),
    components(schemas(ProblemBody, ChangeView, ReadingFileProblem))
)]
struct Head;

/// The document as committed under api-spec/.
#[must_use]
pub fn openapi_json() -> String {
    let mut text = document().to_pretty_json().unwrap_or_default();
    text.push('\n');
    text
}

/// The whole document.
pub(crate) fn document() -> utoipa::openapi::OpenApi {
    let mut document = Head::openapi();
    document.merge(Operations::openapi());
    Common.modify(&mut document);
    document
}

/// What holds for every operation: how to sign in, who may call, and what a refusal looks like.
struct Common;

impl Modify for Common {
    fn modify(&self, document: &mut utoipa::openapi::OpenApi) {
        let components = document.components.get_or_insert_default();
        components
            .add_security_scheme("session", SecurityScheme::ApiKey(ApiKey::Cookie(ApiKeyValue::new(COOKIE))));
        components.add_security_scheme("device", SecurityScheme::Http(Http::new(HttpAuthScheme::Bearer)));
        for item in document.paths.paths.values_mut() {
            let operations =
                [&mut item.get, &mut item.post, &mut item.patch, &mut item.put, &mut item.delete];
            for operation in operations.into_iter().flatten() {
                complete(operation);
            }
        }
        let common = (COMMON_REFUSALS, refusals::COMMON);
        document.extensions.get_or_insert_default().merge(codes_as_member(common));
    }
}

/// The member of an operation that names what it alone refuses, and who may call it: clients show nobody what they may
/// not do. One member, because several would come in another order each time the document is written.
const OWN: &str = "x-sellion";

/// The member of the document that names what any operation may refuse.
const COMMON_REFUSALS: &str = "x-common-refusals";

fn codes_as_member((name, codes): (&str, &[Code])) -> Extensions {
    [(name, serde_json::Value::from(words(codes)))].into_iter().collect()
}

fn words(codes: &[Code]) -> Vec<&str> {
    codes.iter().map(|code| code.as_str()).collect()
}

fn complete(operation: &mut SpecOperation) {
    let id = operation.operation_id.clone().unwrap_or_default();
    let known = id.parse::<Operation>().ok();
    let own = refusals::declared(&id);
    let mut member = serde_json::json!({ "refusals": words(&own) });
    examples::add(operation, &id);
    let mut codes = vec![Code::Internal, Code::Busy, Code::DatabaseUnavailable];
    if let Some(known) = known {
        let roles: Vec<&str> = known.roles().iter().map(|role| role.as_str()).collect();
        member["roles"] = serde_json::json!(roles);
        let line = format!("Roles: {}.", roles.join(", "));
        operation.description = Some(match operation.description.take() {
            Some(text) => format!("{text}\n\n{line}"),
            None => line,
        });
        // A parameter that is not known is an invalid value, whatever the operation.
        codes.extend([Code::NotSignedIn, Code::SessionEnded, Code::WrongRole, Code::InvalidValue]);
    }
    operation.extensions.get_or_insert_default().merge([(OWN, member)].into_iter().collect());
    if operation.request_body.is_some() {
        codes.extend([Code::BadJson, Code::BodyTooLarge, Code::WrongContentType]);
    }
    codes.extend(own);
    for code in codes {
        let status = crate::problem::status(code).as_u16().to_string();
        operation.responses.responses.entry(status).or_insert_with(|| RefOr::T(problem_response(code)));
    }
    for (status, response) in &mut operation.responses.responses {
        // Every failure has the same form, whatever the handler's own documentation called it.
        if let (true, RefOr::T(response)) = (status.as_str() >= "400", response) {
            let schema = utoipa::openapi::Ref::from_schema_name("ProblemBody");
            response.content.clear();
            response.content.insert("application/problem+json".to_owned(), Content::new(Some(schema)).into());
        }
    }
}

fn problem_response(code: Code) -> Response {
    ResponseBuilder::new().description(code.meaning()).build()
}

/// The document and a page that shows it. All the page needs is part of the program: no third party is asked.
pub(crate) fn configure(config: &mut ServiceConfig, document: utoipa::openapi::OpenApi) {
    config.service(SwaggerUi::new("/docs/{_:.*}").url("/api/v1/openapi.json", document));
}
