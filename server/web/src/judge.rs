//! What supplies are judged by: the rules in force, the clocks of the site, and a moment.

use std::sync::Arc;

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use sellion_rules::ruleset::RuleSet;
use sellion_store::{PgConnection, StoreError, site, station};
use uuid::Uuid;

pub(crate) struct Judge {
    pub(crate) site_id: Uuid,
    pub(crate) rules: Arc<RuleSet>,
    pub(crate) tz: Tz,
    pub(crate) now: DateTime<Utc>,
}

impl Judge {
    /// By the rules of the site, outside any day.
    pub(crate) fn of_site(
        conn: &mut PgConnection,
        site_id: Uuid,
        now: DateTime<Utc>,
    ) -> Result<Self, StoreError> {
        let (rules, tz) = site::rules_and_zone(conn, site_id)?;
        Ok(Self { site_id, rules, tz, now })
    }

    /// By the rules that a station's day was opened under.
    pub(crate) fn of_station(
        conn: &mut PgConnection,
        (site_id, station_id): (Uuid, Uuid),
        now: DateTime<Utc>,
    ) -> Result<Self, StoreError> {
        let (_, rules) = station::with_rules(conn, site_id, station_id)?;
        Ok(Self { site_id, rules, tz: site::zone(conn, site_id)?, now })
    }
}
