//! The retest ladder: what a person's next step of the day is, and what may not be started.

mod first_dose;
mod visit;

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::attempt::{Outcome, VerdictReason};
use crate::dates::seconds_after;
use crate::level::Level;
use crate::method::Method;
use crate::permission::PermissionFact;
use crate::refusal::{Code, Refusal};
use crate::ruleset::RuleSet;
use crate::screening::{ScreeningOutcome, intake_over};
use crate::supplies::Agent;
use crate::text::capital;
use crate::text_enum::text_enum;
use first_dose::no_hair;
pub use first_dose::{FirstDoseFacts, feels_well, may_give_first_dose};
use visit::wait;

text_enum! {
    /// How a fail is followed, the stricter kind last. A rule set that asks for another kind is refused when it is read.
    pub enum LadderKind {
        /// After a first fail the same respirator may be put on once more, with the whole procedure again.
        OneRedon = "one_redon",
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
    /// The local day on which it ended, or was opened while it has not.
    pub on: NaiveDate,
}

/// One attempt of the visit that no correction took away.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AttemptFact {
    /// The attempt.
    pub id: Uuid,
    /// Its respirator.
    pub respirator: Uuid,
    /// Its method.
    pub method: Method,
    /// When it was opened.
    pub started_at: DateTime<Utc>,
    /// How it ended; none while it is open.
    pub outcome: Option<Outcome>,
    /// What decided that.
    pub reason: Option<VerdictReason>,
    /// When it ended.
    pub ended_at: Option<DateTime<Utc>>,
}

