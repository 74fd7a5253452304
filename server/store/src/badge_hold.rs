//! Holds of badges: gates cannot confirm a held badge until every hold of it is released.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    badge::HoldReason,
    refusal::{Code, Refusal},
};
use uuid::Uuid;

use crate::{
    Added, StoreError, Tx, badge, insert_once, on_constraint,
    schema::{badge_endings, badge_hold_releases, badge_holds, badges},
    stored::word,
};

/// A hold of a badge.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = badge_holds, check_for_backend(diesel::pg::Pg))]
pub struct NewHold {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// Which badge is held.
    pub badge_id: Uuid,
    /// Why: a word of [`HoldReason`].
    pub reason: String,
    /// When it was decided.
    pub happened_at: DateTime<Utc>,
}

/// A hold that is in force.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hold {
    /// Its id.
    pub id: Uuid,
    /// Why.
    pub reason: HoldReason,
    /// When it was decided.
    pub happened_at: DateTime<Utc>,
    /// When the server learned of it.
    pub recorded_at: DateTime<Utc>,
}

/// The release of a hold.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = badge_hold_releases, check_for_backend(diesel::pg::Pg))]
pub struct NewHoldRelease {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// Which hold ends.
    pub badge_hold_id: Uuid,
    /// Why: a word of [`sellion_rules::badge::HoldReleaseReason`].
    pub reason: String,
    /// When it was decided.
    pub happened_at: DateTime<Utc>,
}

/// Holds a badge from now on. A badge may be held for several reasons at once.
pub fn create(tx: &mut Tx<'_>, new: &NewHold) -> Result<Added, StoreError> {
    let (now, by, site_id) = (tx.now, tx.actor.id, tx.site_id());
    let ended = badge::find(tx.conn, site_id, new.badge_id)?.ending.is_some();
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(badge_holds::table)
                .values((new, badge_holds::recorded_at.eq(now), badge_holds::recorded_by.eq(by)))
                .on_conflict(badge_holds::id)
                .do_nothing();
            Ok(made.execute(conn)?)
        },
        |conn| {
            let stored = badge_holds::table.find(new.id).filter(badge_holds::site_id.eq(site_id));
            stored.select(NewHold::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        // A repeat of what was stored before the badge ended is still a repeat.
        if ended {
            return Err(badge::already_ended().into());
        }
        tx.touched("badge_holds", new.id);
    }
    Ok(added)
}

/// Releases one hold and returns its badge: held still, if another hold is in force.
pub fn release(tx: &mut Tx<'_>, new: &NewHoldRelease) -> Result<Uuid, StoreError> {
    let (now, by, site_id) = (tx.now, tx.actor.id, tx.site_id());
    let badge_id: Option<Uuid> = badge_holds::table
        .find(new.badge_hold_id)
        .filter(badge_holds::site_id.eq(site_id))
        .select(badge_holds::badge_id)
        .first(tx.conn)
        .optional()?;
    let badge_id = badge_id.ok_or_else(|| StoreError::not_found("hold"))?;
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(badge_hold_releases::table)
                .values((
                    new,
                    badge_hold_releases::recorded_at.eq(now),
                    badge_hold_releases::recorded_by.eq(by),
                ))
                .on_conflict(badge_hold_releases::id)
                .do_nothing();
            on_constraint(made.execute(conn), "badge_hold_releases_released_already", || {
                Refusal::new(Code::HoldReleased, "This hold was released before: nothing is left to do.")
            })
        },
        |conn| {
            let stored =
                badge_hold_releases::table.find(new.id).filter(badge_hold_releases::site_id.eq(site_id));
            stored.select(NewHoldRelease::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("badge_hold_releases", new.id);
    }
    Ok(badge_id)
}

/// The holds in force on some badges, oldest first.
pub(crate) fn in_force(
    conn: &mut PgConnection,
    badge_ids: &[Uuid],
) -> Result<HashMap<Uuid, Vec<Hold>>, StoreError> {
    let rows: Vec<(NewHold, DateTime<Utc>)> = badge_holds::table
        .left_join(badge_hold_releases::table)
        .filter(badge_holds::badge_id.eq_any(badge_ids))
        .filter(badge_hold_releases::id.is_null())
        .order(badge_holds::id)
        .select((NewHold::as_select(), badge_holds::recorded_at))
        .load(conn)?;
    let mut found: HashMap<Uuid, Vec<Hold>> = HashMap::new();
    for (row, recorded_at) in rows {
        let hold = Hold { id: row.id, reason: word(&row.reason)?, happened_at: row.happened_at, recorded_at };
        found.entry(row.badge_id).or_default().push(hold);
    }
    Ok(found)
}

/// Refuses a new badge while the one the person has is under review: it would open the gates that the hold closed.
pub(crate) fn refuse_under_review(tx: &mut Tx<'_>, person_id: Uuid) -> Result<(), StoreError> {
    let held: Option<Uuid> = badge_holds::table
        .inner_join(badges::table.left_join(badge_endings::table))
        .left_join(badge_hold_releases::table)
        .filter(badges::site_id.eq(tx.site_id()))
        .filter(badges::person_id.eq(person_id))
        .filter(badges::expires_at.gt(tx.now))
        .filter(badge_endings::id.is_null())
        .filter(badge_hold_releases::id.is_null())
        .filter(badge_holds::reason.eq(HoldReason::UnderReview.as_str()))
        .select(badges::id)
        .first(tx.conn)
        .optional()?;
    let Some(badge_id) = held else { return Ok(()) };
    let sentence = "This person's badge is under review: release that hold first, or end the badge.";
    Err(Refusal::new(Code::BadgeHeld, sentence)
        .field("person_id")
        .fact("badge_id", badge_id.to_string())
        .into())
}
