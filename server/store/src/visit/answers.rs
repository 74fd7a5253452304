//! The answers given at check-in, and later ones that take their place.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::day::ready_at;
use uuid::Uuid;

use super::Visit;
use crate::{
    Added, StoreError, Tx, day, insert_once,
    schema::{visit_answers, visits},
};

/// What a person answered.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = visit_answers, check_for_backend(diesel::pg::Pg))]
pub struct Answers {
    /// Their id; the first ones carry the visit's.
    pub id: Uuid,
    /// The visit.
    pub visit_id: Uuid,
    /// The last food, drink other than plain water, smoke or gum.
    pub last_intake_at: Option<DateTime<Utc>>,
    /// Whether hair crosses the sealing surface.
    pub hair_at_seal: bool,
    /// Whether the person feels well.
    pub feels_well: bool,
    /// Whether the face changed since the last test.
    pub face_changed: bool,
    /// Glasses, head cover and the like that are worn at work.
    pub gear_worn: Option<String>,
    /// What the person needs, such as an interpreter.
    pub needs: Option<String>,
    /// When they were given.
    pub happened_at: DateTime<Utc>,
    /// When the server learned of them.
    pub recorded_at: DateTime<Utc>,
}

/// Answers to be recorded.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = visit_answers, check_for_backend(diesel::pg::Pg))]
pub struct NewAnswers {
    /// Their id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The visit.
    pub visit_id: Uuid,
    /// The last food, drink other than plain water, smoke or gum.
    pub last_intake_at: Option<DateTime<Utc>>,
    /// Whether hair crosses the sealing surface.
    pub hair_at_seal: bool,
    /// Whether the person feels well.
    pub feels_well: bool,
    /// Whether the face changed since the last test.
    pub face_changed: bool,
    /// Glasses, head cover and the like that are worn at work.
    pub gear_worn: Option<String>,
    /// What the person needs, such as an interpreter.
    pub needs: Option<String>,
    /// When they were given.
    pub happened_at: DateTime<Utc>,
}

/// The newest answers of each of the visits.
pub(super) fn newest_of(
    conn: &mut PgConnection,
    site_id: Uuid,
    visit_ids: &[Uuid],
) -> Result<Vec<Answers>, StoreError> {
    Ok(visit_answers::table
        .filter(visit_answers::site_id.eq(site_id))
        .filter(visit_answers::visit_id.eq_any(visit_ids))
        .distinct_on(visit_answers::visit_id)
        .order((
            visit_answers::visit_id,
            visit_answers::happened_at.desc(),
            visit_answers::recorded_at.desc(),
            visit_answers::id.desc(),
        ))
        .select(Answers::as_select())
        .load(conn)?)
}

/// The newest answers of a visit.
pub fn newest(conn: &mut PgConnection, site_id: Uuid, visit_id: Uuid) -> Result<Answers, StoreError> {
    let found = newest_of(conn, site_id, &[visit_id])?;
    found.into_iter().next().ok_or_else(|| StoreError::not_found("visit"))
}

/// The newest answers of a visit among those given by `at`.
pub fn newest_by(
    conn: &mut PgConnection,
    site_id: Uuid,
    visit_id: Uuid,
    at: DateTime<Utc>,
) -> Result<Answers, StoreError> {
    let found = visit_answers::table
        .filter(visit_answers::site_id.eq(site_id))
        .filter(visit_answers::visit_id.eq(visit_id))
        .filter(visit_answers::happened_at.le(at))
        .order((
            visit_answers::happened_at.desc(),
            visit_answers::recorded_at.desc(),
            visit_answers::id.desc(),
        ))
        .select(Answers::as_select())
        .first(conn)
        .optional()?;
    found.ok_or_else(|| StoreError::not_found("visit"))
}

/// Records newer answers of a visit; its place in the queue follows from the newest.
pub fn record(tx: &mut Tx<'_>, new: &NewAnswers) -> Result<Visit, StoreError> {
    let visit = super::lock(tx, new.visit_id)?;
    if insert(tx, new)? == Added::Before {
        return Ok(visit);
    }
    visit.refuse_ended()?;
    let day = day::find(tx.conn, new.site_id, visit.day_id)?;
    let newest = newest(tx.conn, new.site_id, visit.id)?;
    let rules = day::rules(tx.conn, &day)?;
    let ready = ready_at(visit.not_before, newest.last_intake_at, &rules);
    diesel::update(visits::table.find(visit.id)).set(visits::ready_at.eq(ready)).execute(tx.conn)?;
    tx.touched("visits", visit.id);
    super::find(tx.conn, new.site_id, visit.id)
}

/// Adds the row, and nothing else.
pub(super) fn insert(tx: &mut Tx<'_>, new: &NewAnswers) -> Result<Added, StoreError> {
    let (now, by) = (tx.now, tx.actor.id);
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(visit_answers::table)
                .values((new, visit_answers::recorded_at.eq(now), visit_answers::recorded_by.eq(by)))
                .on_conflict(visit_answers::id)
                .do_nothing();
            Ok(made.execute(conn)?)
        },
        |conn| {
            let stored = visit_answers::table.find(new.id).filter(visit_answers::site_id.eq(new.site_id));
            stored.select(NewAnswers::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("visit_answers", new.id);
    }
    Ok(added)
}
