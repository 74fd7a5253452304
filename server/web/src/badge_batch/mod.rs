//! Batches: the badges of everybody who is ready on a day, asked for with one call, made by and by, printed as often as
//! the paper jams.

mod maker;
mod sheet;

use actix_web::{
    HttpResponse, get, post,
    web::{Data, Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{badge::LeftOut, roles::op};
use sellion_store::badge_batch::{self, Batch, Item, NewBatch, Outcome};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::{
    auth::Caller,
    badge::{BadgeState, printed_serial},
    extract::happened,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    state::State,
};

pub(crate) use maker::{Wake, run};
pub(crate) use sheet::{__path_read_badge_batch_sheet, read_badge_batch_sheet};

/// How far a batch has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum BatchState {
    /// Badges are being made.
    Running,
    /// Everybody in it has a badge or was left out.
    Done,
}

/// A batch in numbers.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BadgeBatchView {
    id: Uuid,
    day_id: Uuid,
    state: BatchState,
    /// How many people are in it.
    #[schema(example = 412)]
    people: i64,
    /// How many badges are made.
    #[schema(example = 409)]
    made: i64,
    /// How many people were left out.
    #[schema(example = 3)]
    left_out: i64,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
    /// Who asked for it.
    recorded_by: Uuid,
    /// When the last badge was made; absent until then.
    #[serde(skip_serializing_if = "Option::is_none")]
    ended_at: Option<DateTime<Utc>>,
}

impl From<Batch> for BadgeBatchView {
    fn from(batch: Batch) -> Self {
        Self {
            id: batch.asked.id,
            day_id: batch.asked.day_id,
            state: if batch.ended_at.is_some() { BatchState::Done } else { BatchState::Running },
            people: batch.people,
            made: batch.made,
            left_out: batch.left_out,
            happened_at: batch.asked.happened_at,
            recorded_at: batch.recorded_at,
            recorded_by: batch.recorded_by,
            ended_at: batch.ended_at,
        }
    }
}

/// A badge that a batch made.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct MadeBadgeView {
    badge_id: Uuid,
    #[schema(example = "7KQ2M-XW9RD")]
    serial: String,
    /// What it is worth now: one that has ended or is held since is not printed any more.
    status: BadgeState,
    /// When it was handed to its person; absent until then.
    #[serde(skip_serializing_if = "Option::is_none")]
    handed_over_at: Option<DateTime<Utc>>,
}

/// Why somebody was left out.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LeftOutView {
    reason: LeftOut,
    /// What to do about it.
    #[schema(example = "Not cleared for anything now: ask the coordinator, and print nothing.")]
    instruction: &'static str,
}

/// One person of a batch: with a badge, left out, or neither yet.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BadgeBatchItemView {
    /// Their number in the batch, from 1: the order of printing.
    #[schema(example = 1)]
    number: i32,
    person_id: Uuid,
    #[schema(example = "Ines Valdrun")]
    name: String,
    #[schema(example = "004217")]
    staff_number: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    badge: Option<MadeBadgeView>,
    #[serde(skip_serializing_if = "Option::is_none")]
    left_out: Option<LeftOutView>,
}

impl BadgeBatchItemView {
    fn new(item: Item, now: DateTime<Utc>) -> Self {
        let Item { seq, person_id, name, staff_number, outcome } = item;
        let (badge, left_out) = match outcome {
            None => (None, None),
            Some(Outcome::LeftOut(reason)) => {
                (None, Some(LeftOutView { reason, instruction: reason.instruction() }))
            }
            Some(Outcome::Made(standing)) => {
                let status = BadgeState::of(&standing, now);
                let (badge_id, serial) = (standing.badge.id, printed_serial(standing.badge.serial));
                let made =
                    MadeBadgeView { badge_id, serial, status, handed_over_at: standing.handed_over_at };
                (Some(made), None)
            }
        };
        Self { number: seq, person_id, name, staff_number, badge, left_out }
    }
}

