//! Referrals: a person goes to another kind of test, and why.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{day::VisitStep, ladder::ReferralReason};
use uuid::Uuid;

use crate::{
    StoreError, Tx, insert_once, ladder,
    schema::referrals,
    visit::{self, Visit},
};

/// One referral.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = referrals, check_for_backend(diesel::pg::Pg))]
pub struct Referral {
    /// Its id.
    pub id: Uuid,
    /// The visit it came out of.
    pub visit_id: Uuid,
    /// The person.
    pub person_id: Uuid,
    /// Why, as its word.
    pub reason: String,
    /// When it was decided.
    pub happened_at: DateTime<Utc>,
    /// When the server learned of it.
    pub recorded_at: DateTime<Utc>,
}

/// A referral to be recorded.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = referrals, check_for_backend(diesel::pg::Pg))]
pub struct NewReferral {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The visit it comes out of.
    pub visit_id: Uuid,
    /// The person.
    pub person_id: Uuid,
    /// Why, as its word.
    pub reason: String,
    /// When it was decided.
    pub happened_at: DateTime<Utc>,
}

/// Which referrals are listed.
#[derive(Debug, Clone, Copy, Default)]
pub struct ReferralFilter {
    /// Those of this visit only.
    pub visit_id: Option<Uuid>,
    /// Those of this person only.
    pub person_id: Option<Uuid>,
}

/// Referrals of the site, by id.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    filter: ReferralFilter,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Referral>, StoreError> {
    let mut found = referrals::table
        .filter(referrals::site_id.eq(site_id))
        .filter(referrals::id.gt(after))
        .order(referrals::id)
        .limit(limit)
        .select(Referral::as_select())
        .into_boxed();
    if let Some(visit_id) = filter.visit_id {
        found = found.filter(referrals::visit_id.eq(visit_id));
    }
    if let Some(person_id) = filter.person_id {
        found = found.filter(referrals::person_id.eq(person_id));
    }
    Ok(found.load(conn)?)
}

/// Refers a person by somebody's decision. The visit goes on to be measured or leaves the queue, unless it had ended before.
pub fn create(
    tx: &mut Tx<'_>,
    id: Uuid,
    visit_id: Uuid,
    reason: ReferralReason,
    happened_at: DateTime<Utc>,
) -> Result<Referral, StoreError> {
    let visit = visit::lock(tx, visit_id)?;
    if insert(tx, &visit, id, reason, happened_at)? && visit.step()?.part().is_some() {
        visit::refuse_open_run(tx, &visit)?;
        let step = step_after(tx, &visit, happened_at)?;
        visit::place(tx, &visit, step, happened_at, None)?;
    }
    let stored = referrals::table.find(id).filter(referrals::site_id.eq(visit.site_id));
    Ok(stored.select(Referral::as_select()).first(tx.conn)?)
}

/// Refers a person by what the ladder says, unless that was done before for the same reason.
pub(crate) fn append_once(
    tx: &mut Tx<'_>,
    visit: &Visit,
    reason: ReferralReason,
    happened_at: DateTime<Utc>,
) -> Result<(), StoreError> {
    // The visit is locked by the caller, so nobody refers it between the question and the row.
    let before = referrals::table
        .filter(referrals::visit_id.eq(visit.id))
        .filter(referrals::site_id.eq(visit.site_id))
        .filter(referrals::reason.eq(reason.as_str()));
    if diesel::select(diesel::dsl::exists(before)).get_result(tx.conn)? {
        return Ok(());
    }
    insert(tx, visit, Uuid::now_v7(), reason, happened_at)?;
    Ok(())
}

/// Where a visit goes after its referral: on to be measured where the day can do that, else out of the queue.
pub(crate) fn step_after(tx: &mut Tx<'_>, visit: &Visit, at: DateTime<Utc>) -> Result<VisitStep, StoreError> {
    let facts = ladder::load(tx.conn, visit.site_id, visit.id, at)?.facts;
    Ok(if facts.to_be_measured { VisitStep::Measuring } else { VisitStep::Referred })
}

/// Whether somebody or the ladder referred the person on this visit.
pub(crate) fn is_referred(conn: &mut PgConnection, visit_id: Uuid) -> Result<bool, StoreError> {
    let found = referrals::table.filter(referrals::visit_id.eq(visit_id));
    Ok(diesel::select(diesel::dsl::exists(found)).get_result(conn)?)
}

fn insert(
    tx: &mut Tx<'_>,
    visit: &Visit,
    id: Uuid,
    reason: ReferralReason,
    happened_at: DateTime<Utc>,
) -> Result<bool, StoreError> {
    let (now, by) = (tx.now, tx.actor.id);
    let new = NewReferral {
        id,
        site_id: visit.site_id,
        visit_id: visit.id,
        person_id: visit.person_id,
        reason: reason.as_str().to_owned(),
        happened_at,
    };
    let added = insert_once(
        tx.conn,
        &new,
        |conn, new| {
            let made = diesel::insert_into(referrals::table)
                .values((new, referrals::recorded_at.eq(now), referrals::recorded_by.eq(by)))
                .on_conflict(referrals::id)
                .do_nothing();
            Ok(made.execute(conn)?)
        },
        |conn| {
            let stored = referrals::table.find(id).filter(referrals::site_id.eq(new.site_id));
            stored.select(NewReferral::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("referrals", id);
    }
    Ok(added.is_new())
}
