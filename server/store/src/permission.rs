//! Permissions: a clinician's decisions about one person, appended and never changed.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::refusal::{Code, Refusal};
use uuid::Uuid;

use crate::{
    Added, StoreError, Tx, clearance, insert_once, on_constraint, person,
    schema::permissions::{self, dsl},
};

/// One decision as stored.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = permissions, check_for_backend(diesel::pg::Pg))]
pub struct Permission {
    /// Its id.
    pub id: Uuid,
    /// Whom it is about.
    pub person_id: Uuid,
    /// The word for what was decided.
    pub decision: String,
    /// The limits, where there are any.
    pub limits: Option<String>,
    /// The first day it holds.
    pub valid_from: NaiveDate,
    /// The last day it holds.
    pub valid_until: Option<NaiveDate>,
    /// When it was decided.
    pub happened_at: DateTime<Utc>,
    /// When it was stored.
    pub recorded_at: DateTime<Utc>,
    /// Who stored it.
    pub recorded_by: Uuid,
}

/// A decision to be stored.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = permissions, check_for_backend(diesel::pg::Pg))]
pub struct NewPermission {
    /// Its id.
    pub id: Uuid,
    /// The site of the person.
    pub site_id: Uuid,
    /// Whom it is about.
    pub person_id: Uuid,
    /// The word for what was decided.
    pub decision: String,
    /// The limits, where there are any.
    pub limits: Option<String>,
    /// The first day it holds.
    pub valid_from: NaiveDate,
    /// The last day it holds.
    pub valid_until: Option<NaiveDate>,
    /// When it was decided.
    pub happened_at: DateTime<Utc>,
}

/// A page of the decisions about a person: ids after `after`, at most `limit`.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    person_id: Uuid,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Permission>, StoreError> {
    person::find(conn, site_id, person_id)?;
    Ok(dsl::permissions
        .filter(dsl::site_id.eq(site_id))
        .filter(dsl::person_id.eq(person_id))
        .filter(dsl::id.gt(after))
        .order(dsl::id)
        .limit(limit)
        .select(Permission::as_select())
        .load(conn)?)
}

/// Stores a decision; the person's clearances follow.
pub fn create(tx: &mut Tx<'_>, new: &NewPermission) -> Result<Permission, StoreError> {
    person::find(tx.conn, new.site_id, new.person_id)?;
    let by = (dsl::recorded_at.eq(tx.now), dsl::recorded_by.eq(tx.actor.id));
    let insert = |conn: &mut PgConnection, new: &NewPermission| {
        let made = diesel::insert_into(dsl::permissions)
            .values((new, by))
            .on_conflict(dsl::id)
            .do_nothing()
            .execute(conn);
        on_constraint(made, "permissions_dates", || {
            let sentence = "The last day cannot lie before the first.";
            Refusal::new(Code::InvalidValue, sentence).field("valid_until")
        })
    };
    let stored = |conn: &mut PgConnection| {
        dsl::permissions
            .find(new.id)
            .filter(dsl::site_id.eq(new.site_id))
            .select(NewPermission::as_select())
            .first(conn)
            .optional()
    };
    if insert_once(tx.conn, new, insert, stored)? == Added::Now {
        tx.touched("permissions", new.id);
        clearance::recompute_person(tx, new.person_id)?;
    }
    Ok(dsl::permissions.find(new.id).select(Permission::as_select()).first(tx.conn)?)
}
