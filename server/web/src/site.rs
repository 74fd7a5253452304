//! The caller's own site.

use std::ops::RangeInclusive;

use actix_web::{HttpResponse, get, patch, web::Json};
use chrono::{DateTime, Utc};
use sellion_rules::{
    badge::{FoundBadges, UNCLAIMED_AFTER_DAYS},
    refusal::{Code, Refusal},
    roles::op,
    ruleset::RuleSetVersion,
    twin,
};
use sellion_store::site::{self, Site, SiteChange};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    problem::{Problem, ProblemBody},
    version::IfMatch,
    words::{SHORT, line, present},
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
    /// How long scans are kept, in days from when the server learned of them; null keeps them.
    #[schema(example = 90)]
    scans_kept_days: Option<i32>,
    /// How long entries under a lead's name and pairs of readings are kept once somebody has looked at them, in days;
    /// null keeps them.
    #[schema(example = 730)]
    lead_entries_kept_days: Option<i32>,
    /// What the clocks of two gates may differ by, where a gate does not know its own.
    #[schema(example = 30)]
    clock_tolerance_seconds: u32,
    /// How soon the same badge at the same gate counts as the same reading.
    #[schema(example = 10)]
    repeat_scan_seconds: u32,
    /// After how many days without a hand-over a badge counts as unclaimed.
    #[schema(example = 7)]
    unclaimed_after_days: u32,
    /// Whether gates let people in with unclaimed badges; where they do not, the answer is `cannot_confirm`.
    unclaimed_badges_open_gates: bool,
    /// What becomes of a badge that somebody found.
    found_badges: FoundBadges,
    /// Counts the changes; also sent as `ETag`.
    version: i32,
    created_at: DateTime<Utc>,
}

impl From<Site> for SiteView {
    fn from(site: Site) -> Self {
        // The database holds nothing below zero here.
        let or =
            |stored: Option<i32>, own| stored.and_then(|stored| u32::try_from(stored).ok()).unwrap_or(own);
        Self {
            id: site.id,
            name: site.name,
            time_zone: site.time_zone,
            rule_set_name: site.rule_set_name,
            rule_set_version: site.rule_set_version,
            scans_kept_days: site.scans_kept_days,
            lead_entries_kept_days: site.lead_entries_kept_days,
            clock_tolerance_seconds: or(site.clock_tolerance_seconds, twin::CLOCK_TOLERANCE_SECONDS),
            repeat_scan_seconds: or(site.repeat_scan_seconds, twin::REPEAT_SECONDS),
            unclaimed_after_days: or(site.unclaimed_after_days, UNCLAIMED_AFTER_DAYS),
            unclaimed_badges_open_gates: site.unclaimed_closed_at.is_none(),
            found_badges: site
                .found_badges
                .and_then(|stored| stored.parse().ok())
                .unwrap_or(FoundBadges::DEFAULT),
            version: site.version,
            created_at: site.created_at,
        }
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
    /// How long scans are kept, in days. Null keeps them.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<i32>, example = 90, minimum = 1, maximum = 36_500)]
    scans_kept_days: Option<Option<i32>>,
    /// How long entries under a lead's name and pairs of readings are kept once somebody has looked at them. Null keeps
    /// them.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<i32>, example = 730, minimum = 1, maximum = 36_500)]
    lead_entries_kept_days: Option<Option<i32>>,
    /// What the clocks of two gates may differ by, where a gate does not know its own. Null is the program's own.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<i32>, example = 30, minimum = 0, maximum = 3_600)]
    clock_tolerance_seconds: Option<Option<i32>>,
    /// How soon the same badge at the same gate counts as the same reading. Null is the program's own.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<i32>, example = 10, minimum = 0, maximum = 600)]
    repeat_scan_seconds: Option<Option<i32>>,
    /// After how many days without a hand-over a badge counts as unclaimed; 0 is at once. Null is the program's own.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<i32>, example = 7, minimum = 0, maximum = 366)]
    unclaimed_after_days: Option<Option<i32>>,
    /// Whether gates let people in with unclaimed badges. Look at the list of them first: from the moment of saying no,
    /// `cannot_confirm` is the answer to every one of them.
    unclaimed_badges_open_gates: Option<bool>,
    /// What becomes of a badge that somebody found. Null is the program's own.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<FoundBadges>)]
    found_badges: Option<Option<FoundBadges>>,
}

impl SitePatch {
    fn change(self, now: DateTime<Utc>) -> Result<SiteChange, Refusal> {
        let (rule_set_name, rule_set_version) = self.rule_set.map(|set| (set.name, set.version)).unzip();
        Ok(SiteChange {
            name: self.name.map(|name| line(&name, "name", SHORT)).transpose()?,
            rule_set_name,
            rule_set_version,
            scans_kept_days: between(self.scans_kept_days, "scans_kept_days", DAYS)?,
            lead_entries_kept_days: between(self.lead_entries_kept_days, "lead_entries_kept_days", DAYS)?,
            clock_tolerance_seconds: between(
                self.clock_tolerance_seconds,
                "clock_tolerance_seconds",
                0..=3_600,
            )?,
            repeat_scan_seconds: between(self.repeat_scan_seconds, "repeat_scan_seconds", 0..=600)?,
            unclaimed_after_days: between(self.unclaimed_after_days, "unclaimed_after_days", 0..=366)?,
            unclaimed_closed_at: self.unclaimed_badges_open_gates.map(|open| (!open).then_some(now)),
            found_badges: self.found_badges.map(|found| found.map(|found| found.as_str().to_owned())),
        })
    }
}

/// A day at least, and no longer than anybody works.
const DAYS: RangeInclusive<i32> = 1..=36_500;

fn between(
    number: Option<Option<i32>>,
    field: &str,
    range: RangeInclusive<i32>,
) -> Result<Option<Option<i32>>, Refusal> {
    match number {
        Some(Some(number)) if !range.contains(&number) => {
            let sentence = format!("Between {} and {}.", range.start(), range.end());
            Err(Refusal::new(Code::InvalidValue, sentence).field(field))
        }
        number => Ok(number),
    }
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
    let change = body.into_inner().change(caller.now)?;
    let site = caller.write(move |tx| site::update(tx, version.0, &change)).await?;
    Ok(answer(site))
}

fn answer(site: Site) -> HttpResponse {
    crate::version::with_etag(HttpResponse::Ok(), site.version).json(SiteView::from(site))
}
