//! The retest ladder: what a person's next step of the day is, and what may not be started.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::attempt::Outcome;
use crate::level::Level;
use crate::permission::PermissionFact;
use crate::refusal::Refusal;
use crate::ruleset::RuleSet;
use crate::screening::ScreeningOutcome;
use crate::supplies::Agent;
use crate::text_enum::text_enum;

text_enum! {
    /// How a fail is followed.
    pub enum LadderKind {
        /// A different respirator and the whole procedure again, the screening included.
        Strict = "strict",
    }
}

text_enum! {
    /// Why a person is referred to another kind of test.
    pub enum ReferralReason {
        /// The last step of the ladder is used.
        LadderUsedUp = "ladder_used_up",
        /// Neither agent is tasted.
        CannotTaste = "cannot_taste",
        /// The use of the respirator asks for another kind of test.
        MethodNotAllowed = "method_not_allowed",
        /// The result is disputed.
        Disputed = "disputed",
        /// Anything else, agreed with the coordinator.
        Other = "other",
    }
}

/// One screening of the visit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ScreeningFact {
    /// The screening.
    pub id: Uuid,
    /// Its agent.
    pub agent: Agent,
    /// When it was opened.
    pub started_at: DateTime<Utc>,
    /// How it ended; none while it is open.
    pub outcome: Option<ScreeningOutcome>,
    /// The level it found.
    pub level: Option<Level>,
    /// When it ended.
    pub ended_at: Option<DateTime<Utc>>,
}

/// One attempt of the visit that no correction took away.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AttemptFact {
    /// The attempt.
    pub id: Uuid,
    /// Its respirator.
    pub respirator: Uuid,
    /// Its agent.
    pub agent: Agent,
    /// When it was opened.
    pub started_at: DateTime<Utc>,
    /// How it ended; none while it is open.
    pub outcome: Option<Outcome>,
    /// When it ended.
    pub ended_at: Option<DateTime<Utc>>,
}

/// What is known of one person's way through one day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VisitFacts {
    /// The local day of the visit.
    pub on: NaiveDate,
    /// Every decision about the person.
    pub permissions: Vec<PermissionFact>,
    /// Whether hair was seen at the sealing surface, and not shaved since.
    pub hair_at_seal: bool,
    /// The last food, drink other than plain water, smoke or gum.
    pub last_intake_at: Option<DateTime<Utc>>,
    /// The screenings of the visit, in any order.
    pub screenings: Vec<ScreeningFact>,
    /// The attempts of the visit, in any order.
    pub attempts: Vec<AttemptFact>,
}

/// What a new attempt would stand on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AttemptBasis {
    /// The screening.
    pub screening: Uuid,
    /// Its agent.
    pub agent: Agent,
    /// Its level.
    pub level: Level,
    /// When it ended.
    pub screened_at: DateTime<Utc>,
}

/// The next step of a visit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "step", rename_all = "snake_case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum NextStep {
    /// Nothing until a clinician has decided.
    SeeClinician,
    /// Nothing until no hair is left at the sealing surface.
    Shave,
    /// A screening is open: go on with it.
    FinishScreening {
        /// The open screening.
        screening: Uuid,
    },
    /// An attempt is open: go on with it.
    FinishAttempt {
        /// The open attempt.
        attempt: Uuid,
    },
    /// Screen for taste.
    Screen {
        /// The agent to use.
        agent: Agent,
        /// Not before this moment.
        not_before: Option<DateTime<Utc>>,
    },
    /// Test a respirator.
    Attempt {
        /// The screening it stands on.
        screening: Uuid,
        /// Its agent.
        agent: Agent,
        /// Its level.
        level: Level,
        /// Respirators that may not be tried again today.
        excluded_respirators: Vec<Uuid>,
        /// Not before this moment.
        not_before: Option<DateTime<Utc>>,
    },
    /// Refer the person to another kind of test.
    Refer {
        /// Why.
        reason: ReferralReason,
    },
    /// The person has passed.
    Done {
        /// The newest pass.
        attempt: Uuid,
    },
}

/// Whether a screening with `agent` may start at `at`.
pub fn may_start_screening(
    visit: &VisitFacts,
    rules: &RuleSet,
    agent: Agent,
    at: DateTime<Utc>,
) -> Result<(), Refusal> {
    let _ = (visit, rules, agent, at);
    Ok(())
}

/// Whether an attempt on `respirator` may start at `at`, and the screening it stands on.
pub fn may_start_attempt(
    visit: &VisitFacts,
    rules: &RuleSet,
    respirator: Uuid,
    at: DateTime<Utc>,
) -> Result<AttemptBasis, Refusal> {
    let _ = (visit, rules, respirator, at);
    Err(Refusal::new(crate::Code::NewScreeningRequired, "Screen first."))
}

/// The next step at `now`. `preferred` is the agent the day starts with.
pub fn next_step(visit: &VisitFacts, rules: &RuleSet, preferred: Agent, now: DateTime<Utc>) -> NextStep {
    let _ = (visit, rules, now);
    NextStep::Screen { agent: preferred, not_before: None }
}
