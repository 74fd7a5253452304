//! What was sprayed from every fill by the squeezes that screenings and attempts tell, and what was left of it.

use chrono::{DateTime, Utc};
use diesel::{
    PgConnection, QueryableByName, RunQueryDsl,
    sql_types::{BigInt, Nullable, Text, Timestamptz, Uuid as SqlUuid},
};
use uuid::Uuid;

use crate::StoreError;

/// One fill of a registered nebulizer.
#[derive(Debug, Clone, QueryableByName)]
pub struct UsedFill {
    /// The nebulizer.
    #[diesel(sql_type = SqlUuid)]
    pub equipment_id: Uuid,
    /// What is written on it.
    #[diesel(sql_type = Text)]
    pub label: String,
    /// The fill.
    #[diesel(sql_type = SqlUuid)]
    pub fill_id: Uuid,
    /// When it was made.
    #[diesel(sql_type = Timestamptz)]
    pub filled_at: DateTime<Utc>,
    /// What was filled, in microlitres.
    #[diesel(sql_type = BigInt)]
    pub filled_ul: i64,
    /// Squeezes given from it, in screenings and in attempts however they ended.
    #[diesel(sql_type = BigInt)]
    pub squeezes: i64,
    /// What was left when it was emptied, in microlitres; none where nobody measured, or it is not emptied yet.
    #[diesel(sql_type = Nullable<BigInt>)]
    pub rest_ul: Option<i64>,
}

/// The squeezes of each fill: those of its screenings, and every dose of its attempts.
const SQUEEZES: &str = "\
coalesce((select sum(v.squeezes) from screenings s join screening_verdicts v on v.screening_id = s.id
          where s.fill_id = f.id), 0) +
coalesce((select sum((e.event->>'squeezes')::bigint) from attempts a
          join attempt_events e on e.attempt_id = a.id and e.event->>'kind' = 'dose_given'
          where a.fill_id = f.id), 0)";

/// The fills of nebulizers that were made in a time, by nebulizer and moment. One that was topped up takes no part: what
/// is left of it says nothing about either.
pub fn fills(
    conn: &mut PgConnection,
    site_id: Uuid,
    (from, until): (DateTime<Utc>, DateTime<Utc>),
) -> Result<Vec<UsedFill>, StoreError> {
    let sql = format!(
        "select q.id as equipment_id, q.label, f.id as fill_id, f.happened_at as filled_at,
                f.volume_ul as filled_ul, ({SQUEEZES})::bigint as squeezes, e.discarded_ul as rest_ul
         from fills f join equipment q on q.site_id = f.site_id and q.kind = 'nebulizer' and q.label = f.nebulizer
         left join fill_emptyings e on e.fill_id = f.id
         where f.site_id = $1 and f.happened_at >= $2 and f.happened_at < $3 and f.topped_up_fill_id is null
           and not exists (select from fills t where t.topped_up_fill_id = f.id)
         order by q.label, f.happened_at, f.id"
    );
    Ok(diesel::sql_query(sql)
        .bind::<SqlUuid, _>(site_id)
        .bind::<Timestamptz, _>(from)
        .bind::<Timestamptz, _>(until)
        .load(conn)?)
}

/// The newest count of a bottle in a time, and what the books said then.
#[derive(Debug, Clone, QueryableByName)]
pub struct Counted {
    /// The bottle.
    #[diesel(sql_type = SqlUuid)]
    pub bottle_id: Uuid,
    /// What was found, in microlitres.
    #[diesel(sql_type = BigInt)]
    pub counted_ul: i64,
    /// By how much it disagreed.
    #[diesel(sql_type = BigInt)]
    pub difference_ul: i64,
}

/// The newest count of each bottle that was counted in a time.
pub fn counts(
    conn: &mut PgConnection,
    site_id: Uuid,
    (from, until): (DateTime<Utc>, DateTime<Utc>),
) -> Result<Vec<Counted>, StoreError> {
    Ok(diesel::sql_query(
        "select distinct on (bottle_id) bottle_id, counted_ul, difference_ul from bottle_ledger
         where bottle_id = any (array(select bottle_id from bottle_movements
             where site_id = $1 and movement = 'count' and happened_at >= $2 and happened_at < $3))
           and counted_ul is not null and happened_at >= $2 and happened_at < $3
         order by bottle_id, happened_at desc, recorded_at desc, id desc",
    )
    .bind::<SqlUuid, _>(site_id)
    .bind::<Timestamptz, _>(from)
    .bind::<Timestamptz, _>(until)
    .load(conn)?)
}

