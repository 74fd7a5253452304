//! Rule sets: every value with its unit, its source, and how far it can be trusted.

use actix_web::{
    get,
    web::{Json, Path, Query},
};
use sellion_rules::{
    roles::op,
    ruleset::{RuleSet, RuleValue},
};
use sellion_store::StoreError;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::{
    auth::Caller,
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
}

/// One version of a rule set with all its values.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RuleSetView {
    #[serde(flatten)]
    head: RuleSetHead,
    /// Every value with its unit, source and status, in a fixed order.
    values: Vec<RuleValue>,
}

impl From<&RuleSet> for RuleSetHead {
    fn from(set: &RuleSet) -> Self {
        Self {
            name: set.name.clone(),
            version: set.version.clone(),
            title: set.title.clone(),
            value_count: set.values().len(),
            unconfirmed_count: set.unconfirmed().count(),
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

fn all() -> Result<Vec<RuleSet>, StoreError> {
    RuleSet::load_embedded().map_err(|error| StoreError::internal(error.to_string()))
}

/// The rule sets the server knows, each version of each.
#[utoipa::path(tag = "rule sets", responses((status = 200, body = Page<RuleSetHead>)))]
#[get("/api/v1/rule_sets")]
pub(crate) async fn list_rule_sets(
    caller: Caller<op::ListRuleSets>,
) -> Result<Json<Page<RuleSetHead>>, Problem> {
    // Read inside a unit of work, which is where a sign-in that has ended is noticed.
    let sets = caller.read_store(|_| all()).await?;
    Ok(Json(Page { items: sets.iter().map(RuleSetHead::from).collect(), next: None }))
}

/// One rule set with every value and its source.
#[utoipa::path(tag = "rule sets", params(RuleSetQuery), responses((status = 200, body = RuleSetView), (status = 404, body = ProblemBody)))]
#[get("/api/v1/rule_sets/{name}")]
pub(crate) async fn read_rule_set(
    caller: Caller<op::ReadRuleSet>,
    name: Path<String>,
    query: Query<RuleSetQuery>,
) -> Result<Json<RuleSetView>, Problem> {
    let (name, version) = (name.into_inner(), query.into_inner().version);
    let sets = caller.read_store(|_| all()).await?;
    let newest = sets
        .iter()
        .filter(|set| set.name == name && version.as_ref().is_none_or(|version| *version == set.version))
        .max_by(|one, other| one.version.cmp(&other.version))
        .ok_or_else(|| StoreError::not_found("rule set"))?;
    Ok(Json(RuleSetView { head: newest.into(), values: newest.values().to_vec() }))
}
