//! Badges that somebody found: where, and what becomes of them by the site's rule. Whoever reports one learns nothing.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::badge::{FoundBadges, HoldReason};
use uuid::Uuid;

use crate::{
    Added, StoreError, Tx,
    badge::{self, NewEnding, Standing},
    badge_hold::{self, NewHold},
    gate, insert_once,
    schema::{badge_finds, sites},
    stored::word,
};

/// The ending of a badge whose person no longer has it.
const LOST: &str = "lost";

/// A badge that was found.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = badge_finds, check_for_backend(diesel::pg::Pg))]
pub struct NewFind {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The badge.
    pub badge_id: Uuid,
    /// The gate that reports it, where one does.
    pub gate_id: Option<Uuid>,
    /// Where it was found.
    pub place: String,
    /// When.
    pub happened_at: DateTime<Utc>,
}

/// A find, as those see it who keep badges.
#[derive(Debug, Clone)]
pub struct Find {
    /// What was told.
    pub told: NewFind,
    /// The name of the gate that reported it.
    pub gate: Option<String>,
    /// When it was stored.
    pub recorded_at: DateTime<Utc>,
    /// The badge as it is now.
    pub standing: Standing,
}

/// Keeps a find, and holds or ends the badge if it still counts.
pub fn create(tx: &mut Tx<'_>, new: &NewFind) -> Result<Added, StoreError> {
    let (site_id, now, by) = (tx.site_id(), tx.now, tx.actor.id);
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(badge_finds::table)
                .values((new, badge_finds::recorded_at.eq(now), badge_finds::recorded_by.eq(by)))
                .on_conflict(badge_finds::id)
                .do_nothing();
            Ok(made.execute(conn)?)
        },
        |conn| {
            let stored = badge_finds::table.find(new.id).filter(badge_finds::site_id.eq(site_id));
            stored.select(NewFind::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("badge_finds", new.id);
        follow(tx, new)?;
    }
    Ok(added)
}

fn follow(tx: &mut Tx<'_>, new: &NewFind) -> Result<(), StoreError> {
    let site_id = tx.site_id();
    let standing = badge::find(tx.conn, site_id, new.badge_id)?;
    let found_before = standing.holds.iter().any(|hold| hold.reason == HoldReason::FoundReported);
    if standing.ending.is_some() || standing.badge.expires_at <= tx.now {
        return Ok(());
    }
    let (id, badge_id, happened_at) = (Uuid::now_v7(), new.badge_id, new.happened_at);
    match rule(tx.conn, site_id)? {
        FoundBadges::End => {
            let reason = LOST.to_owned();
            badge::end(tx, &NewEnding { id, site_id, badge_id, reason, misprint: None, happened_at })?;
        }
        FoundBadges::Hold if found_before => {}
        FoundBadges::Hold => {
            let reason = HoldReason::FoundReported.as_str().to_owned();
            badge_hold::create(tx, &NewHold { id, site_id, badge_id, reason, happened_at })?;
        }
    }
    Ok(())
}

fn rule(conn: &mut PgConnection, site_id: Uuid) -> Result<FoundBadges, StoreError> {
    let stored: Option<String> = sites::table.find(site_id).select(sites::found_badges).first(conn)?;
    stored.as_deref().map_or(Ok(FoundBadges::DEFAULT), word)
}

/// Finds of a site by id, those after `after`.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Find>, StoreError> {
    let rows: Vec<(NewFind, DateTime<Utc>)> = badge_finds::table
        .filter(badge_finds::site_id.eq(site_id))
        .filter(badge_finds::id.gt(after))
        .order(badge_finds::id)
        .limit(limit)
        .select((NewFind::as_select(), badge_finds::recorded_at))
        .load(conn)?;
    let names = gate::names(conn, site_id)?;
    rows.into_iter()
        .map(|(told, recorded_at)| {
            let standing = badge::find(conn, site_id, told.badge_id)?;
            let gate = told.gate_id.and_then(|id| names.get(&id).cloned());
            Ok(Find { told, gate, recorded_at, standing })
        })
        .collect()
}