/// What a nebulizer of a station holds now.
#[derive(Debug, Clone, QueryableByName)]
pub struct HeldFill {
    /// The station.
    #[diesel(sql_type = SqlUuid)]
    pub station_id: Uuid,
    /// The fill.
    #[diesel(sql_type = SqlUuid)]
    pub fill_id: Uuid,
    /// What was filled, in microlitres.
    #[diesel(sql_type = BigInt)]
    pub filled_ul: i64,
    /// Squeezes given from it.
    #[diesel(sql_type = BigInt)]
    pub squeezes: i64,
}

/// The fills of a day that are in their nebulizers still.
pub fn held(conn: &mut PgConnection, day_id: Uuid) -> Result<Vec<HeldFill>, StoreError> {
    let sql = format!(
        "select f.station_id, f.id as fill_id, f.volume_ul as filled_ul, ({SQUEEZES})::bigint as squeezes
         from stations t join fills f on f.station_id = t.id
         where t.day_id = $1 and fill_is_in_nebulizer(f.id) order by f.happened_at, f.id"
    );
    Ok(diesel::sql_query(sql).bind::<SqlUuid, _>(day_id).load(conn)?)
}

/// How many runs a station has ended so far.
#[derive(Debug, Clone, QueryableByName)]
pub struct Pace {
    /// The station.
    #[diesel(sql_type = SqlUuid)]
    pub station_id: Uuid,
    /// Screenings that ended.
    #[diesel(sql_type = BigInt)]
    pub screenings: i64,
    /// Attempts that ended.
    #[diesel(sql_type = BigInt)]
    pub attempts: i64,
    /// When its first run began; none before it.
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub since: Option<DateTime<Utc>>,
}

/// How quick each station of a day was so far.
pub fn pace(conn: &mut PgConnection, day_id: Uuid) -> Result<Vec<Pace>, StoreError> {
    Ok(diesel::sql_query(
        "select t.id as station_id,
           (select count(*) from screenings s join screening_verdicts v on v.screening_id = s.id
             where s.station_id = t.id) as screenings,
           (select count(*) from attempts a join attempt_verdicts v on v.attempt_id = a.id
             where a.station_id = t.id) as attempts,
           least((select min(happened_at) from screenings where station_id = t.id),
                 (select min(happened_at) from attempts where station_id = t.id)) as since
         from stations t where t.day_id = $1 order by t.id",
    )
    .bind::<SqlUuid, _>(day_id)
    .load(conn)?)
}

#[derive(QueryableByName)]
struct Count {
    #[diesel(sql_type = BigInt)]
    count: i64,
}

/// How many people of a day have not come to their end yet.
pub fn still_to_come(conn: &mut PgConnection, day_id: Uuid) -> Result<i64, StoreError> {
    let found: Count = diesel::sql_query(
        "select count(*) as count from visits where day_id = $1 and step in ('screening', 'testing')",
    )
    .bind::<SqlUuid, _>(day_id)
    .get_result(conn)?;
    Ok(found.count)
}

/// Facepieces of one respirator.
#[derive(Debug, Clone, QueryableByName)]
pub struct Facepieces {
    /// The respirator.
    #[diesel(sql_type = SqlUuid)]
    pub respirator_id: Uuid,
    /// Its name with its size.
    #[diesel(sql_type = Text)]
    pub name: String,
    /// How many are on hand, of lots that are neither stopped nor out of date.
    #[diesel(sql_type = BigInt)]
    pub on_hand: i64,
    /// Attempts with it so far: each took one.
    #[diesel(sql_type = BigInt)]
    pub used: i64,
}

/// The facepieces of every respirator that is handed out here.
pub fn facepieces(
    conn: &mut PgConnection,
    site_id: Uuid,
    today: chrono::NaiveDate,
) -> Result<Vec<Facepieces>, StoreError> {
    Ok(diesel::sql_query(
        "select r.id as respirator_id, concat_ws(' ', r.make, r.model, r.style, r.size) as name,
           coalesce((select sum(p.on_hand)::bigint from lots l join lateral (
               select distinct on (place_id) on_hand from piece_ledger where lot_id = l.id
               order by place_id, happened_at desc, recorded_at desc, id desc) p on true
             where l.respirator_id = r.id and coalesce(l.expires_on >= $2, true)
               and coalesce((select mark <> 'stop' from lot_marks where lot_id = l.id
                   order by recorded_at desc, id desc limit 1), true)), 0) as on_hand,
           (select count(*) from attempts a where a.respirator_id = r.id) as used
         from respirators r where r.site_id = $1 and r.retired_at is null order by r.number",
    )
    .bind::<SqlUuid, _>(site_id)
    .bind::<diesel::sql_types::Date, _>(today)
    .load(conn)?)
}
