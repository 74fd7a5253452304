//! The shapes of attempts on the wire.

use chrono::{DateTime, Datelike, NaiveDate, Utc};
use sellion_rules::{
    attempt::{AttemptEvent, Outcome, Plan, Summary, VerdictReason, plan},
    gs1,
    ladder::NextStep,
    method::Method,
    refusal::{Code, Refusal},
    sequence::NotStored,
};
use sellion_store::{
    StoreError,
    attempt::{AttemptRun, Correction, Listed, NamedFacepiece, NewBasis},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::words::{SHORT, line};

/// One attempt with its plan and its events.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct AttemptView {
    id: Uuid,
    visit_id: Uuid,
    person_id: Uuid,
    station_id: Uuid,
    respirator_id: Uuid,
    method: Method,
    /// The screening it stands on; absent where the fit factor is measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    screening_id: Option<Uuid>,
    /// The fill of test solution it uses; absent where the fit factor is measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    fill_id: Option<Uuid>,
    /// The hood, where it was named.
    #[serde(skip_serializing_if = "Option::is_none")]
    hood_id: Option<Uuid>,
    /// The lot of the facepiece, where it was named.
    #[serde(skip_serializing_if = "Option::is_none")]
    facepiece_lot_id: Option<Uuid>,
    /// Whether it was run out of reach of the server and told afterwards.
    afterwards: bool,
    /// What is written on the instrument; absent where nothing is measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "Counter 2")]
    instrument: Option<String>,
    /// Another filter that was fitted for the test.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "P100")]
    fitted_filter: Option<String>,
    /// Whether the respirator is tested without its own air.
    negative_pressure_mode: bool,
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
    /// What a station out of reach did after something found on its nebulizer had ended the attempt: kept, and no part
    /// of the verdict. Absent when there is nothing.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    late_events: Vec<AttemptEvent>,
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
        let AttemptRun { attempt, state, tested_on, correction, next_step, not_stored, late_events } = run;
        Ok(Self {
            id: attempt.id,
            visit_id: attempt.visit_id,
            person_id: attempt.person_id,
            station_id: attempt.station_id,
            respirator_id: attempt.respirator_id,
            method: attempt.method()?,
            screening_id: attempt.screening_id,
            fill_id: attempt.fill_id,
            hood_id: attempt.hood_id,
            facepiece_lot_id: attempt.facepiece_lot_id,
            afterwards: attempt.reported.is_some(),
            negative_pressure_mode: attempt.in_negative_pressure_mode(),
            instrument: attempt.instrument,
            fitted_filter: attempt.fitted_filter,
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
            late_events,
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
    method: Method,
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
    /// The overall fit factor, where it was measured to the end.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "162.4")]
    fit_factor: Option<String>,
}

impl TryFrom<Listed> for AttemptItem {
    type Error = StoreError;

    fn try_from(row: Listed) -> Result<Self, StoreError> {
        let verdict = row.verdict()?.map(|verdict| AttemptItemVerdict {
            outcome: verdict.outcome,
            reason: verdict.reason,
            tested_on: verdict.tested_on,
            ended_at: verdict.ended_at,
            fit_factor: verdict.fit_factor,
        });
        Ok(Self {
            method: row.method()?,
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
    /// The newest screening of the visit that found a level or that the agent is noticed. The method follows from it.
    /// Left out where the fit factor is measured.
    pub(crate) screening_id: Option<Uuid>,
    /// The method, where the fit factor is measured.
    pub(crate) method: Option<Method>,
    /// What is written on the instrument, where one measures.
    #[schema(example = "Counter 2")]
    pub(crate) instrument: Option<String>,
    /// The hood, so that it is wiped between people and found again in a look-back.
    pub(crate) hood_id: Option<Uuid>,
    /// The lot of the facepiece, so that it is found again in a look-back and counted as used up. It may be left out.
    pub(crate) facepiece_lot_id: Option<Uuid>,
    /// The same as a scanner reads it from the wrapping: a GS1 element string with a lot number in it.
    #[schema(example = "010950600013437617280300\u{1d}10FP-801")]
    pub(crate) facepiece_label: Option<String>,
    /// Another filter that is fitted for the test; left out, it is the respirator's own.
    #[schema(example = "P100")]
    pub(crate) fitted_filter: Option<String>,
    /// Whether the respirator is tested without its own air: the wearer's facepiece with filters, or an identical
    /// surrogate. Asked for where it has air of its own (29 CFR 1910.134(f)(8)).
    #[serde(default)]
    pub(crate) negative_pressure_mode: bool,
    /// Whether the station was out of reach of the server and tells of it afterwards. It has to have called the person,
    /// and what other stations did since its call does not stand in the way. It is then kept also where its bottle, its
    /// lot or its nebulizer was stopped meanwhile; the stop holds what stands on it.
    /// Attempts that overlap hold each other until somebody corrects one.
    #[serde(default)]
    pub(crate) afterwards: bool,
    #[schema(example = "2026-03-10T08:24:00Z")]
    pub(crate) happened_at: DateTime<Utc>,
}

impl NewAttempt {
    /// The lot of the facepiece, by its id or by its label.
    pub(crate) fn facepiece(&self, now: DateTime<Utc>) -> Result<Option<NamedFacepiece>, Refusal> {
        let Some(label) = &self.facepiece_label else {
            return Ok(self.facepiece_lot_id.map(NamedFacepiece::Lot));
        };
        if self.facepiece_lot_id.is_some() {
            let detail = "Name the lot or scan the label, not both.";
            return Err(Refusal::new(Code::InvalidValue, detail).field("facepiece_label"));
        }
        let read = gs1::read_label(label, now.year()).map_err(|refusal| refusal.field("facepiece_label"))?;
        let Some(lot_number) = read.lot_number else {
            let detail = "This label has no lot number in it: scan the one that has, or leave it out.";
            return Err(Refusal::new(Code::LabelUnreadable, detail).field("facepiece_label"));
        };
        Ok(Some(NamedFacepiece::Label { lot_number, gtin: read.gtin }))
    }

    /// What it stands on: a screening, or a method and an instrument.
    pub(crate) fn basis(&self) -> Result<NewBasis, Refusal> {
        let refused = |detail: &str, field: &str| Err(Refusal::new(Code::InvalidValue, detail).field(field));
        match (self.screening_id, self.method, self.instrument.as_deref()) {
            (Some(screening_id), None, None) => Ok(NewBasis::Screening(screening_id)),
            (Some(_), _, _) => {
                refused("An attempt on a screening has its method from it and no instrument.", "screening_id")
            }
            (None, Some(method), _) if !method.is_quantitative() => {
                let detail = "This method stands on a screening: name the newest one of the visit.";
                Err(Refusal::new(Code::NewScreeningRequired, detail).field("screening_id"))
            }
            (None, Some(method), Some(instrument)) => {
                Ok(NewBasis::Instrument { method, instrument: line(instrument, "instrument", SHORT)? })
            }
            (None, Some(_), None) => refused("Name the instrument that measures.", "instrument"),
            (None, None, _) => refused("Name a screening, or a method that measures.", "screening_id"),
        }
    }
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