/// What is known of one person's way through one day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VisitFacts {
    /// The local day of the next run.
    pub on: NaiveDate,
    /// Every decision about the person.
    pub permissions: Vec<PermissionFact>,
    /// Whether hair was seen at the sealing surface, and not shaved since.
    pub hair_at_seal: bool,
    /// The last food, drink other than plain water, smoke or gum.
    pub last_intake_at: Option<DateTime<Utc>>,
    /// Whether the person is to be measured: referred today, or on a day on which everybody is, where a station measures.
    pub to_be_measured: bool,
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
    /// Its level, where the agent is tasted.
    pub level: Option<Level>,
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
        /// Its level, where the agent is tasted.
        level: Option<Level>,
        /// Respirators that may not be tried again today.
        excluded_respirators: Vec<Uuid>,
        /// Not before this moment.
        not_before: Option<DateTime<Utc>>,
    },
    /// Measure the fit factor.
    Measure {
        /// The methods this day accepts for it.
        methods: Vec<Method>,
        /// Respirators that may not be tried again today.
        excluded_respirators: Vec<Uuid>,
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
///
/// Runs of one visit are entered in the order in which they happened: waits are counted from the newest fail and the
/// newest use of the other agent, wherever `at` lies.
pub fn may_start_screening(
    visit: &VisitFacts,
    rules: &RuleSet,
    agent: Agent,
    at: DateTime<Utc>,
) -> Result<(), Refusal> {
    visit.may_go_on(rules)?;
    rules.method(agent.into()).map_err(|refusal| refusal.field("agent"))?;
    if visit.closed(agent) {
        let detail = format!("{} was not noticed today: use another agent or refer.", capital(agent.name()));
        return Err(Refusal::new(Code::AgentClosedToday, detail).field("agent"));
    }
    visit.wait_after_fail_over(rules, at)?;
    if let Some(until) = visit.odour_until(rules, agent).filter(|until| at < *until) {
        let detail = "Let the nose rest in fresh air until the time given, then screen again.";
        return Err(wait(Code::WaitAfterFail, detail.to_owned(), at, until));
    }
    if let Some(until) = visit.switch_until(rules, agent).filter(|until| at < *until) {
        let detail = format!(
            "Let the {} fade: rinse, rest, and start at the time given.",
            agent.other_taste().map_or("last taste", Agent::sensation)
        );
        return Err(wait(Code::AgentSwitchWait, detail, at, until));
    }
    intake_over(visit.last_intake_at, no_intake_seconds(rules, agent), at)
}

/// Nothing is to be eaten before something is tasted; the odour and the smoke ask for no such wait.
fn no_intake_seconds(rules: &RuleSet, agent: Agent) -> u32 {
    if agent.is_tasted() { rules.screening.no_intake_seconds } else { 0 }
}

/// Whether an attempt on `respirator` may start at `at`, and the screening it stands on.
pub fn may_start_attempt(
    visit: &VisitFacts,
    rules: &RuleSet,
    respirator: Uuid,
    at: DateTime<Utc>,
) -> Result<AttemptBasis, Refusal> {
    visit.may_go_on(rules)?;
    no_hair(visit.hair_at_seal)?;
    visit.not_excluded(rules, respirator)?;
    visit.wait_after_fail_over(rules, at)?;
    let basis = visit.basis(at).ok_or_else(|| {
        let detail =
            "Screen first: an attempt needs a level found on this day, and a new one after every fail.";
        Refusal::new(Code::NewScreeningRequired, detail)
    })?;
    intake_over(visit.last_intake_at, no_intake_seconds(rules, basis.agent), at)?;
    Ok(basis)
}

/// Whether the fit factor of `respirator` may be measured: by a method of the day, and again after a fail only as the
/// rule set says. It stands on no screening, and the taste ladder of the day does not bar it.
pub fn may_measure(
    visit: &VisitFacts,
    rules: &RuleSet,
    method: Method,
    respirator: Uuid,
) -> Result<(), Refusal> {
    visit.permitted()?;
    visit.nothing_open()?;
    rules.method(method)?;
    no_hair(visit.hair_at_seal)?;
    visit.not_excluded(rules, respirator)
}

/// The next step at `now`. `preferred` is the agent the day starts with.
pub fn next_step(visit: &VisitFacts, rules: &RuleSet, preferred: Agent, now: DateTime<Utc>) -> NextStep {
    if let Some(open) = visit.attempts.iter().find(|attempt| attempt.outcome.is_none()) {
        return NextStep::FinishAttempt { attempt: open.id };
    }
    if let Some(open) = visit.screenings.iter().find(|screening| screening.outcome.is_none()) {
        return NextStep::FinishScreening { screening: open.id };
    }
    if visit.permitted().is_err() {
        return NextStep::SeeClinician;
    }
    if let Some(newest) = visit.newest_counting().filter(|attempt| attempt.outcome == Some(Outcome::Pass)) {
        return NextStep::Done { attempt: newest.id };
    }
    if visit.to_be_measured || visit.measured_last() {
        let methods: Vec<_> =
            rules.methods.keys().copied().filter(|method| method.is_quantitative()).collect();
        if !methods.is_empty() {
            if visit.hair_at_seal {
                return NextStep::Shave;
            }
            return NextStep::Measure { methods, excluded_respirators: visit.excluded(rules) };
        }
    }
    if visit.ladder_used_up(rules) {
        return NextStep::Refer { reason: ReferralReason::LadderUsedUp };
    }
    let later = |moments: [Option<DateTime<Utc>>; 3]| {
        moments.into_iter().flatten().max().filter(|until| now < *until)
    };
    let intake_until = visit.last_intake_at.map(|at| seconds_after(at, rules.screening.no_intake_seconds));
    let fail_until = visit.fail_until(rules);
    if let Some(basis) = visit.basis(now) {
        if visit.hair_at_seal {
            return NextStep::Shave;
        }
        let excluded_respirators = visit.excluded(rules);
        let AttemptBasis { screening, agent, level, .. } = basis;
        let not_before = later([intake_until, fail_until, None]);
        return NextStep::Attempt { screening, agent, level, excluded_respirators, not_before };
    }
    match visit.agent_to_try(rules, preferred) {
        Some(agent) => {
            let not_before = later([intake_until, fail_until, visit.switch_until(rules, agent)]);
            NextStep::Screen { agent, not_before }
        }
        None => NextStep::Refer { reason: ReferralReason::CannotTaste },
    }
}
