//! What somebody found who looked: the same form for entries under a lead's name and for pairs of readings.

use chrono::{DateTime, Utc};
use sellion_rules::refusal::Refusal;
use sellion_store::review::{NewReview as NewRow, Review};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::{
    extract::happened,
    words::{LONG, line},
};

/// What was found by whoever looked.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ReviewView {
    id: Uuid,
    #[schema(example = "Talked with the lead: a team called to an emergency.")]
    note: String,
    reviewer_id: Uuid,
    /// Who looked.
    #[schema(example = "Oda Brennick")]
    reviewer: String,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl From<Review> for ReviewView {
    fn from(review: Review) -> Self {
        let Review { id, note, reviewer_id, reviewer, happened_at, recorded_at } = review;
        Self { id, note, reviewer_id, reviewer, happened_at, recorded_at }
    }
}

/// What you found. Your name stands with it. Health details do not belong here.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewReview {
    #[schema(example = "01930b6e-6f00-7000-8000-0000000000c7")]
    id: Uuid,
    #[schema(example = "Talked with the lead: a team called to an emergency.")]
    note: String,
    /// When you looked.
    happened_at: DateTime<Utc>,
}

impl NewReview {
    pub(crate) fn row(self, now: DateTime<Utc>) -> Result<NewRow, Refusal> {
        Ok(NewRow {
            id: self.id,
            note: line(&self.note, "note", LONG)?,
            happened_at: happened(self.happened_at, now)?,
        })
    }
}

/// Which of them.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ReviewedQuery {
    /// Only those somebody has looked at, or only those that still wait.
    #[param(example = false)]
    pub(crate) reviewed: Option<bool>,
}
