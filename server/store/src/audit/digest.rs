//! Digests of stored rows, taken by the database over a text form that does not depend on the client.
//!
//! Empty columns are left out, so that a later migration which adds one does not disturb old digests.

use std::collections::HashMap;

use diesel::{
    PgConnection, QueryableByName, RunQueryDsl,
    sql_types::{Array, Binary, Integer, Uuid as SqlUuid},
};
use uuid::Uuid;

use crate::StoreError;

/// The tables the chain covers, the column that says which subject a row belongs to, and whether rows may change.
const TABLES: &[(&str, &str, Kept)] = &[
    ("alarm_acknowledgements", "id", Kept::ForEver),
    ("attempt_corrections", "id", Kept::ForEver),
    ("attempt_events", "attempt_id", Kept::ForEver),
    ("attempt_late_events", "attempt_id", Kept::ForEver),
    ("attempt_recordings", "id", Kept::ForEver),
    ("attempt_verdicts", "attempt_id", Kept::ForEver),
    ("attempts", "id", Kept::ForEver),
    ("badge_batch_outcomes", "badge_batch_id", Kept::ForEver),
    ("badge_batch_people", "badge_batch_id", Kept::ForEver),
    ("badge_batches", "id", Kept::Latest),
    ("badge_endings", "id", Kept::ForEver),
    ("badge_finds", "id", Kept::ForEver),
    ("badge_hand_overs", "id", Kept::ForEver),
    ("badge_hold_releases", "id", Kept::ForEver),
    ("badge_holds", "id", Kept::ForEver),
    ("badge_reprints", "badge_id", Kept::ForEver),
    ("badge_respirators", "badge_id", Kept::ForEver),
    ("badges", "id", Kept::ForEver),
    ("bottle_movements", "id", Kept::ForEver),
    ("bottle_openings", "id", Kept::ForEver),
    ("bottles", "id", Kept::ForEver),
    ("calls", "id", Kept::ForEver),
    ("days", "id", Kept::Latest),
    ("devices", "id", Kept::Latest),
    ("equipment", "id", Kept::ForEver),
    ("equipment_checks", "id", Kept::ForEver),
    ("face_panels", "id", Kept::ForEver),
    ("fill_emptyings", "id", Kept::ForEver),
    ("fill_gaps", "id", Kept::ForEver),
    ("fills", "id", Kept::ForEver),
    ("gate_policies", "id", Kept::ForEver),
    ("gate_policy_classes", "gate_policy_id", Kept::ForEver),
    ("gate_policy_respirators", "gate_policy_id", Kept::ForEver),
    ("gates", "id", Kept::Latest),
    ("given_answers", "batch_id", Kept::ForEver),
    ("lead_entries", "id", Kept::Latest),
    ("lead_entry_reviews", "id", Kept::Latest),
    ("look_back_readings", "id", Kept::ForEver),
    ("lot_marks", "id", Kept::ForEver),
    ("lots", "id", Kept::ForEver),
    ("people", "id", Kept::Latest),
    ("permissions", "id", Kept::ForEver),
    ("piece_movements", "id", Kept::ForEver),
    ("placements", "id", Kept::ForEver),
    ("places", "id", Kept::Latest),
    ("reading_mappings", "id", Kept::ForEver),
    ("referrals", "id", Kept::ForEver),
    ("respirator_changes", "id", Kept::ForEver),
    ("respirators", "id", Kept::Latest),
    ("roster_imports", "id", Kept::ForEver),
    ("rule_sets", "id", Kept::ForEver),
    ("scan_prunings", "id", Kept::ForEver),
    ("scans", "batch_id", Kept::ForEver),
    ("screening_events", "screening_id", Kept::ForEver),
    ("screening_verdicts", "screening_id", Kept::ForEver),
    ("screenings", "id", Kept::ForEver),
    ("sessions", "id", Kept::Latest),
    ("signing_keys", "id", Kept::Latest),
    ("sites", "id", Kept::Latest),
    ("squeeze_weighings", "id", Kept::ForEver),
    ("stations", "id", Kept::Latest),
    ("stop_releases", "id", Kept::ForEver),
    ("stops", "id", Kept::ForEver),
    ("twin_notice_reviews", "id", Kept::Latest),
    ("twin_notices", "id", Kept::Latest),
    ("users", "id", Kept::Latest),
    ("visit_answers", "id", Kept::ForEver),
    ("visit_returns", "id", Kept::ForEver),
    ("visits", "id", Kept::Latest),
    ("walking_times", "id", Kept::ForEver),
];

/// Whether a subject stays as it was written or only its newest state can be compared. What retention takes away one by
/// one has a newest state too: gone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kept {
    ForEver,
    Latest,
}

/// The key column of a covered table and how its rows are kept.
pub(super) fn table(name: &str) -> Result<(&'static str, &'static str, Kept), StoreError> {
    TABLES
        .iter()
        .find(|(table, _, _)| *table == name)
        .copied()
        .ok_or_else(|| StoreError::internal(format!("the audit chain does not know the table {name}")))
}

#[derive(QueryableByName)]
struct Found {
    #[diesel(sql_type = SqlUuid)]
    subject_id: Uuid,
    #[diesel(sql_type = Binary)]
    digest: Vec<u8>,
}

/// The digests of many subjects of one table, in one query.
pub(crate) fn of_rows(
    conn: &mut PgConnection,
    table_name: &str,
    ids: &[Uuid],
) -> Result<HashMap<Uuid, Vec<u8>>, StoreError> {
    let (table, key, _) = table(table_name)?;
    let rows =
        diesel::sql_query(format!("{} from {table} t where {key} = any($1) group by {key}", select(key)))
            .bind::<Array<SqlUuid>, _>(ids)
            .load::<Found>(conn)?;
    Ok(rows.into_iter().map(|row| (row.subject_id, row.digest)).collect())
}

/// The digest of a run of events of one screening or attempt.
pub(super) fn of_events(
    conn: &mut PgConnection,
    table_name: &str,
    id: Uuid,
    (from_seq, to_seq): (i32, i32),
) -> Result<Option<Vec<u8>>, StoreError> {
    let (table, key, _) = table(table_name)?;
    let rows = diesel::sql_query(format!(
        "{} from {table} t where {key} = $1 and seq between $2 and $3 group by {key}",
        select(key)
    ))
    .bind::<SqlUuid, _>(id)
    .bind::<Integer, _>(from_seq)
    .bind::<Integer, _>(to_seq)
    .load::<Found>(conn)?;
    Ok(rows.into_iter().next().map(|row| row.digest))
}

fn select(key: &str) -> String {
    let text = "jsonb_strip_nulls(to_jsonb(t))::text";
    format!(
        "select {key} as subject_id, \
         sha256(convert_to(string_agg({text}, E'\\n' order by {text}), 'UTF8')) as digest"
    )
}
