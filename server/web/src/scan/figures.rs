//! How often a gate said what.

use actix_web::{
    get,
    web::{Json, Path, Query},
};
use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::{
    gate::Answer,
    refusal::{Code, Refusal},
    roles::op,
};
use sellion_store::scan;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::moment,
    problem::{Problem, ProblemBody},
};

/// A year and a day: what is asked about must be counted while somebody waits.
const DAYS_MAX: i64 = 366;

/// From when until before when.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct FiguresQuery {
    /// A day ago unless told.
    #[param(example = "2026-03-11T06:30:00Z")]
    from: Option<DateTime<Utc>>,
    /// Now unless told.
    #[param(example = "2026-03-12T06:30:00Z")]
    until: Option<DateTime<Utc>>,
}

impl FiguresQuery {
    fn span(&self, now: DateTime<Utc>) -> Result<(DateTime<Utc>, DateTime<Utc>), Refusal> {
        let until = moment(self.until.unwrap_or(now), "until")?;
        let from = moment(self.from.unwrap_or(until - TimeDelta::days(1)), "from")?;
        if from < until && until - from <= TimeDelta::days(DAYS_MAX) {
            return Ok((from, until));
        }
        let sentence = format!("Ask about a time that ends after it begins, of {DAYS_MAX} days at most.");
        Err(Refusal::new(Code::InvalidValue, sentence).field("from"))
    }
}

/// Readings of one answer.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FigureView {
    answer: Answer,
    /// How often it was said. The same badge once more within a moment counts once.
    #[schema(example = 212)]
    count: i64,
    /// How often that happened.
    #[schema(example = 9)]
    repeats: i64,
}

/// How often a gate said what.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FiguresView {
    gate_id: Uuid,
    from: DateTime<Utc>,
    until: DateTime<Utc>,
    /// One for each answer that was given.
    items: Vec<FigureView>,
}

/// How often a gate said what: numbers, and no person.
#[utoipa::path(tag = "scans", params(("gate_id" = Uuid, Path), FiguresQuery), responses(
    (status = 200, body = FiguresView), (status = 404, body = ProblemBody), (status = 422, body = ProblemBody)
))]
#[get("/api/v1/gates/{gate_id}/figures")]
pub(crate) async fn read_gate_figures(
    caller: Caller<op::ReadGateFigures>,
    gate_id: Path<Uuid>,
    query: Query<FiguresQuery>,
) -> Result<Json<FiguresView>, Problem> {
    let (site_id, gate_id) = (caller.site_id(), *gate_id);
    let (from, until) = query.span(caller.now)?;
    let found = caller.read_store(move |conn| scan::figures(conn, (site_id, gate_id), (from, until))).await?;
    let view = |figure: scan::Figure| FigureView {
        answer: figure.answer,
        count: figure.count,
        repeats: figure.repeats,
    };
    Ok(Json(FiguresView { gate_id, from, until, items: found.into_iter().map(view).collect() }))
}
