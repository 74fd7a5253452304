//! The cache that gates and badges read: rewritten, under a lock on the people it is about, with every fact.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::{PgConnection, prelude::*, upsert::excluded};
use sellion_rules::{
    clearance::{Clearance, ClearanceReason, ClearanceState, PersonRespiratorFacts},
    dates::{local_date, start_of_day},
    permission::in_force,
};
use serde::{Serialize, Serializer};
use uuid::Uuid;

use super::{Frame, Moments, Pair, frame, load};
use crate::{
    StoreError, TextList, Tx,
    schema::{clearances, people},
};

/// How many people are computed at a time: enough to be quick, few enough for the memory and one statement.
const PEOPLE_AT_ONCE: usize = 500;

/// One row of the cache.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Insertable, Queryable, Selectable)]
#[diesel(table_name = clearances, check_for_backend(diesel::pg::Pg))]
pub(crate) struct Cached {
    #[serde(skip)]
    pub(crate) person_id: Uuid,
    #[serde(skip)]
    pub(crate) respirator_id: Uuid,
    #[serde(skip)]
    pub(crate) site_id: Uuid,
    pub(crate) state: String,
    #[serde(serialize_with = "words")]
    pub(crate) reasons: TextList,
    pub(crate) basis_attempt_id: Option<Uuid>,
    pub(crate) tested_on: Option<NaiveDate>,
    pub(crate) due_on: Option<NaiveDate>,
    pub(crate) due_anniversary: Option<NaiveDate>,
    pub(crate) due_strict: Option<NaiveDate>,
    pub(crate) valid_from: Option<DateTime<Utc>>,
    pub(crate) valid_until: Option<DateTime<Utc>>,
    pub(crate) computed_at: DateTime<Utc>,
}

fn words<S: Serializer>(list: &TextList, serializer: S) -> Result<S::Ok, S::Error> {
    list.0.serialize(serializer)
}

/// Rewrites the clearances of one person, after a fact that may have changed them.
pub fn recompute_person(tx: &mut Tx<'_>, person_id: Uuid) -> Result<(), StoreError> {
    recompute_people(tx, &[person_id])
}

/// Rewrites the clearances of everybody, after the site chose another rule set.
pub(crate) fn recompute_site(tx: &mut Tx<'_>) -> Result<(), StoreError> {
    let of_site = clearances::table.filter(clearances::site_id.eq(tx.site_id()));
    let tested: Vec<Uuid> = of_site.select(clearances::person_id).distinct().load(tx.conn)?;
    recompute_people(tx, &tested)
}

/// Rewrites the clearances of many people.
///
/// Two facts about one person can be stored at once by two transactions that do not see each other. Whichever comes
/// second waits for the lock, and reads its facts only then, so the last row written follows from all of them.
pub fn recompute_people(tx: &mut Tx<'_>, person_ids: &[Uuid]) -> Result<(), StoreError> {
    let site_id = tx.site_id();
    let mut ids = person_ids.to_vec();
    // Always in the same order, so that no two transactions wait for each other.
    ids.sort_unstable();
    ids.dedup();
    let frame = frame(tx.conn, site_id)?;
    for some in ids.chunks(PEOPLE_AT_ONCE) {
        people::table
            .filter(people::site_id.eq(site_id))
            .filter(people::id.eq_any(some))
            .order(people::id)
            .select(people::id)
            .for_no_key_update()
            .load::<Uuid>(tx.conn)?;
        let facts = load(tx.conn, site_id, some)?;
        let rows: Vec<_> =
            facts.iter().map(|(pair, facts)| cached(&frame, site_id, *pair, facts, tx.now)).collect();
        write(tx.conn, &rows)?;
    }
    Ok(())
}

fn write(conn: &mut PgConnection, rows: &[Cached]) -> Result<(), StoreError> {
    // A statement has room for 65535 values.
    for some in rows.chunks(2000) {
        diesel::insert_into(clearances::table)
            .values(some)
            .on_conflict((clearances::person_id, clearances::respirator_id))
            .do_update()
            .set((
                clearances::state.eq(excluded(clearances::state)),
                clearances::reasons.eq(excluded(clearances::reasons)),
                clearances::basis_attempt_id.eq(excluded(clearances::basis_attempt_id)),
                clearances::tested_on.eq(excluded(clearances::tested_on)),
                clearances::due_on.eq(excluded(clearances::due_on)),
                clearances::due_anniversary.eq(excluded(clearances::due_anniversary)),
                clearances::due_strict.eq(excluded(clearances::due_strict)),
                clearances::valid_from.eq(excluded(clearances::valid_from)),
                clearances::valid_until.eq(excluded(clearances::valid_until)),
                clearances::computed_at.eq(excluded(clearances::computed_at)),
            ))
            .execute(conn)?;
    }
    Ok(())
}

/// The row for one person and respirator, from everything that is stored, at `now`.
pub(crate) fn cached(
    frame: &Frame,
    site_id: Uuid,
    (person_id, respirator_id): Pair,
    facts: &PersonRespiratorFacts,
    now: DateTime<Utc>,
) -> Cached {
    let computed_at = newest(facts, now);
    let clearance = lasting(frame, facts, computed_at);
    Cached {
        person_id,
        respirator_id,
        site_id,
        state: clearance.state.as_str().to_owned(),
        reasons: TextList::of(clearance.reasons.iter().map(|reason| reason.as_str())),
        basis_attempt_id: clearance.basis_attempt,
        tested_on: clearance.tested_on,
        due_on: clearance.due_on,
        due_anniversary: clearance.due_anniversary,
        due_strict: clearance.due_strict,
        valid_from: clearance.valid_from,
        valid_until: clearance.valid_until,
        computed_at,
    }
}

/// `now`, or the newest fact where a station's clock runs ahead: a fail counts at once, whatever its clock says.
fn newest(facts: &PersonRespiratorFacts, now: DateTime<Utc>) -> DateTime<Utc> {
    let ended = facts.attempts.iter().map(|attempt| attempt.ended_at);
    let decided = facts.permissions.iter().map(|permission| permission.happened_at);
    ended.chain(decided).fold(now, DateTime::max)
}

/// The clearance at `at`, or the one to come where only a permission that has not begun yet is missing.
///
/// Nothing rewrites the cache at midnight, so what begins by itself has to be written ahead with its `valid_from`.
fn lasting(frame: &Frame, facts: &PersonRespiratorFacts, at: DateTime<Utc>) -> Clearance {
    // Everything that can be read is known; the stored moments may be a little ahead of this server's clock.
    let known_at = DateTime::<Utc>::MAX_UTC;
    let clearance = frame.clearance(facts, Moments { at, known_at });
    if clearance.reasons != [ClearanceReason::NoPermission] {
        return clearance;
    }
    let today = local_date(at, frame.zone);
    let begins = facts.permissions.iter().map(|fact| fact.valid_from).filter(|day| *day > today);
    let begins = begins.filter(|day| in_force(&facts.permissions, *day).is_some()).min();
    let to_come = begins.map(|day| {
        let at = start_of_day(day, frame.zone);
        frame.clearance(facts, Moments { at, known_at })
    });
    to_come.filter(|later| later.state == ClearanceState::Cleared).unwrap_or(clearance)
}

/// The rows of these people.
pub(crate) fn rows_of(conn: &mut PgConnection, people: &[Uuid]) -> Result<Vec<Cached>, StoreError> {
    let rows = clearances::table.filter(clearances::person_id.eq_any(people));
    Ok(rows.select(Cached::as_select()).load(conn)?)
}
