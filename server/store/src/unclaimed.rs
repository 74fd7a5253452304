//! Badges that nobody handed over in time: which they are, and since when.

use chrono::{DateTime, TimeDelta, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::badge::{UNCLAIMED_AFTER_DAYS, unclaimed_from as from};
use uuid::Uuid;

use crate::{
    StoreError,
    person::whole_name,
    schema::{badge_endings, badge_hand_overs, badges, people, sites},
};

/// From when on badge `b` opens no gate of site `t` unless it is handed over: [`sellion_rules::badge::unclaimed_from`]
/// in SQL, for statements about many badges. Nothing where it was handed over, or where the site lets it in.
macro_rules! unclaimed_from {
    () => {
        "case when t.unclaimed_closed_at is not null \
           and not exists (select from badge_hand_overs o where o.badge_id = b.id) \
         then date_trunc('second', b.recorded_at) \
           + make_interval(hours => 24 * coalesce(t.unclaimed_after_days, 7)) end"
    };
}
pub(crate) use unclaimed_from;

/// What a site has decided about badges that nobody hands over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct UnclaimedRule {
    /// After how many days a badge counts as unclaimed.
    pub after_days: u32,
    /// Since when such badges open no gate; none where they do.
    pub closed_at: Option<DateTime<Utc>>,
}

/// What a site has decided.
pub fn rule(conn: &mut PgConnection, site_id: Uuid) -> Result<UnclaimedRule, StoreError> {
    let (after_days, closed_at): (Option<i32>, Option<DateTime<Utc>>) = sites::table
        .find(site_id)
        .select((sites::unclaimed_after_days, sites::unclaimed_closed_at))
        .first(conn)?;
    let after_days = after_days.and_then(|days| u32::try_from(days).ok()).unwrap_or(UNCLAIMED_AFTER_DAYS);
    Ok(UnclaimedRule { after_days, closed_at })
}

/// A badge that lies somewhere.
#[derive(Debug, Clone)]
pub struct Unclaimed {
    /// The badge.
    pub badge_id: Uuid,
    /// Its serial.
    pub serial: String,
    /// Whose it is.
    pub person_id: Uuid,
    /// Their name, as printed.
    pub name: String,
    /// Their staff number.
    pub staff_number: String,
    /// Where they work.
    pub unit: String,
    /// When it was made.
    pub made_at: DateTime<Utc>,
    /// Since when it counts as unclaimed.
    pub since: DateTime<Utc>,
}

type Row = ((Uuid, String, Option<String>, DateTime<Utc>), (Uuid, String, String, String, String));

/// The badges of a site that count and were not handed over in time, by id, those after `after`.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    now: DateTime<Utc>,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Unclaimed>, StoreError> {
    let days = rule(conn, site_id)?.after_days;
    // One second more than the rule, which counts whole ones.
    let made_before = now - TimeDelta::days(days.into()) + TimeDelta::seconds(1);
    let rows: Vec<Row> = badges::table
        .inner_join(people::table)
        .left_join(badge_endings::table)
        .left_join(badge_hand_overs::table)
        .filter(badges::site_id.eq(site_id))
        .filter(badges::id.gt(after))
        .filter(badges::expires_at.gt(now))
        .filter(badges::recorded_at.lt(made_before))
        .filter(badge_endings::id.is_null())
        .filter(badge_hand_overs::id.is_null())
        .order(badges::id)
        .limit(limit)
        .select((
            (badges::id, badges::serial, badges::printed_name, badges::recorded_at),
            (people::id, people::staff_number, people::given_name, people::family_name, people::unit),
        ))
        .load(conn)?;
    let unclaimed = |((badge_id, serial, printed, made_at), person): Row| {
        let (person_id, staff_number, given, family, unit) = person;
        let name = printed.unwrap_or_else(|| whole_name(&given, &family));
        let since = from(made_at, days);
        Unclaimed { badge_id, serial, person_id, name, staff_number, unit, made_at, since }
    };
    Ok(rows.into_iter().map(unclaimed).filter(|badge| badge.since <= now).collect())
}
