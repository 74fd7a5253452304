//! What a gate has to know to answer alone: read in one snapshot, so that no part of it is younger than another.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, QueryableByName, prelude::*, sql_types};
use sellion_rules::{
    clearance::ClearanceState,
    gate::BadgeStatus,
    policy::{Accepted, Listed, PolicyVersion, in_force},
};
use serde_json::Value;
use uuid::Uuid;

use crate::{
    StoreError,
    badge::REPLACED,
    policy,
    schema::{gates, respirators, sites, status_versions},
    signing_key, status_list,
    stored::word,
    unclaimed::{self, UnclaimedRule, unclaimed_from},
};

/// A badge by its place in the status list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PackBadge {
    /// The place.
    pub index: i64,
    /// Its serial.
    pub serial: String,
    /// The first moment at which it no longer holds.
    pub expires_at: DateTime<Utc>,
    /// Its stored status.
    pub status: BadgeStatus,
    /// From when on it opens no gate because nobody handed it over.
    pub unclaimed_from: Option<DateTime<Utc>>,
}

/// A clearance of the person who has a badge.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PackClearance {
    /// The badge's place in the status list.
    pub index: i64,
    /// The respirator.
    pub respirator_id: Uuid,
    /// Cleared or held.
    pub state: ClearanceState,
    /// Since when it holds.
    pub valid_from: DateTime<Utc>,
    /// The first moment at which it no longer holds.
    pub valid_until: DateTime<Utc>,
}

/// What packs are made under: they stay as they are for as long as this does.
#[derive(Debug, Clone)]
pub struct Edition {
    /// What the status list is made under, and with it everything about badges.
    pub statuses: status_list::Edition,
    /// Raised by every write that changes what a gate of the site accepts, or by which names.
    pub policies: i64,
}

impl Edition {
    /// Both numbers.
    #[must_use]
    pub fn version(&self) -> (i64, i64) {
        (self.statuses.version, self.policies)
    }
}

/// The edition of now.
pub fn edition(conn: &mut PgConnection, site_id: Uuid) -> Result<Edition, StoreError> {
    let policies: Option<i64> =
        status_versions::table.find(site_id).select(status_versions::policies).first(conn).optional()?;
    Ok(Edition { statuses: status_list::edition(conn, site_id)?, policies: policies.unwrap_or(0) })
}

/// What the packs of all gates of a site have in common.
#[derive(Debug, Clone)]
pub struct SiteKnowledge {
    /// What it was read under.
    pub edition: Edition,
    /// The keys whose signatures are accepted, as JWKs.
    pub keys: Vec<Value>,
    /// Every badge, by its place.
    pub badges: Vec<PackBadge>,
    /// The clearances behind the badges that may still count.
    pub clearances: Vec<PackClearance>,
    /// What the site has decided about badges that nobody hands over.
    pub unclaimed: UnclaimedRule,
}

/// What only one gate's pack says.
#[derive(Debug, Clone)]
pub struct GateKnowledge {
    /// What people call the gate.
    pub name: String,
    /// The site's time zone.
    pub time_zone: String,
    /// The version of the policy in force and those to come.
    pub policies: Vec<PolicyVersion>,
    /// The respirators that these may accept, with their numbers and words.
    pub respirators: Vec<(Listed, i32, String)>,
}

#[derive(QueryableByName)]
struct BadgeRow {
    #[diesel(sql_type = sql_types::BigInt)]
    status_index: i64,
    #[diesel(sql_type = sql_types::Text)]
    serial: String,
    #[diesel(sql_type = sql_types::Timestamptz)]
    expires_at: DateTime<Utc>,
    #[diesel(sql_type = sql_types::Nullable<sql_types::Text>)]
    ending: Option<String>,
    #[diesel(sql_type = sql_types::Bool)]
    held: bool,
    #[diesel(sql_type = sql_types::Nullable<sql_types::Timestamptz>)]
    unclaimed_from: Option<DateTime<Utc>>,
}

#[derive(QueryableByName)]
struct ClearanceRow {
    #[diesel(sql_type = sql_types::BigInt)]
    status_index: i64,
    #[diesel(sql_type = sql_types::Uuid)]
    respirator_id: Uuid,
    #[diesel(sql_type = sql_types::Text)]
    state: String,
    #[diesel(sql_type = sql_types::Timestamptz)]
    valid_from: DateTime<Utc>,
    #[diesel(sql_type = sql_types::Timestamptz)]
    valid_until: DateTime<Utc>,
}

const BADGES: &str = concat!(
    "\
select b.status_index, b.serial, b.expires_at, e.reason as ending, h.badge_id is not null as held, ",
    unclaimed_from!(),
    " as unclaimed_from \
from badges b \
join sites t on t.id = b.site_id \
left join badge_endings e on e.badge_id = b.id \
left join (select distinct h.badge_id from badge_holds h \
  left join badge_hold_releases f on f.badge_hold_id = h.id \
  where h.site_id = $1 and f.id is null) h on h.badge_id = b.id \
where b.site_id = $1 order by b.status_index"
);

