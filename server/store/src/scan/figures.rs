//! How often a gate said what: each reading counts once, however nervous the hand.

use chrono::{DateTime, Utc};
use diesel::{
    PgConnection, QueryableByName, RunQueryDsl,
    sql_types::{BigInt, Text, Timestamptz, Uuid as SqlUuid},
};
use sellion_rules::gate::Answer;
use uuid::Uuid;

use crate::{StoreError, gate, stored::word};

/// Readings of one answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Figure {
    /// The word.
    pub answer: Answer,
    /// How often it was said.
    pub count: i64,
    /// How often the same badge was read once more a moment later.
    pub repeats: i64,
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = Text)]
    answer: String,
    #[diesel(sql_type = BigInt)]
    count: i64,
    #[diesel(sql_type = BigInt)]
    repeats: i64,
}

/// What a gate said from a moment until before another one, in the order of the words.
pub fn figures(
    conn: &mut PgConnection,
    (site_id, gate_id): (Uuid, Uuid),
    (from, until): (DateTime<Utc>, DateTime<Utc>),
) -> Result<Vec<Figure>, StoreError> {
    gate::find(conn, site_id, gate_id)?;
    let rows: Vec<Row> = diesel::sql_query(
        "select answer, count(*) filter (where repeats_at is null) as count, \
                count(*) filter (where repeats_at is not null) as repeats \
         from scans where gate_id = $1 and happened_at >= $2 and happened_at < $3 group by answer",
    )
    .bind::<SqlUuid, _>(gate_id)
    .bind::<Timestamptz, _>(from)
    .bind::<Timestamptz, _>(until)
    .load(conn)?;
    let mut figures = rows
        .into_iter()
        .map(|row| Ok(Figure { answer: word(&row.answer)?, count: row.count, repeats: row.repeats }))
        .collect::<Result<Vec<_>, StoreError>>()?;
    figures.sort_by_key(|figure| figure.answer);
    Ok(figures)
}
