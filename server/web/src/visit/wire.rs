//! Visits as they travel.

use chrono::{DateTime, Utc};
use sellion_rules::{
    day::{Hold, ReturnReason, VisitStep, VisitVerdict, verdict},
    refusal::{Code, Refusal},
    roles::{Operation, allowed},
};
use sellion_store::{
    StoreError,
    visit::{Answers, NewAnswers, NewVisit as NewRow, Standing, Visit},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::SignIn,
    extract::moment,
    words::{LONG, SHORT, line_or_none},
};

/// One person's way through one day.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct VisitView {
    pub(crate) id: Uuid,
    day_id: Uuid,
    person_id: Uuid,
    /// The number the person was given, from 1.
    #[schema(example = 41)]
    ticket: i32,
    walk_in: bool,
    /// Where it stands. Something may hold the person back meanwhile: see `verdict`.
    step: VisitStep,
    /// Whether the person may be called; absent once the visit has ended. Answers to a write are judged at its
    /// `happened_at`, everything else now.
    #[serde(skip_serializing_if = "Option::is_none")]
    verdict: Option<VisitVerdict>,
    /// When the person may be called, as far as waiting goes.
    earliest_start: DateTime<Utc>,
    /// What holds the person back; absent for those who need not know.
    #[serde(skip_serializing_if = "Option::is_none")]
    hold_reasons: Option<Vec<Hold>>,
    /// The station that called them.
    #[serde(skip_serializing_if = "Option::is_none")]
    held_by_station_id: Option<Uuid>,
    /// The newest answers; absent in lists and for those who need not know.
    #[serde(skip_serializing_if = "Option::is_none")]
    answers: Option<VisitAnswersView>,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl VisitView {
    /// The view at a moment.
    pub(crate) fn of((visit, standing): (Visit, Standing), at: DateTime<Utc>) -> Result<Self, StoreError> {
        let step = visit.step()?;
        let verdict = step.part().map(|_| verdict(&standing.holds, visit.ready_at, at));
        let Visit { id, day_id, person_id, ticket, walk_in, happened_at, recorded_at, .. } = visit;
        Ok(Self {
            id,
            day_id,
            person_id,
            ticket,
            walk_in,
            step,
            verdict,
            earliest_start: visit.ready_at,
            hold_reasons: Some(standing.holds),
            held_by_station_id: visit.held_by_station_id,
            answers: Some(standing.answers.into()),
            happened_at,
            recorded_at,
        })
    }

    /// Without the answers, and without the reasons for those who need not know.
    pub(crate) fn brief(self, entitled: bool) -> Self {
        Self { answers: None, hold_reasons: self.hold_reasons.filter(|_| entitled), ..self }
    }
}

/// Answers and holds are for those who run the queue; a badge desk has no use for them.
pub(super) fn may_see_answers(sign_in: &SignIn) -> bool {
    allowed(Operation::ReadQueue, &sign_in.roles)
}

/// What a person answered.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct VisitAnswersView {
    id: Uuid,
    last_intake_at: Option<DateTime<Utc>>,
    hair_at_seal: bool,
    feels_well: bool,
    face_changed: bool,
    gear_worn: Option<String>,
    needs: Option<String>,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl From<Answers> for VisitAnswersView {
    fn from(answers: Answers) -> Self {
        let Answers { id, last_intake_at, hair_at_seal, feels_well, face_changed, .. } = answers;
        let Answers { gear_worn, needs, happened_at, recorded_at, .. } = answers;
        Self {
            id,
            last_intake_at,
            hair_at_seal,
            feels_well,
            face_changed,
            gear_worn,
            needs,
            happened_at,
            recorded_at,
        }
    }
}

/// A check-in.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewVisit {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    day_id: Uuid,
    person_id: Uuid,
    /// Whether they came without being expected.
    #[serde(default)]
    walk_in: bool,
    answers: CheckInAnswers,
    #[schema(example = "2026-03-10T08:12:00Z")]
    pub(super) happened_at: DateTime<Utc>,
}

/// What a person is asked at check-in.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct CheckInAnswers {
    /// The last food, drink other than plain water, smoke or gum; left out when it was long ago.
    #[schema(example = "2026-03-10T08:03:00Z")]
    last_intake_at: Option<DateTime<Utc>>,
    /// Whether hair crosses the sealing surface.
    #[schema(example = false)]
    hair_at_seal: bool,
    #[schema(example = true)]
    feels_well: bool,
    /// Whether the face changed since the last test: weight, teeth, an operation, a scar.
    #[schema(example = false)]
    face_changed: bool,
    /// Glasses, head cover and the like that are worn at work.
    #[schema(example = "glasses")]
    gear_worn: Option<String>,
    /// What the person needs to be tested.
    #[schema(example = "interpreter")]
    needs: Option<String>,
}

/// Newer answers.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewVisitAnswers {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    answers: CheckInAnswers,
    #[schema(example = "2026-03-10T08:31:00Z")]
    pub(super) happened_at: DateTime<Utc>,
}

/// A person goes back into the queue.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewVisitReturn {
    /// Made by the client: a UUIDv7, the same on a repeat.
    pub(super) id: Uuid,
    pub(super) reason: ReturnReason,
    /// Seconds until they may be called again: 300 unless told.
    #[schema(example = 300)]
    pub(super) wait_seconds: Option<u32>,
    #[schema(example = "2026-03-10T08:44:00Z")]
    pub(super) happened_at: DateTime<Utc>,
}

impl NewVisit {
    /// The visit and its first answers, which carry the visit's own id.
    pub(super) fn rows(
        self,
        site_id: Uuid,
        happened_at: DateTime<Utc>,
    ) -> Result<(NewRow, NewAnswers), Refusal> {
        let Self { id, day_id, person_id, walk_in, answers, .. } = self;
        let answers = answers.row(id, site_id, id, happened_at)?;
        Ok((NewRow { id, site_id, day_id, person_id, walk_in, happened_at }, answers))
    }
}

impl NewVisitAnswers {
    pub(super) fn row(
        self,
        site_id: Uuid,
        visit_id: Uuid,
        happened_at: DateTime<Utc>,
    ) -> Result<NewAnswers, Refusal> {
        self.answers.row(self.id, site_id, visit_id, happened_at)
    }
}

impl CheckInAnswers {
    fn row(
        self,
        id: Uuid,
        site_id: Uuid,
        visit_id: Uuid,
        happened_at: DateTime<Utc>,
    ) -> Result<NewAnswers, Refusal> {
        let last_intake_at = self.last_intake_at.map(|at| moment(at, "last_intake_at")).transpose()?;
        if last_intake_at.is_some_and(|intake| intake > happened_at) {
            let sentence = "The last food or drink cannot be later than the answer about it.";
            return Err(Refusal::new(Code::InvalidValue, sentence).field("last_intake_at"));
        }
        Ok(NewAnswers {
            id,
            site_id,
            visit_id,
            last_intake_at,
            hair_at_seal: self.hair_at_seal,
            feels_well: self.feels_well,
            face_changed: self.face_changed,
            gear_worn: line_or_none(self.gear_worn.as_deref(), "gear_worn", SHORT)?,
            needs: line_or_none(self.needs.as_deref(), "needs", LONG)?,
            happened_at,
        })
    }
}