/// Whoever has no badge that may still count is left out.
const CLEARANCES: &str = "\
select b.status_index, c.respirator_id, c.state, c.valid_from, c.valid_until \
from badges b \
join clearances c on c.person_id = b.person_id \
left join badge_endings e on e.badge_id = b.id \
where b.site_id = $1 and b.expires_at > $2 and e.id is null \
  and c.state in ('cleared', 'held') and c.valid_until > $2 and c.valid_from is not null \
order by b.status_index";

/// What the packs of a site's gates say of its badges.
pub fn of_site(
    conn: &mut PgConnection,
    site_id: Uuid,
    now: DateTime<Utc>,
) -> Result<SiteKnowledge, StoreError> {
    conn.build_transaction().read_only().repeatable_read().run(|conn| {
        let edition = edition(conn, site_id)?;
        let keys = signing_key::list_accepted(conn)?;
        let keys = keys.into_iter().filter(|(site, _)| *site == site_id).map(|(_, jwk)| jwk).collect();
        let badges: Vec<BadgeRow> =
            diesel::sql_query(BADGES).bind::<sql_types::Uuid, _>(site_id).load(conn)?;
        let clearances: Vec<ClearanceRow> = diesel::sql_query(CLEARANCES)
            .bind::<sql_types::Uuid, _>(site_id)
            .bind::<sql_types::Timestamptz, _>(now)
            .load(conn)?;
        let clearances = clearances.into_iter().map(ClearanceRow::read).collect::<Result<_, _>>()?;
        Ok(SiteKnowledge {
            edition,
            keys,
            badges: badges.into_iter().map(BadgeRow::read).collect(),
            clearances,
            unclaimed: unclaimed::rule(conn, site_id)?,
        })
    })
}

impl BadgeRow {
    fn read(self) -> PackBadge {
        let status = match self.ending.as_deref() {
            Some(REPLACED) => BadgeStatus::Replaced,
            Some(_) => BadgeStatus::Ended,
            None if self.held => BadgeStatus::Held,
            None => BadgeStatus::Valid,
        };
        PackBadge {
            index: self.status_index,
            serial: self.serial,
            expires_at: self.expires_at,
            status,
            unclaimed_from: self.unclaimed_from.filter(|_| status == BadgeStatus::Valid),
        }
    }
}

impl ClearanceRow {
    fn read(self) -> Result<PackClearance, StoreError> {
        Ok(PackClearance {
            index: self.status_index,
            respirator_id: self.respirator_id,
            state: word(&self.state)?,
            valid_from: self.valid_from,
            valid_until: self.valid_until,
        })
    }
}

type RespiratorRow = (Uuid, i32, String, String, String, String);

/// What a gate's pack says of the gate.
pub fn of_gate(
    conn: &mut PgConnection,
    (site_id, gate_id): (Uuid, Uuid),
    now: DateTime<Utc>,
) -> Result<GateKnowledge, StoreError> {
    let found: Option<(String, String)> = gates::table
        .inner_join(sites::table)
        .filter(gates::id.eq(gate_id))
        .filter(gates::site_id.eq(site_id))
        .select((gates::name, sites::time_zone))
        .first(conn)
        .optional()?;
    let (name, time_zone) = found.ok_or_else(|| StoreError::not_found("gate"))?;
    let mut policies = policy::of_gate(conn, gate_id, DateTime::<Utc>::MAX_UTC)?;
    let present = in_force(&policies, now).map(|version| version.id);
    policies.retain(|version| version.effective_from > now || Some(version.id) == present);
    let mut listed = policy::listed(conn, site_id, DateTime::<Utc>::MAX_UTC)?;
    listed.retain(|listed| policies.iter().any(|version| may_accept(version, listed, now)));
    let ids: Vec<Uuid> = listed.iter().map(|listed| listed.respirator).collect();
    let rows: Vec<RespiratorRow> = respirators::table
        .filter(respirators::id.eq_any(&ids))
        .select((
            respirators::id,
            respirators::number,
            respirators::make,
            respirators::model,
            respirators::style,
            respirators::size,
        ))
        .load(conn)?;
    let named = listed.into_iter().filter_map(|listed| {
        let row = rows.iter().find(|row| row.0 == listed.respirator)?;
        let words = [&*row.2, &row.3, &row.4, &row.5].join(" ");
        Some((listed, row.1, words))
    });
    Ok(GateKnowledge { name, time_zone, respirators: named.collect(), policies })
}

fn may_accept(version: &PolicyVersion, listed: &Listed, now: DateTime<Utc>) -> bool {
    version.accepts.iter().any(|line| match &line.accepted {
        Accepted::Respirator { respirator_id } => *respirator_id == listed.respirator,
        Accepted::Class(class) => class.includes(listed, now),
    })
}
