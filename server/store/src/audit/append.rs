//! Appends the audit rows of one write, as the last thing its transaction does.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use serde_json::{Value, json};
use uuid::Uuid;

use super::{Subject, chain::Row, digest};
use crate::{
    Actor, ActorKind, StoreError,
    schema::{audit_heads, audit_rows},
    stream,
};

/// From this many rows on, COPY is quicker than INSERT and has no limit on bound values.
const COPY_FROM: usize = 200;

/// One audit row to be: who did what to which subject.
pub(crate) struct Entry {
    pub(crate) actor_kind: ActorKind,
    pub(crate) actor_id: Uuid,
    pub(crate) subject: Subject,
}

/// Appends one audit row per subject, in order. No subjects (a repeated request), no rows.
pub(crate) fn append(
    conn: &mut PgConnection,
    actor: &Actor,
    action: &str,
    now: DateTime<Utc>,
    subjects: Vec<Subject>,
) -> Result<(), StoreError> {
    let entry = |subject| Entry { actor_kind: actor.kind, actor_id: actor.id, subject };
    let entries = subjects.into_iter().map(entry).collect();
    match append_entries(conn, actor.site_id, action, now, entries)? {
        Some(span) => stream::notify(conn, actor.site_id, span),
        None => Ok(()),
    }
}

/// As [`append`], for a write that several actors of one site share; returns the first and last number it gave.
///
/// Nobody is notified: the scans come this way, and commits that notify wait for each other.
pub(crate) fn append_entries(
    conn: &mut PgConnection,
    site_id: Uuid,
    action: &str,
    now: DateTime<Utc>,
    entries: Vec<Entry>,
) -> Result<Option<(i64, i64)>, StoreError> {
    if entries.is_empty() {
        return Ok(None);
    }
    let digests = digests(conn, &entries)?;
    let (mut seq, mut hash): (i64, Vec<u8>) = audit_heads::table
        .find(site_id)
        .select((audit_heads::seq, audit_heads::hash))
        .for_update()
        .first(conn)?;
    let first = seq + 1;
    let mut rows = Vec::with_capacity(entries.len());
    for (entry, subject_digest) in entries.into_iter().zip(digests) {
        seq += 1;
        let mut row = Row {
            site_id,
            seq,
            recorded_at: now,
            actor_kind: entry.actor_kind.as_str().to_owned(),
            actor_id: (entry.actor_kind != ActorKind::Program).then_some(entry.actor_id),
            action: action.to_owned(),
            subject_table: entry.subject.table.to_owned(),
            subject_id: entry.subject.id,
            subject_digest,
            detail: detail(entry.subject.span, entry.subject.detail),
            previous_hash: std::mem::take(&mut hash),
            hash: Vec::new(),
        };
        row.hash = row.computed_hash();
        hash.clone_from(&row.hash);
        rows.push(row);
    }
    if rows.len() < COPY_FROM {
        diesel::insert_into(audit_rows::table).values(&rows).execute(conn)?;
    } else {
        diesel::copy_from(audit_rows::table).from_insertable(&rows).execute(conn)?;
    }
    diesel::update(audit_heads::table.find(site_id))
        .set((audit_heads::seq.eq(seq), audit_heads::hash.eq(hash)))
        .execute(conn)?;
    Ok(Some((first, seq)))
}

/// The digest of each subject, with one query per table however many rows were touched.
fn digests(conn: &mut PgConnection, entries: &[Entry]) -> Result<Vec<Option<Vec<u8>>>, StoreError> {
    let mut ids: HashMap<&str, Vec<Uuid>> = HashMap::new();
    let subjects = || entries.iter().map(|entry| &entry.subject);
    for subject in subjects().filter(|subject| subject.span.is_none()) {
        ids.entry(subject.table).or_default().push(subject.id);
    }
    let mut found = HashMap::new();
    for (table, ids) in ids {
        found.insert(table, digest::of_rows(conn, table, &ids)?);
    }
    subjects()
        .map(|subject| match subject.span {
            Some(span) => digest::of_events(conn, subject.table, subject.id, span),
            None => Ok(found.get(subject.table).and_then(|rows| rows.get(&subject.id)).cloned()),
        })
        .collect()
}

/// The detail as it is stored: text, so that the hash covers exactly what is read back.
fn detail(span: Option<(i32, i32)>, detail: Option<Value>) -> String {
    match (span, detail) {
        (Some((from, to)), _) => json!({ "from_seq": from, "to_seq": to }).to_string(),
        (None, Some(detail)) => detail.to_string(),
        (None, None) => "{}".to_owned(),
    }
}
