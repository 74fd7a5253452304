//! Look-backs: who stands on what is in doubt, in three honest lists.

mod export;
mod query;
mod retest;
mod wire;

use actix_web::{
    HttpResponse, get,
    web::{Json, Query},
};
use sellion_rules::roles::op;
use sellion_store::{
    look_back::{PersonFound, details, look_back, stations_used},
    policy,
};

use crate::{
    auth::Caller,
    page::PageQuery,
    problem::{Problem, ProblemBody},
};
use wire::{CountsView, LookBackView, StationCounts};

pub(crate) use query::{ListQuery, SubjectQuery};

/// Who stands on what is asked about: surely, possibly or not, by person id. Not affected are those who were tested at
/// the stations where it was in use, or may have been; everybody else never met it.
#[utoipa::path(tag = "look_backs", params(SubjectQuery, ListQuery, PageQuery), responses(
    (status = 200, body = LookBackView),
    (status = 404, description = "No such thing here.", body = ProblemBody),
    (status = 422, description = "Not exactly one thing is named, or the times make no span.", body = ProblemBody)
))]
#[get("/api/v1/look_backs")]
pub(crate) async fn read_look_back(
    caller: Caller<op::ReadLookBack>,
    subject: Query<SubjectQuery>,
    list: Query<ListQuery>,
    page: Query<PageQuery>,
) -> Result<Json<LookBackView>, Problem> {
    let (site_id, now, window) = (caller.site_id(), caller.now, page.window()?);
    let (asked, certainty) = (subject.asked()?, list.certainty);
    let view = caller
        .read_store(move |conn| {
            let found = look_back(conn, site_id, asked)?;
            let totals = found.all_totals();
            let wanted = |person: &PersonFound| {
                person.person_id > window.after && certainty.is_none_or(|list| person.certainty == list)
            };
            let (_, limit) = window.fetch();
            let limit = usize::try_from(limit).unwrap_or(usize::MAX);
            let page = found.people.into_iter().filter(wanted).take(limit).collect();
            let people = details(conn, site_id, asked, page, now)?;
            let retests = retest::shortest(&people, &policy::accepting(conn, site_id, now)?);
            Ok(LookBackView::new(totals, people, retests, window))
        })
        .await?;
    Ok(Json(view))
}

/// The same as a table with one line for each run (RFC 4180), for those who work with it outside the program. Without
/// birth dates.
#[utoipa::path(tag = "look_backs", params(SubjectQuery), responses(
    (status = 200, body = String, content_type = "text/csv"),
    (status = 404, description = "No such thing here.", body = ProblemBody),
    (status = 422, description = "Not exactly one thing is named, or the times make no span.", body = ProblemBody)
))]
#[get("/api/v1/look_backs/export")]
pub(crate) async fn read_look_back_export(
    caller: Caller<op::ReadLookBackExport>,
    subject: Query<SubjectQuery>,
) -> Result<HttpResponse, Problem> {
    let (site_id, now, asked) = (caller.site_id(), caller.now, subject.asked()?);
    let table = caller.read_store(move |conn| export::table(conn, site_id, asked, now)).await?;
    Ok(HttpResponse::Ok()
        .content_type("text/csv; charset=utf-8; header=present")
        .insert_header(("content-disposition", "attachment; filename=\"look_back.csv\""))
        .body(table))
}

/// How many stand on what is asked about, and where: no person and no result.
#[utoipa::path(tag = "look_backs", params(SubjectQuery), responses(
    (status = 200, body = CountsView),
    (status = 404, description = "No such thing here.", body = ProblemBody),
    (status = 422, description = "Not exactly one thing is named, or the times make no span.", body = ProblemBody)
))]
#[get("/api/v1/look_backs/counts")]
pub(crate) async fn read_look_back_counts(
    caller: Caller<op::ReadLookBackCounts>,
    subject: Query<SubjectQuery>,
) -> Result<Json<CountsView>, Problem> {
    let (site_id, asked) = (caller.site_id(), subject.asked()?);
    let (totals, stations) = caller
        .read_store(move |conn| {
            let found = look_back(conn, site_id, asked)?;
            Ok((found.all_totals(), stations_used(conn, site_id, &found)?))
        })
        .await?;
    let stations = stations.into_iter().map(StationCounts::from).collect();
    Ok(Json(CountsView::new(totals, stations)))
}
