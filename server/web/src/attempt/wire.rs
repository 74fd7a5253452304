//! The shapes of attempts on the wire.

use chrono::{DateTime, NaiveDate, Utc};
use sellion_rules::{
    attempt::{AttemptEvent, Outcome, Plan, Summary, VerdictReason, plan},
    ladder::NextStep,
    sequence::NotStored,
};
use sellion_store::{
    StoreError,
    attempt::{AttemptRun, Correction, Listed},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

/// One attempt with its plan and its events.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct AttemptView {
    id: Uuid,
    visit_id: Uuid,
    person_id: Uuid,
    station_id: Uuid,
    respirator_id: Uuid,
    /// The screening whose level sets the doses.
    screening_id: Uuid,
    /// The fill of test solution it uses.
    fill_id: Uuid,
    rule_set_name: String,
    rule_set_version: String,
    happened_at: DateTime<Utc>,
    /// Everything a station needs to run it: nobody computes a dose.
    plan: Plan,
    /// Where it stands, and its verdict once there is one.
    state: Summary,
    /// The local day of the test, from which it is due again; absent while it is open.
    #[serde(skip_serializing_if = "Option::is_none")]
    tested_on: Option<NaiveDate>,
    /// The events accepted so far.
    events: Vec<AttemptEvent>,
    /// What took it out of every later judgement, if anything did.
    #[serde(skip_serializing_if = "Option::is_none")]
    correction: Option<AttemptCorrectionView>,
    /// What comes next for the person.
    next_step: NextStep,
    /// Events of the batch just sent that were not stored, because one before them in it ended the attempt; absent
    /// when there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    not_stored: Vec<NotStored>,
}

/// What took an attempt out of every later judgement.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct AttemptCorrectionView {
    id: Uuid,
    #[schema(example = "Wrong person: the badge of a colleague was scanned.")]
    reason: String,
    happened_at: DateTime<Utc>,
}

impl From<Correction> for AttemptCorrectionView {
    fn from(correction: Correction) -> Self {
        let Correction { id, reason, happened_at, .. } = correction;
        Self { id, reason, happened_at }
    }
}

impl TryFrom<AttemptRun> for AttemptView {
    type Error = StoreError;

    fn try_from(run: AttemptRun) -> Result<Self, StoreError> {
        let AttemptRun { attempt, state, tested_on, correction, next_step, not_stored } = run;
        Ok(Self {
            id: attempt.id,
            visit_id: attempt.visit_id,
            person_id: attempt.person_id,
            station_id: attempt.station_id,
            respirator_id: attempt.respirator_id,
            screening_id: attempt.screening_id,
            fill_id: attempt.fill_id,
            rule_set_name: attempt.rule_set_name,
            rule_set_version: attempt.rule_set_version,
            happened_at: attempt.happened_at,
            plan: plan(state.setup()),
            state: state.summary(),
            tested_on,
            events: state.events().to_vec(),
            correction: correction.map(Into::into),
            next_step,
            not_stored,
        })
    }
}

/// One attempt in a list.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct AttemptItem {
    pub(crate) id: Uuid,
    visit_id: Uuid,
    person_id: Uuid,
    station_id: Uuid,
    respirator_id: Uuid,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
    /// How it ended; absent while it is open.
    #[serde(skip_serializing_if = "Option::is_none")]
    verdict: Option<AttemptItemVerdict>,
    /// When a correction of it was recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    corrected_at: Option<DateTime<Utc>>,
}

/// How an attempt of a list ended.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct AttemptItemVerdict {
    outcome: Outcome,
    reason: VerdictReason,
    /// The local day of the test.
    tested_on: NaiveDate,
    ended_at: DateTime<Utc>,
}

impl TryFrom<Listed> for AttemptItem {
    type Error = StoreError;

    fn try_from(row: Listed) -> Result<Self, StoreError> {
        let verdict = row.verdict()?.map(|verdict| AttemptItemVerdict {
            outcome: verdict.outcome,
            reason: verdict.reason,
            tested_on: verdict.tested_on,
            ended_at: verdict.ended_at,
        });
        Ok(Self {
            id: row.id,
            visit_id: row.visit_id,
            person_id: row.person_id,
            station_id: row.station_id,
            respirator_id: row.respirator_id,
            happened_at: row.happened_at,
            recorded_at: row.recorded_at,
            verdict,
            corrected_at: row.corrected_at,
        })
    }
}

/// Which attempts.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct AttemptQuery {
    /// Of this person only.
    pub(crate) person_id: Option<Uuid>,
    /// Of this day only.
    pub(crate) day_id: Option<Uuid>,
}

/// An attempt to be opened.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewAttempt {
    /// Made by the client: a UUIDv7, the same on a repeat.
    pub(crate) id: Uuid,
    pub(crate) visit_id: Uuid,
    /// The station that called the person.
    pub(crate) station_id: Uuid,
    pub(crate) respirator_id: Uuid,
    /// The newest screening of the visit that found a level.
    pub(crate) screening_id: Uuid,
    #[schema(example = "2026-03-10T08:24:00Z")]
    pub(crate) happened_at: DateTime<Utc>,
}

/// Events of an attempt, in order.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "events": [
    { "seq": 1, "happened_at": "2026-03-10T08:24:30Z", "kind": "donned", "by_wearer": true },
    { "seq": 2, "happened_at": "2026-03-10T08:25:10Z", "kind": "seal_checked", "result": "ok" }
] }))]
pub(crate) struct NewAttemptEvents {
    /// Numbered from 1 without gaps. What was stored before may be sent again.
    pub(crate) events: Vec<AttemptEvent>,
}

/// Why an attempt is taken out of every later judgement.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewAttemptCorrection {
    /// Made by the client: a UUIDv7, the same on a repeat.
    pub(crate) id: Uuid,
    #[schema(example = "Wrong person: the badge of a colleague was scanned.")]
    pub(crate) reason: String,
    #[schema(example = "2026-03-10T09:02:00Z")]
    pub(crate) happened_at: DateTime<Utc>,
}
