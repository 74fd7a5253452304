//! The end of a badge: for good, once, and for one reason.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use sellion_rules::refusal::{Code, Refusal};
use uuid::Uuid;

use super::{find, in_force, lock_person};
use crate::{
    Added, StoreError, Tx, insert_once, on_constraint,
    schema::{badge_endings, badges},
};

/// The ending that a badge gets when it was taken back, or when the key that signed it was.
const WITHDRAWN: &str = "withdrawn";

/// The ending of a badge that its person no longer has.
const LOST: &str = "lost";

/// The end of a badge.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = badge_endings, check_for_backend(diesel::pg::Pg))]
pub struct NewEnding {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// Which badge ends.
    pub badge_id: Uuid,
    /// Why.
    pub reason: String,
    /// How it was spoiled, where it is a misprint.
    pub misprint: Option<String>,
    /// When.
    pub happened_at: DateTime<Utc>,
}

/// Ends badges of which some may be ending in this instant for a reason of their own; that stands. Returns how many.
pub(super) fn end_many(
    tx: &mut Tx<'_>,
    badge_ids: &[Uuid],
    reason: &str,
    happened_at: DateTime<Utc>,
) -> Result<usize, StoreError> {
    let mut ended = 0;
    // A statement has room for 65535 values.
    for some in badge_ids.chunks(5000) {
        let rows: Vec<_> = some
            .iter()
            .map(|badge_id| {
                (
                    badge_endings::id.eq(Uuid::now_v7()),
                    badge_endings::site_id.eq(tx.site_id()),
                    badge_endings::badge_id.eq(*badge_id),
                    badge_endings::reason.eq(reason),
                    badge_endings::happened_at.eq(happened_at),
                    badge_endings::recorded_at.eq(tx.now),
                    badge_endings::recorded_by.eq(tx.actor.id),
                )
            })
            .collect();
        let made: Vec<Uuid> = diesel::insert_into(badge_endings::table)
            .values(rows)
            .on_conflict_do_nothing()
            .returning(badge_endings::id)
            .get_results(tx.conn)?;
        ended += made.len();
        made.into_iter().for_each(|id| tx.touched("badge_endings", id));
    }
    Ok(ended)
}

/// Ends every badge that was signed with a key and has not ended yet; returns how many.
pub(crate) fn end_all_of_key(tx: &mut Tx<'_>, signing_key_id: Uuid) -> Result<usize, StoreError> {
    let signed: Vec<Uuid> = badges::table
        .left_join(badge_endings::table)
        .filter(badges::signing_key_id.eq(signing_key_id))
        .filter(badge_endings::id.is_null())
        .order(badges::id)
        .select(badges::id)
        .load(tx.conn)?;
    let now = tx.now;
    end_many(tx, &signed, WITHDRAWN, now)
}

/// The badge that an ending with this id is of, where there is one.
fn ending_of(tx: &mut Tx<'_>, id: Uuid) -> Result<Option<NewEnding>, StoreError> {
    let stored = badge_endings::table.find(id).filter(badge_endings::site_id.eq(tx.site_id()));
    Ok(stored.select(NewEnding::as_select()).first(tx.conn).optional()?)
}

/// Ends the badge of somebody who has lost it, whichever it is, and returns it.
pub fn lose(
    tx: &mut Tx<'_>,
    person_id: Uuid,
    (id, happened_at): (Uuid, DateTime<Utc>),
) -> Result<Uuid, StoreError> {
    lock_person(tx, person_id)?;
    // Said once more, it is the badge that was lost then and not the one made since.
    let badge_id = match ending_of(tx, id)? {
        Some(stored) => stored.badge_id,
        None => {
            let (site_id, now) = (tx.site_id(), tx.now);
            let has = in_force(tx.conn, site_id, &[person_id], now)?;
            *has.get(&person_id).ok_or_else(|| {
                let sentence = "This person has no badge that counts: nothing is left to end.";
                Refusal::new(Code::NoBadge, sentence).field("person_id")
            })?
        }
    };
    let whose: Uuid = badges::table.find(badge_id).select(badges::person_id).first(tx.conn)?;
    if whose != person_id {
        return Err(crate::insert::id_reused());
    }
    let new = NewEnding {
        id,
        site_id: tx.site_id(),
        badge_id,
        reason: LOST.to_owned(),
        misprint: None,
        happened_at,
    };
    end(tx, &new)?;
    Ok(badge_id)
}

/// Ends a badge for good.
pub fn end(tx: &mut Tx<'_>, new: &NewEnding) -> Result<Added, StoreError> {
    let site_id = tx.site_id();
    find(tx.conn, site_id, new.badge_id)?;
    let (now, by) = (tx.now, tx.actor.id);
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(badge_endings::table)
                .values((new, badge_endings::recorded_at.eq(now), badge_endings::recorded_by.eq(by)))
                .on_conflict(badge_endings::id)
                .do_nothing()
                .execute(conn);
            on_constraint(made, "badge_endings_ended_already", already_ended)
        },
        |conn| {
            badge_endings::table
                .find(new.id)
                .filter(badge_endings::site_id.eq(site_id))
                .select(NewEnding::as_select())
                .first(conn)
                .optional()
        },
    )?;
    if added.is_new() {
        tx.touched("badge_endings", new.id);
    }
    Ok(added)
}

/// The refusal to do anything more with a badge that has ended.
#[must_use]
pub fn already_ended() -> Refusal {
    Refusal::new(Code::BadgeAlreadyEnded, "This badge has ended already: issue a new one.")
}
