//! Sites: one hospital each; every other row belongs to one.

use std::sync::Arc;

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    refusal::{Code, Refusal},
    ruleset::RuleSet,
};
use uuid::Uuid;

use crate::{StoreError, Tx, audit, clearance, on_constraint, place, rule_set, schema::sites};

/// One hospital.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = sites, check_for_backend(diesel::pg::Pg))]
pub struct Site {
    /// Its id.
    pub id: Uuid,
    /// Its name, as printed on badges.
    pub name: String,
    /// Its IANA time zone: the days of due dates and expiries are days there.
    pub time_zone: String,
    /// The rule set that new days open under.
    pub rule_set_name: String,
    /// That rule set's version.
    pub rule_set_version: String,
    /// How long scans are kept, in days; none where nobody has decided.
    pub scans_kept_days: Option<i32>,
    /// How long entries under a lead's name and pairs of readings are kept, in days.
    pub lead_entries_kept_days: Option<i32>,
    /// What the clocks of two gates may differ by; none is the program's own.
    pub clock_tolerance_seconds: Option<i32>,
    /// How soon the same badge at the same gate is a nervous hand; none is the program's own.
    pub repeat_scan_seconds: Option<i32>,
    /// After how many days without a hand-over a badge counts as unclaimed; none is the program's own.
    pub unclaimed_after_days: Option<i32>,
    /// Since when unclaimed badges open no gate; none where they do.
    pub unclaimed_closed_at: Option<DateTime<Utc>>,
    /// The word for what becomes of a badge that somebody found; none is the program's own.
    pub found_badges: Option<String>,
    /// Counts the changes.
    pub version: i32,
    /// When it was set up.
    pub created_at: DateTime<Utc>,
}

/// A site to be set up.
#[derive(Debug, Clone, Insertable)]
#[diesel(table_name = sites)]
pub struct NewSite {
    /// Its id.
    pub id: Uuid,
    /// Its name.
    pub name: String,
    /// Its IANA time zone.
    pub time_zone: String,
    /// The rule set that new days open under.
    pub rule_set_name: String,
    /// That rule set's version.
    pub rule_set_version: String,
}

/// What may change about a site.
#[derive(Debug, Clone, AsChangeset)]
#[diesel(table_name = sites)]
pub struct SiteChange {
    /// A new name.
    pub name: Option<String>,
    /// The rule set that new days open under.
    pub rule_set_name: Option<String>,
    /// That rule set's version.
    pub rule_set_version: Option<String>,
    /// How long scans are kept, or for ever.
    pub scans_kept_days: Option<Option<i32>>,
    /// How long entries under a lead's name and pairs of readings are kept, or for ever.
    pub lead_entries_kept_days: Option<Option<i32>>,
    /// What the clocks of two gates may differ by, or the program's own.
    pub clock_tolerance_seconds: Option<Option<i32>>,
    /// How soon the same badge at the same gate is a nervous hand, or the program's own.
    pub repeat_scan_seconds: Option<Option<i32>>,
    /// After how many days without a hand-over a badge counts as unclaimed, or the program's own.
    pub unclaimed_after_days: Option<Option<i32>>,
    /// Since when unclaimed badges open no gate, or that they do.
    pub unclaimed_closed_at: Option<Option<DateTime<Utc>>>,
    /// The word for what becomes of a badge that somebody found, or the program's own.
    pub found_badges: Option<Option<String>>,
}

/// A site by its id.
pub fn find(conn: &mut PgConnection, id: Uuid) -> Result<Site, StoreError> {
    let site = sites::table.find(id).select(Site::as_select()).first(conn).optional()?;
    site.ok_or_else(|| StoreError::not_found("site"))
}

/// The time zone whose days count at a site.
pub fn zone(conn: &mut PgConnection, id: Uuid) -> Result<Tz, StoreError> {
    let name: String = sites::table.find(id).select(sites::time_zone).first(conn)?;
    zone_named(&name)
}

