//! The caller's own site.

use actix_web::{HttpResponse, get, patch, web::Json};
use chrono::{DateTime, Utc};
use sellion_rules::{roles::op, ruleset::RuleSetVersion};
use sellion_store::site::{self, Site, SiteChange};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    problem::{Problem, ProblemBody},
    version::IfMatch,
    words::{SHORT, line},
};

/// One hospital.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SiteView {
    id: Uuid,
    /// As printed on badges.
    #[schema(example = "Marrowfield")]
    name: String,
    /// The IANA time zone whose days count for due dates and expiries.
    #[schema(example = "Europe/Lisbon")]
    time_zone: String,
    /// The rule set that new days open under.
    rule_set_name: String,
    rule_set_version: String,
    /// Counts the changes; also sent as `ETag`.
    version: i32,
    created_at: DateTime<Utc>,
}

impl From<Site> for SiteView {
    fn from(site: Site) -> Self {
        let Site { id, name, time_zone, rule_set_name, rule_set_version, version, created_at } = site;
        Self { id, name, time_zone, rule_set_name, rule_set_version, version, created_at }
    }
}

/// What may change about a site. The time zone may not: due dates were computed in it.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SitePatch {
    /// A new name.
    #[schema(example = "Marrowfield General")]
    name: Option<String>,
    /// The rule set that new days open under, and that clearances follow from now on.
    rule_set: Option<RuleSetVersion>,
}

/// The site that the caller belongs to.
#[utoipa::path(tag = "sites", responses((status = 200, body = SiteView)))]
#[get("/api/v1/sites/current")]
pub(crate) async fn read_current_site(caller: Caller<op::ReadCurrentSite>) -> Result<HttpResponse, Problem> {
    let id = caller.site_id();
    let site = caller.read_store(move |conn| site::find(conn, id)).await?;
    Ok(answer(site))
}

/// Changes the site that the caller belongs to.
#[utoipa::path(tag = "sites", params(IfMatch), responses(
    (status = 200, body = SiteView),
    (status = 409, description = "Somebody changed the site meanwhile, or another has this name.", body = ProblemBody),
    (status = 422, description = "The name cannot be, or the rule set is unknown or cannot be used yet.", body = ProblemBody)
))]
#[patch("/api/v1/sites/current")]
pub(crate) async fn update_current_site(
    caller: Caller<op::UpdateCurrentSite>,
    version: IfMatch,
    body: Json<SitePatch>,
) -> Result<HttpResponse, Problem> {
    let SitePatch { name, rule_set } = body.into_inner();
    let name = name.map(|name| line(&name, "name", SHORT)).transpose()?;
    let (rule_set_name, rule_set_version) = rule_set.map(|set| (set.name, set.version)).unzip();
    let change = SiteChange { name, rule_set_name, rule_set_version };
    let site = caller.write(move |tx| site::update(tx, version.0, &change)).await?;
    Ok(answer(site))
}

fn answer(site: Site) -> HttpResponse {
    crate::version::with_etag(HttpResponse::Ok(), site.version).json(SiteView::from(site))
}
