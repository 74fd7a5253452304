//! Calls: a station asks for the next person, and the queue they come from.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    day::VisitStep,
    refusal::{Code, Refusal},
};
use uuid::Uuid;

use crate::{
    StoreError, Tx, day,
    insert::id_reused,
    on_constraint,
    schema::{calls, people, visits},
    station,
    visit::{self, Standing, Visit},
};

/// How many people of the queue are looked at together when the next one is searched.
const LOOK_AHEAD: i64 = 100;

/// One call of one person to one station.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = calls, check_for_backend(diesel::pg::Pg))]
pub struct Call {
    /// Its id.
    pub id: Uuid,
    /// The station.
    pub station_id: Uuid,
    /// Who was called.
    pub visit_id: Uuid,
    /// For what, as its word.
    pub step: String,
    /// When the station asked.
    pub happened_at: DateTime<Utc>,
    /// When the server learned of it.
    pub recorded_at: DateTime<Utc>,
}

/// A station asks for the next person.
#[derive(Debug, Clone, Copy)]
pub struct NewCall {
    /// Its id.
    pub id: Uuid,
    /// The station.
    pub station_id: Uuid,
    /// For what: screening or testing.
    pub step: VisitStep,
    /// When it asks.
    pub happened_at: DateTime<Utc>,
}

/// The name and number by which a person is told from others.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = people, check_for_backend(diesel::pg::Pg))]
pub struct Named {
    /// The given name.
    pub given_name: String,
    /// The family name.
    pub family_name: String,
    /// The number, as text.
    pub staff_number: String,
}

/// One place in the queue.
#[derive(Debug, Clone)]
pub struct Waiting {
    /// The visit.
    pub visit: Visit,
    /// Who it is.
    pub person: Named,
    /// What holds them back.
    pub standing: Standing,
}

/// Everybody of the day who waits or is at a station, in the order in which they will be called.
pub fn queue(conn: &mut PgConnection, site_id: Uuid, day_id: Uuid) -> Result<Vec<Waiting>, StoreError> {
    day::find(conn, site_id, day_id)?;
    let rows: Vec<(Visit, Named)> = visits::table
        .inner_join(people::table)
        .filter(visits::site_id.eq(site_id))
        .filter(visits::day_id.eq(day_id))
        .filter(
            visits::step
                .eq_any(VisitStep::ALL.iter().filter(|step| step.part().is_some()).map(|step| step.as_str())),
        )
        .order((visits::ready_at, visits::ticket))
        .select((Visit::as_select(), Named::as_select()))
        .load(conn)?;
    let found: Vec<Visit> = rows.iter().map(|(visit, _)| visit.clone()).collect();
    let mut standings = visit::standings(conn, site_id, &found)?;
    let waiting = |(visit, person): (Visit, Named)| {
        let standing = standings.remove(&visit.id)?;
        Some(Waiting { visit, person, standing })
    };
    Ok(rows.into_iter().filter_map(waiting).collect())
}

/// Calls the next person who is ready. Two stations that ask in the same instant get two different people.
pub fn create(tx: &mut Tx<'_>, new: &NewCall) -> Result<(Call, Visit), StoreError> {
    let station = station::lock(tx, new.station_id)?;
    if let Some(before) = stored(tx, new.id)? {
        let same = before.station_id == new.station_id
            && before.step == new.step.as_str()
            && before.happened_at == new.happened_at;
        let visit = visit::find(tx.conn, tx.site_id(), before.visit_id)?;
        return if same { Ok((before, visit)) } else { Err(id_reused()) };
    }
    match new.step.part() {
        Some(part) => station.must(part)?,
        None => {
            let sentence = "A station calls people for screening or for testing.";
            return Err(Refusal::new(Code::InvalidValue, sentence).field("step").into());
        }
    }
    day::refuse_closed(&day::find(tx.conn, tx.site_id(), station.day_id)?, new.happened_at)?;
    station.refuse_closed(new.happened_at)?;
    refuse_in_use(tx, station.id)?;
    let visit_id = take_next(tx, station.day_id, new)?;
    let held = diesel::update(visits::table.find(visit_id))
        .set(visits::held_by_station_id.eq(station.id))
        .execute(tx.conn);
    on_constraint(held, "visits_station_in_use", in_use)?;
    append(tx, new, visit_id)?;
    tx.touched("visits", visit_id);
    let call = stored(tx, new.id)?.ok_or_else(|| StoreError::internal("a call was not stored"))?;
    Ok((call, visit::find(tx.conn, tx.site_id(), visit_id)?))
}

fn stored(tx: &mut Tx<'_>, id: Uuid) -> Result<Option<Call>, StoreError> {
    let found = calls::table.find(id).filter(calls::site_id.eq(tx.site_id()));
    Ok(found.select(Call::as_select()).first(tx.conn).optional()?)
}

/// When this station called the visit last, at `at` or before.
pub(crate) fn called_at(
    conn: &mut PgConnection,
    station_id: Uuid,
    visit_id: Uuid,
    at: DateTime<Utc>,
) -> Result<Option<DateTime<Utc>>, StoreError> {
    Ok(calls::table
        .filter(calls::station_id.eq(station_id))
        .filter(calls::visit_id.eq(visit_id))
        .filter(calls::happened_at.le(at))
        .select(diesel::dsl::max(calls::happened_at))
        .first(conn)?)
}

