//! Alarms of a day, read from the facts that they follow from, and who took each one on.

use chrono::{DateTime, Utc};
use diesel::{
    PgConnection, QueryableByName, RunQueryDsl,
    prelude::*,
    sql_types::{Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid},
};
use sellion_rules::{
    alarm::AlarmKind,
    refusal::{Code, Refusal},
};
use uuid::Uuid;

use crate::{StoreError, Tx, day, insert_once, on_constraint, schema::alarm_acknowledgements, stored::word};

/// One alarm.
#[derive(Debug, Clone, QueryableByName)]
pub struct Alarm {
    /// The word for what it is about.
    #[diesel(sql_type = Text)]
    pub kind: String,
    /// The row that it follows from.
    #[diesel(sql_type = SqlUuid)]
    pub subject: Uuid,
    /// When it happened.
    #[diesel(sql_type = Timestamptz)]
    pub happened_at: DateTime<Utc>,
    /// Where, of what happened at a station.
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub station_id: Option<Uuid>,
    /// The name of the station.
    #[diesel(sql_type = Nullable<Text>)]
    pub station: Option<String>,
    /// Whose visit.
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub visit_id: Option<Uuid>,
    /// The number that the person was given.
    #[diesel(sql_type = Nullable<Integer>)]
    pub ticket: Option<i32>,
    /// The lot that is stopped.
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub lot_id: Option<Uuid>,
    /// The nebulizer that is out.
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub equipment_id: Option<Uuid>,
    /// What is written on the thing, or its name.
    #[diesel(sql_type = Nullable<Text>)]
    pub what: Option<String>,
    /// Why, where somebody gave a reason.
    #[diesel(sql_type = Nullable<Text>)]
    pub reason: Option<String>,
    /// When somebody took it on.
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub taken_at: Option<DateTime<Utc>>,
    /// Who, by the name that is shown.
    #[diesel(sql_type = Nullable<Text>)]
    pub taken_by: Option<String>,
}

impl Alarm {
    /// What it is about.
    pub fn kind(&self) -> Result<AlarmKind, StoreError> {
        word(&self.kind)
    }
}

/// What is found on a nebulizer belongs to the day from three hours before its opening to three hours after its end:
/// nebulizers are looked at while a day is set up and while it is cleared away (common practice, no source).
const ALARMS: &str = "\
with found as (
    select 'unwell' as kind, s.id as subject, v.ended_at as happened_at, s.station_id, s.visit_id, i.ticket,
           null::uuid as lot_id, null::uuid as equipment_id, null::text as what, null::text as reason
      from visits i join screenings s on s.visit_id = i.id join screening_verdicts v on v.screening_id = s.id
     where i.day_id = $2 and v.outcome = 'stopped'
    union all
    select 'unwell', a.id, v.ended_at, a.station_id, a.visit_id, i.ticket, null, null, null, null
      from visits i join attempts a on a.visit_id = i.id join attempt_verdicts v on v.attempt_id = a.id
     where i.day_id = $2 and v.outcome = 'stopped'
    union all
    select 'lot_stopped', m.id, m.happened_at, null, null, null, m.lot_id, null, l.lot_number, m.reason
      from (select distinct on (lot_id) * from lot_marks where site_id = $1
            order by lot_id, recorded_at desc, id desc) m join lots l on l.id = m.lot_id
     where m.mark = 'stop'
    union all
    select 'stopped', s.id, s.happened_at, s.station_id, null, null, null, s.equipment_id,
           coalesce(b.label, f.nebulizer, q.label, u.display_name), s.reason
      from stops s left join bottles b on b.id = s.bottle_id left join fills f on f.id = s.fill_id
      left join equipment q on q.id = s.equipment_id left join users u on u.id = s.tester_id
     where s.site_id = $1 and not exists (select from stop_releases r where r.stop_id = s.id)
    union all
    select 'nebulizer_out', c.id, c.happened_at, null, null, null, null, c.equipment_id, q.label, null
      from days d join equipment_checks c on c.site_id = d.site_id
      join equipment q on q.id = c.equipment_id and q.kind = 'nebulizer'
     where d.id = $2 and c.finding in ('clogged', 'mixed_up')
       and c.happened_at between d.opens_at - interval '3 hours' and d.closes_at + interval '3 hours'
)
select found.*, t.name as station, k.happened_at as taken_at, u.display_name as taken_by
  from found left join stations t on t.id = found.station_id
  left join alarm_acknowledgements k on k.site_id = $1 and k.kind = found.kind and k.subject = found.subject
  left join users u on u.id = k.recorded_by
 order by found.happened_at, found.subject";

/// The alarms of a day, and those that hold for the whole site, oldest first; those that are taken on too.
pub fn of_day(conn: &mut PgConnection, site_id: Uuid, day_id: Uuid) -> Result<Vec<Alarm>, StoreError> {
    day::find(conn, site_id, day_id)?;
    Ok(diesel::sql_query(ALARMS).bind::<SqlUuid, _>(site_id).bind::<SqlUuid, _>(day_id).load(conn)?)
}

/// Somebody takes an alarm on.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = alarm_acknowledgements, check_for_backend(diesel::pg::Pg))]
pub struct NewAcknowledgement {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The day on whose board it stood.
    pub day_id: Uuid,
    /// The word for what the alarm is about.
    pub kind: String,
    /// The row that it follows from.
    pub subject: Uuid,
    /// When.
    pub happened_at: DateTime<Utc>,
}

/// Takes an alarm on, in the name of whoever is signed in. It was nobody's before: the first one has it.
pub fn acknowledge(tx: &mut Tx<'_>, new: &NewAcknowledgement) -> Result<Alarm, StoreError> {
    let (now, by) = (tx.now, tx.actor.id);
    find(tx.conn, new)?;
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(alarm_acknowledgements::table)
                .values((
                    new,
                    alarm_acknowledgements::recorded_at.eq(now),
                    alarm_acknowledgements::recorded_by.eq(by),
                ))
                .on_conflict(alarm_acknowledgements::id)
                .do_nothing();
            on_constraint(made.execute(conn), "alarm_acknowledgements_taken_already", || {
                let sentence = "Somebody has taken this alarm on already: read the board again to see who.";
                Refusal::new(Code::AlreadyExists, sentence).field("subject_id")
            })
        },
        |conn| {
            let stored = alarm_acknowledgements::table
                .find(new.id)
                .filter(alarm_acknowledgements::site_id.eq(new.site_id));
            stored.select(NewAcknowledgement::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("alarm_acknowledgements", new.id);
    }
    find(tx.conn, new)
}

fn find(conn: &mut PgConnection, new: &NewAcknowledgement) -> Result<Alarm, StoreError> {
    let alarms = of_day(conn, new.site_id, new.day_id)?;
    let mut named = alarms.into_iter().filter(|alarm| alarm.kind == new.kind && alarm.subject == new.subject);
    named.next().ok_or_else(|| StoreError::not_found("alarm"))
}
