//! The making of a batch, one person after another, each in a transaction of its own: whatever stops a server, what was
//! made stays made, and nobody is made a second badge.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    badge::{LeftOut, need},
    refusal::Code,
};
use uuid::Uuid;

use crate::{
    StoreError, Tx,
    badge::{self, NewBadge, contents_now, in_force},
    schema::{badge_batch_outcomes, badge_batch_people, badge_batches, people},
};

/// The next person of an open batch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Queryable)]
pub struct Next {
    /// The site.
    pub site_id: Uuid,
    /// The batch.
    pub batch_id: Uuid,
    /// The person's number in it.
    pub seq: i32,
    /// The person.
    pub person_id: Uuid,
    /// When the batch was asked for.
    pub asked_at: DateTime<Utc>,
    /// By whom.
    pub asked_by: Uuid,
}

/// The next person whose badge is to be made, of the oldest open batch of any site.
pub fn next(conn: &mut PgConnection) -> Result<Option<Next>, StoreError> {
    let decided = badge_batch_outcomes::table
        .filter(badge_batch_outcomes::badge_batch_id.eq(badge_batch_people::badge_batch_id))
        .filter(badge_batch_outcomes::seq.eq(badge_batch_people::seq));
    Ok(badge_batches::table
        .inner_join(badge_batch_people::table)
        .filter(badge_batches::ended_at.is_null())
        .filter(diesel::dsl::not(diesel::dsl::exists(decided)))
        .order((badge_batches::id, badge_batch_people::seq))
        .select((
            badge_batches::site_id,
            badge_batches::id,
            badge_batch_people::seq,
            badge_batch_people::person_id,
            badge_batches::happened_at,
            badge_batches::recorded_by,
        ))
        .first(conn)
        .optional()?)
}

/// Signs and stores a badge, or says why its person gets none.
type Issue<'a> = &'a dyn Fn(&mut Tx<'_>, &NewBadge) -> Result<Result<(), LeftOut>, StoreError>;

/// What became of one person.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Made {
    /// There is an outcome now.
    Decided,
    /// Another server or a desk is at it, or was quicker.
    Taken,
}

/// Makes the badge of one person, if it is needed still. `issue` makes it, or says why it cannot be printed.
pub fn make(tx: &mut Tx<'_>, next: Next, issue: Issue<'_>) -> Result<Made, StoreError> {
    if !take(tx, next)? || !is_free(tx, next.person_id)? {
        return Ok(Made::Taken);
    }
    let new = NewBadge { id: Uuid::now_v7(), person_id: next.person_id, happened_at: next.asked_at };
    let left_out = match not_needed(tx, next.person_id)? {
        Some(left_out) => Some(left_out),
        None => match tx.undoing(|tx| printable(issue(tx, &new))) {
            Ok(()) => None,
            Err(NotMade::LeftOut(left_out)) => Some(left_out),
            Err(NotMade::Error(error)) => return Err(error),
        },
    };
    decide(tx, next, left_out.map_or(Ok(new.id), Err))?;
    Ok(Made::Decided)
}

/// Leaves one person out whose badge could not be made for a fault of ours.
pub fn give_up(tx: &mut Tx<'_>, next: Next) -> Result<Made, StoreError> {
    if !take(tx, next)? {
        return Ok(Made::Taken);
    }
    decide(tx, next, Err(LeftOut::Fault))?;
    Ok(Made::Decided)
}

/// Holds one person of a batch until the transaction ends; false where somebody else does, or there is an outcome.
fn take(tx: &mut Tx<'_>, next: Next) -> Result<bool, StoreError> {
    let key = (next.batch_id, next.seq);
    let held: Option<i32> = badge_batch_people::table
        .find(key)
        .select(badge_batch_people::seq)
        .for_no_key_update()
        .skip_locked()
        .first(tx.conn)
        .optional()?;
    // Asked only now: whoever held it before has committed.
    let decided = || diesel::select(diesel::dsl::exists(badge_batch_outcomes::table.find(key)));
    Ok(held.is_some() && !decided().get_result::<bool>(tx.conn)?)
}

