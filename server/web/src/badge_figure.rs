//! How many badges were made, handed over, spoiled and printed again on each day.

use std::collections::BTreeMap;

use actix_web::{
    get,
    web::{Json, Query},
};
use chrono::NaiveDate;
use sellion_rules::{
    badge::{MisprintCause, ReprintReason},
    refusal::{Code, Refusal},
    roles::op,
};
use sellion_store::badge_figure::{self, Figures};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::{
    auth::Caller,
    extract::plausible,
    problem::{Problem, ProblemBody},
};

/// Days in one question.
const DAYS_MAX: i64 = 366;

/// Which days, in the site's time zone.
#[derive(Debug, Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct BadgeFiguresQuery {
    /// The first day.
    from: NaiveDate,
    /// The last day, at most a year later.
    to: NaiveDate,
}

impl BadgeFiguresQuery {
    fn span(self) -> Result<(NaiveDate, NaiveDate), Refusal> {
        let (from, to) = (plausible(self.from, "from")?, plausible(self.to, "to")?);
        if !(0..DAYS_MAX).contains(&(to - from).num_days()) {
            let sentence = format!("The last day is the first one or at most {} days later.", DAYS_MAX - 1);
            return Err(Refusal::new(Code::InvalidValue, sentence).field("to"));
        }
        Ok((from, to))
    }
}

/// Misprints of one kind.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct MisprintCount {
    cause: MisprintCause,
    #[schema(example = 2)]
    count: i64,
}

/// Badges made in place of another one for one reason.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ReprintCount {
    reason: ReprintReason,
    #[schema(example = 3)]
    count: i64,
}

/// One day's numbers.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BadgeFiguresView {
    day: NaiveDate,
    /// Badges that were made.
    #[schema(example = 412)]
    made: i64,
    /// Badges that were handed over.
    #[schema(example = 371)]
    handed_over: i64,
    /// Badges that were spoiled in printing, by how.
    misprints: Vec<MisprintCount>,
    /// Badges that were made in place of another one, by why.
    reprints: Vec<ReprintCount>,
}

impl From<(NaiveDate, Figures)> for BadgeFiguresView {
    fn from((day, figures): (NaiveDate, Figures)) -> Self {
        let Figures { made, handed_over, misprints, reprints } = figures;
        Self {
            day,
            made,
            handed_over,
            misprints: misprints.into_iter().map(|(cause, count)| MisprintCount { cause, count }).collect(),
            reprints: reprints.into_iter().map(|(reason, count)| ReprintCount { reason, count }).collect(),
        }
    }
}

/// The numbers of the days on which anything happened.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BadgeFiguresList {
    items: Vec<BadgeFiguresView>,
}

/// How many badges were made, handed over, spoiled and printed again on each day: numbers, and no person.
#[utoipa::path(tag = "badges", params(BadgeFiguresQuery), responses(
    (status = 200, body = BadgeFiguresList), (status = 422, body = ProblemBody)
))]
#[get("/api/v1/badge_figures")]
pub(crate) async fn read_badge_figures(
    caller: Caller<op::ReadBadgeFigures>,
    query: Query<BadgeFiguresQuery>,
) -> Result<Json<BadgeFiguresList>, Problem> {
    let (site_id, span) = (caller.site_id(), query.span()?);
    let found: BTreeMap<NaiveDate, Figures> =
        caller.read_store(move |conn| badge_figure::of_days(conn, site_id, span)).await?;
    Ok(Json(BadgeFiguresList { items: found.into_iter().map(BadgeFiguresView::from).collect() }))
}
