//! What a screening and an attempt have in common: a person called to a station that can do it, and a usable fill.

use chrono::{DateTime, Utc};
use sellion_rules::{
    day::{Hold, StationPart, VisitStep},
    ladder::feels_well,
    refusal::{Code, Refusal},
    sequence::{NotStored, Sequenced},
    supplies::{Agent, Solution},
};
use uuid::Uuid;

use crate::{
    StoreError, Tx, call, day,
    fill::{self, Fill},
    ladder::{self, OnLadder},
    station::{self, Station},
    stop::{self, Used},
};

/// The station, if it belongs to the visit's day and can do this part.
pub(crate) fn station(
    tx: &mut Tx<'_>,
    station_id: Uuid,
    person: &OnLadder,
    part: StationPart,
) -> Result<Station, StoreError> {
    let station = station::find(tx.conn, tx.site_id(), station_id)?;
    if station.day_id != person.visit.day_id {
        let detail = "This station belongs to another day than the visit.";
        return Err(Refusal::new(Code::InvalidValue, detail).field("station_id").into());
    }
    station.must(part)?;
    Ok(station)
}

impl OnLadder {
    /// Whether the person can be screened or tested at this station at `at`, whatever the ladder says.
    pub(crate) fn may_run(&self, station: &Station, at: DateTime<Utc>) -> Result<(), Refusal> {
        day::refuse_closed(&self.day, at)?;
        if at < self.visit.happened_at {
            let refusal = Refusal::new(Code::InvalidValue, "This lies before the person was checked in.");
            return Err(refusal.field("happened_at").fact("checked_in_at", self.visit.happened_at));
        }
        if self.left_on.is_some_and(|last_day| last_day < self.facts.on) {
            let detail = "This person no longer belongs to the site: check the roster.";
            return Err(Refusal::new(Code::VisitNotOpen, detail).fact("hold", Hold::PersonLeft.as_str()));
        }
        feels_well(self.feels_well)?;
        // Somebody who has just passed may go on with another model at once; everybody else is called from the queue.
        let (visit, passed) = (&self.visit, VisitStep::Done.as_str());
        if visit.held_by_station_id == Some(station.id) || visit.step == passed {
            return Ok(());
        }
        let refusal =
            Refusal::new(Code::VisitNotOpen, "This person is not at your station: call them first.");
        Err(refusal.field("visit_id").fact("step", visit.step.as_str()))
    }
}

/// The word for what was done out of reach of the server.
pub(crate) const AFTERWARDS: &str = "afterwards";

/// The person as a station out of reach knew them: at that station since its call, and without what others did since.
///
/// What stands in the way of a new run by now does not stand in the way of telling of one that was done. Only a station
/// that had called the person can tell so; two attempts that overlap then hold each other until somebody decides.
pub(crate) fn as_known_out_of_reach(
    tx: &mut Tx<'_>,
    mut person: OnLadder,
    station: &Station,
    at: DateTime<Utc>,
) -> Result<OnLadder, StoreError> {
    let Some(called_at) = call::called_at(tx.conn, station.id, person.visit.id, at)? else {
        let refusal = Refusal::new(Code::VisitNotOpen, "This station had not called the person by then.");
        return Err(refusal.field("visit_id").fact("step", person.visit.step.as_str()).into());
    };
    let own = ladder::runs_at(tx.conn, person.visit.id, station.id)?;
    let known = |id: Uuid, started_at: DateTime<Utc>| started_at < called_at || own.contains(&id);
    person.facts.screenings.retain(|screening| known(screening.id, screening.started_at));
    person.facts.attempts.retain(|attempt| known(attempt.id, attempt.started_at));
    person.visit.held_by_station_id = Some(station.id);
    Ok(person)
}

/// The station's fill of this agent and solution, if it may be used at `at`. Where the station was not `in_reach`, no
/// stop is a reason: it has happened, and the stop holds what comes of it.
pub(crate) fn usable_fill(
    tx: &mut Tx<'_>,
    station: &Station,
    person: &OnLadder,
    liquid: (Agent, Solution),
    (at, in_reach): (DateTime<Utc>, bool),
) -> Result<Uuid, StoreError> {
    let site_id = tx.site_id();
    let fill = fill::current(tx.conn, site_id, station.id, liquid, (at, in_reach), &person.rules)?;
    if in_reach {
        refuse_stopped_fill(tx, &fill, at)?;
    }
    Ok(fill.id)
}

/// Refuses a fill that is stopped, or whose bottle or nebulizer is.
pub(crate) fn refuse_stopped_fill(tx: &mut Tx<'_>, fill: &Fill, at: DateTime<Utc>) -> Result<(), StoreError> {
    let site_id = tx.site_id();
    for used in [Used::Bottle(fill.bottle_id), Used::Fill(fill.id), Used::Nebulizer(&fill.nebulizer)] {
        stop::refuse_stopped(tx.conn, site_id, used, at)?;
    }
    Ok(())
}

/// Events of a run lie after its opening; the machine only knows their order among themselves.
pub(crate) fn after_opening<E: Sequenced>(opened_at: DateTime<Utc>, events: &[E]) -> Result<(), Refusal> {
    match events.first() {
        Some(first) if first.happened_at() < opened_at => {
            let detail = "The event lies before the run was opened: check the clock of the station.";
            let refusal = Refusal::new(Code::EventBeforePrevious, detail);
            Err(refusal.field("happened_at").fact("previous_at", opened_at).fact("seq", first.seq()))
        }
        _ => Ok(()),
    }
}

/// Takes a batch of events in order: all of them, or all up to the one that ended the run, or none.
///
/// `apply` takes one event and tells the number of the one that has ended the run, if one has. What follows an end in
/// the same batch was sent by a station that could not know of it, so it is named instead of costing the end itself.
/// Every other refusal refuses the whole batch and names the event.
pub(crate) fn take_batch<E: Sequenced>(
    events: &[E],
    mut apply: impl FnMut(&E) -> Result<Option<u32>, StoreError>,
) -> Result<Vec<NotStored>, StoreError> {
    let mut ended_by = None;
    for (index, event) in events.iter().enumerate() {
        let refusal = match apply(event) {
            Ok(end) => {
                ended_by = end;
                continue;
            }
            Err(StoreError::Refused(refusal)) => refusal,
            Err(other) => return Err(other),
        };
        let (before, rest) = events.split_at(index);
        let after_end = matches!(refusal.code, Code::AttemptEnded | Code::ScreeningEnded);
        if after_end && before.iter().any(|event| Some(event.seq()) == ended_by) {
            let Refusal { code, detail, .. } = refusal;
            let named = |event: &E| NotStored { seq: event.seq(), code, detail: detail.clone() };
            return Ok(rest.iter().map(named).collect());
        }
        return Err(refusal.fact("seq", event.seq()).into());
    }
    Ok(Vec::new())
}
