//! Entries under somebody's name: kept whatever else goes wrong, and looked at the next day.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, NaiveDate, Utc};
use sellion_rules::{
    lead_entry::{INSTRUCTION, LeadEntryReason, LeadStanding},
    refusal::Refusal,
    roles::op,
};
use sellion_store::lead_entry::{self, LeadEntry, NewLeadEntry as NewRow, ToldTime};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::moment,
    gate::own_gate,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    review::{NewReview, ReviewView, ReviewedQuery},
    words::{SHORT, line},
};

/// Somebody was let in under a lead's name.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewLeadEntry {
    /// Made by the gate, so that each is kept once however often it is sent.
    #[schema(example = "01930b6e-6f00-7000-8000-0000000000c5")]
    id: Uuid,
    /// Under whose name: chosen from the policy's list or written down.
    #[schema(example = "Ada Brennick")]
    lead: String,
    reason: LeadEntryReason,
    /// The scan it belongs to, where a badge was read; that scan may be sent later.
    scan_id: Option<Uuid>,
    /// When the person went in.
    happened_at: DateTime<Utc>,
}

impl NewLeadEntry {
    fn row(&self, site_id: Uuid, gate_id: Uuid) -> Result<NewRow, Refusal> {
        Ok(NewRow {
            id: self.id,
            site_id,
            gate_id,
            of_scan: self.scan_id,
            lead: line(&self.lead, "lead", SHORT)?,
            reason: self.reason.as_str().to_owned(),
        })
    }

    /// A wrong clock must not lose an entry: one that is ahead of ours is kept beside our own.
    fn time(&self, now: DateTime<Utc>) -> ToldTime {
        match moment(self.happened_at, "happened_at") {
            Ok(happened_at) if happened_at <= now => ToldTime { happened_at, told_at: None },
            Ok(told) => ToldTime { happened_at: now, told_at: Some(told) },
            Err(_) => ToldTime { happened_at: now, told_at: None },
        }
    }
}

/// What the gate is told once an entry is kept.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LeadEntryKept {
    id: Uuid,
    #[schema(example = "Ada Brennick")]
    lead: String,
    reason: LeadEntryReason,
    /// What to do, in plain words.
    #[schema(example = "Let the person in. The lead named here decides and answers for it.")]
    instruction: &'static str,
}

/// An entry under a lead's name, for those who look at it.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LeadEntryView {
    id: Uuid,
    gate_id: Uuid,
    #[schema(example = "North entrance")]
    gate: String,
    /// The scan it belongs to, where a badge was read. It may not have arrived yet, or be gone by now.
    scan_id: Option<Uuid>,
    #[schema(example = "Ada Brennick")]
    lead: String,
    /// What the policy in force said of this name.
    standing: LeadStanding,
    reason: LeadEntryReason,
    happened_at: DateTime<Utc>,
    /// What the gate's clock said, where it ran ahead of the server's.
    #[serde(skip_serializing_if = "Option::is_none")]
    told_at: Option<DateTime<Utc>>,
    recorded_at: DateTime<Utc>,
    /// The device or user that told it.
    recorded_by: Uuid,
    /// By the end of this day somebody should have looked.
    review_due_on: NaiveDate,
    /// What was found; absent until somebody looked.
    #[serde(skip_serializing_if = "Option::is_none")]
    review: Option<ReviewView>,
}

impl From<LeadEntry> for LeadEntryView {
    fn from(entry: LeadEntry) -> Self {
        let LeadEntry { told, reason, gate, standing, time, recorded_at, recorded_by, review_due_on, review } =
            entry;
        Self {
            id: told.id,
            gate_id: told.gate_id,
            gate,
            scan_id: told.of_scan,
            lead: told.lead,
            standing,
            reason,
            happened_at: time.happened_at,
            told_at: time.told_at,
            recorded_at,
            recorded_by,
            review_due_on,
            review: review.map(ReviewView::from),
        }
    }
}

/// Keeps an entry under a lead's name. In an emergency follow the emergency procedure: this is written down afterwards
/// as well, and is refused for no policy, no clock and no missing scan.
#[utoipa::path(tag = "lead_entries", params(("gate_id" = Uuid, Path)), responses(
    (status = 201, body = LeadEntryKept), (status = 404, body = ProblemBody),
    (status = 409, body = ProblemBody), (status = 422, body = ProblemBody)
))]
#[post("/api/v1/gates/{gate_id}/lead_entries")]
pub(crate) async fn create_lead_entry(
    caller: Caller<op::CreateLeadEntry>,
    gate_id: Path<Uuid>,
    body: Json<NewLeadEntry>,
) -> Result<HttpResponse, Problem> {
    let gate_id = own_gate(&caller, *gate_id)?;
    let body = body.into_inner();
    let (row, time) = (body.row(caller.site_id(), gate_id)?, body.time(caller.now));
    let LeadEntry { told, reason, .. } = caller.write(move |tx| lead_entry::create(tx, &row, time)).await?;
    let kept = LeadEntryKept { id: told.id, lead: told.lead, reason, instruction: INSTRUCTION };
    Ok(HttpResponse::Created().json(kept))
}

/// Entries under a lead's name: those that nobody has looked at yet, those somebody has, or all.
#[utoipa::path(tag = "lead_entries", params(ReviewedQuery, PageQuery), responses((status = 200, body = Page<LeadEntryView>)))]
#[get("/api/v1/lead_entries")]
pub(crate) async fn list_lead_entries(
    caller: Caller<op::ListLeadEntries>,
    query: Query<ReviewedQuery>,
    page: Query<PageQuery>,
) -> Result<Json<Page<LeadEntryView>>, Problem> {
    let (site_id, reviewed, window) = (caller.site_id(), query.reviewed, page.window()?);
    let rows =
        caller.read_store(move |conn| lead_entry::list(conn, site_id, reviewed, window.fetch())).await?;
    Ok(Json(Page::of(rows, window, |entry| entry.told.id, LeadEntryView::from)))
}

/// Writes down what was found about an entry, with your name.
#[utoipa::path(tag = "lead_entries", params(("lead_entry_id" = Uuid, Path)), responses(
    (status = 201, body = LeadEntryView), (status = 404, body = ProblemBody),
    (status = 409, body = ProblemBody), (status = 422, body = ProblemBody)
))]
#[post("/api/v1/lead_entries/{lead_entry_id}/reviews")]
pub(crate) async fn create_lead_entry_review(
    caller: Caller<op::CreateLeadEntryReview>,
    lead_entry_id: Path<Uuid>,
    body: Json<NewReview>,
) -> Result<HttpResponse, Problem> {
    let (id, new) = (*lead_entry_id, body.into_inner().row(caller.now)?);
    let entry = caller.write(move |tx| lead_entry::review(tx, id, &new)).await?;
    Ok(HttpResponse::Created().json(LeadEntryView::from(entry)))
}
