//! What a gate answered alone, kept beside the row of its scan.

use std::collections::HashSet;

use diesel::{PgConnection, prelude::*};
use uuid::Uuid;

use super::{Answered, Given, insert::Decided};
use crate::schema::given_answers;

/// The table, as the audit chain calls it.
pub(super) const TABLE: &str = "given_answers";

/// What the gate is told: the answer is its own, and was shown long ago.
const KEPT: &str = "Kept as this gate answered it.";

/// The reply to a gate that delivers what it answered alone.
pub(super) fn kept(id: Uuid, given: &Given) -> Answered {
    Answered { id, answer: given.answer, instruction: KEPT.to_owned(), name: None, respirator: None }
}

/// Stores what the new ones among these scans rested on.
pub(super) fn insert(
    conn: &mut PgConnection,
    decided: &[Decided<'_>],
    new: &HashSet<Uuid>,
) -> QueryResult<()> {
    let told = decided.iter().filter(|row| new.contains(&row.scan.id));
    let rows: Vec<_> = told
        .filter_map(|row| {
            let given = row.scan.given.as_ref()?;
            Some((
                given_answers::scan_id.eq(row.scan.id),
                given_answers::batch_id.eq(row.batch_id),
                given_answers::site_id.eq(row.scan.actor.site_id),
                given_answers::known_at.eq(given.known_at),
                given_answers::clock_showed.eq(given.clock_showed),
                given_answers::recorded_at.eq(row.scan.recorded_at),
            ))
        })
        .collect();
    if !rows.is_empty() {
        diesel::insert_into(given_answers::table).values(rows).on_conflict_do_nothing().execute(conn)?;
    }
    Ok(())
}
