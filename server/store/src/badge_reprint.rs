//! Badges made in place of another one, which ends in the same transaction.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use sellion_rules::{
    badge::{MisprintCause, ReprintReason},
    refusal::Code,
};
use uuid::Uuid;

use crate::{
    Added, StoreError, Tx,
    badge::{self, NewBadge, NewEnding, REPLACED, already_ended, lock_person},
    badge_hold,
    insert::id_reused,
    schema::badge_reprints,
};

/// A badge to be made in place of another one.
#[derive(Debug, Clone)]
pub struct NewReprint {
    /// The id of the new badge.
    pub id: Uuid,
    /// The badge it replaces.
    pub replaces_id: Uuid,
    /// Why.
    pub reason: ReprintReason,
    /// How the old one was spoiled, where it is a misprint.
    pub misprint: Option<MisprintCause>,
    /// When it was asked for.
    pub happened_at: DateTime<Utc>,
}

/// Ends the old badge and makes the new one, or neither.
pub fn create(
    tx: &mut Tx<'_>,
    new: &NewReprint,
    issue: &dyn Fn(&mut Tx<'_>, &NewBadge) -> Result<(), StoreError>,
) -> Result<Added, StoreError> {
    let site_id = tx.site_id();
    let person_id = badge::find(tx.conn, site_id, new.replaces_id)?.badge.person_id;
    lock_person(tx, person_id)?;
    if is_stored(tx, new)? {
        return Ok(Added::Before);
    }
    // Before the old one ends: afterwards nothing would be under review any more.
    badge_hold::refuse_under_review(tx, person_id)?;
    if badge::find(tx.conn, site_id, new.replaces_id)?.ending.is_some() {
        return Err(already_ended().into());
    }
    end_old(tx, new)?;
    issue(tx, &NewBadge { id: new.id, person_id, happened_at: new.happened_at })?;
    diesel::insert_into(badge_reprints::table)
        .values((
            badge_reprints::badge_id.eq(new.id),
            badge_reprints::site_id.eq(site_id),
            badge_reprints::replaces_id.eq(new.replaces_id),
            badge_reprints::reason.eq(new.reason.as_str()),
            badge_reprints::happened_at.eq(new.happened_at),
            badge_reprints::recorded_at.eq(tx.now),
            badge_reprints::recorded_by.eq(tx.actor.id),
        ))
        .execute(tx.conn)?;
    tx.touched("badge_reprints", new.id);
    Ok(Added::Now)
}

fn is_stored(tx: &mut Tx<'_>, new: &NewReprint) -> Result<bool, StoreError> {
    let stored: Option<(Uuid, Uuid, String, DateTime<Utc>)> = badge_reprints::table
        .find(new.id)
        .select((
            badge_reprints::site_id,
            badge_reprints::replaces_id,
            badge_reprints::reason,
            badge_reprints::happened_at,
        ))
        .first(tx.conn)
        .optional()?;
    let wanted = (tx.site_id(), new.replaces_id, new.reason.as_str().to_owned(), new.happened_at);
    match stored {
        None => Ok(false),
        Some(stored) if stored == wanted => Ok(true),
        Some(_) => Err(id_reused()),
    }
}

fn end_old(tx: &mut Tx<'_>, new: &NewReprint) -> Result<(), StoreError> {
    let reason = match new.reason {
        ReprintReason::NameChanged => REPLACED,
        ReprintReason::Lost | ReprintReason::Damaged | ReprintReason::Misprint => new.reason.as_str(),
    };
    let ending = NewEnding {
        id: Uuid::now_v7(),
        site_id: tx.site_id(),
        badge_id: new.replaces_id,
        reason: reason.to_owned(),
        misprint: new.misprint.map(|cause| cause.as_str().to_owned()),
        happened_at: new.happened_at,
    };
    match badge::end(tx, &ending) {
        // Somebody ended it since it was looked at.
        Err(StoreError::Refused(refusal)) if refusal.code == Code::BadgeAlreadyEnded => {
            Err(already_ended().into())
        }
        ended => ended.map(drop),
    }
}
