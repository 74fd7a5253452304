//! Who is ready on a day and needs a badge.

use actix_web::{
    get,
    web::{Json, Path, Query},
};
use chrono::NaiveDate;
use sellion_rules::{
    badge::{BadgeNeed, LeftOut},
    roles::op,
};
use sellion_store::badge_due::{self, Due, DueRespirator};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
};

/// A respirator that would stand on the badge.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DueRespiratorView {
    respirator_id: Uuid,
    #[schema(example = "Orlevane 31 fold")]
    name: String,
    #[schema(example = "medium")]
    size: String,
    /// The last day covered.
    due_on: NaiveDate,
}

impl From<DueRespirator> for DueRespiratorView {
    fn from(DueRespirator { respirator_id, name, size, due_on }: DueRespirator) -> Self {
        Self { respirator_id, name, size, due_on }
    }
}

/// Somebody whose visit has ended, who is cleared, and whose badge does not say so.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BadgeDueView {
    visit_id: Uuid,
    /// The number that the person was given at check-in.
    #[schema(example = 14)]
    ticket: i32,
    person_id: Uuid,
    /// The name as it would be printed.
    #[schema(example = "Ines Valdrun")]
    name: String,
    #[schema(example = "004217")]
    staff_number: String,
    #[schema(example = "Heron ward")]
    unit: String,
    need: BadgeNeed,
    /// What would stand on the badge.
    respirators: Vec<DueRespiratorView>,
    /// The badge they have, which the new one will replace.
    #[serde(skip_serializing_if = "Option::is_none")]
    badge_id: Option<Uuid>,
    /// Why none can be made just now: what to do first.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "Their badge is under review: release that hold first, or end the badge.")]
    held_back: Option<&'static str>,
    /// The batch in which theirs is being made.
    #[serde(skip_serializing_if = "Option::is_none")]
    badge_batch_id: Option<Uuid>,
}

impl From<Due> for BadgeDueView {
    fn from(due: Due) -> Self {
        Self {
            visit_id: due.visit_id,
            ticket: due.ticket,
            person_id: due.person_id,
            name: due.name,
            staff_number: due.staff_number,
            unit: due.unit,
            need: due.need,
            respirators: due.respirators.into_iter().map(DueRespiratorView::from).collect(),
            badge_id: due.badge_id,
            held_back: due.under_review.then(|| LeftOut::UnderReview.instruction()),
            badge_batch_id: due.batch_id,
        }
    }
}

/// Who is ready on a day and has no badge that says what holds now, in the order in which they came.
#[utoipa::path(tag = "badges", params(("day_id" = Uuid, Path), PageQuery), responses(
    (status = 200, body = Page<BadgeDueView>), (status = 404, body = ProblemBody)
))]
#[get("/api/v1/days/{day_id}/badges_due")]
pub(crate) async fn list_badges_due(
    caller: Caller<op::ListBadgesDue>,
    day_id: Path<Uuid>,
    page: Query<PageQuery>,
) -> Result<Json<Page<BadgeDueView>>, Problem> {
    let (site_id, day_id, now, window) = (caller.site_id(), *day_id, caller.now, page.window()?);
    let due = caller.read_store(move |conn| badge_due::of_day(conn, (site_id, day_id), now)).await?;
    let rows = due.into_iter().filter(|due| due.visit_id > window.after).collect();
    Ok(Json(Page::of(rows, window, |due| due.visit_id, BadgeDueView::from)))
}
