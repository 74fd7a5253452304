//! How far a day has come: counted from what is stored, so that nothing is shown that nobody has told the server.

use chrono::{DateTime, Utc};
use diesel::{
    PgConnection, QueryableByName, RunQueryDsl,
    sql_types::{BigInt, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid},
};
use uuid::Uuid;

use crate::StoreError;

/// The heads of a day.
#[derive(Debug, Clone, Copy, QueryableByName)]
pub struct Heads {
    /// Have passed.
    #[diesel(sql_type = BigInt)]
    pub done: i64,
    /// Were referred to another kind of test.
    #[diesel(sql_type = BigInt)]
    pub referred: i64,
    /// Are at a station.
    #[diesel(sql_type = BigInt)]
    pub at_station: i64,
    /// Are here and at no station.
    #[diesel(sql_type = BigInt)]
    pub waiting: i64,
    /// Are on the roster without a clearance in date, and have not come.
    #[diesel(sql_type = BigInt)]
    pub not_arrived: i64,
    /// Ended their visit since a moment.
    #[diesel(sql_type = BigInt)]
    pub finished: i64,
    /// When the first one checked in.
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub first_at: Option<DateTime<Utc>>,
}

/// A visit ends with the run that decided it or with the referral.
const HEADS: &str = "\
with ends as (
    select i.id, greatest(
        (select max(v.ended_at) from attempts a join attempt_verdicts v on v.attempt_id = a.id where a.visit_id = i.id),
        (select max(r.happened_at) from referrals r where r.visit_id = i.id)) as ended_at
      from visits i where i.day_id = $2 and i.step in ('done', 'referred')
)
select count(*) filter (where i.step = 'done') as done,
       count(*) filter (where i.step = 'referred') as referred,
       count(*) filter (where i.step not in ('done', 'referred') and i.held_by_station_id is not null) as at_station,
       count(*) filter (where i.step not in ('done', 'referred') and i.held_by_station_id is null) as waiting,
       (select count(*) from people p
         where p.site_id = $1 and (p.left_on is null or p.left_on >= $5)
           and not exists (select from visits h where h.day_id = $2 and h.person_id = p.id)
           and not exists (select from clearances c
                where c.person_id = p.id and c.state = 'cleared' and c.valid_until > $4)) as not_arrived,
       (select count(*) from ends where ended_at > $3 and ended_at <= $4) as finished,
       min(i.happened_at) as first_at
  from visits i where i.day_id = $2";

/// Counts the heads of a day: who finished since a moment, and who is where now.
pub fn heads(
    conn: &mut PgConnection,
    (site_id, day_id): (Uuid, Uuid),
    (since, now): (DateTime<Utc>, DateTime<Utc>),
    today: chrono::NaiveDate,
) -> Result<Heads, StoreError> {
    Ok(diesel::sql_query(HEADS)
        .bind::<SqlUuid, _>(site_id)
        .bind::<SqlUuid, _>(day_id)
        .bind::<Timestamptz, _>(since)
        .bind::<Timestamptz, _>(now)
        .bind::<diesel::sql_types::Date, _>(today)
        .get_result(conn)?)
}

/// What is known of one station.
#[derive(Debug, Clone, QueryableByName)]
pub struct AtWork {
    /// The station.
    #[diesel(sql_type = SqlUuid)]
    pub station_id: Uuid,
    /// What the people there call it.
    #[diesel(sql_type = Text)]
    pub name: String,
    /// The visit it has.
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub visit_id: Option<Uuid>,
    /// The number that the person was given.
    #[diesel(sql_type = Nullable<Integer>)]
    pub ticket: Option<i32>,
    /// What they are at.
    #[diesel(sql_type = Nullable<Text>)]
    pub step: Option<String>,
    /// When they were called.
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub called_at: Option<DateTime<Utc>>,
    /// When the server last heard of it.
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub heard_at: Option<DateTime<Utc>>,
    /// Runs that ended there.
    #[diesel(sql_type = BigInt)]
    pub runs: i64,
}

const STATIONS: &str = "\
select t.id as station_id, t.name, i.id as visit_id, i.ticket, i.step,
       (select max(c.happened_at) from calls c where c.station_id = t.id and c.visit_id = i.id) as called_at,
       greatest(
           (select max(c.recorded_at) from calls c where c.station_id = t.id),
           (select max(b.recorded_at) from visit_returns b where b.station_id = t.id),
           (select max(f.recorded_at) from fills f where f.station_id = t.id),
           (select max(e.recorded_at) from screenings s join screening_events e on e.screening_id = s.id
             where s.station_id = t.id),
           (select max(e.recorded_at) from attempts a join attempt_events e on e.attempt_id = a.id
             where a.station_id = t.id)) as heard_at,
       (select count(*) from screenings s join screening_verdicts v on v.screening_id = s.id where s.station_id = t.id)
       + (select count(*) from attempts a join attempt_verdicts v on v.attempt_id = a.id where a.station_id = t.id) as runs
  from stations t left join visits i on i.held_by_station_id = t.id
 where t.site_id = $1 and t.day_id = $2 order by t.name, t.id";

/// What is known of each station of a day, by name.
pub fn stations(conn: &mut PgConnection, site_id: Uuid, day_id: Uuid) -> Result<Vec<AtWork>, StoreError> {
    Ok(diesel::sql_query(STATIONS).bind::<SqlUuid, _>(site_id).bind::<SqlUuid, _>(day_id).load(conn)?)
}
