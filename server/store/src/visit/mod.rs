//! Visits: one person's way through one day, from check-in to a pass or a referral.

mod answers;
mod hold;
mod next;

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    dates::local_date,
    day::{Hold, VisitStep, ready_at},
    refusal::{Code, Refusal},
};
use uuid::Uuid;

pub use answers::{
    Answers, NewAnswers, newest as newest_answers, newest_by as newest_answers_by, record as record_answers,
};
pub use hold::{Standing, of as standings};
pub use next::{NewReturn, give_back, set_next};
pub(crate) use next::{place, refuse_open_run};

use crate::{
    StoreError, Tx, day, insert_once, on_constraint,
    schema::{people, visits},
    site,
    station::{self, Measuring},
    stored::word,
};

/// One person's way through one day.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = visits, check_for_backend(diesel::pg::Pg))]
pub struct Visit {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The day.
    pub day_id: Uuid,
    /// The person.
    pub person_id: Uuid,
    /// The number the person was given, from 1.
    pub ticket: i32,
    /// Whether they came without being expected.
    pub walk_in: bool,
    /// When they checked in.
    pub happened_at: DateTime<Utc>,
    /// When the server learned of it.
    pub recorded_at: DateTime<Utc>,
    /// Where it stands, as its word.
    pub step: String,
    /// The end of the wait after a fail, a change of agent, or a return.
    pub not_before: DateTime<Utc>,
    /// When the person may be called.
    pub ready_at: DateTime<Utc>,
    /// The station that called them.
    pub held_by_station_id: Option<Uuid>,
}

impl Visit {
    /// Where it stands.
    pub fn step(&self) -> Result<VisitStep, StoreError> {
        word(&self.step)
    }

    /// Refuses a visit that has ended.
    pub fn refuse_ended(&self) -> Result<(), StoreError> {
        if self.step()?.part().is_some() {
            return Ok(());
        }
        let sentence = "This visit has ended: the person has passed or was referred.";
        Err(Refusal::new(Code::VisitNotOpen, sentence).fact("step", self.step.as_str()).into())
    }
}

/// A check-in.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = visits, check_for_backend(diesel::pg::Pg))]
pub struct NewVisit {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The day.
    pub day_id: Uuid,
    /// The person.
    pub person_id: Uuid,
    /// Whether they came without being expected.
    pub walk_in: bool,
    /// When they checked in.
    pub happened_at: DateTime<Utc>,
}

/// Which visits are listed.
#[derive(Debug, Clone, Copy, Default)]
pub struct VisitFilter {
    /// Those of this day only.
    pub day_id: Option<Uuid>,
    /// Those of this person only.
    pub person_id: Option<Uuid>,
    /// Those at this step only.
    pub step: Option<VisitStep>,
}

/// A visit of the site.
pub fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<Visit, StoreError> {
    let found = visits::table.find(id).filter(visits::site_id.eq(site_id)).select(Visit::as_select());
    found.first(conn).optional()?.ok_or_else(|| StoreError::not_found("visit"))
}

/// A visit of the site, locked so that its step changes by one caller after another.
pub fn lock(tx: &mut Tx<'_>, id: Uuid) -> Result<Visit, StoreError> {
    let found = visits::table.find(id).filter(visits::site_id.eq(tx.site_id())).select(Visit::as_select());
    found.for_no_key_update().first(tx.conn).optional()?.ok_or_else(|| StoreError::not_found("visit"))
}

/// Visits of the site, by id.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    filter: VisitFilter,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Visit>, StoreError> {
    let mut found = visits::table
        .filter(visits::site_id.eq(site_id))
        .filter(visits::id.gt(after))
        .order(visits::id)
        .limit(limit)
        .select(Visit::as_select())
        .into_boxed();
    if let Some(day_id) = filter.day_id {
        found = found.filter(visits::day_id.eq(day_id));
    }
    if let Some(person_id) = filter.person_id {
        found = found.filter(visits::person_id.eq(person_id));
    }
    if let Some(step) = filter.step {
        found = found.filter(visits::step.eq(step.as_str()));
    }
    Ok(found.load(conn)?)
}

/// Checks a person in: the next ticket of the day, and a place in the queue even when something holds them back.
pub fn create(tx: &mut Tx<'_>, new: &NewVisit, first: &NewAnswers) -> Result<Visit, StoreError> {
    let day = day::lock(tx, new.day_id)?;
    let left_on = left_on(tx.conn, new.site_id, new.person_id)?;
    let rules = day::rules(tx.conn, &day)?;
    let first_step = match station::measuring(tx.conn, day.id, &rules)? {
        Measuring::Everybody => VisitStep::Measuring,
        Measuring::Nobody | Measuring::Referred => VisitStep::Screening,
    };
    let (now, by) = (tx.now, tx.actor.id);
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let ticket = next_ticket(conn, new.day_id)?;
            let made = diesel::insert_into(visits::table)
                .values((
                    new,
                    visits::ticket.eq(ticket),
                    visits::step.eq(first_step.as_str()),
                    visits::not_before.eq(new.happened_at),
                    visits::ready_at.eq(ready_at(new.happened_at, first.last_intake_at, &rules)),
                    visits::recorded_at.eq(now),
                    visits::recorded_by.eq(by),
                ))
                .on_conflict(visits::id)
                .do_nothing();
            on_constraint(made.execute(conn), "visits_checked_in_already", || {
                let sentence = "This person is checked in already: find their visit in the queue.";
                Refusal::new(Code::AlreadyExists, sentence).field("person_id")
            })
        },
        |conn| {
            let stored = visits::table.find(new.id).filter(visits::site_id.eq(new.site_id));
            stored.select(NewVisit::as_select()).first(conn).optional()
        },
    )?;
    // Only a new check-in is judged: a repeat has to find its row whatever happened since.
    if added.is_new() {
        day::refuse_closed(&day, new.happened_at)?;
        day::refuse_elsewhen(&day, new.happened_at)?;
        let today = local_date(new.happened_at, site::zone(tx.conn, new.site_id)?);
        if left_on.is_some_and(|last_day| last_day < today) {
            let sentence = "This person has left: ask the coordinator whether the list is right.";
            return Err(Refusal::new(Code::InvalidValue, sentence)
                .field("person_id")
                .fact("hold", Hold::PersonLeft.as_str())
                .into());
        }
        tx.touched("visits", new.id);
    }
    answers::insert(tx, first)?;
    find(tx.conn, new.site_id, new.id)
}

fn left_on(
    conn: &mut PgConnection,
    site_id: Uuid,
    person_id: Uuid,
) -> Result<Option<chrono::NaiveDate>, StoreError> {
    let person = people::table.find(person_id).filter(people::site_id.eq(site_id));
    let found = person.select(people::left_on).first(conn).optional()?;
    found.ok_or_else(|| StoreError::not_found("person"))
}

/// Tickets have no gaps because the day is locked while one is given out.
fn next_ticket(conn: &mut PgConnection, day_id: Uuid) -> Result<i32, StoreError> {
    let of_day = visits::table.filter(visits::day_id.eq(day_id));
    let last: Option<i32> = of_day.select(diesel::dsl::max(visits::ticket)).first(conn)?;
    Ok(last.unwrap_or(0) + 1)
}