/// Takes the person's turn, as every other hand that makes or ends their badge; nobody is waited for.
fn is_free(tx: &mut Tx<'_>, person_id: Uuid) -> Result<bool, StoreError> {
    let held: Option<Uuid> = people::table
        .find(person_id)
        .select(people::id)
        .for_no_key_update()
        .skip_locked()
        .first(tx.conn)
        .optional()?;
    Ok(held.is_some())
}

/// The clearances are asked again at this very moment, and the badge that somebody made meanwhile is looked at.
fn not_needed(tx: &mut Tx<'_>, person_id: Uuid) -> Result<Option<LeftOut>, StoreError> {
    let (site_id, now) = (tx.site_id(), tx.now);
    let content = contents_now(tx.conn, site_id, &[person_id], now)?.remove(&person_id).unwrap_or_default();
    if content.lines.is_empty() {
        return Ok(Some(LeftOut::NotCleared));
    }
    let has = in_force(tx.conn, site_id, &[person_id], now)?.remove(&person_id);
    let has = has.map(|id| badge::find(tx.conn, site_id, id)).transpose()?;
    let needed = need(has.map(|standing| standing.content()).as_ref(), &content);
    Ok(needed.is_none().then_some(LeftOut::HasBadge))
}

/// Why a badge was undone.
enum NotMade {
    LeftOut(LeftOut),
    Error(StoreError),
}

impl From<diesel::result::Error> for NotMade {
    fn from(error: diesel::result::Error) -> Self {
        Self::Error(error.into())
    }
}

fn printable(issued: Result<Result<(), LeftOut>, StoreError>) -> Result<(), NotMade> {
    match issued {
        Ok(Ok(())) => Ok(()),
        Ok(Err(left_out)) => Err(NotMade::LeftOut(left_out)),
        Err(StoreError::Refused(refusal)) => match refusal.code {
            Code::NotCleared => Err(NotMade::LeftOut(LeftOut::NotCleared)),
            Code::BadgeHeld => Err(NotMade::LeftOut(LeftOut::UnderReview)),
            _ => Err(NotMade::Error(refusal.into())),
        },
        Err(error) => Err(NotMade::Error(error)),
    }
}

fn decide(tx: &mut Tx<'_>, next: Next, outcome: Result<Uuid, LeftOut>) -> Result<(), StoreError> {
    diesel::insert_into(badge_batch_outcomes::table)
        .values((
            badge_batch_outcomes::badge_batch_id.eq(next.batch_id),
            badge_batch_outcomes::seq.eq(next.seq),
            badge_batch_outcomes::badge_id.eq(outcome.ok()),
            badge_batch_outcomes::left_out.eq(outcome.err().map(LeftOut::as_str)),
            badge_batch_outcomes::recorded_at.eq(tx.now),
        ))
        .execute(tx.conn)?;
    tx.touched_events("badge_batch_outcomes", next.batch_id, next.seq, next.seq);
    end_when_done(tx, next.batch_id)
}

/// The batch's row is locked first, so that of two servers that decide the last two people one sees both.
fn end_when_done(tx: &mut Tx<'_>, batch_id: Uuid) -> Result<(), StoreError> {
    badge_batches::table
        .find(batch_id)
        .select(badge_batches::id)
        .for_no_key_update()
        .first::<Uuid>(tx.conn)?;
    let people: i64 = badge_batch_people::table
        .filter(badge_batch_people::badge_batch_id.eq(batch_id))
        .count()
        .get_result(tx.conn)?;
    let decided: i64 = badge_batch_outcomes::table
        .filter(badge_batch_outcomes::badge_batch_id.eq(batch_id))
        .count()
        .get_result(tx.conn)?;
    if decided < people {
        return Ok(());
    }
    diesel::update(badge_batches::table.find(batch_id))
        .set(badge_batches::ended_at.eq(tx.now))
        .execute(tx.conn)?;
    tx.touched("badge_batches", batch_id);
    Ok(())
}
