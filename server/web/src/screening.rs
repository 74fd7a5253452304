//! Screenings.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    ladder::NextStep,
    roles::op,
    screening::{ScreeningEvent, ScreeningVerdict},
    sequence::NotStored,
    supplies::Agent,
};
use sellion_store::{
    StoreError,
    screening::{self, NewScreening as NewRow, ScreeningRun},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::happened,
    problem::{Problem, ProblemBody},
};

/// One screening as far as its events tell.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ScreeningView {
    id: Uuid,
    visit_id: Uuid,
    person_id: Uuid,
    station_id: Uuid,
    agent: Agent,
    /// The fill of screening solution it uses.
    fill_id: Uuid,
    /// The hood, where it was named.
    #[serde(skip_serializing_if = "Option::is_none")]
    hood_id: Option<Uuid>,
    rule_set_name: String,
    rule_set_version: String,
    happened_at: DateTime<Utc>,
    state: ScreeningStateView,
    /// The events accepted so far.
    events: Vec<ScreeningEvent>,
    /// What comes next for the person.
    next_step: NextStep,
    /// Events of the batch just sent that were not stored, because one before them in it ended the screening; absent
    /// when there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    not_stored: Vec<NotStored>,
}

/// Where a screening is.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ScreeningStateView {
    /// The number of the next event.
    #[schema(example = 2)]
    next_seq: u32,
    /// Sets of squeezes done so far.
    #[schema(example = 0)]
    sets_done: u8,
    /// How it ended; absent while it is open.
    #[serde(skip_serializing_if = "Option::is_none")]
    verdict: Option<ScreeningVerdict>,
}

impl TryFrom<ScreeningRun> for ScreeningView {
    type Error = StoreError;

    fn try_from(run: ScreeningRun) -> Result<Self, StoreError> {
        let ScreeningRun { screening, state, next_step, not_stored } = run;
        Ok(Self {
            id: screening.id,
            visit_id: screening.visit_id,
            person_id: screening.person_id,
            station_id: screening.station_id,
            agent: screening.agent()?,
            fill_id: screening.fill_id,
            hood_id: screening.hood_id,
            rule_set_name: screening.rule_set_name,
            rule_set_version: screening.rule_set_version,
            happened_at: screening.happened_at,
            state: ScreeningStateView {
                next_seq: state.next_seq(),
                sets_done: state.sets_done(),
                verdict: state.verdict(),
            },
            events: state.events().to_vec(),
            next_step,
            not_stored,
        })
    }
}

/// A screening to be opened.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewScreening {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    visit_id: Uuid,
    /// The station that called the person.
    station_id: Uuid,
    agent: Agent,
    /// The hood, so that it is wiped between people and found again in a look-back.
    hood_id: Option<Uuid>,
    /// Whether the station was out of reach of the server and tells of it afterwards. It has to have called the person,
    /// and what other stations did since its call does not stand in the way. It is then kept also where its bottle, its
    /// lot or its nebulizer was stopped meanwhile; the stop holds what stands on it.
    #[serde(default)]
    afterwards: bool,
    #[schema(example = "2026-03-10T08:20:00Z")]
    happened_at: DateTime<Utc>,
}

/// Events of a screening, in order.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "events": [
    { "seq": 1, "happened_at": "2026-03-10T08:20:30Z", "kind": "explained" },
    { "seq": 2, "happened_at": "2026-03-10T08:21:40Z", "kind": "set_done", "tasted": true, "squeezes": 7 }
] }))]
pub(crate) struct NewScreeningEvents {
    /// Numbered from 1 without gaps. What was stored before may be sent again.
    events: Vec<ScreeningEvent>,
}

/// Opens a taste screening of a person whom this station has called.
#[utoipa::path(tag = "screenings", responses(
    (status = 201, body = ScreeningView),
    (status = 404, description = "No such visit or station here.", body = ProblemBody),
    (status = 409, description = "The id belongs to another screening.", body = ProblemBody),
    (status = 422, description = "The person, the ladder, the station or its fill does not allow a screening now.", body = ProblemBody)
))]
#[post("/api/v1/screenings")]
pub(crate) async fn create_screening(
    caller: Caller<op::CreateScreening>,
    body: Json<NewScreening>,
) -> Result<HttpResponse, Problem> {
    let NewScreening { id, visit_id, station_id, agent, hood_id, afterwards, happened_at } =
        body.into_inner();
    let happened_at = happened(happened_at, caller.now)?;
    let new = NewRow { id, visit_id, station_id, agent, hood_id, afterwards, happened_at };
    let run = caller.write(move |tx| screening::create(tx, &new)).await?;
    Ok(HttpResponse::Created().json(ScreeningView::try_from(run)?))
}

/// One screening with its events.
#[utoipa::path(tag = "screenings", responses(
    (status = 200, body = ScreeningView),
    (status = 404, description = "No such screening here.", body = ProblemBody)
))]
#[get("/api/v1/screenings/{screening_id}")]
pub(crate) async fn read_screening(
    caller: Caller<op::ReadScreening>,
    screening_id: Path<Uuid>,
) -> Result<Json<ScreeningView>, Problem> {
    let (site_id, id, now) = (caller.site_id(), *screening_id, caller.now);
    let run = caller.read_store(move |conn| screening::read(conn, site_id, id, now)).await?;
    Ok(Json(run.try_into()?))
}

/// Adds events to a screening, all of them or none, and answers with where it stands then.
///
/// An event that is stored already is accepted when it is the same. A gap is refused with the number expected, and
/// every refusal names the event in `seq`. What follows an event that ended the screening in the same batch is not
/// stored but named in `not_stored`.
#[utoipa::path(tag = "screenings", responses(
    (status = 200, body = ScreeningView),
    (status = 404, description = "No such screening here.", body = ProblemBody),
    (status = 409, description = "An event is missing before, or another one has this number.", body = ProblemBody),
    (status = 422, description = "The event does not fit where the screening stands.", body = ProblemBody)
))]
#[post("/api/v1/screenings/{screening_id}/events")]
pub(crate) async fn append_screening_events(
    caller: Caller<op::AppendScreeningEvents>,
    screening_id: Path<Uuid>,
    body: Json<NewScreeningEvents>,
) -> Result<Json<ScreeningView>, Problem> {
    let (id, mut events) = (*screening_id, body.into_inner().events);
    for event in &mut events {
        event.happened_at =
            happened(event.happened_at, caller.now).map_err(|refusal| refusal.fact("seq", event.seq))?;
    }
    let run = caller.write(move |tx| screening::append_events(tx, id, &events)).await?;
    Ok(Json(run.try_into()?))
}
