//! Rule sets: every value with its unit, its source, and how far it can be trusted.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    method::Method,
    refusal::{Code, Refusal},
    roles::op,
    ruleset::{Mistake, Open, RuleSetVersion, RuleValue},
};
use sellion_store::{
    StoreError,
    rule_set::{self, Known, NotTaken},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::happened,
    page::Page,
    problem::{Problem, ProblemBody},
};

/// One version of a rule set, by name.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RuleSetHead {
    #[schema(example = "us-29cfr1910-134")]
    name: String,
    #[schema(example = "2019-09-26.1")]
    version: String,
    /// Its title in words.
    title: String,
    /// How many values it sets.
    #[schema(example = 42)]
    value_count: usize,
    /// How many of them a person still has to confirm.
    #[schema(example = 1)]
    unconfirmed_count: usize,
    /// The sets it stands on; none where it stands on its own.
    based_on: Vec<RuleSetVersion>,
    /// Whether a day can be held under it.
    usable: bool,
}

/// Whether a rule set accepts a method.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct MethodAccepted {
    method: Method,
    accepted: bool,
    /// Why it is not accepted.
    #[serde(skip_serializing_if = "Option::is_none")]
    why_not: Option<String>,
}

/// A site's own rule set.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewRuleSet {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    /// Its text in TOML, as `sellion rules check` reads it: name, version, title, the sets it is based on, and values of
    /// its own. Stricter values hold as they are; looser ones need `confirmed_by` and `confirmed_on`.
    document: String,
    #[schema(example = "2026-03-02T09:00:00Z")]
    happened_at: DateTime<Utc>,
}

/// One version of a rule set with all its values.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RuleSetView {
    #[serde(flatten)]
    head: RuleSetHead,
    /// Each method, and whether it is accepted.
    methods: Vec<MethodAccepted>,
    /// Every value with its unit, source, status and whose it is, in a fixed order.
    values: Vec<RuleValue>,
    /// Values that have to be confirmed before it can be used.
    open: Vec<Open>,
}

impl From<&Known> for RuleSetHead {
    fn from(known: &Known) -> Self {
        let document = &known.document;
        Self {
            name: document.id.name.clone(),
            version: document.id.version.clone(),
            title: document.title.clone(),
            based_on: document.based_on.clone(),
            value_count: document.values().len(),
            unconfirmed_count: document.unconfirmed().len(),
            usable: known.rules.is_some(),
        }
    }
}

impl From<&Known> for RuleSetView {
    fn from(known: &Known) -> Self {
        let methods = Method::ALL.iter().map(|method| {
            let refused = match &known.rules {
                Some(rules) => rules.method(*method).err().map(|refusal| refusal.detail),
                None => Some("The rule set as a whole cannot be used yet.".to_owned()),
            };
            MethodAccepted { method: *method, accepted: refused.is_none(), why_not: refused }
        });
        Self {
            head: known.into(),
            methods: methods.collect(),
            values: known.document.values(),
            open: known.document.open(),
        }
    }
}

/// Which version of a rule set.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct RuleSetQuery {
    /// The newest unless told.
    version: Option<String>,
}

/// The rule sets the server knows, each version of each: those of the program, then the site's own.
#[utoipa::path(tag = "rule sets", responses((status = 200, body = Page<RuleSetHead>)))]
#[get("/api/v1/rule_sets")]
pub(crate) async fn list_rule_sets(
    caller: Caller<op::ListRuleSets>,
) -> Result<Json<Page<RuleSetHead>>, Problem> {
    let site_id = caller.site_id();
    let sets = caller.read_store(move |conn| rule_set::all(conn, site_id)).await?;
    Ok(Json(Page { items: sets.iter().map(|known| known.as_ref().into()).collect(), next: None }))
}

/// One rule set with every value and its source, whether or not it may be used.
#[utoipa::path(tag = "rule sets", params(RuleSetQuery), responses((status = 200, body = RuleSetView), (status = 404, body = ProblemBody)))]
#[get("/api/v1/rule_sets/{name}")]
pub(crate) async fn read_rule_set(
    caller: Caller<op::ReadRuleSet>,
    name: Path<String>,
    query: Query<RuleSetQuery>,
) -> Result<Json<RuleSetView>, Problem> {
    let (name, version) = (name.into_inner(), query.into_inner().version);
    let site_id = caller.site_id();
    let sets = caller.read_store(move |conn| rule_set::all(conn, site_id)).await?;
    let asked = |id: &RuleSetVersion| {
        id.name == name && version.as_ref().is_none_or(|version| *version == id.version)
    };
    let newest = sets
        .iter()
        .filter(|known| asked(&known.document.id))
        .max_by_key(|known| known.document.id.place())
        .ok_or_else(|| StoreError::not_found("rule set"))?;
    Ok(Json(newest.as_ref().into()))
}

/// Takes a site's own rule set. With any mistake in it nothing is stored, and every mistake is told with its place.
///
/// It never changes: another value makes another version. Days that were held under an older version keep it.
#[utoipa::path(tag = "rule sets", responses(
    (status = 201, body = RuleSetView),
    (status = 409, description = "This version or a later one is stored already, or the id belongs to another set.", body = ProblemBody),
    (status = 422, description = "The text has mistakes.", body = ProblemBody)
))]
#[post("/api/v1/rule_sets")]
pub(crate) async fn create_rule_set(
    caller: Caller<op::CreateRuleSet>,
    body: Json<NewRuleSet>,
) -> Result<HttpResponse, Problem> {
    let NewRuleSet { id, document, happened_at } = body.into_inner();
    let happened_at = happened(happened_at, caller.now)?;
    let known = caller
        .write(move |tx| {
            rule_set::create(tx, id, &document, happened_at).map_err(|error| match error {
                NotTaken::Mistakes(mistakes) => invalid(mistakes).into(),
                NotTaken::Store(error) => error,
            })
        })
        .await?;
    Ok(HttpResponse::Created().json(RuleSetView::from(known.as_ref())))
}

fn invalid(mistakes: Vec<Mistake>) -> Refusal {
    let first = mistakes.first().map(ToString::to_string).unwrap_or_default();
    let sentence = format!("Nothing was stored. Mistakes: {}; the first at {first}", mistakes.len());
    Refusal::new(Code::RuleSetInvalid, sentence).field("document").fact("mistakes", mistakes)
}
