//! What a year or a day showed: counts of results per respirator and per lot, and the flow of a day.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::{
    PgConnection, QueryableByName, RunQueryDsl,
    sql_types::{BigInt, Date, Nullable, Text, Timestamptz, Uuid as SqlUuid},
};
use uuid::Uuid;

use crate::StoreError;

/// Which results count.
#[derive(Debug, Clone, Copy)]
pub struct Period {
    /// The first day of testing.
    pub from: NaiveDate,
    /// The last one.
    pub until: NaiveDate,
    /// Those of this fit-testing day only.
    pub day_id: Option<Uuid>,
}

/// The attempts on one respirator. Those that were corrected away count nowhere.
#[derive(Debug, Clone, QueryableByName)]
pub struct Tried {
    /// The respirator.
    #[diesel(sql_type = SqlUuid)]
    pub respirator_id: Uuid,
    /// Make, model and style.
    #[diesel(sql_type = Text)]
    pub name: String,
    /// Its size.
    #[diesel(sql_type = Text)]
    pub size: String,
    /// Different people.
    #[diesel(sql_type = BigInt)]
    pub people: i64,
    /// Attempts that passed.
    #[diesel(sql_type = BigInt)]
    pub passes: i64,
    /// Attempts that failed.
    #[diesel(sql_type = BigInt)]
    pub fails: i64,
    /// Attempts that do not count either way.
    #[diesel(sql_type = BigInt)]
    pub voids: i64,
    /// Attempts that were stopped because the person was unwell.
    #[diesel(sql_type = BigInt)]
    pub stops: i64,
}

/// Results per respirator, by name and size.
pub fn passes(conn: &mut PgConnection, site_id: Uuid, period: Period) -> Result<Vec<Tried>, StoreError> {
    Ok(diesel::sql_query(
        "select r.id as respirator_id, btrim(concat_ws(' ', r.make, r.model, r.style)) as name, r.size,
                count(distinct a.person_id) as people,
                count(*) filter (where v.outcome = 'pass') as passes,
                count(*) filter (where v.outcome = 'fail') as fails,
                count(*) filter (where v.outcome = 'void') as voids,
                count(*) filter (where v.outcome = 'stopped') as stops
         from attempts a join attempt_verdicts v on v.attempt_id = a.id
         join respirators r on r.id = a.respirator_id join visits i on i.id = a.visit_id
         where a.site_id = $1 and v.tested_on between $2 and $3 and ($4::uuid is null or i.day_id = $4)
           and not exists (select from attempt_corrections c where c.attempt_id = a.id)
         group by r.id order by 2, 3, 1",
    )
    .bind::<SqlUuid, _>(site_id)
    .bind::<Date, _>(period.from)
    .bind::<Date, _>(period.until)
    .bind::<Nullable<SqlUuid>, _>(period.day_id)
    .load(conn)?)
}

/// The screenings with one lot of screening solution.
#[derive(Debug, Clone, QueryableByName)]
pub struct Screened {
    /// The lot.
    #[diesel(sql_type = SqlUuid)]
    pub lot_id: Uuid,
    /// Its number.
    #[diesel(sql_type = Text)]
    pub lot_number: String,
    /// The word for what was to be tasted.
    #[diesel(sql_type = Text)]
    pub agent: String,
    /// Different people.
    #[diesel(sql_type = BigInt)]
    pub people: i64,
    /// Tasted within ten squeezes.
    #[diesel(sql_type = BigInt)]
    pub level_10: i64,
    /// Within twenty.
    #[diesel(sql_type = BigInt)]
    pub level_20: i64,
    /// Within thirty.
    #[diesel(sql_type = BigInt)]
    pub level_30: i64,
    /// Not tasted.
    #[diesel(sql_type = BigInt)]
    pub not_tasted: i64,
}

/// Levels per lot of screening solution, by number. `zone` says which date a screening was of.
pub fn levels(
    conn: &mut PgConnection,
    site_id: Uuid,
    period: Period,
    zone: &str,
) -> Result<Vec<Screened>, StoreError> {
    Ok(diesel::sql_query(
        "select l.id as lot_id, l.lot_number, s.agent, count(distinct s.person_id) as people,
                count(*) filter (where v.level = 10) as level_10,
                count(*) filter (where v.level = 20) as level_20,
                count(*) filter (where v.level = 30) as level_30,
                count(*) filter (where v.outcome = 'not_tasted') as not_tasted
         from screenings s join screening_verdicts v on v.screening_id = s.id
         join fills f on f.id = s.fill_id join bottles b on b.id = f.bottle_id join lots l on l.id = b.lot_id
         join visits i on i.id = s.visit_id
         where s.site_id = $1 and (v.ended_at at time zone $5)::date between $2 and $3
           and ($4::uuid is null or i.day_id = $4) and v.outcome in ('level', 'not_tasted')
         group by l.id, s.agent order by l.lot_number, l.id",
    )
    .bind::<SqlUuid, _>(site_id)
    .bind::<Date, _>(period.from)
    .bind::<Date, _>(period.until)
    .bind::<Nullable<SqlUuid>, _>(period.day_id)
    .bind::<Text, _>(zone)
    .load(conn)?)
}

/// One half hour of a day.
#[derive(Debug, Clone, QueryableByName)]
pub struct HalfHour {
    /// Its beginning.
    #[diesel(sql_type = Timestamptz)]
    pub from_at: DateTime<Utc>,
    /// People who checked in.
    #[diesel(sql_type = BigInt)]
    pub arrivals: i64,
    /// Attempts that ended, however they did.
    #[diesel(sql_type = BigInt)]
    pub tests: i64,
    /// Those that passed.
    #[diesel(sql_type = BigInt)]
    pub passes: i64,
}

/// The half hours of a day from its first event to its last, empty ones too; two days' worth at most.
pub fn flow(conn: &mut PgConnection, day_id: Uuid) -> Result<Vec<HalfHour>, StoreError> {
    Ok(diesel::sql_query(
        "with events as (
             select date_bin('30 minutes', i.happened_at, 'epoch'::timestamptz) as from_at, 1 as arrival, 0 as test, 0 as pass
               from visits i where i.day_id = $1
             union all
             select date_bin('30 minutes', v.ended_at, 'epoch'::timestamptz), 0, 1, (v.outcome = 'pass')::int
               from visits i join attempts a on a.visit_id = i.id join attempt_verdicts v on v.attempt_id = a.id
              where i.day_id = $1
         ), span as (select min(from_at) as first, max(from_at) as last from events)
         select h as from_at, coalesce(sum(arrival), 0)::bigint as arrivals, coalesce(sum(test), 0)::bigint as tests,
                coalesce(sum(pass), 0)::bigint as passes
         from span, generate_series(first, last, interval '30 minutes') h left join events e on e.from_at = h
         group by h order by h limit 96",
    )
    .bind::<SqlUuid, _>(day_id)
    .load(conn)?)
}
