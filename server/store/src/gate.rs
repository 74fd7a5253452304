//! Gates: places where badges are scanned.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::refusal::{Code, Refusal};
use uuid::Uuid;

use crate::{Added, StoreError, Tx, insert_once, on_constraint, schema::gates, site};

/// A gate to be set up.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = gates, check_for_backend(diesel::pg::Pg))]
pub struct NewGate {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// What people call it.
    pub name: String,
}

/// A gate.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = gates, check_for_backend(diesel::pg::Pg))]
pub struct Gate {
    /// Its id.
    pub id: Uuid,
    /// What people call it.
    pub name: String,
    /// When it was set up.
    pub created_at: DateTime<Utc>,
    /// Counts the changes; none is the first.
    version: Option<i32>,
}

impl Gate {
    /// Counts the changes.
    #[must_use]
    pub fn version(&self) -> i32 {
        self.version.unwrap_or(1)
    }
}

/// Gates of a site by id, those after `after`.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Gate>, StoreError> {
    Ok(gates::table
        .filter(gates::site_id.eq(site_id))
        .filter(gates::id.gt(after))
        .order(gates::id)
        .limit(limit)
        .select(Gate::as_select())
        .load(conn)?)
}

/// What the gates of a site are called.
pub(crate) fn names(conn: &mut PgConnection, site_id: Uuid) -> Result<HashMap<Uuid, String>, StoreError> {
    let rows: Vec<(Uuid, String)> =
        gates::table.filter(gates::site_id.eq(site_id)).select((gates::id, gates::name)).load(conn)?;
    Ok(rows.into_iter().collect())
}

/// One gate of a site.
pub fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<Gate, StoreError> {
    let gate = gates::table
        .find(id)
        .filter(gates::site_id.eq(site_id))
        .select(Gate::as_select())
        .first(conn)
        .optional()?;
    gate.ok_or_else(|| StoreError::not_found("gate"))
}

/// Sets up a gate.
pub fn create(tx: &mut Tx<'_>, new: &NewGate) -> Result<Added, StoreError> {
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(gates::table)
                .values(new)
                .on_conflict(gates::id)
                .do_nothing()
                .execute(conn);
            on_constraint(made, "gates_name_taken", name_taken)
        },
        |conn| {
            gates::table
                .find(new.id)
                .filter(gates::site_id.eq(new.site_id))
                .select(NewGate::as_select())
                .first(conn)
                .optional()
        },
    )?;
    if added.is_new() {
        tx.touched("gates", new.id);
    }
    Ok(added)
}

/// Names a gate anew, unless somebody changed it since `version`.
pub fn update(tx: &mut Tx<'_>, id: Uuid, version: i32, name: Option<&str>) -> Result<Gate, StoreError> {
    let found = gates::table.find(id).filter(gates::site_id.eq(tx.site_id()));
    let before = found.select(Gate::as_select()).for_no_key_update().first(tx.conn).optional()?;
    let before = before.ok_or_else(|| StoreError::not_found("gate"))?;
    site::refuse_stale(version, before.version())?;
    let name = name.unwrap_or(&before.name);
    let changed = (gates::name.eq(name), gates::version.eq(version + 1));
    let updated = diesel::update(gates::table.find(id)).set(changed).execute(tx.conn);
    on_constraint(updated, "gates_name_taken", name_taken)?;
    tx.touched("gates", id);
    find(tx.conn, tx.site_id(), id)
}

fn name_taken() -> Refusal {
    Refusal::new(Code::AlreadyExists, "A gate of this name is set up already.").field("name")
}
