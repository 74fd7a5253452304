//! Visits: check-in, the answers given there, and going back into the queue.

mod wire;

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path, Query},
};
use sellion_rules::{
    day::{RETURN_WAIT_SECONDS, VisitStep},
    refusal::{Code, Refusal},
    roles::op,
};
use sellion_store::{
    PgConnection, StoreError,
    visit::{self, Standing, Visit, VisitFilter},
};
use serde::Deserialize;
use utoipa::IntoParams;
use uuid::Uuid;

pub(crate) use wire::VisitView;
use wire::{NewVisit, NewVisitAnswers, NewVisitReturn, may_see_answers};

use crate::{
    auth::Caller,
    extract::happened,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
};

/// The longest wait that somebody who did not come can be given.
const RETURN_WAIT_SECONDS_MAX: u32 = 12 * 3600;

/// Which visits.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct VisitQuery {
    /// Those of this day only.
    day_id: Option<Uuid>,
    /// Those of this person only.
    person_id: Option<Uuid>,
    /// Those at this step only.
    #[param(inline)]
    step: Option<VisitStep>,
}

/// Checks a person in.
///
/// They get the next number of the day and keep their place even when something holds them back: `verdict` says
/// whether they may be called now, later, or not until `hold_reasons` are settled.
#[utoipa::path(tag = "visits", responses(
    (status = 201, body = VisitView),
    (status = 404, description = "No such day or person here.", body = ProblemBody),
    (status = 409, description = "The person is checked in already, or the id is another visit's.", body = ProblemBody),
    (status = 422, description = "The day is closed, or the person has left.", body = ProblemBody)
))]
#[post("/api/v1/visits")]
pub(crate) async fn create_visit(
    caller: Caller<op::CreateVisit>,
    body: Json<NewVisit>,
) -> Result<HttpResponse, Problem> {
    let body = body.into_inner();
    let at = happened(body.happened_at, caller.now)?;
    let (new, answers) = body.rows(caller.site_id(), at)?;
    let made = caller
        .write(move |tx| {
            let visit = visit::create(tx, &new, &answers)?;
            with_standing(tx.conn, visit)
        })
        .await?;
    Ok(HttpResponse::Created().json(VisitView::of(made, at)?))
}

/// Visits, by id. Answers are shown with a single visit only.
#[utoipa::path(tag = "visits", params(VisitQuery, PageQuery), responses((status = 200, body = Page<VisitView>)))]
#[get("/api/v1/visits")]
pub(crate) async fn list_visits(
    caller: Caller<op::ListVisits>,
    filter: Query<VisitQuery>,
    page: Query<PageQuery>,
) -> Result<Json<Page<VisitView>>, Problem> {
    let (site_id, window, now) = (caller.site_id(), page.window()?, caller.now);
    let VisitQuery { day_id, person_id, step } = filter.into_inner();
    let filter = VisitFilter { day_id, person_id, step };
    let entitled = may_see_answers(caller.sign_in());
    let rows = caller
        .read_store(move |conn| {
            let visits = visit::list(conn, site_id, filter, window.fetch())?;
            let mut standings = visit::standings(conn, site_id, &visits)?;
            let view = |visit: Visit| {
                let standing = standings.remove(&visit.id).ok_or_else(lost)?;
                Ok(VisitView::of((visit, standing), now)?.brief(entitled))
            };
            visits.into_iter().map(view).collect::<Result<Vec<_>, StoreError>>()
        })
        .await?;
    Ok(Json(Page::of(rows, window, |view| view.id, |view| view)))
}

/// One visit with its newest answers.
#[utoipa::path(tag = "visits", responses(
    (status = 200, body = VisitView), (status = 404, description = "No such visit here.", body = ProblemBody)
))]
#[get("/api/v1/visits/{visit_id}")]
pub(crate) async fn read_visit(
    caller: Caller<op::ReadVisit>,
    visit_id: Path<Uuid>,
) -> Result<Json<VisitView>, Problem> {
    let (site_id, id) = (caller.site_id(), *visit_id);
    let found = caller
        .read_store(move |conn| {
            let visit = visit::find(conn, site_id, id)?;
            with_standing(conn, visit)
        })
        .await?;
    let view = VisitView::of(found, caller.now)?;
    Ok(Json(if may_see_answers(caller.sign_in()) { view } else { view.brief(false) }))
}

/// Records newer answers; the newest ones decide.
#[utoipa::path(tag = "visits", responses(
    (status = 201, body = VisitView),
    (status = 404, description = "No such visit here.", body = ProblemBody),
    (status = 409, description = "The id belongs to other answers.", body = ProblemBody),
    (status = 422, description = "The visit has ended.", body = ProblemBody)
))]
#[post("/api/v1/visits/{visit_id}/answers")]
pub(crate) async fn create_visit_answers(
    caller: Caller<op::CreateVisitAnswers>,
    visit_id: Path<Uuid>,
    body: Json<NewVisitAnswers>,
) -> Result<HttpResponse, Problem> {
    let body = body.into_inner();
    let at = happened(body.happened_at, caller.now)?;
    let new = body.row(caller.site_id(), *visit_id, at)?;
    let made = caller
        .write(move |tx| {
            let visit = visit::record_answers(tx, &new)?;
            with_standing(tx.conn, visit)
        })
        .await?;
    Ok(HttpResponse::Created().json(VisitView::of(made, at)?))
}

/// Sends a called person back into the queue.
#[utoipa::path(tag = "visits", responses(
    (status = 201, body = VisitView),
    (status = 404, description = "No such visit here.", body = ProblemBody),
    (status = 409, description = "The id belongs to another return.", body = ProblemBody),
    (status = 422, description = "No station holds the person, or a run is still open.", body = ProblemBody)
))]
#[post("/api/v1/visits/{visit_id}/returns")]
pub(crate) async fn create_visit_return(
    caller: Caller<op::CreateVisitReturn>,
    visit_id: Path<Uuid>,
    body: Json<NewVisitReturn>,
) -> Result<HttpResponse, Problem> {
    let NewVisitReturn { id, reason, wait_seconds, happened_at } = body.into_inner();
    let at = happened(happened_at, caller.now)?;
    let wait_seconds = wait_seconds.unwrap_or(RETURN_WAIT_SECONDS);
    if wait_seconds > RETURN_WAIT_SECONDS_MAX {
        let sentence = "Nobody is sent back for longer than twelve hours.";
        return Err(Refusal::new(Code::InvalidValue, sentence).field("wait_seconds").into());
    }
    let new = visit::NewReturn {
        id,
        visit_id: *visit_id,
        reason: reason.as_str().to_owned(),
        wait_seconds: i32::try_from(wait_seconds).unwrap_or(i32::MAX),
        happened_at: at,
    };
    let made = caller
        .write(move |tx| {
            let visit = visit::give_back(tx, &new)?;
            with_standing(tx.conn, visit)
        })
        .await?;
    Ok(HttpResponse::Created().json(VisitView::of(made, at)?))
}

/// A visit together with what holds it back.
pub(crate) fn with_standing(conn: &mut PgConnection, visit: Visit) -> Result<(Visit, Standing), StoreError> {
    let standing = visit::standings(conn, visit.site_id, std::slice::from_ref(&visit))?.remove(&visit.id);
    Ok((visit, standing.ok_or_else(lost)?))
}

fn lost() -> StoreError {
    StoreError::internal("a visit has no standing")
}
