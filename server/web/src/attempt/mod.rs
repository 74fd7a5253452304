//! Attempts: opening them, their events, their correction, and reading them.

mod wire;

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path, Query},
};
use sellion_rules::roles::op;
use sellion_store::attempt::{self, Correction, Filter, NewAttempt as NewRow};

use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::happened,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    words::{LONG, SHORT, line, line_or_none},
};
pub(crate) use wire::AttemptView;
use wire::{AttemptItem, AttemptQuery, NewAttempt, NewAttemptCorrection, NewAttemptEvents};

/// Opens an attempt, on the newest screening of the visit or with an instrument that measures, and answers with its plan.
#[utoipa::path(tag = "attempts", responses(
    (status = 201, body = AttemptView),
    (status = 404, description = "No such visit, station, respirator or screening here.", body = ProblemBody),
    (status = 409, description = "The id belongs to another attempt.", body = ProblemBody),
    (status = 422, description = "The person, the respirator, the ladder, the station or its fill does not allow an attempt now.", body = ProblemBody)
))]
#[post("/api/v1/attempts")]
pub(crate) async fn create_attempt(
    caller: Caller<op::CreateAttempt>,
    body: Json<NewAttempt>,
) -> Result<HttpResponse, Problem> {
    let body = body.into_inner();
    let (basis, facepiece) = (body.basis()?, body.facepiece(caller.now)?);
    let NewAttempt { id, visit_id, station_id, respirator_id, negative_pressure_mode, .. } = body;
    let fitted_filter = line_or_none(body.fitted_filter.as_deref(), "fitted_filter", SHORT)?;
    let happened_at = happened(body.happened_at, caller.now)?;
    let new = NewRow {
        id,
        visit_id,
        station_id,
        respirator_id,
        basis,
        hood_id: body.hood_id,
        facepiece,
        afterwards: body.afterwards,
        fitted_filter,
        negative_pressure_mode,
        happened_at,
    };
    let run = caller.write(move |tx| attempt::create(tx, &new)).await?;
    Ok(HttpResponse::Created().json(AttemptView::try_from(run)?))
}

/// One attempt with its plan, its events, where it stands, and its verdict.
#[utoipa::path(tag = "attempts", responses(
    (status = 200, body = AttemptView),
    (status = 404, description = "No such attempt here.", body = ProblemBody)
))]
#[get("/api/v1/attempts/{attempt_id}")]
pub(crate) async fn read_attempt(
    caller: Caller<op::ReadAttempt>,
    attempt_id: Path<Uuid>,
) -> Result<Json<AttemptView>, Problem> {
    let (site_id, id, now) = (caller.site_id(), *attempt_id, caller.now);
    let run = caller.read_store(move |conn| attempt::read(conn, site_id, id, now)).await?;
    Ok(Json(run.try_into()?))
}

/// Attempts by id, of one person or one day where told.
#[utoipa::path(tag = "attempts", params(AttemptQuery, PageQuery), responses(
    (status = 200, body = Page<AttemptItem>)
))]
#[get("/api/v1/attempts")]
pub(crate) async fn list_attempts(
    caller: Caller<op::ListAttempts>,
    query: Query<AttemptQuery>,
    page: Query<PageQuery>,
) -> Result<Json<Page<AttemptItem>>, Problem> {
    let (site_id, window) = (caller.site_id(), page.window()?);
    let filter = Filter { person_id: query.person_id, day_id: query.day_id };
    let rows = caller
        .read_store(move |conn| {
            let found = attempt::list(conn, site_id, filter, window.fetch())?;
            found.into_iter().map(AttemptItem::try_from).collect::<Result<Vec<_>, _>>()
        })
        .await?;
    Ok(Json(Page::of(rows, window, |item| item.id, |item| item)))
}

/// Adds events to an attempt, all of them or none, and answers with where it stands then.
///
/// An event that is stored already is accepted when it is the same. A gap is refused with the number expected, and
/// every refusal names the event in `seq`. The event that ends the attempt settles the verdict: nobody sends one. What
/// follows it in the same batch is not stored but named in `not_stored`; only one signature may follow.
#[utoipa::path(tag = "attempts", responses(
    (status = 200, body = AttemptView),
    (status = 404, description = "No such attempt here.", body = ProblemBody),
    (status = 409, description = "An event is missing before, or another one has this number.", body = ProblemBody),
    (status = 422, description = "The event does not fit where the attempt stands.", body = ProblemBody)
))]
#[post("/api/v1/attempts/{attempt_id}/events")]
pub(crate) async fn append_attempt_events(
    caller: Caller<op::AppendAttemptEvents>,
    attempt_id: Path<Uuid>,
    body: Json<NewAttemptEvents>,
) -> Result<Json<AttemptView>, Problem> {
    let (id, mut events) = (*attempt_id, body.into_inner().events);
    for event in &mut events {
        event.happened_at =
            happened(event.happened_at, caller.now).map_err(|refusal| refusal.fact("seq", event.seq))?;
    }
    let run = caller.write(move |tx| attempt::append_events(tx, id, &events)).await?;
    Ok(Json(run.try_into()?))
}

/// Takes an ended attempt out of every later judgement. It stays readable, and nothing makes it a pass.
#[utoipa::path(tag = "attempts", responses(
    (status = 201, body = AttemptView),
    (status = 404, description = "No such attempt here.", body = ProblemBody),
    (status = 409, description = "It was corrected before, or the id belongs to another correction.", body = ProblemBody),
    (status = 422, description = "The attempt is still open, or the reason is missing.", body = ProblemBody)
))]
#[post("/api/v1/attempts/{attempt_id}/corrections")]
pub(crate) async fn create_attempt_correction(
    caller: Caller<op::CreateAttemptCorrection>,
    attempt_id: Path<Uuid>,
    body: Json<NewAttemptCorrection>,
) -> Result<HttpResponse, Problem> {
    let NewAttemptCorrection { id, reason, happened_at } = body.into_inner();
    let new = Correction {
        id,
        site_id: caller.site_id(),
        attempt_id: *attempt_id,
        reason: line(&reason, "reason", LONG)?,
        happened_at: happened(happened_at, caller.now)?,
    };
    let run = caller.write(move |tx| attempt::create_correction(tx, &new)).await?;
    Ok(HttpResponse::Created().json(AttemptView::try_from(run)?))
}
