//! The retest ladder: what a person's next step of the day is, and what may not be started.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::attempt::Outcome;
use crate::dates::{seconds_after, seconds_until};
use crate::level::Level;
use crate::permission::{self, PermissionFact};
use crate::refusal::{Code, Refusal};
use crate::ruleset::RuleSet;
use crate::screening::{ScreeningOutcome, intake_over};
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
    if !rules.agents.contains(&agent) {
        let detail = format!("The rule set of this day does not know {}.", agent.name());
        return Err(Refusal::new(Code::InvalidValue, detail).field("agent"));
    }
    if visit.closed(agent) {
        let detail = format!("{} was not tasted today: use the other agent or refer.", capital(agent.name()));
        return Err(Refusal::new(Code::AgentClosedToday, detail).field("agent"));
    }
    visit.wait_after_fail_over(rules, at)?;
    if let Some(until) = visit.switch_until(rules, agent).filter(|until| at < *until) {
        let detail = format!(
            "Let the {} taste fade: rinse, rest, and start at the time given.",
            agent.other().taste()
        );
        return Err(wait(Code::AgentSwitchWait, detail, at, until));
    }
    intake_over(visit.last_intake_at, rules.screening.no_intake_seconds, at)
}

/// Whether an attempt on `respirator` may start at `at`, and the screening it stands on.
pub fn may_start_attempt(
    visit: &VisitFacts,
    rules: &RuleSet,
    respirator: Uuid,
    at: DateTime<Utc>,
) -> Result<AttemptBasis, Refusal> {
    visit.may_go_on(rules)?;
    if visit.hair_at_seal {
        let detail =
            "No test with hair at the seal: offer the shaving corner, another day, or other equipment.";
        return Err(Refusal::new(Code::HairAtSeal, detail));
    }
    if visit.failed_respirators().any(|failed| failed == respirator) {
        let detail = "This respirator failed today: choose a different one.";
        return Err(Refusal::new(Code::DifferentRespiratorRequired, detail).field("respirator_id"));
    }
    visit.wait_after_fail_over(rules, at)?;
    let basis = visit.basis(at).ok_or_else(|| {
        let detail = "Screen first: an attempt needs a level found today, and a new one after every fail.";
        Refusal::new(Code::NewScreeningRequired, detail)
    })?;
    intake_over(visit.last_intake_at, rules.attempt.no_intake_seconds, at)?;
    Ok(basis)
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
        let mut excluded_respirators: Vec<_> = visit.failed_respirators().collect();
        excluded_respirators.sort_unstable();
        excluded_respirators.dedup();
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

impl VisitFacts {
    /// What holds for every run: permission, nothing open, ladder not used up.
    fn may_go_on(&self, rules: &RuleSet) -> Result<(), Refusal> {
        self.permitted()?;
        if let Some(open) = self.attempts.iter().find(|attempt| attempt.outcome.is_none()) {
            let detail = "An attempt of this visit is still open: end it first.";
            return Err(Refusal::new(Code::AttemptOpen, detail).fact("attempt_id", open.id.to_string()));
        }
        if let Some(open) = self.screenings.iter().find(|screening| screening.outcome.is_none()) {
            let detail = "A screening of this visit is still open: end it first.";
            return Err(Refusal::new(Code::ScreeningOpen, detail).fact("screening_id", open.id.to_string()));
        }
        if self.ladder_used_up(rules) {
            let detail = "No more taste tests today: refer the person and let them rest.";
            return Err(Refusal::new(Code::ReferredToday, detail));
        }
        Ok(())
    }

    /// Permission in force, and after a stopped run one that is newer than it.
    fn permitted(&self) -> Result<(), Refusal> {
        let permission = permission::required(&self.permissions, self.on)?;
        let stopped_attempts =
            self.attempts.iter().filter(|attempt| attempt.outcome == Some(Outcome::Stopped));
        let stopped_screenings =
            self.screenings.iter().filter(|screening| screening.outcome == Some(ScreeningOutcome::Stopped));
        let stopped = stopped_attempts
            .map(|attempt| attempt.ended_at.unwrap_or(attempt.started_at))
            .chain(stopped_screenings.map(|screening| screening.ended_at.unwrap_or(screening.started_at)))
            .max();
        match stopped {
            Some(stopped_at) if permission.happened_at <= stopped_at => {
                let detail = "The person was unwell: a clinician has to decide before anything goes on.";
                Err(Refusal::new(Code::StoppedNeedsClinician, detail).fact("stopped_at", stopped_at))
            }
            _ => Ok(()),
        }
    }

    fn fails(&self) -> impl Iterator<Item = &AttemptFact> {
        self.attempts.iter().filter(|attempt| attempt.outcome == Some(Outcome::Fail))
    }

    fn failed_respirators(&self) -> impl Iterator<Item = Uuid> {
        self.fails().map(|attempt| attempt.respirator)
    }

    fn ladder_used_up(&self, rules: &RuleSet) -> bool {
        u32::try_from(self.fails().count()).unwrap_or(u32::MAX) >= rules.ladder.fails_before_referral
    }

    fn newest_counting(&self) -> Option<&AttemptFact> {
        let counting = self.attempts.iter().filter(|attempt| attempt.outcome.is_some_and(Outcome::counts));
        counting.max_by_key(|attempt| (attempt.ended_at, attempt.outcome == Some(Outcome::Fail), attempt.id))
    }

    fn last_fail_at(&self) -> Option<DateTime<Utc>> {
        self.fails().map(|attempt| attempt.ended_at.unwrap_or(attempt.started_at)).max()
    }

    fn fail_until(&self, rules: &RuleSet) -> Option<DateTime<Utc>> {
        self.last_fail_at().map(|at| seconds_after(at, rules.ladder.wait_after_fail_seconds))
    }

    fn wait_after_fail_over(&self, rules: &RuleSet, at: DateTime<Utc>) -> Result<(), Refusal> {
        match self.fail_until(rules).filter(|until| at < *until) {
            Some(until) => {
                let detail = "Let the person rinse, rest and wait until the time given before the next try.";
                Err(wait(Code::WaitAfterFail, detail.to_owned(), at, until))
            }
            None => Ok(()),
        }
    }

    /// Until when the other agent has to fade before `agent` is used.
    fn switch_until(&self, rules: &RuleSet, agent: Agent) -> Option<DateTime<Utc>> {
        let screened = self.screenings.iter().filter(|screening| screening.agent != agent);
        let tested = self.attempts.iter().filter(|attempt| attempt.agent != agent);
        let last = screened
            .map(|screening| screening.ended_at.unwrap_or(screening.started_at))
            .chain(tested.map(|attempt| attempt.ended_at.unwrap_or(attempt.started_at)))
            .max()?;
        Some(seconds_after(last, rules.ladder.agent_switch_wait_seconds))
    }

    /// Whether a full screening with the agent found no taste today.
    fn closed(&self, agent: Agent) -> bool {
        let mut screenings = self.screenings.iter();
        screenings.any(|screening| {
            screening.agent == agent && screening.outcome == Some(ScreeningOutcome::NotTasted)
        })
    }

    /// The newest screening an attempt at `at` may stand on: it found a level, its agent is not closed, and it began
    /// after the newest fail. A void attempt leaves it standing.
    fn basis(&self, at: DateTime<Utc>) -> Option<AttemptBasis> {
        let last_fail_at = self.last_fail_at();
        let usable = self.screenings.iter().filter_map(|screening| {
            let level = screening.level.filter(|_| screening.outcome == Some(ScreeningOutcome::Level))?;
            let screened_at = screening.ended_at.filter(|ended_at| *ended_at <= at)?;
            let fresh = last_fail_at.is_none_or(|failed_at| screening.started_at >= failed_at);
            let basis = AttemptBasis { screening: screening.id, agent: screening.agent, level, screened_at };
            (fresh && !self.closed(screening.agent)).then_some(basis)
        });
        usable.max_by_key(|basis| (basis.screened_at, basis.screening))
    }

    /// The agent for the next screening: the one tasted last, else the preferred one, else the other.
    fn agent_to_try(&self, rules: &RuleSet, preferred: Agent) -> Option<Agent> {
        let tasted = self.screenings.iter().filter(|s| s.outcome == Some(ScreeningOutcome::Level));
        let tasted_last = tasted.max_by_key(|s| (s.ended_at, s.id)).map(|s| s.agent);
        let candidates = [tasted_last, Some(preferred), Some(preferred.other())];
        let mut open = candidates.into_iter().flatten();
        open.find(|agent| rules.agents.contains(agent) && !self.closed(*agent))
    }
}

fn wait(code: Code, detail: String, at: DateTime<Utc>, until: DateTime<Utc>) -> Refusal {
    Refusal::new(code, detail)
        .fact("earliest_start", until)
        .fact("seconds_remaining", seconds_until(at, until))
}

fn capital(words: &str) -> String {
    let mut text = words.to_owned();
    if let Some(initial) = text.get_mut(..1) {
        initial.make_ascii_uppercase();
    }
    text
}
