//! Recordings: the strip chart or other file of a measured test, byte for byte, and the record it belongs to.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    attempt::{Outcome, VerdictReason},
    method::Method,
    refusal::{Code, Refusal},
};
use uuid::Uuid;

use crate::{
    StoreError, Tx, insert_once,
    schema::{attempt_corrections, attempt_recordings, attempt_verdicts, attempts, people, respirators},
    stored::word,
};

/// A recording without its bytes.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable)]
#[diesel(table_name = attempt_recordings, check_for_backend(diesel::pg::Pg))]
pub struct Recording {
    /// Its id.
    pub id: Uuid,
    /// The file's name.
    pub name: String,
    /// The type of its bytes.
    pub media_type: String,
    /// SHA-256 of its bytes.
    pub sha256: Vec<u8>,
    /// When it was made.
    pub happened_at: DateTime<Utc>,
    /// When the server learned of it.
    pub recorded_at: DateTime<Utc>,
}

/// A recording to be kept.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = attempt_recordings, check_for_backend(diesel::pg::Pg))]
pub struct NewRecording {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The attempt it was made of.
    pub attempt_id: Uuid,
    /// The file's name.
    pub name: String,
    /// The type of its bytes.
    pub media_type: String,
    /// The bytes, unchanged.
    pub bytes: Vec<u8>,
    /// SHA-256 of the bytes.
    pub sha256: Vec<u8>,
    /// When it was made.
    pub happened_at: DateTime<Utc>,
}

/// What the rule wants recorded of one test (29 CFR 1910.134(m)(2)(i)(A)-(E)).
#[derive(Debug, Clone)]
pub struct Record {
    /// The attempt.
    pub attempt_id: Uuid,
    /// Who was tested: given name, family name, staff number.
    pub person: (String, String, String),
    /// The type of test.
    pub method: Method,
    /// Make, model, style and size.
    pub respirator: (String, String, String, String),
    /// The local day of the test.
    pub tested_on: NaiveDate,
    /// How it ended.
    pub outcome: Outcome,
    /// What decided that.
    pub reason: VerdictReason,
    /// The overall fit factor, where it was measured to the end.
    pub fit_factor: Option<String>,
    /// The least that passed, where it was measured.
    pub pass_level: Option<i32>,
    /// When a correction took it out of every later judgement, if one did.
    pub corrected_at: Option<DateTime<Utc>>,
    /// The recordings, by id.
    pub recordings: Vec<Recording>,
}

/// Keeps a recording of a measured attempt.
pub fn create(tx: &mut Tx<'_>, new: &NewRecording) -> Result<Recording, StoreError> {
    let method: Option<String> = attempts::table
        .find(new.attempt_id)
        .filter(attempts::site_id.eq(new.site_id))
        .select(attempts::method)
        .first(tx.conn)
        .optional()?;
    let method: Method = word(&method.ok_or_else(|| StoreError::not_found("attempt"))?)?;
    if !method.is_quantitative() {
        let detail = "Nothing was measured in this attempt, so there is no recording of it.";
        return Err(Refusal::new(Code::InvalidValue, detail).field("attempt_id").into());
    }
    let recorded =
        (attempt_recordings::recorded_at.eq(tx.now), attempt_recordings::recorded_by.eq(tx.actor.id));
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(attempt_recordings::table).values((new, recorded));
            Ok(made.on_conflict(attempt_recordings::id).do_nothing().execute(conn)?)
        },
        |conn| {
            let stored = attempt_recordings::table.find(new.id);
            let stored = stored.filter(attempt_recordings::site_id.eq(new.site_id));
            stored.select(NewRecording::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("attempt_recordings", new.id);
    }
    let stored = attempt_recordings::table.find(new.id).select(Recording::as_select());
    Ok(stored.first(tx.conn)?)
}

/// Whether a recording of this id is kept.
pub(crate) fn exists(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<bool, StoreError> {
    let found = attempt_recordings::table.find(id).filter(attempt_recordings::site_id.eq(site_id));
    Ok(diesel::select(diesel::dsl::exists(found)).get_result(conn)?)
}

/// The bytes of a recording, with what is known of them.
pub fn read(
    conn: &mut PgConnection,
    site_id: Uuid,
    attempt_id: Uuid,
    id: Uuid,
) -> Result<(Recording, Vec<u8>), StoreError> {
    let found = attempt_recordings::table
        .find(id)
        .filter(attempt_recordings::site_id.eq(site_id))
        .filter(attempt_recordings::attempt_id.eq(attempt_id));
    let found = found.select((Recording::as_select(), attempt_recordings::bytes)).first(conn).optional()?;
    found.ok_or_else(|| StoreError::not_found("recording"))
}

/// Day of the test, outcome, reason, fit factor, pass level.
type VerdictColumns = (NaiveDate, String, String, Option<String>, Option<i32>);

#[derive(Queryable)]
struct Row {
    method: String,
    person: (String, String, String),
    respirator: (String, String, String, String),
    verdict: Option<VerdictColumns>,
    corrected_at: Option<DateTime<Utc>>,
}

/// The record of an attempt that has ended.
pub fn record(conn: &mut PgConnection, site_id: Uuid, attempt_id: Uuid) -> Result<Record, StoreError> {
    let verdict = (
        attempt_verdicts::tested_on,
        attempt_verdicts::outcome,
        attempt_verdicts::reason,
        attempt_verdicts::fit_factor,
        attempt_verdicts::pass_level,
    );
    let row: Option<Row> = attempts::table
        .inner_join(people::table)
        .inner_join(respirators::table)
        .left_join(attempt_verdicts::table)
        .left_join(attempt_corrections::table)
        .filter(attempts::id.eq(attempt_id))
        .filter(attempts::site_id.eq(site_id))
        .select((
            attempts::method,
            (people::given_name, people::family_name, people::staff_number),
            (respirators::make, respirators::model, respirators::style, respirators::size),
            verdict.nullable(),
            attempt_corrections::recorded_at.nullable(),
        ))
        .first(conn)
        .optional()?;
    let row = row.ok_or_else(|| StoreError::not_found("attempt"))?;
    let Some((tested_on, outcome, reason, fit_factor, pass_level)) = row.verdict else {
        let detail = "This attempt is still open, so there is nothing to record of it yet.";
        return Err(Refusal::new(Code::AttemptOpen, detail)
            .fact("attempt_id", attempt_id.to_string())
            .into());
    };
    let recordings = attempt_recordings::table
        .filter(attempt_recordings::attempt_id.eq(attempt_id))
        .order(attempt_recordings::id)
        .select(Recording::as_select())
        .load(conn)?;
    Ok(Record {
        attempt_id,
        person: row.person,
        method: word(&row.method)?,
        respirator: row.respirator,
        tested_on,
        outcome: word(&outcome)?,
        reason: word(&reason)?,
        fit_factor,
        pass_level,
        corrected_at: row.corrected_at,
        recordings,
    })
}
