//! Days: one fit-testing day each, with its place, its hours and the rule set it is held under.

use std::sync::Arc;

use chrono::{DateTime, TimeDelta, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    refusal::{Code, Refusal},
    ruleset::RuleSet,
};
use uuid::Uuid;

use crate::{Added, StoreError, Tx, insert_once, on_constraint, rule_set, schema::days, site};

/// How long before a day opens and after it closes somebody may check in (our own bound, no source).
const CHECK_IN_MARGIN_HOURS: i64 = 12;

/// One fit-testing day.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = days, check_for_backend(diesel::pg::Pg))]
pub struct Day {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// Where it is held.
    pub place: String,
    /// When it opens.
    pub opens_at: DateTime<Utc>,
    /// When it is meant to close.
    pub closes_at: DateTime<Utc>,
    /// The rule set it is held under.
    pub rule_set_name: String,
    /// That rule set's version.
    pub rule_set_version: String,
    /// When it was closed, if it is.
    pub closed_at: Option<DateTime<Utc>>,
    /// Counts the changes.
    pub version: i32,
    /// When it was planned.
    pub created_at: DateTime<Utc>,
}

/// A day to be planned.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = days, check_for_backend(diesel::pg::Pg))]
pub struct NewDay {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// Where it is held.
    pub place: String,
    /// When it opens.
    pub opens_at: DateTime<Utc>,
    /// When it is meant to close.
    pub closes_at: DateTime<Utc>,
    /// The rule set it is held under.
    pub rule_set_name: String,
    /// That rule set's version.
    pub rule_set_version: String,
}

/// What may change about a day. Its rule set may not: runs were judged under it.
#[derive(Debug, Clone, Default)]
pub struct DayChange {
    /// Another place.
    pub place: Option<String>,
    /// Another opening time.
    pub opens_at: Option<DateTime<Utc>>,
    /// Another closing time.
    pub closes_at: Option<DateTime<Utc>>,
    /// Close it, or open it again.
    pub closed: Option<bool>,
}

#[derive(AsChangeset)]
#[diesel(table_name = days)]
struct Changed {
    place: Option<String>,
    opens_at: Option<DateTime<Utc>>,
    closes_at: Option<DateTime<Utc>>,
    closed_at: Option<Option<DateTime<Utc>>>,
}

/// A day of the site.
pub fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<Day, StoreError> {
    let found = days::table.find(id).filter(days::site_id.eq(site_id));
    let day = found.select(Day::as_select()).first(conn).optional()?;
    day.ok_or_else(|| StoreError::not_found("day"))
}

/// Days of the site, by id.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Day>, StoreError> {
    let of_site = days::table.filter(days::site_id.eq(site_id)).filter(days::id.gt(after));
    Ok(of_site.order(days::id).limit(limit).select(Day::as_select()).load(conn)?)
}

/// Plans a day, under the site's rule set unless another one is named as (name, version).
pub fn create(
    tx: &mut Tx<'_>,
    (id, place, opens_at, closes_at): (Uuid, String, DateTime<Utc>, DateTime<Utc>),
    rule_set: Option<(String, String)>,
) -> Result<Day, StoreError> {
    let site_id = tx.site_id();
    let (rule_set_name, rule_set_version) = match rule_set {
        Some(named) => named,
        None => {
            let site = site::find(tx.conn, site_id)?;
            (site.rule_set_name, site.rule_set_version)
        }
    };
    rule_set::named(tx.conn, site_id, &rule_set_name, &rule_set_version)?;
    let new = NewDay { id, site_id, place, opens_at, closes_at, rule_set_name, rule_set_version };
    let added = insert_once(
        tx.conn,
        &new,
        |conn, new| {
            let made = diesel::insert_into(days::table).values(new).on_conflict(days::id).do_nothing();
            on_constraint(made.execute(conn), "days_hours", hours)
        },
        |conn| {
            let stored = days::table.find(id).filter(days::site_id.eq(site_id));
            stored.select(NewDay::as_select()).first(conn).optional()
        },
    )?;
    if added == Added::Now {
        tx.touched("days", id);
    }
    find(tx.conn, site_id, id)
}

/// Changes a day, unless somebody changed it since `version`.
pub fn update(tx: &mut Tx<'_>, id: Uuid, version: i32, change: &DayChange) -> Result<Day, StoreError> {
    let site_id = tx.site_id();
    let before = find(tx.conn, site_id, id)?;
    let changed = Changed {
        place: change.place.clone(),
        opens_at: change.opens_at,
        closes_at: change.closes_at,
        // Closing a closed day leaves the moment at which it closed.
        closed_at: change.closed.map(|closed| closed.then(|| before.closed_at.unwrap_or(tx.now))),
    };
    let row = days::table.find(id).filter(days::site_id.eq(site_id)).filter(days::version.eq(version));
    let updated = diesel::update(row).set((changed, days::version.eq(days::version + 1))).execute(tx.conn);
    let updated = on_constraint(updated, "days_hours", hours)?;
    let day = find(tx.conn, site_id, id)?;
    if updated == 0 {
        return Err(site::stale(version, day.version).into());
    }
    tx.touched("days", id);
    Ok(day)
}

/// The day, locked so that its tickets and fillings come one after another.
pub(crate) fn lock(tx: &mut Tx<'_>, id: Uuid) -> Result<Day, StoreError> {
    let found = days::table.find(id).filter(days::site_id.eq(tx.site_id())).select(Day::as_select());
    let day = found.for_no_key_update().first(tx.conn).optional()?;
    day.ok_or_else(|| StoreError::not_found("day"))
}

/// Refuses what happened after a day was closed. What happened before it may still be entered late.
pub fn refuse_closed(day: &Day, happened_at: DateTime<Utc>) -> Result<(), Refusal> {
    match day.closed_at {
        Some(closed_at) if closed_at <= happened_at => Err(Refusal::new(
            Code::DayClosed,
            "This day is closed: open it again, or use the day that is on.",
        )
        .fact("closed_at", closed_at)),
        _ => Ok(()),
    }
}

/// Refuses a check-in that cannot belong to this day: queues begin before the doors open and outlast the closing, but
/// not by half a day.
pub(crate) fn refuse_elsewhen(day: &Day, happened_at: DateTime<Utc>) -> Result<(), Refusal> {
    let margin = TimeDelta::hours(CHECK_IN_MARGIN_HOURS);
    let (first, last) = (day.opens_at - margin, day.closes_at + margin);
    if (first..=last).contains(&happened_at) {
        return Ok(());
    }
    let sentence = "This time lies far outside the hours of the day: check the date, or choose another day.";
    let refusal = Refusal::new(Code::InvalidValue, sentence).field("happened_at");
    Err(refusal.fact("opens_at", day.opens_at).fact("closes_at", day.closes_at))
}

/// The rule set a day is held under.
pub fn rules(conn: &mut PgConnection, day: &Day) -> Result<Arc<RuleSet>, StoreError> {
    rule_set::named(conn, day.site_id, &day.rule_set_name, &day.rule_set_version)
}

fn hours() -> Refusal {
    Refusal::new(Code::InvalidValue, "A day closes after it opens.").field("closes_at")
}