/// The rule set and the time zone that a site goes by outside any day.
pub fn rules_and_zone(conn: &mut PgConnection, id: Uuid) -> Result<(Arc<RuleSet>, Tz), StoreError> {
    let (zone, name, version): (String, String, String) = sites::table
        .find(id)
        .select((sites::time_zone, sites::rule_set_name, sites::rule_set_version))
        .first(conn)?;
    Ok((rule_set::named(conn, id, &name, &version)?, zone_named(&zone)?))
}

fn zone_named(name: &str) -> Result<Tz, StoreError> {
    name.parse().map_err(|_| StoreError::internal(format!("the site's time zone {name} is unknown")))
}

/// A site by its name.
pub fn find_by_name(conn: &mut PgConnection, name: &str) -> Result<Option<Site>, StoreError> {
    Ok(sites::table.filter(sites::name.eq(name)).select(Site::as_select()).first(conn).optional()?)
}

/// Sets up a site with the beginning of its audit chain. `tx` must act for the new site's id.
pub fn create(tx: &mut Tx<'_>, new: &NewSite) -> Result<Site, StoreError> {
    let made = diesel::insert_into(sites::table).values(new).execute(tx.conn);
    on_constraint(made, "sites_name_taken", || {
        Refusal::new(Code::AlreadyExists, "A site of this name is set up already.").field("name")
    })?;
    audit::start(tx.conn, new.id)?;
    tx.touched("sites", new.id);
    place::create_first(tx)?;
    find(tx.conn, new.id)
}

/// Changes the caller's own site, unless somebody changed it since `version`.
///
/// Another rule set governs clearances from then on: all of them are computed anew.
pub fn update(tx: &mut Tx<'_>, version: i32, change: &SiteChange) -> Result<Site, StoreError> {
    let id = tx.site_id();
    if let (Some(name), Some(version)) = (&change.rule_set_name, &change.rule_set_version) {
        rule_set::named(tx.conn, id, name, version)?;
    }
    let closed_before = find(tx.conn, id)?.unclaimed_closed_at;
    // Said twice, it keeps the time at which it was said first.
    let closed = change.unclaimed_closed_at.map(|closed| closed.map(|now| closed_before.unwrap_or(now)));
    let change = SiteChange { unclaimed_closed_at: closed, ..change.clone() };
    let changed = diesel::update(sites::table.find(id).filter(sites::version.eq(version)))
        .set((&change, sites::version.eq(sites::version + 1)))
        .execute(tx.conn);
    let changed = on_constraint(changed, "sites_name_taken", || {
        Refusal::new(Code::AlreadyExists, "A site of this name is set up already.").field("name")
    })?;
    let site = find(tx.conn, id)?;
    if changed == 0 {
        return Err(stale(version, site.version).into());
    }
    tx.touched("sites", id);
    if change.rule_set_name.is_some() {
        clearance::recompute_site(tx)?;
    }
    Ok(site)
}

/// Holds the caller's site until the transaction ends, for what only one at a time may do there.
pub fn lock(tx: &mut Tx<'_>) -> Result<(), StoreError> {
    sites::table
        .find(tx.site_id())
        .select(sites::id)
        .for_no_key_update()
        .first::<Uuid>(tx.conn)
        .optional()?
        .map(drop)
        .ok_or_else(|| StoreError::not_found("site"))
}

/// The refusal of a change made on top of an older version than the stored one.
#[must_use]
pub fn stale(sent: i32, stored: i32) -> Refusal {
    Refusal::new(
        Code::StaleVersion,
        "Somebody changed this since you read it: read it again, then repeat your change.",
    )
    .fact("version_sent", sent)
    .fact("version_stored", stored)
}

/// Refuses a change to a locked row that was made on top of an older version than the stored one.
pub(crate) fn refuse_stale(sent: i32, stored: i32) -> Result<(), Refusal> {
    if sent == stored { Ok(()) } else { Err(stale(sent, stored)) }
}

/// Every site of the installation, for the program itself.
pub fn all(conn: &mut PgConnection) -> Result<Vec<Site>, StoreError> {
    Ok(sites::table.order(sites::name).select(Site::as_select()).load(conn)?)
}
