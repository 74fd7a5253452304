//! Size hints: what passed before, for this person and at this site, and the panel of face lengths a site loaded.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use diesel::{PgConnection, dsl::count_star, prelude::*};
use sellion_rules::{
    attempt::Outcome,
    size_hint::{Panel, Seen},
};
use serde_json::Value;
use uuid::Uuid;

use crate::{
    StoreError, Tx, insert_once, person,
    schema::{attempt_corrections, attempt_verdicts, attempts, face_panels, respirators},
    stored::{read_json, word},
};

/// A panel as it was loaded.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = face_panels, check_for_backend(diesel::pg::Pg))]
pub struct FacePanel {
    /// Its id.
    pub id: Uuid,
    /// The [`Panel`].
    pub panel: Value,
    /// When it was chosen.
    pub happened_at: DateTime<Utc>,
    /// When the server learned of it.
    pub recorded_at: DateTime<Utc>,
}

impl FacePanel {
    /// Its cells.
    pub fn read_panel(&self) -> Result<Panel, StoreError> {
        read_json(self.panel.clone())
    }
}

/// A panel to be loaded.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = face_panels, check_for_backend(diesel::pg::Pg))]
pub struct NewFacePanel {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The [`Panel`].
    pub panel: Value,
    /// When it was chosen.
    pub happened_at: DateTime<Utc>,
}

/// Loads a panel; from now on it is the site's.
pub fn create_panel(tx: &mut Tx<'_>, new: &NewFacePanel) -> Result<FacePanel, StoreError> {
    let recorded = (face_panels::recorded_at.eq(tx.now), face_panels::recorded_by.eq(tx.actor.id));
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(face_panels::table).values((new, recorded));
            Ok(made.on_conflict(face_panels::id).do_nothing().execute(conn)?)
        },
        |conn| {
            let stored = face_panels::table.find(new.id).filter(face_panels::site_id.eq(new.site_id));
            stored.select(NewFacePanel::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("face_panels", new.id);
    }
    Ok(face_panels::table.find(new.id).select(FacePanel::as_select()).first(tx.conn)?)
}

/// The panel loaded last, if one was.
pub fn newest_panel(conn: &mut PgConnection, site_id: Uuid) -> Result<Option<FacePanel>, StoreError> {
    let of_site = face_panels::table.filter(face_panels::site_id.eq(site_id));
    let newest = of_site.order((face_panels::recorded_at.desc(), face_panels::id.desc()));
    Ok(newest.select(FacePanel::as_select()).first(conn).optional()?)
}

/// What was seen with every respirator that the site still hands out.
pub fn seen(conn: &mut PgConnection, site_id: Uuid, person_id: Uuid) -> Result<Vec<Seen>, StoreError> {
    person::find(conn, site_id, person_id)?;
    let offered = respirators::table
        .filter(respirators::site_id.eq(site_id))
        .filter(respirators::retired_at.is_null())
        .select(respirators::id)
        .load(conn)?;
    let nothing = |respirator| (respirator, Seen { respirator, passes: 0, fails: 0, own: None });
    let mut found: BTreeMap<Uuid, Seen> = offered.into_iter().map(nothing).collect();
    for (respirator, passes) in counts(conn, site_id, Outcome::Pass)? {
        found.entry(respirator).and_modify(|seen| seen.passes = passes);
    }
    for (respirator, fails) in counts(conn, site_id, Outcome::Fail)? {
        found.entry(respirator).and_modify(|seen| seen.fails = fails);
    }
    for (respirator, outcome) in own(conn, site_id, person_id)? {
        // In the order in which they ended, so the newest one stays.
        if let Some(seen) = found.get_mut(&respirator) {
            seen.own = Some(word(&outcome)?);
        }
    }
    Ok(found.into_values().collect())
}

/// How often each respirator ended so at the site, without what corrections took away.
fn counts(conn: &mut PgConnection, site_id: Uuid, outcome: Outcome) -> Result<Vec<(Uuid, u64)>, StoreError> {
    let rows: Vec<(Uuid, i64)> = attempts::table
        .inner_join(attempt_verdicts::table)
        .left_join(attempt_corrections::table)
        .filter(attempts::site_id.eq(site_id))
        .filter(attempt_verdicts::outcome.eq(outcome.as_str()))
        .filter(attempt_corrections::id.is_null())
        .group_by(attempts::respirator_id)
        .select((attempts::respirator_id, count_star()))
        .load(conn)?;
    Ok(rows.into_iter().map(|(respirator, count)| (respirator, u64::try_from(count).unwrap_or(0))).collect())
}

/// How each of the person's own attempts that count ended, the newest last.
fn own(conn: &mut PgConnection, site_id: Uuid, person_id: Uuid) -> Result<Vec<(Uuid, String)>, StoreError> {
    Ok(attempts::table
        .inner_join(attempt_verdicts::table)
        .left_join(attempt_corrections::table)
        .filter(attempts::site_id.eq(site_id))
        .filter(attempts::person_id.eq(person_id))
        .filter(attempt_verdicts::outcome.eq_any([Outcome::Pass.as_str(), Outcome::Fail.as_str()]))
        .filter(attempt_corrections::id.is_null())
        .order((attempt_verdicts::ended_at, attempts::id))
        .select((attempts::respirator_id, attempt_verdicts::outcome))
        .load(conn)?)
}