/// A batch with everybody in it.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BadgeBatchDetailView {
    #[serde(flatten)]
    batch: BadgeBatchView,
    /// Everybody in it, in the order of printing.
    items: Vec<BadgeBatchItemView>,
}

/// A batch to be made.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewBadgeBatch {
    /// Made by the client: a UUIDv7, the same on a repeat.
    #[schema(example = "01930b6e-6f00-7000-8000-0000000000d1")]
    id: Uuid,
    /// When it was asked for.
    happened_at: DateTime<Utc>,
}

/// Makes the badges of everybody who is ready on a day and needs one: up to 600 people, in the order in which they came.
///
/// The server makes them by and by; ask for the batch, or hear of it on the stream. Clearances are asked again at the
/// moment of each badge. A server that stops in the middle goes on when it is back, or another one does. Of two batches
/// asked for at once nobody is in both.
#[utoipa::path(tag = "badges", params(("day_id" = Uuid, Path)), responses(
    (status = 201, body = BadgeBatchView),
    (status = 404, description = "No such day here.", body = ProblemBody),
    (status = 409, description = "The id is another's.", body = ProblemBody),
    (status = 422, description = "Nobody is ready and without a badge.", body = ProblemBody)
))]
#[post("/api/v1/days/{day_id}/badge_batches")]
pub(crate) async fn create_badge_batch(
    caller: Caller<op::CreateBadgeBatch>,
    state: Data<State>,
    day_id: Path<Uuid>,
    body: Json<NewBadgeBatch>,
) -> Result<HttpResponse, Problem> {
    let NewBadgeBatch { id, happened_at } = body.into_inner();
    let new = NewBatch {
        id,
        site_id: caller.site_id(),
        day_id: *day_id,
        happened_at: happened(happened_at, caller.now)?,
    };
    let batch = caller
        .write(move |tx| {
            badge_batch::create(tx, &new)?;
            badge_batch::find(tx.conn, new.site_id, new.id)
        })
        .await?;
    state.batches.now();
    Ok(HttpResponse::Created().json(BadgeBatchView::from(batch)))
}

/// Which batches.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct BadgeBatchQuery {
    /// Only those of this day.
    day_id: Option<Uuid>,
}

/// Batches in numbers.
#[utoipa::path(tag = "badges", params(BadgeBatchQuery, PageQuery), responses((status = 200, body = Page<BadgeBatchView>)))]
#[get("/api/v1/badge_batches")]
pub(crate) async fn list_badge_batches(
    caller: Caller<op::ListBadgeBatches>,
    query: Query<BadgeBatchQuery>,
    page: Query<PageQuery>,
) -> Result<Json<Page<BadgeBatchView>>, Problem> {
    let (site_id, day_id, window) = (caller.site_id(), query.day_id, page.window()?);
    let rows =
        caller.read_store(move |conn| badge_batch::list(conn, site_id, day_id, window.fetch())).await?;
    Ok(Json(Page::of(rows, window, |batch| batch.asked.id, BadgeBatchView::from)))
}

/// One batch: how far it has come, the badges made, and who was left out, why, and what to do about it.
#[utoipa::path(tag = "badges", params(("badge_batch_id" = Uuid, Path)), responses(
    (status = 200, body = BadgeBatchDetailView), (status = 404, body = ProblemBody)
))]
#[get("/api/v1/badge_batches/{badge_batch_id}")]
pub(crate) async fn read_badge_batch(
    caller: Caller<op::ReadBadgeBatch>,
    badge_batch_id: Path<Uuid>,
) -> Result<Json<BadgeBatchDetailView>, Problem> {
    let (site_id, id, now) = (caller.site_id(), *badge_batch_id, caller.now);
    let (batch, items) = caller
        .read_store(move |conn| {
            let batch = badge_batch::find(conn, site_id, id)?;
            Ok((batch, badge_batch::items(conn, site_id, id)?))
        })
        .await?;
    let items = items.into_iter().map(|item| BadgeBatchItemView::new(item, now)).collect();
    Ok(Json(BadgeBatchDetailView { batch: batch.into(), items }))
}
