//! What gates answered alone, beside what would have been said.

use actix_web::{
    get,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    gate::{Answer, ScanReason},
    roles::op,
};
use sellion_store::scan::comparison::{self, Comparison, Said};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
};

/// What the server says, and why.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
pub(crate) struct SaidView {
    answer: Answer,
    reason: ScanReason,
}

impl From<Said> for SaidView {
    fn from(Said { answer, reason }: Said) -> Self {
        Self { answer, reason }
    }
}

/// Whether a gate that answered alone was right, as far as it could be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum ComparisonMark {
    /// The same word, then and now.
    Same,
    /// The server would have said another word at that moment: the gate could not know.
    NotKnownAtGate,
    /// The server would have said the same at that moment; a fact that was recorded later says another.
    LearnedSince,
}

/// One scan that a gate answered alone.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ScanComparisonView {
    scan_id: Uuid,
    /// The badge, when it was one of ours.
    badge_id: Option<Uuid>,
    happened_at: DateTime<Utc>,
    /// When the server learned of it.
    recorded_at: DateTime<Utc>,
    /// When the gate's knowledge was last known to be current; none where it had none.
    known_at: Option<DateTime<Utc>>,
    /// How old that knowledge was when the badge was read.
    #[schema(example = 10800)]
    knowledge_age_seconds: Option<i64>,
    /// What the gate's own clock showed.
    clock_showed: DateTime<Utc>,
    /// What was shown at the gate.
    given: Answer,
    /// What the server would have said at that moment, by what it knew then.
    then: SaidView,
    /// What it says of that moment by what it knows now.
    now: SaidView,
    mark: ComparisonMark,
}

impl From<Comparison> for ScanComparisonView {
    fn from(found: Comparison) -> Self {
        let mark = if found.then.answer != found.given {
            ComparisonMark::NotKnownAtGate
        } else if found.now.answer != found.given {
            ComparisonMark::LearnedSince
        } else {
            ComparisonMark::Same
        };
        let age = found.known_at.map(|known_at| (found.happened_at - known_at).num_seconds().max(0));
        Self {
            scan_id: found.scan_id,
            badge_id: found.badge_id,
            happened_at: found.happened_at,
            recorded_at: found.recorded_at,
            known_at: found.known_at,
            knowledge_age_seconds: age,
            clock_showed: found.clock_showed,
            given: found.given,
            then: found.then.into(),
            now: found.now.into(),
            mark,
        }
    }
}

/// What a gate answered alone, each scan beside what the server would have said, as known then and as known now.
///
/// `not_known_at_gate` marks what the gate could not know: a fact of before that moment that had not reached it.
/// `learned_since` marks what nobody knew then. Neither is a proof of exposure.
#[utoipa::path(tag = "scans", params(("gate_id" = Uuid, Path), PageQuery), responses(
    (status = 200, body = Page<ScanComparisonView>), (status = 404, body = ProblemBody)
))]
#[get("/api/v1/gates/{gate_id}/scan_comparisons")]
pub(crate) async fn list_scan_comparisons(
    caller: Caller<op::ListScanComparisons>,
    gate_id: Path<Uuid>,
    page: Query<PageQuery>,
) -> Result<Json<Page<ScanComparisonView>>, Problem> {
    let (gate, now, window) = ((caller.site_id(), *gate_id), caller.now, page.window()?);
    let rows = caller.read_store(move |conn| comparison::list(conn, gate, now, window.fetch())).await?;
    Ok(Json(Page::of(rows, window, |found| found.scan_id, ScanComparisonView::from)))
}
