//! What all badges of a site are worth, for the list that is given to whoever checks badges without a network.

use chrono::{DateTime, Utc};
use diesel::{
    PgConnection, QueryableByName,
    prelude::*,
    sql_types::{Array, BigInt, Nullable, Timestamptz, Uuid as SqlUuid},
};
use sellion_rules::clearance::ClearanceState;
use uuid::Uuid;

use crate::{
    StoreError,
    schema::status_versions,
    signing_key::{self, SigningKeyRow},
    unclaimed::unclaimed_from,
};

/// The badges of a site that are not simply valid, by their place in the list.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
pub struct Marks {
    /// How many places the list has.
    #[diesel(sql_type = BigInt)]
    pub places: i64,
    /// Ended or replaced.
    #[diesel(sql_type = Array<BigInt>)]
    pub ended: Vec<i64>,
    /// Held, unclaimed where that opens no gate, or with a respirator on it that its person is not cleared for now. Some may have ended as well.
    #[diesel(sql_type = Array<BigInt>)]
    pub held: Vec<i64>,
    /// The next moment at which a clearance begins or ends by itself or a badge becomes unclaimed, so that the marks may
    /// be others.
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub changes_at: Option<DateTime<Utc>>,
}

/// What a list is made under: it stays as it is for as long as these do, but for the moments it names itself.
#[derive(Debug, Clone)]
pub struct Edition {
    /// Raised by every write that changes what a badge of the site is worth.
    pub version: i64,
    /// The key that signs for the site; none where no badge was ever issued.
    pub key: Option<SigningKeyRow>,
}

/// The edition of now.
pub fn edition(conn: &mut PgConnection, site_id: Uuid) -> Result<Edition, StoreError> {
    let version: Option<i64> =
        status_versions::table.find(site_id).select(status_versions::version).first(conn).optional()?;
    Ok(Edition { version: version.unwrap_or(0), key: signing_key::current(conn, site_id)? })
}

/// The edition of now with its marks at the moment `now`, in one snapshot.
pub fn load(
    conn: &mut PgConnection,
    site_id: Uuid,
    now: DateTime<Utc>,
) -> Result<(Edition, Marks), StoreError> {
    conn.build_transaction().read_only().repeatable_read().run(|conn| {
        let edition = edition(conn, site_id)?;
        let marks = diesel::sql_query(MARKS)
            .bind::<SqlUuid, _>(site_id)
            .bind::<Timestamptz, _>(now)
            .bind::<diesel::sql_types::Text, _>(ClearanceState::Cleared.as_str())
            .get_result(conn)?;
        Ok((edition, marks))
    })
}

/// A respirator counts until its last printed day is over; then the badge itself says that it no longer does. Only
/// clearances that do not hold now are looked up on badges: they are few, and every respirator on a badge has one.
const MARKS: &str = concat!(
    "\
with unclaimed as materialized ( \
  select b.status_index, ",
    unclaimed_from!(),
    " as closes_at \
  from sites t join badges b on b.site_id = t.id and b.expires_at > $2 \
  where t.id = $1 and t.unclaimed_closed_at is not null), \
doubtful as materialized ( \
  select b.status_index, (w.due_on + 1)::timestamp at time zone s.time_zone as over_at \
  from clearances c \
  join badges b on b.person_id = c.person_id and b.site_id = c.site_id and b.expires_at > $2 \
  join badge_respirators w on w.badge_id = b.id and w.respirator_id = c.respirator_id \
  join sites s on s.id = c.site_id \
  where c.site_id = $1 \
    and not (c.state = $3 and coalesce(c.valid_from <= $2 and c.valid_until > $2, false))), \
held as ( \
  select status_index from doubtful where over_at > $2 \
  union \
  select status_index from unclaimed where closes_at <= $2 \
  union \
  select b.status_index from badge_holds h join badges b on b.id = h.badge_id \
  where h.site_id = $1 \
    and not exists (select from badge_hold_releases f where f.badge_hold_id = h.id)), \
moments as ( \
  select min(valid_from) filter (where valid_from > $2) as begins, \
    min(valid_until) filter (where valid_until > $2) as ends \
  from clearances where site_id = $1 and state = $3) \
select (select coalesce(max(status_index) + 1, 0) from badges where site_id = $1) as places, \
  array(select b.status_index from badge_endings e join badges b on b.id = e.badge_id \
    where e.site_id = $1) as ended, \
  array(select status_index from held) as held, \
  (select least(m.begins, m.ends, (select min(over_at) from doubtful where over_at > $2), \
    (select min(closes_at) from unclaimed where closes_at > $2)) from moments m) as changes_at"
);
