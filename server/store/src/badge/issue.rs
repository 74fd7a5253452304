//! Issuing a badge: asks the clearances at that moment, and ends the badge the person had before.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    dates::end_of_day,
    refusal::{Code, Refusal},
};
use uuid::Uuid;

use super::{REPLACED, content::cleared, ending::end_many};
use crate::{
    Added, StoreError, Tx, badge_hold,
    insert::id_reused,
    person::whole_name,
    schema::{badge_endings, badge_respirators, badges, people, sites},
    site,
};

/// Draws of a serial before giving up: among ten million badges a single draw is taken once in a million.
const SERIAL_TRIES_MAX: u32 = 5;

/// A badge to be issued.
#[derive(Debug, Clone)]
pub struct NewBadge {
    /// Its id.
    pub id: Uuid,
    /// Whose it is to be.
    pub person_id: Uuid,
    /// When it was asked for.
    pub happened_at: DateTime<Utc>,
}

/// What a badge is going to say.
#[derive(Debug, Clone)]
pub struct Draft {
    /// The site that issues it.
    pub site_id: Uuid,
    /// When it is issued.
    pub issued_at: DateTime<Utc>,
    /// The first moment at which it no longer holds.
    pub expires_at: DateTime<Utc>,
    /// Its place in the site's status list.
    pub status_index: i64,
    /// The respirators by the site's number, with the last day covered.
    pub respirators: Vec<(i32, NaiveDate)>,
}

/// A draft with its serial, signed.
#[derive(Debug, Clone)]
pub struct Signed {
    /// Ten characters without a dash.
    pub serial: String,
    /// The text of the printed code.
    pub code: String,
}

/// Issues a badge that `sign` signs with the key `signing_key_id`.
///
/// `sign` draws a new serial each time it is called: two badges must not share one.
pub fn create(
    tx: &mut Tx<'_>,
    new: &NewBadge,
    signing_key_id: Uuid,
    sign: &dyn Fn(&Draft) -> Result<Signed, StoreError>,
) -> Result<Added, StoreError> {
    let name = lock_person(tx, new.person_id)?;
    if is_stored(tx, new)? {
        return Ok(Added::Before);
    }
    let (site_id, now) = (tx.site_id(), tx.now);
    let mut of_all = cleared(tx.conn, site_id, &[new.person_id], now)?;
    let cleared = of_all.remove(&new.person_id).unwrap_or_default();
    let latest = cleared.iter().map(|cleared| cleared.due_on).max();
    let Some(latest) = latest else {
        let sentence = "This person is not cleared for any respirator now, so there is nothing to print.";
        return Err(Refusal::new(Code::NotCleared, sentence).field("person_id").into());
    };
    badge_hold::refuse_under_review(tx, new.person_id)?;
    end_previous(tx, new)?;
    let (expires_at, status_index) = (end_of_day(latest, time_zone(tx)?), next_status_index(tx)?);
    let draft = Draft {
        site_id,
        issued_at: now,
        expires_at,
        status_index,
        respirators: cleared.iter().map(|cleared| (cleared.number, cleared.due_on)).collect(),
    };
    insert(tx, (new, &name), signing_key_id, &draft, sign)?;
    let rows: Vec<_> = cleared
        .iter()
        .map(|cleared| {
            (
                badge_respirators::badge_id.eq(new.id),
                badge_respirators::respirator_id.eq(cleared.respirator_id),
                badge_respirators::due_on.eq(cleared.due_on),
                badge_respirators::recorded_at.eq(tx.now),
            )
        })
        .collect();
    diesel::insert_into(badge_respirators::table).values(rows).execute(tx.conn)?;
    tx.touched("badges", new.id);
    tx.touched("badge_respirators", new.id);
    Ok(Added::Now)
}

