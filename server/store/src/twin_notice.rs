//! Pairs of readings of one badge that no walk explains: kept as pairs until somebody signs them off.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::twin::Pair;
use uuid::Uuid;

use crate::{
    StoreError, Tx, gate,
    review::{self, NewReview, Review},
    schema::{badges, people, twin_notice_reviews, twin_notices},
    stored::count,
};

/// A pair as stored.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = twin_notices, check_for_backend(diesel::pg::Pg))]
struct Row {
    id: Uuid,
    badge_id: Uuid,
    first_gate_id: Uuid,
    first_at: DateTime<Utc>,
    second_gate_id: Uuid,
    second_at: DateTime<Utc>,
    walk_seconds: i32,
    tolerance_seconds: i32,
    recorded_at: DateTime<Utc>,
}

/// One half of a pair.
#[derive(Debug, Clone)]
pub struct Seen {
    /// The gate.
    pub gate_id: Uuid,
    /// Its name.
    pub gate: String,
    /// When, by its own clock.
    pub at: DateTime<Utc>,
}

/// A pair with whose badge it is.
#[derive(Debug, Clone)]
pub struct TwinNotice {
    /// Its id.
    pub id: Uuid,
    /// The badge.
    pub badge_id: Uuid,
    /// Its serial.
    pub serial: String,
    /// Whose badge it is.
    pub person_id: Uuid,
    /// Given name.
    pub given_name: String,
    /// Family name.
    pub family_name: String,
    /// The earlier reading.
    pub first: Seen,
    /// The later one, whose answer asked for the name.
    pub second: Seen,
    /// The walk between the two gates.
    pub walk_seconds: i32,
    /// What was allowed for the two clocks.
    pub tolerance_seconds: i32,
    /// When it was stored.
    pub recorded_at: DateTime<Utc>,
    /// What was found.
    pub review: Option<Review>,
}

/// The pairs of a site by id, those after `after`; only those nobody has signed off, or only those somebody has.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    reviewed: Option<bool>,
    (after, limit): (Uuid, i64),
) -> Result<Vec<TwinNotice>, StoreError> {
    let mut query = twin_notices::table
        .filter(twin_notices::site_id.eq(site_id))
        .filter(twin_notices::id.gt(after))
        .into_boxed();
    let reviews = twin_notice_reviews::table.filter(twin_notice_reviews::twin_notice_id.eq(twin_notices::id));
    query = match reviewed {
        Some(true) => query.filter(diesel::dsl::exists(reviews)),
        Some(false) => query.filter(diesel::dsl::not(diesel::dsl::exists(reviews))),
        None => query,
    };
    let rows = query.order(twin_notices::id).limit(limit).select(Row::as_select()).load(conn)?;
    read(conn, site_id, rows)
}

fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<TwinNotice, StoreError> {
    let rows = twin_notices::table
        .find(id)
        .filter(twin_notices::site_id.eq(site_id))
        .select(Row::as_select())
        .load(conn)?;
    read(conn, site_id, rows)?.pop().ok_or_else(|| StoreError::not_found("notice"))
}

fn read(conn: &mut PgConnection, site_id: Uuid, rows: Vec<Row>) -> Result<Vec<TwinNotice>, StoreError> {
    let ids: Vec<Uuid> = rows.iter().map(|row| row.id).collect();
    let mut reviews = review::of_twin_notices(conn, &ids)?;
    let names = gate::names(conn, site_id)?;
    let badge_ids: Vec<Uuid> = rows.iter().map(|row| row.badge_id).collect();
    type Holder = (Uuid, String, Uuid, String, String);
    let holders: HashMap<Uuid, Holder> = badges::table
        .inner_join(people::table)
        .filter(badges::id.eq_any(badge_ids))
        .select((badges::id, badges::serial, people::id, people::given_name, people::family_name))
        .load::<Holder>(conn)?
        .into_iter()
        .map(|holder| (holder.0, holder))
        .collect();
    let seen =
        |gate_id: Uuid, at| Seen { gate_id, gate: names.get(&gate_id).cloned().unwrap_or_default(), at };
    let notices = rows.into_iter().filter_map(|row| {
        let (_, serial, person_id, given_name, family_name) = holders.get(&row.badge_id)?.clone();
        Some(TwinNotice {
            id: row.id,
            badge_id: row.badge_id,
            serial,
            person_id,
            given_name,
            family_name,
            first: seen(row.first_gate_id, row.first_at),
            second: seen(row.second_gate_id, row.second_at),
            walk_seconds: row.walk_seconds,
            tolerance_seconds: row.tolerance_seconds,
            recorded_at: row.recorded_at,
            review: reviews.remove(&row.id),
        })
    });
    Ok(notices.collect())
}

/// Signs a pair off.
pub fn review(tx: &mut Tx<'_>, notice_id: Uuid, new: &NewReview) -> Result<TwinNotice, StoreError> {
    let site_id = tx.site_id();
    find(tx.conn, site_id, notice_id)?;
    review::create_of_twin_notice(tx, notice_id, new)?;
    find(tx.conn, site_id, notice_id)
}

/// A pair that a scan was one half of.
pub(crate) struct Found {
    pub(crate) site_id: Uuid,
    pub(crate) badge_id: Uuid,
    pub(crate) pair: Pair,
    pub(crate) recorded_at: DateTime<Utc>,
    pub(crate) recorded_by: Uuid,
}

/// Stores pairs and returns their ids, in their order.
///
/// While a badge's pair at two gates waits for somebody, a further one of the same badge there says nothing new, and
/// would only tell where somebody walks: it is not kept. Whoever stores holds the badge, so no two can pass this check.
pub(crate) fn store(conn: &mut PgConnection, found: &[Found]) -> Result<Vec<Option<Uuid>>, StoreError> {
    let badge_ids: Vec<Uuid> = found.iter().map(|found| found.badge_id).collect();
    let open: Vec<(Uuid, Uuid, Uuid)> = twin_notices::table
        .left_join(twin_notice_reviews::table)
        .filter(twin_notices::badge_id.eq_any(badge_ids))
        .filter(twin_notice_reviews::id.is_null())
        .select((twin_notices::badge_id, twin_notices::first_gate_id, twin_notices::second_gate_id))
        .load(conn)?;
    let between = |one: Uuid, other: Uuid| if one < other { (one, other) } else { (other, one) };
    let mut open: std::collections::HashSet<_> =
        open.into_iter().map(|(badge, one, other)| (badge, between(one, other))).collect();
    let mut ids = Vec::with_capacity(found.len());
    for Found { site_id, badge_id, pair, recorded_at, recorded_by } in found {
        if !open.insert((*badge_id, between(pair.first.gate, pair.second.gate))) {
            ids.push(None);
            continue;
        }
        let id = Uuid::now_v7();
        diesel::insert_into(twin_notices::table)
            .values((
                twin_notices::id.eq(id),
                twin_notices::site_id.eq(site_id),
                twin_notices::badge_id.eq(badge_id),
                twin_notices::first_gate_id.eq(pair.first.gate),
                twin_notices::first_at.eq(pair.first.at),
                twin_notices::second_gate_id.eq(pair.second.gate),
                twin_notices::second_at.eq(pair.second.at),
                twin_notices::walk_seconds.eq(count(pair.walk_seconds)?),
                twin_notices::tolerance_seconds.eq(count(pair.tolerance_seconds)?),
                twin_notices::recorded_at.eq(recorded_at),
                twin_notices::recorded_by.eq(recorded_by),
            ))
            .execute(conn)?;
        ids.push(Some(id));
    }
    Ok(ids)
}
