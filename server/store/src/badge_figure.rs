//! How many badges were made, handed over, spoiled and printed again on each day: numbers, and no person.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use diesel::{
    PgConnection, QueryableByName, RunQueryDsl,
    sql_types::{BigInt, Date, Nullable, Text, Uuid as SqlUuid},
};
use sellion_rules::badge::{MisprintCause, ReprintReason};
use uuid::Uuid;

use crate::{StoreError, stored::word};

/// What happened on one day in the site's time zone.
#[derive(Debug, Clone, Default)]
pub struct Figures {
    /// Badges that were made.
    pub made: i64,
    /// Badges that were handed over.
    pub handed_over: i64,
    /// Misprints, by how they were spoiled. Where nobody said, it is something else.
    pub misprints: BTreeMap<MisprintCause, i64>,
    /// Badges that were made in place of another one, by why.
    pub reprints: BTreeMap<ReprintReason, i64>,
}

#[derive(QueryableByName)]
struct Counted {
    #[diesel(sql_type = Date)]
    on_day: NaiveDate,
    #[diesel(sql_type = Text)]
    what: String,
    #[diesel(sql_type = Nullable<Text>)]
    why: Option<String>,
    #[diesel(sql_type = BigInt)]
    number: i64,
}

const COUNTED: &str = "\
with told as (
    select recorded_at as at, 'made' as what, null as why from badges where site_id = $1
    union all select happened_at, 'handed_over', null from badge_hand_overs where site_id = $1
    union all select happened_at, 'misprint', coalesce(misprint, 'other') from badge_endings
        where site_id = $1 and reason = 'misprint'
    union all select happened_at, 'reprint', reason from badge_reprints where site_id = $1
)
select (t.at at time zone s.time_zone)::date as on_day, t.what, t.why, count(*) as number
  from told t join sites s on s.id = $1
 where t.at >= $2::timestamp at time zone s.time_zone and t.at < ($3 + 1)::timestamp at time zone s.time_zone
 group by 1, 2, 3";

/// What happened on each day of a span, the last one included; days on which nothing did are left out.
pub fn of_days(
    conn: &mut PgConnection,
    site_id: Uuid,
    (from, to): (NaiveDate, NaiveDate),
) -> Result<BTreeMap<NaiveDate, Figures>, StoreError> {
    let rows: Vec<Counted> = diesel::sql_query(COUNTED)
        .bind::<SqlUuid, _>(site_id)
        .bind::<Date, _>(from)
        .bind::<Date, _>(to)
        .load(conn)?;
    let mut found: BTreeMap<NaiveDate, Figures> = BTreeMap::new();
    for Counted { on_day, what, why, number } in rows {
        let figures = found.entry(on_day).or_default();
        let why = why.as_deref().unwrap_or_default();
        match what.as_str() {
            "made" => figures.made += number,
            "handed_over" => figures.handed_over += number,
            "misprint" => *figures.misprints.entry(word(why)?).or_default() += number,
            _ => *figures.reprints.entry(word(why)?).or_default() += number,
        }
    }
    Ok(found)
}
