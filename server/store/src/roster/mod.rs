//! Roster files: what one would change, taking it whole or not at all, and the files taken so far.

mod compare;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::refusal::{Code, Refusal};
use serde_json::Value;
use uuid::Uuid;

use crate::{
    StoreError, Tx, clearance,
    schema::roster_imports::{self, dsl},
    site,
};

/// One person as a roster file describes them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Their number at the hospital; no two entries of a file share one.
    pub staff_number: String,
    /// Their given name.
    pub given_name: String,
    /// Their family name.
    pub family_name: String,
    /// Their birth date.
    pub birth_date: Option<NaiveDate>,
    /// Where they work.
    pub unit: String,
    /// Their last day.
    pub left_on: Option<NaiveDate>,
}

/// What a roster file says. Columns it does not have leave what is stored as it is.
#[derive(Debug, Clone, Default)]
pub struct Roster {
    /// Everybody in it, in the file's order.
    pub entries: Vec<Entry>,
    /// Whether it has a column of birth dates.
    pub has_birth_date: bool,
    /// Whether it has a column of units.
    pub has_unit: bool,
    /// Whether it has a column of last days.
    pub has_left_on: bool,
}

/// What a roster file changes, or would change.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Queryable, QueryableByName, Insertable)]
#[diesel(table_name = roster_imports, check_for_backend(diesel::pg::Pg))]
pub struct Counts {
    /// People who are new.
    pub added_count: i32,
    /// People whose data differ.
    pub changed_count: i32,
    /// People who stay as they are.
    pub unchanged_count: i32,
    /// Staff who are stored, have not left and are not in the file. They stay: a file may have been cut short.
    pub missing_count: i32,
}

/// A roster file that was taken, without its bytes.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = roster_imports, check_for_backend(diesel::pg::Pg))]
pub struct RosterImport {
    /// Its id.
    pub id: Uuid,
    /// SHA-256 of the file.
    pub file_sha256: Vec<u8>,
    /// Which header of the file was taken for what.
    pub headers: Value,
    /// People in the file.
    pub row_count: i32,
    /// People who were new.
    pub added_count: i32,
    /// People whose data differed.
    pub changed_count: i32,
    /// People who stayed as they were.
    pub unchanged_count: i32,
    /// Staff who were not in the file.
    pub missing_count: i32,
    /// When it was taken.
    pub recorded_at: DateTime<Utc>,
    /// Who sent it.
    pub recorded_by: Uuid,
}

/// A roster file to be taken.
#[derive(Debug, Clone, Insertable)]
#[diesel(table_name = roster_imports)]
pub struct NewRosterImport {
    /// Its id.
    pub id: Uuid,
    /// The site whose roster it is.
    pub site_id: Uuid,
    /// The file, unchanged.
    pub file: Vec<u8>,
    /// SHA-256 of the file.
    pub file_sha256: Vec<u8>,
    /// Which header of the file is taken for what.
    pub headers: Value,
}

/// A page of the roster files taken so far: ids after `after`, at most `limit`.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    (after, limit): (Uuid, i64),
) -> Result<Vec<RosterImport>, StoreError> {
    Ok(dsl::roster_imports
        .filter(dsl::site_id.eq(site_id))
        .filter(dsl::id.gt(after))
        .order(dsl::id)
        .limit(limit)
        .select(RosterImport::as_select())
        .load(conn)?)
}

/// What taking the roster would change, without changing anything.
pub fn plan(conn: &mut PgConnection, site_id: Uuid, roster: &Roster) -> Result<Counts, StoreError> {
    compare::plan(conn, site_id, roster)
}

/// Takes a roster whole. The same id again, with the same file, gives what was stored the first time.
pub fn create(tx: &mut Tx<'_>, new: &NewRosterImport, roster: &Roster) -> Result<RosterImport, StoreError> {
    // One roster at a time, so that each is compared with all that the ones before it changed.
    site::lock(tx)?;
    if let Some(before) = find(tx.conn, new)? {
        let same = before.file_sha256 == new.file_sha256 && before.headers == new.headers;
        return if same { Ok(before) } else { Err(id_reused()) };
    }
    let counts = compare::plan(tx.conn, new.site_id, roster)?;
    let changes = compare::apply(tx, roster)?;
    let row_count = i32::try_from(roster.entries.len()).unwrap_or(i32::MAX);
    let by = (dsl::row_count.eq(row_count), dsl::recorded_at.eq(tx.now), dsl::recorded_by.eq(tx.actor.id));
    let made = diesel::insert_into(dsl::roster_imports)
        .values((new, counts, by))
        .on_conflict(dsl::id)
        .do_nothing()
        .execute(tx.conn)?;
    if made == 0 {
        return Err(id_reused());
    }
    tx.touched("roster_imports", new.id);
    for change in &changes {
        tx.touched("people", change.id);
    }
    let leaving: Vec<Uuid> = changes.iter().filter(|change| change.leaving).map(|change| change.id).collect();
    clearance::recompute_people(tx, &leaving)?;
    find(tx.conn, new)?.ok_or_else(|| StoreError::internal("a roster import went missing"))
}

fn find(conn: &mut PgConnection, new: &NewRosterImport) -> QueryResult<Option<RosterImport>> {
    dsl::roster_imports
        .find(new.id)
        .filter(dsl::site_id.eq(new.site_id))
        .select(RosterImport::as_select())
        .first(conn)
        .optional()
}

fn id_reused() -> StoreError {
    let sentence = "This id belongs to another roster file: make a new id for a new file.";
    Refusal::new(Code::IdReused, sentence).field("id").into()
}
