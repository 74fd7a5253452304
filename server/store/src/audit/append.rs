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
};

/// From this many rows on, COPY is quicker than INSERT and has no limit on bound values.
const COPY_FROM: usize = 200;

/// Appends one audit row per subject, in order. No subjects (a repeated request), no rows.
pub(crate) fn append(
    conn: &mut PgConnection,
    actor: &Actor,
    action: &str,
    now: DateTime<Utc>,
    subjects: Vec<Subject>,
) -> Result<(), StoreError> {
    if subjects.is_empty() {
        return Ok(());
    }
    let digests = digests(conn, &subjects)?;
    let (mut seq, mut hash): (i64, Vec<u8>) = audit_heads::table
        .find(actor.site_id)
        .select((audit_heads::seq, audit_heads::hash))
        .for_update()
        .first(conn)?;
    let mut rows = Vec::with_capacity(subjects.len());
    for (subject, subject_digest) in subjects.into_iter().zip(digests) {
        seq += 1;
        let mut row = Row {
            site_id: actor.site_id,
            seq,
            recorded_at: now,
            actor_kind: actor.kind.as_str().to_owned(),
            actor_id: (actor.kind != ActorKind::Program).then_some(actor.id),
            action: action.to_owned(),
            subject_table: subject.table.to_owned(),
            subject_id: subject.id,
            subject_digest,
            detail: detail(subject.span, subject.detail),
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
    diesel::update(audit_heads::table.find(actor.site_id))
        .set((audit_heads::seq.eq(seq), audit_heads::hash.eq(hash)))
        .execute(conn)?;
    Ok(())
}

/// The digest of each subject, with one query per table however many rows were touched.
fn digests(conn: &mut PgConnection, subjects: &[Subject]) -> Result<Vec<Option<Vec<u8>>>, StoreError> {
    let mut ids: HashMap<&str, Vec<Uuid>> = HashMap::new();
    for subject in subjects.iter().filter(|subject| subject.span.is_none()) {
        ids.entry(subject.table).or_default().push(subject.id);
    }
    let mut found = HashMap::new();
    for (table, ids) in ids {
        found.insert(table, digest::of_rows(conn, table, &ids)?);
    }
    subjects
        .iter()
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
