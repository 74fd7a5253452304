//! What people would have printed now, and the badges that count now.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    badge::{BadgeLine, Content, RESPIRATORS_MAX},
    clearance::ClearanceState,
};
use uuid::Uuid;

use crate::{
    StoreError,
    person::whole_name,
    schema::{badge_endings, badges, clearances, people, respirators},
};

/// A respirator that somebody is cleared for now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Queryable)]
pub(crate) struct Cleared {
    pub(crate) respirator_id: Uuid,
    pub(crate) number: i32,
    pub(crate) due_on: NaiveDate,
}

/// The respirators that people are cleared for now, as many as fit a badge, those with the latest due days first.
pub(crate) fn cleared(
    conn: &mut PgConnection,
    site_id: Uuid,
    person_ids: &[Uuid],
    now: DateTime<Utc>,
) -> Result<HashMap<Uuid, Vec<Cleared>>, StoreError> {
    let rows: Vec<(Uuid, Cleared)> = clearances::table
        .inner_join(respirators::table)
        .filter(clearances::site_id.eq(site_id))
        .filter(clearances::person_id.eq_any(person_ids))
        .filter(clearances::state.eq(ClearanceState::Cleared.as_str()))
        .filter(clearances::valid_from.le(now))
        .filter(clearances::valid_until.gt(now))
        .filter(clearances::due_on.is_not_null())
        .order((clearances::due_on.desc(), respirators::number))
        .select((
            clearances::person_id,
            (clearances::respirator_id, respirators::number, clearances::due_on.assume_not_null()),
        ))
        .load(conn)?;
    let mut found: HashMap<Uuid, Vec<Cleared>> = HashMap::new();
    for (person_id, cleared) in rows {
        let lines = found.entry(person_id).or_default();
        if lines.len() < RESPIRATORS_MAX {
            lines.push(cleared);
        }
    }
    Ok(found)
}

/// What would stand on badges made now. Whoever is cleared for nothing has a name and no line.
pub(crate) fn contents_now(
    conn: &mut PgConnection,
    site_id: Uuid,
    person_ids: &[Uuid],
    now: DateTime<Utc>,
) -> Result<HashMap<Uuid, Content>, StoreError> {
    let names: Vec<(Uuid, String, String)> = people::table
        .filter(people::site_id.eq(site_id))
        .filter(people::id.eq_any(person_ids))
        .select((people::id, people::given_name, people::family_name))
        .load(conn)?;
    let mut lines = cleared(conn, site_id, person_ids, now)?;
    let content = |(id, given, family): (Uuid, String, String)| {
        let lines = lines.remove(&id).unwrap_or_default();
        let line =
            |cleared: Cleared| BadgeLine { respirator_id: cleared.respirator_id, due_on: cleared.due_on };
        let name = Some(whole_name(&given, &family));
        (id, Content { name, lines: lines.into_iter().map(line).collect() })
    };
    Ok(names.into_iter().map(content).collect())
}

/// The badges of people that have neither ended nor run out: one for each at most.
pub(crate) fn in_force(
    conn: &mut PgConnection,
    site_id: Uuid,
    person_ids: &[Uuid],
    now: DateTime<Utc>,
) -> Result<HashMap<Uuid, Uuid>, StoreError> {
    let found: Vec<(Uuid, Uuid)> = badges::table
        .left_join(badge_endings::table)
        .filter(badges::site_id.eq(site_id))
        .filter(badges::person_id.eq_any(person_ids))
        .filter(badges::expires_at.gt(now))
        .filter(badge_endings::id.is_null())
        .order(badges::status_index)
        .select((badges::person_id, badges::id))
        .load(conn)?;
    Ok(found.into_iter().collect())
}
