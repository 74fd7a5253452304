//! What a badge is that lies at the desk, and its hand-over to its person: never silently, once, and only while it is
//! right as it is.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    badge::{DeskFacts, DeskWord, desk_word},
    clearance::ClearanceState,
    refusal::{Code, Refusal},
};
use uuid::Uuid;

use crate::{
    Added, StoreError, Tx,
    badge::{self, Standing, contents_now, lock_person},
    insert_once, on_constraint,
    schema::badge_hand_overs,
};

/// That a badge went to its person.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = badge_hand_overs, check_for_backend(diesel::pg::Pg))]
pub struct NewHandOver {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The badge.
    pub badge_id: Uuid,
    /// When.
    pub happened_at: DateTime<Utc>,
}

/// What a badge is at the desk; `person_at_desk` where the desk knows who wants it.
pub fn word_of(
    conn: &mut PgConnection,
    site_id: Uuid,
    standing: &Standing,
    person_at_desk: Option<Uuid>,
    now: DateTime<Utc>,
) -> Result<DeskWord, StoreError> {
    let person_id = standing.badge.person_id;
    let content = contents_now(conn, site_id, &[person_id], now)?.remove(&person_id).unwrap_or_default();
    Ok(desk_word(&DeskFacts {
        status: standing.status(),
        expired: standing.badge.expires_at <= now,
        in_doubt: standing.respirators.iter().any(|worn| worn.is(ClearanceState::Held, now)),
        handed_over: standing.handed_over_at.is_some(),
        another_person: person_at_desk.is_some_and(|at_desk| at_desk != person_id),
        printed: standing.content(),
        now: content,
    }))
}

/// Records the hand-over of a badge that is right as it is.
pub fn create(tx: &mut Tx<'_>, new: &NewHandOver, person_at_desk: Option<Uuid>) -> Result<Added, StoreError> {
    let (site_id, now, by) = (tx.site_id(), tx.now, tx.actor.id);
    let whose = badge::find(tx.conn, site_id, new.badge_id)?.badge.person_id;
    lock_person(tx, whose)?;
    // Read again under the lock: whoever replaced or ended it meanwhile has committed.
    let standing = badge::find(tx.conn, site_id, new.badge_id)?;
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(badge_hand_overs::table)
                .values((new, badge_hand_overs::recorded_at.eq(now), badge_hand_overs::recorded_by.eq(by)))
                .on_conflict(badge_hand_overs::id)
                .do_nothing();
            on_constraint(made.execute(conn), "badge_hand_overs_handed_already", || {
                refusal(DeskWord::HandedOver)
            })
        },
        |conn| {
            let stored = badge_hand_overs::table.find(new.id).filter(badge_hand_overs::site_id.eq(site_id));
            stored.select(NewHandOver::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        // A repeat of what was stored before the badge ended is still a repeat, so only a new one is judged.
        let word = word_of(tx.conn, site_id, &standing, person_at_desk, now)?;
        if word != DeskWord::HandOver {
            return Err(refusal(word).into());
        }
        tx.touched("badge_hand_overs", new.id);
    }
    Ok(added)
}

/// Why a badge that is this at the desk is not handed over.
fn refusal(word: DeskWord) -> Refusal {
    let code = match word {
        DeskWord::HoldBack => Code::BadgeHeld,
        DeskWord::PrintAgain => Code::BadgeOutdated,
        DeskWord::NotCleared => Code::NotCleared,
        DeskWord::HandOver | DeskWord::HandedOver => Code::BadgeHandedOver,
        DeskWord::Ended => Code::BadgeAlreadyEnded,
        DeskWord::AnotherPerson => Code::BadgeOfAnother,
        DeskWord::NotOurs => Code::NotFound,
    };
    Refusal::new(code, word.instruction())
}