fn append(tx: &mut Tx<'_>, new: &NewCall, visit_id: Uuid) -> Result<(), StoreError> {
    let made = diesel::insert_into(calls::table)
        .values((
            calls::id.eq(new.id),
            calls::site_id.eq(tx.site_id()),
            calls::station_id.eq(new.station_id),
            calls::visit_id.eq(visit_id),
            calls::step.eq(new.step.as_str()),
            calls::happened_at.eq(new.happened_at),
            calls::recorded_at.eq(tx.now),
            calls::recorded_by.eq(tx.actor.id),
        ))
        .on_conflict(calls::id)
        .do_nothing()
        .execute(tx.conn)?;
    if made == 0 {
        return Err(id_reused());
    }
    tx.touched("calls", new.id);
    Ok(())
}

/// One person at a station at a time.
fn refuse_in_use(tx: &mut Tx<'_>, station_id: Uuid) -> Result<(), StoreError> {
    let held: Option<(Uuid, i32)> = visits::table
        .filter(visits::held_by_station_id.eq(station_id))
        .filter(visits::site_id.eq(tx.site_id()))
        .select((visits::id, visits::ticket))
        .first(tx.conn)
        .optional()?;
    match held {
        Some((visit_id, ticket)) => {
            Err(in_use().fact("visit_id", visit_id.to_string()).fact("ticket", ticket).into())
        }
        None => Ok(()),
    }
}

fn in_use() -> Refusal {
    let sentence = "This station has somebody already: finish with them, or send them back into the queue.";
    Refusal::new(Code::StillInUse, sentence)
}

/// The next visit that may be called, locked for this transaction.
fn take_next(tx: &mut Tx<'_>, day_id: Uuid, new: &NewCall) -> Result<Uuid, StoreError> {
    let mut after = (EARLIEST, 0);
    loop {
        let candidates = waiting(tx, day_id, new, after)?;
        let Some(last) = candidates.last() else { break };
        after = (last.ready_at, last.ticket);
        let standings = visit::standings(tx.conn, tx.site_id(), &candidates)?;
        let free: Vec<Uuid> = candidates
            .iter()
            .map(|visit| visit.id)
            .filter(|id| standings.get(id).is_some_and(|standing| standing.holds.is_empty()))
            .collect();
        if let Some(id) = lock_first(tx, &free, new)? {
            return Ok(id);
        }
    }
    let refusal = Refusal::new(Code::NobodyReady, "Nobody is ready for this just now: ask again later.");
    Err(match next_ready_at(tx, day_id, new)? {
        Some(ready_at) => refusal.fact("next_ready_at", ready_at).into(),
        None => refusal.into(),
    })
}

/// Before every check-in that can be.
const EARLIEST: DateTime<Utc> = DateTime::UNIX_EPOCH;

/// The people who are due at `happened_at` and at no station, after a place in the queue.
fn waiting(
    tx: &mut Tx<'_>,
    day_id: Uuid,
    new: &NewCall,
    (ready_at, ticket): (DateTime<Utc>, i32),
) -> Result<Vec<Visit>, StoreError> {
    let behind =
        visits::ready_at.gt(ready_at).or(visits::ready_at.eq(ready_at).and(visits::ticket.gt(ticket)));
    Ok(visits::table
        .filter(visits::site_id.eq(tx.site_id()))
        .filter(visits::day_id.eq(day_id))
        .filter(visits::step.eq(new.step.as_str()))
        .filter(visits::held_by_station_id.is_null())
        .filter(visits::ready_at.le(new.happened_at))
        .filter(behind)
        .order((visits::ready_at, visits::ticket))
        .limit(LOOK_AHEAD)
        .select(Visit::as_select())
        .load(tx.conn)?)
}

/// The first of them whom no other station is taking in this instant. Rows that others hold are passed over instead
/// of waited for, and rows that changed since they were found no longer match.
fn lock_first(tx: &mut Tx<'_>, ids: &[Uuid], new: &NewCall) -> Result<Option<Uuid>, StoreError> {
    Ok(visits::table
        .filter(visits::id.eq_any(ids))
        .filter(visits::step.eq(new.step.as_str()))
        .filter(visits::held_by_station_id.is_null())
        .filter(visits::ready_at.le(new.happened_at))
        .order((visits::ready_at, visits::ticket))
        .limit(1)
        .select(visits::id)
        .for_no_key_update()
        .skip_locked()
        .first(tx.conn)
        .optional()?)
}

/// When the next person will be ready whom nothing else holds back.
fn next_ready_at(tx: &mut Tx<'_>, day_id: Uuid, new: &NewCall) -> Result<Option<DateTime<Utc>>, StoreError> {
    let later: Vec<Visit> = visits::table
        .filter(visits::site_id.eq(tx.site_id()))
        .filter(visits::day_id.eq(day_id))
        .filter(visits::step.eq(new.step.as_str()))
        .filter(visits::held_by_station_id.is_null())
        .filter(visits::ready_at.gt(new.happened_at))
        .order((visits::ready_at, visits::ticket))
        .limit(LOOK_AHEAD)
        .select(Visit::as_select())
        .load(tx.conn)?;
    let standings = visit::standings(tx.conn, tx.site_id(), &later)?;
    let mut free = later
        .iter()
        .filter(|visit| standings.get(&visit.id).is_some_and(|standing| standing.holds.is_empty()));
    Ok(free.next().map(|visit| visit.ready_at))
}
