//! The runs that were made with a nebulizer since it was last seen to spray.

use chrono::{DateTime, Utc};
use diesel::{
    PgConnection, QueryableByName, RunQueryDsl,
    sql_types::{Nullable, Text, Timestamptz, Uuid as SqlUuid},
};
use sellion_rules::{
    equipment::EquipmentKind,
    refusal::{Code, Refusal},
};
use uuid::Uuid;

use super::{Equipment, find};
use crate::StoreError;

/// One run to be looked at again.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
pub struct ReviewedRun {
    /// `screening` or `attempt`.
    #[diesel(sql_type = Text)]
    pub run: String,
    /// Its id.
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    /// Whose.
    #[diesel(sql_type = SqlUuid)]
    pub person_id: Uuid,
    /// Where.
    #[diesel(sql_type = SqlUuid)]
    pub station_id: Uuid,
    /// How it ended, as its word; none while it runs.
    #[diesel(sql_type = Nullable<Text>)]
    pub outcome: Option<String>,
    /// When it was opened.
    #[diesel(sql_type = Timestamptz)]
    pub happened_at: DateTime<Utc>,
}

/// The runs of a nebulizer since its last good check.
#[derive(Debug, Clone)]
pub struct Review {
    /// The nebulizer.
    pub nebulizer: Equipment,
    /// When it was last seen to spray, if ever: by a check, or at the end of an attempt.
    pub sprayed_at: Option<DateTime<Utc>>,
    /// Every screening on its fills that ended since, and every attempt with a dose since, in order.
    pub runs: Vec<ReviewedRun>,
}

#[derive(QueryableByName)]
struct Moment {
    #[diesel(sql_type = Nullable<Timestamptz>)]
    at: Option<DateTime<Utc>>,
}

/// The runs made with a nebulizer up to `at` since it was last seen to spray.
pub fn review(
    conn: &mut PgConnection,
    site_id: Uuid,
    id: Uuid,
    at: DateTime<Utc>,
) -> Result<Review, StoreError> {
    let nebulizer = find(conn, site_id, id)?;
    if nebulizer.kind()? != EquipmentKind::Nebulizer {
        let sentence = "Only a nebulizer is reviewed by when it last sprayed.";
        return Err(Refusal::new(Code::InvalidValue, sentence).field("equipment_id").into());
    }
    // The newest finding that is no good check ends the time that is asked about: a nebulizer which was mended since
    // sprays again, and that says nothing about the time before.
    let trouble: Moment = diesel::sql_query(
        "select max(happened_at) as at from equipment_checks
         where (equipment_id = $1 or other_equipment_id = $1) and finding in ('clogged', 'mixed_up')
           and happened_at <= $2",
    )
    .bind::<SqlUuid, _>(id)
    .bind::<Timestamptz, _>(at)
    .get_result(conn)?;
    let until = trouble.at.unwrap_or(at);
    let sprayed: Moment = diesel::sql_query(
        "select max(happened_at) as at from (
           select happened_at from equipment_checks
             where equipment_id = $1 and finding = 'sprays' and happened_at < $2
           union all
           select e.happened_at from fills f join attempts a on a.fill_id = f.id
             join attempt_events e on e.attempt_id = a.id
             where f.site_id = $3 and f.nebulizer = $4 and e.happened_at < $2
               and e.event->>'kind' = 'nebulizer_checked' and (e.event->>'clear')::boolean) good",
    )
    .bind::<SqlUuid, _>(id)
    .bind::<Timestamptz, _>(until)
    .bind::<SqlUuid, _>(site_id)
    .bind::<Text, _>(&nebulizer.label)
    .get_result(conn)?;
    let runs = diesel::sql_query(
        "select 'screening' as run, s.id, s.person_id, s.station_id, v.outcome, s.happened_at
           from fills f join screenings s on s.fill_id = f.id
           left join screening_verdicts v on v.screening_id = s.id
           where f.site_id = $1 and f.nebulizer = $2 and s.happened_at <= $3
             and coalesce(v.ended_at > $4, true)
         union all
         select 'attempt', a.id, a.person_id, a.station_id, v.outcome, a.happened_at
           from fills f join attempts a on a.fill_id = f.id
           left join attempt_verdicts v on v.attempt_id = a.id
           where f.site_id = $1 and f.nebulizer = $2 and a.happened_at <= $3
             and exists (select from attempt_events e where e.attempt_id = a.id
               and e.event->>'kind' = 'dose_given' and e.happened_at > $4)
         order by happened_at, id",
    )
    .bind::<SqlUuid, _>(site_id)
    .bind::<Text, _>(&nebulizer.label)
    .bind::<Timestamptz, _>(until)
    .bind::<Timestamptz, _>(sprayed.at.unwrap_or(DateTime::<Utc>::UNIX_EPOCH))
    .load(conn)?;
    Ok(Review { nebulizer, sprayed_at: sprayed.at, runs })
}