/// Two desks that issue for one person at once take turns, so that the first badge is replaced by the second. Returns
/// the name.
pub(crate) fn lock_person(tx: &mut Tx<'_>, person_id: Uuid) -> Result<String, StoreError> {
    let found: Option<(String, String)> = people::table
        .find(person_id)
        .filter(people::site_id.eq(tx.site_id()))
        .select((people::given_name, people::family_name))
        .for_no_key_update()
        .first(tx.conn)
        .optional()?;
    found.map(|(given, family)| whole_name(&given, &family)).ok_or_else(|| StoreError::not_found("person"))
}

/// Whether this very badge was issued before.
fn is_stored(tx: &mut Tx<'_>, new: &NewBadge) -> Result<bool, StoreError> {
    let stored: Option<(Uuid, Uuid, DateTime<Utc>)> = badges::table
        .find(new.id)
        .select((badges::site_id, badges::person_id, badges::happened_at))
        .first(tx.conn)
        .optional()?;
    match stored {
        None => Ok(false),
        Some(stored) if stored == (tx.site_id(), new.person_id, new.happened_at) => Ok(true),
        Some(_) => Err(id_reused()),
    }
}

/// A person has one badge that counts: the older one ends in the transaction that makes the newer one.
fn end_previous(tx: &mut Tx<'_>, new: &NewBadge) -> Result<(), StoreError> {
    let previous: Vec<Uuid> = badges::table
        .left_join(badge_endings::table)
        .filter(badges::site_id.eq(tx.site_id()))
        .filter(badges::person_id.eq(new.person_id))
        .filter(badges::expires_at.gt(tx.now))
        .filter(badge_endings::id.is_null())
        .select(badges::id)
        .load(tx.conn)?;
    end_many(tx, &previous, REPLACED, new.happened_at)?;
    Ok(())
}

fn time_zone(tx: &mut Tx<'_>) -> Result<Tz, StoreError> {
    let name = site::find(tx.conn, tx.actor.site_id)?.time_zone;
    name.parse().map_err(|_| StoreError::internal(format!("the site's time zone {name:?} is not known")))
}

/// The next place in the site's status list. The lock on the site's row keeps the places without a gap.
fn next_status_index(tx: &mut Tx<'_>) -> Result<i64, StoreError> {
    let site_id = tx.site_id();
    let _: Uuid = sites::table.find(site_id).select(sites::id).for_no_key_update().first(tx.conn)?;
    let last: Option<i64> = badges::table
        .filter(badges::site_id.eq(site_id))
        .select(diesel::dsl::max(badges::status_index))
        .first(tx.conn)?;
    Ok(last.map_or(0, |last| last + 1))
}

fn insert(
    tx: &mut Tx<'_>,
    (new, name): (&NewBadge, &str),
    signing_key_id: Uuid,
    draft: &Draft,
    sign: &dyn Fn(&Draft) -> Result<Signed, StoreError>,
) -> Result<(), StoreError> {
    for _ in 0..SERIAL_TRIES_MAX {
        let Signed { serial, code } = sign(draft)?;
        let made = diesel::insert_into(badges::table)
            .values((
                badges::id.eq(new.id),
                badges::site_id.eq(draft.site_id),
                badges::person_id.eq(new.person_id),
                badges::serial.eq(serial),
                badges::status_index.eq(draft.status_index),
                badges::signing_key_id.eq(signing_key_id),
                badges::code.eq(code),
                badges::printed_name.eq(name),
                badges::expires_at.eq(draft.expires_at),
                badges::happened_at.eq(new.happened_at),
                badges::recorded_at.eq(tx.now),
                badges::recorded_by.eq(tx.actor.id),
            ))
            .on_conflict_do_nothing()
            .execute(tx.conn)?;
        if made == 1 {
            return Ok(());
        }
        if id_is_taken(tx.conn, new.id)? {
            return Err(id_reused());
        }
    }
    Err(StoreError::internal("no free badge serial was drawn"))
}

/// Another person's badge may have taken the id since it was looked for: only the same person's requests take turns.
fn id_is_taken(conn: &mut PgConnection, id: Uuid) -> Result<bool, StoreError> {
    Ok(diesel::select(diesel::dsl::exists(badges::table.find(id))).get_result(conn)?)
}
