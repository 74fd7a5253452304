//! Entries under somebody's name, and what was found when somebody looked at them.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    lead_entry::{LeadEntryReason, LeadStanding, lead_standing, review_due_on},
    policy::in_force,
};
use uuid::Uuid;

use crate::{
    StoreError, Tx, gate, insert_once, policy,
    review::{self, NewReview, Review},
    schema::{lead_entries, lead_entry_reviews},
    site,
    stored::word,
};

/// An entry as told by a gate.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = lead_entries, check_for_backend(diesel::pg::Pg))]
pub struct NewLeadEntry {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The gate.
    pub gate_id: Uuid,
    /// The scan it belongs to, where there was one. The scan itself may come later.
    pub of_scan: Option<Uuid>,
    /// Under whose name.
    pub lead: String,
    /// The word for why.
    pub reason: String,
}

/// When an entry happened, and what the device's clock said where it ran ahead of ours.
#[derive(Debug, Clone, Copy)]
pub struct ToldTime {
    /// When it happened, not later than it was stored.
    pub happened_at: DateTime<Utc>,
    /// What the device said instead.
    pub told_at: Option<DateTime<Utc>>,
}

/// An entry as stored.
#[derive(Debug, Clone)]
pub struct LeadEntry {
    /// What the gate told.
    pub told: NewLeadEntry,
    /// Why.
    pub reason: LeadEntryReason,
    /// The gate's name.
    pub gate: String,
    /// What the policy in force said of the name.
    pub standing: LeadStanding,
    /// When it happened.
    pub time: ToldTime,
    /// When it was stored.
    pub recorded_at: DateTime<Utc>,
    /// The device or user that told it.
    pub recorded_by: Uuid,
    /// The day by whose end somebody should have looked at it.
    pub review_due_on: NaiveDate,
    /// What was found.
    pub review: Option<Review>,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = lead_entries, check_for_backend(diesel::pg::Pg))]
struct Row {
    #[diesel(embed)]
    told: NewLeadEntry,
    gate_policy_id: Option<Uuid>,
    told_at: Option<DateTime<Utc>>,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
    recorded_by: Uuid,
}

/// The entries of a site by id, those after `after`; only those nobody has looked at, or only those somebody has.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    reviewed: Option<bool>,
    (after, limit): (Uuid, i64),
) -> Result<Vec<LeadEntry>, StoreError> {
    let mut query = lead_entries::table
        .filter(lead_entries::site_id.eq(site_id))
        .filter(lead_entries::id.gt(after))
        .into_boxed();
    let reviews = lead_entry_reviews::table.filter(lead_entry_reviews::lead_entry_id.eq(lead_entries::id));
    query = match reviewed {
        Some(true) => query.filter(diesel::dsl::exists(reviews)),
        Some(false) => query.filter(diesel::dsl::not(diesel::dsl::exists(reviews))),
        None => query,
    };
    let rows = query.order(lead_entries::id).limit(limit).select(Row::as_select()).load(conn)?;
    read(conn, site_id, rows)
}

fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<LeadEntry, StoreError> {
    let rows = lead_entries::table
        .find(id)
        .filter(lead_entries::site_id.eq(site_id))
        .select(Row::as_select())
        .load(conn)?;
    read(conn, site_id, rows)?.pop().ok_or_else(|| StoreError::not_found("entry under a lead's name"))
}

fn read(conn: &mut PgConnection, site_id: Uuid, rows: Vec<Row>) -> Result<Vec<LeadEntry>, StoreError> {
    let zone = site::zone(conn, site_id)?;
    let ids: Vec<Uuid> = rows.iter().map(|row| row.told.id).collect();
    let mut reviews: HashMap<Uuid, Review> = review::of_lead_entries(conn, &ids)?;
    let names = gate::names(conn, site_id)?;
    let policies: Vec<Uuid> = rows.iter().filter_map(|row| row.gate_policy_id).collect();
    let versions = policy::by_ids(conn, &policies)?;
    rows.into_iter()
        .map(|row| {
            let version = versions.iter().find(|version| Some(version.id) == row.gate_policy_id);
            Ok(LeadEntry {
                reason: word(&row.told.reason)?,
                gate: names.get(&row.told.gate_id).cloned().unwrap_or_default(),
                standing: lead_standing(&row.told.lead, version),
                time: ToldTime { happened_at: row.happened_at, told_at: row.told_at },
                recorded_at: row.recorded_at,
                recorded_by: row.recorded_by,
                review_due_on: review_due_on(row.happened_at, zone),
                review: reviews.remove(&row.told.id),
                told: row.told,
            })
        })
        .collect()
}

/// Keeps an entry. Whatever the policy says of it, it happened: what the policy says stands beside it.
pub fn create(tx: &mut Tx<'_>, new: &NewLeadEntry, time: ToldTime) -> Result<LeadEntry, StoreError> {
    let (site_id, now, by) = (tx.site_id(), tx.now, tx.actor.id);
    gate::find(tx.conn, site_id, new.gate_id)?;
    let versions = policy::of_gate(tx.conn, new.gate_id, now)?;
    let policy = in_force(&versions, time.happened_at).map(|version| version.id);
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let stamps = (
                lead_entries::gate_policy_id.eq(policy),
                lead_entries::told_at.eq(time.told_at),
                lead_entries::happened_at.eq(time.happened_at),
                lead_entries::recorded_at.eq(now),
                lead_entries::recorded_by.eq(by),
            );
            let made = diesel::insert_into(lead_entries::table)
                .values((new, stamps))
                .on_conflict(lead_entries::id)
                .do_nothing()
                .execute(conn);
            Ok(made?)
        },
        |conn| {
            lead_entries::table
                .find(new.id)
                .filter(lead_entries::site_id.eq(site_id))
                .select(NewLeadEntry::as_select())
                .first(conn)
                .optional()
        },
    )?;
    if added.is_new() {
        tx.touched("lead_entries", new.id);
    }
    find(tx.conn, site_id, new.id)
}

/// Writes down what was found about an entry. It is looked at once; whoever disagrees talks to whoever looked.
pub fn review(tx: &mut Tx<'_>, entry_id: Uuid, new: &NewReview) -> Result<LeadEntry, StoreError> {
    let site_id = tx.site_id();
    find(tx.conn, site_id, entry_id)?;
    review::create_of_lead_entry(tx, entry_id, new)?;
    find(tx.conn, site_id, entry_id)
}
