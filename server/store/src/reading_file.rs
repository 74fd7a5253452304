//! Files of readings: how a site reads them, and what one says about an attempt.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    attempt::{AttemptEvent, OfFile, State, events_of_file},
    reading_file::{FileReadings, Mapping},
    refusal::{Code, Refusal},
};
use serde_json::Value;
use uuid::Uuid;

use crate::{
    StoreError, Tx,
    attempt::{self, AttemptRun},
    insert_once,
    recording::{self, NewRecording},
    schema::reading_mappings,
    stored::read_json,
};

/// A mapping as it is remembered.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = reading_mappings, check_for_backend(diesel::pg::Pg))]
pub struct ReadingMapping {
    /// Its id.
    pub id: Uuid,
    /// The site's name for it.
    pub name: String,
    /// The [`Mapping`].
    pub mapping: Value,
    /// When it was chosen.
    pub happened_at: DateTime<Utc>,
    /// When the server learned of it.
    pub recorded_at: DateTime<Utc>,
}

impl ReadingMapping {
    /// Which cell means what.
    pub fn read_mapping(&self) -> Result<Mapping, StoreError> {
        read_json(self.mapping.clone())
    }
}

/// A mapping to be remembered.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = reading_mappings, check_for_backend(diesel::pg::Pg))]
pub struct NewReadingMapping {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The site's name for it.
    pub name: String,
    /// The [`Mapping`].
    pub mapping: Value,
    /// When it was chosen.
    pub happened_at: DateTime<Utc>,
}

/// Mappings of the site, by id; of those with one name the newest counts.
pub fn list_mappings(
    conn: &mut PgConnection,
    site_id: Uuid,
    (after, limit): (Uuid, i64),
) -> Result<Vec<ReadingMapping>, StoreError> {
    let of_site = reading_mappings::table.filter(reading_mappings::site_id.eq(site_id));
    let page = of_site.filter(reading_mappings::id.gt(after)).order(reading_mappings::id).limit(limit);
    Ok(page.select(ReadingMapping::as_select()).load(conn)?)
}

/// One mapping of the site.
pub fn find_mapping(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<ReadingMapping, StoreError> {
    let found = reading_mappings::table.find(id).filter(reading_mappings::site_id.eq(site_id));
    let found = found.select(ReadingMapping::as_select()).first(conn).optional()?;
    found.ok_or_else(|| StoreError::not_found("reading mapping"))
}

/// Remembers a mapping.
pub fn create_mapping(tx: &mut Tx<'_>, new: &NewReadingMapping) -> Result<ReadingMapping, StoreError> {
    let recorded = (reading_mappings::recorded_at.eq(tx.now), reading_mappings::recorded_by.eq(tx.actor.id));
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(reading_mappings::table).values((new, recorded));
            Ok(made.on_conflict(reading_mappings::id).do_nothing().execute(conn)?)
        },
        |conn| {
            let stored = reading_mappings::table.find(new.id);
            let stored = stored.filter(reading_mappings::site_id.eq(new.site_id));
            stored.select(NewReadingMapping::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("reading_mappings", new.id);
    }
    find_mapping(tx.conn, new.site_id, new.id)
}

/// What the readings would do to an attempt, without storing anything: the events, and where it would stand then.
pub fn preview(
    conn: &mut PgConnection,
    (site_id, attempt_id): (Uuid, Uuid),
    file: &FileReadings,
    said: OfFile,
    now: DateTime<Utc>,
) -> Result<(Vec<AttemptEvent>, State), StoreError> {
    let mut state = attempt::read(conn, site_id, attempt_id, said.began_at)?.state;
    let events = events_of_file(&state, file, said)?;
    if let Some(last) = events.last().filter(|last| last.happened_at > now) {
        let detail =
            "By its exercises this test is not over yet: look at the time at which the measuring began.";
        let refusal = Refusal::new(Code::HappenedInFuture, detail).field("began_at");
        return Err(refusal.fact("ends_at", last.happened_at).fact("server_time", now).into());
    }
    for event in &events {
        state.apply(event)?;
    }
    Ok((events, state))
}

/// Takes the readings into the attempt, and keeps the file as its recording, both or neither.
///
/// The same file again, under the same id, changes nothing.
pub fn take(
    tx: &mut Tx<'_>,
    recording: &NewRecording,
    file: &FileReadings,
    said: OfFile,
) -> Result<AttemptRun, StoreError> {
    let (site_id, attempt_id) = (tx.site_id(), recording.attempt_id);
    if recording::exists(tx.conn, site_id, recording.id)? {
        recording::create(tx, recording)?;
        return attempt::read(tx.conn, site_id, attempt_id, said.began_at);
    }
    let (events, _) = preview(tx.conn, (site_id, attempt_id), file, said, tx.now)?;
    recording::create(tx, recording)?;
    attempt::append_events(tx, attempt_id, &events)
}
