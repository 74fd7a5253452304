//! The queue of a day, and calling the next person out of it.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    day::{Hold, VisitStep, VisitVerdict, verdict},
    ladder::NextStep,
    roles::op,
};
use sellion_store::{
    StoreError,
    call::{self, Call, NewCall as NewRow, Waiting},
    ladder,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::happened,
    problem::{Problem, ProblemBody},
    visit::{VisitView, with_standing},
};

/// Everybody who waits or is at a station.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct QueueView {
    /// In the order in which they will be called.
    items: Vec<QueueEntry>,
}

/// One place in the queue.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct QueueEntry {
    visit_id: Uuid,
    /// The number the person was given.
    #[schema(example = 41)]
    ticket: i32,
    person_id: Uuid,
    #[schema(example = "Ines")]
    given_name: String,
    #[schema(example = "Valdrun")]
    family_name: String,
    #[schema(example = "0047192")]
    staff_number: String,
    /// What they wait for, or are at.
    step: VisitStep,
    verdict: VisitVerdict,
    hold_reasons: Vec<Hold>,
    /// When they checked in.
    checked_in_at: DateTime<Utc>,
    /// From when on they may be called; they wait since then.
    ready_at: DateTime<Utc>,
    /// The station that called them.
    #[serde(skip_serializing_if = "Option::is_none")]
    held_by_station_id: Option<Uuid>,
}

impl QueueEntry {
    fn of(waiting: Waiting, now: DateTime<Utc>) -> Result<Self, StoreError> {
        let Waiting { visit, person, standing } = waiting;
        Ok(Self {
            step: visit.step()?,
            verdict: verdict(&standing.holds, visit.ready_at, now),
            visit_id: visit.id,
            ticket: visit.ticket,
            person_id: visit.person_id,
            given_name: person.given_name,
            family_name: person.family_name,
            staff_number: person.staff_number,
            hold_reasons: standing.holds,
            checked_in_at: visit.happened_at,
            ready_at: visit.ready_at,
            held_by_station_id: visit.held_by_station_id,
        })
    }
}

/// A station asks for the next person.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewCall {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    /// For what: `screening`, `testing` or `measuring`.
    #[schema(example = "screening")]
    step: VisitStep,
    #[schema(example = "2026-03-10T08:40:00Z")]
    happened_at: DateTime<Utc>,
}

/// Who was called.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct CallView {
    id: Uuid,
    station_id: Uuid,
    step: VisitStep,
    visit: VisitView,
    /// What to do with them now.
    next_step: NextStep,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

/// Who waits for what, since when, and who is at which station.
#[utoipa::path(tag = "calls", responses(
    (status = 200, body = QueueView), (status = 404, description = "No such day here.", body = ProblemBody)
))]
#[get("/api/v1/days/{day_id}/queue")]
pub(crate) async fn read_queue(
    caller: Caller<op::ReadQueue>,
    day_id: Path<Uuid>,
) -> Result<Json<QueueView>, Problem> {
    let (site_id, day_id, now) = (caller.site_id(), *day_id, caller.now);
    let items = caller
        .read_store(move |conn| {
            let waiting = call::queue(conn, site_id, day_id)?;
            waiting.into_iter().map(|waiting| QueueEntry::of(waiting, now)).collect()
        })
        .await?;
    Ok(Json(QueueView { items }))
}

/// Calls the next person who is ready at `happened_at`; nobody is ever called by two stations at once.
///
/// `nobody_ready` tells `next_ready_at` when somebody will be.
#[utoipa::path(tag = "calls", responses(
    (status = 201, body = CallView),
    (status = 404, description = "No such station here.", body = ProblemBody),
    (status = 409, description = "The id belongs to another call.", body = ProblemBody),
    (status = 422, description = "Nobody is ready, the station has somebody already or is not set up for this, \
                                 or the day is closed.", body = ProblemBody)
))]
#[post("/api/v1/stations/{station_id}/calls")]
pub(crate) async fn create_call(
    caller: Caller<op::CreateCall>,
    station_id: Path<Uuid>,
    body: Json<NewCall>,
) -> Result<HttpResponse, Problem> {
    let NewCall { id, step, happened_at } = body.into_inner();
    let at = happened(happened_at, caller.now)?;
    let new = NewRow { id, station_id: *station_id, step, happened_at: at };
    let (call, found, next_step) = caller
        .write(move |tx| {
            let (call, visit) = call::create(tx, &new)?;
            let next = ladder::next_of(tx.conn, visit.site_id, visit.id, at)?;
            Ok((call, with_standing(tx.conn, visit)?, next))
        })
        .await?;
    let Call { id, station_id, happened_at, recorded_at, .. } = call;
    let visit = VisitView::of(found, at)?;
    Ok(HttpResponse::Created().json(CallView {
        id,
        station_id,
        step,
        visit,
        next_step,
        happened_at,
        recorded_at,
    }))
}
