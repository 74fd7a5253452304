//! What a visit's runs say: what is open, what failed, what is closed, and until when to wait.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::{AttemptBasis, AttemptFact, LadderKind, ScreeningFact, VisitFacts};
use crate::attempt::{Outcome, VerdictReason};
use crate::dates::{seconds_after, seconds_until};
use crate::method::Method;
use crate::permission;
use crate::refusal::{Code, Refusal};
use crate::ruleset::{MeasuredFail, RuleSet};
use crate::screening::ScreeningOutcome;
use crate::supplies::Agent;

impl VisitFacts {
    /// What holds for every run that is not measured: permission, nothing open, ladder not used up.
    pub(super) fn may_go_on(&self, rules: &RuleSet) -> Result<(), Refusal> {
        self.permitted()?;
        self.nothing_open()?;
        if self.ladder_used_up(rules) {
            let detail = "No more taste tests today: refer the person and let them rest.";
            return Err(Refusal::new(Code::ReferredToday, detail));
        }
        Ok(())
    }

    /// One run at a time.
    pub(super) fn nothing_open(&self) -> Result<(), Refusal> {
        if let Some(open) = self.attempts.iter().find(|attempt| attempt.outcome.is_none()) {
            let detail = "An attempt of this visit is still open: end it first.";
            return Err(Refusal::new(Code::AttemptOpen, detail).fact("attempt_id", open.id.to_string()));
        }
        if let Some(open) = self.screenings.iter().find(|screening| screening.outcome.is_none()) {
            let detail = "A screening of this visit is still open: end it first.";
            return Err(Refusal::new(Code::ScreeningOpen, detail).fact("screening_id", open.id.to_string()));
        }
        Ok(())
    }

    /// Permission in force, and after a stopped run one that is newer than it.
    pub(super) fn permitted(&self) -> Result<(), Refusal> {
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

    /// Fails by a method that only tells noticed from not noticed: those that the ladder counts.
    fn qualitative_fails(&self) -> impl Iterator<Item = &AttemptFact> {
        self.fails().filter(|attempt| !attempt.method.is_quantitative())
    }

    /// The respirators that are not tried again today: those that failed, and those that could not be worn.
    pub(super) fn excluded(&self, rules: &RuleSet) -> Vec<Uuid> {
        let mut excluded: Vec<_> = self.attempts.iter().map(|attempt| attempt.respirator).collect();
        excluded.sort_unstable();
        excluded.dedup();
        excluded.retain(|respirator| self.why_not_again(rules, *respirator).is_some());
        excluded
    }

    /// Refuses a respirator that is not tried again today, and says why.
    pub(super) fn not_excluded(&self, rules: &RuleSet, respirator: Uuid) -> Result<(), Refusal> {
        match self.why_not_again(rules, respirator) {
            Some(why) => {
                let detail = format!("{why}: choose a different one.");
                Err(Refusal::new(Code::DifferentRespiratorRequired, detail).field("respirator_id"))
            }
            None => Ok(()),
        }
    }

    /// Why this respirator is not tried again today, if it is not.
    ///
    /// 29 CFR 1910.134 App. A I.B.3(b)(11) after a fail, I.A.8 after seal checks, I.A.11 and I.A.14(b) for comfort. After
    /// a measured fail the text asks for a refit and not for another respirator (I.C.2(b)(7)); a rule set may.
    fn why_not_again(&self, rules: &RuleSet, respirator: Uuid) -> Option<&'static str> {
        let worn = || self.attempts.iter().filter(move |attempt| attempt.respirator == respirator);
        let failed = |quantitative: bool| {
            worn()
                .filter(|attempt| attempt.outcome == Some(Outcome::Fail))
                .filter(|attempt| attempt.method.is_quantitative() == quantitative)
                .count()
        };
        let fails_allowed = match rules.ladder.kind {
            LadderKind::Strict => 0,
            LadderKind::OneRedon => 1,
        };
        let measured_barred = rules.ladder.quantitative_after_fail == MeasuredFail::AnotherRespirator;
        if failed(false) > fails_allowed || (measured_barred && failed(true) > 0) {
            return Some("This respirator failed today");
        }
        let mut reasons = worn().filter_map(|attempt| attempt.reason);
        match reasons.find(|reason| reason.asks_for_another_respirator())? {
            VerdictReason::SealCheckFailed => Some("The seal checks of this respirator failed today"),
            _ => Some("The wearer did not find this respirator comfortable today"),
        }
    }

    pub(super) fn ladder_used_up(&self, rules: &RuleSet) -> bool {
        let fails = self.qualitative_fails().count();
        u32::try_from(fails).unwrap_or(u32::MAX) >= rules.ladder.fails_before_referral
    }

    pub(super) fn newest_counting(&self) -> Option<&AttemptFact> {
        let counting = self.attempts.iter().filter(|attempt| attempt.outcome.is_some_and(Outcome::counts));
        counting.max_by_key(|attempt| (attempt.ended_at, attempt.outcome == Some(Outcome::Fail), attempt.id))
    }

    fn last_fail_at(&self) -> Option<DateTime<Utc>> {
        self.qualitative_fails().map(|attempt| attempt.ended_at.unwrap_or(attempt.started_at)).max()
    }

    pub(super) fn fail_until(&self, rules: &RuleSet) -> Option<DateTime<Utc>> {
        self.last_fail_at().map(|at| seconds_after(at, rules.ladder.wait_after_fail_seconds))
    }

    pub(super) fn wait_after_fail_over(&self, rules: &RuleSet, at: DateTime<Utc>) -> Result<(), Refusal> {
        match self.fail_until(rules).filter(|until| at < *until) {
            Some(until) => {
                let detail = "Let the person rinse, rest and wait until the time given before the next try.";
                Err(wait(Code::WaitAfterFail, detail.to_owned(), at, until))
            }
            None => Ok(()),
        }
    }

    /// Until when the other taste has to fade before `agent` is used.
    pub(super) fn switch_until(&self, rules: &RuleSet, agent: Agent) -> Option<DateTime<Utc>> {
        let other = agent.other_taste()?;
        let screened = self.screenings.iter().filter(|screening| screening.agent == other);
        let tested = self.attempts.iter().filter(|attempt| attempt.method == Method::from(other));
        let last = screened
            .map(|screening| screening.ended_at.unwrap_or(screening.started_at))
            .chain(tested.map(|attempt| attempt.ended_at.unwrap_or(attempt.started_at)))
            .max()?;
        Some(seconds_after(last, rules.ladder.agent_switch_wait_seconds))
    }

    /// Until when the nose rests after an odour was not noticed that had been noticed before the last fail
    /// (29 CFR 1910.134 App. A I.B.2(b)(8)).
    pub(super) fn odour_until(&self, rules: &RuleSet, agent: Agent) -> Option<DateTime<Utc>> {
        let newest = self.not_noticed(agent).filter_map(|screening| screening.ended_at).max()?;
        let odour = agent == Agent::IsoamylAcetate;
        odour.then(|| seconds_after(newest, rules.ladder.wait_after_failed_odour_seconds))
    }

    fn not_noticed(&self, agent: Agent) -> impl Iterator<Item = &ScreeningFact> {
        self.screenings.iter().filter(move |screening| {
            screening.agent == agent && screening.outcome == Some(ScreeningOutcome::NotNoticed)
        })
    }

    /// Whether a full screening with the agent found today that the person does not notice it.
    ///
    /// An odour that was noticed before a fail and not after it may be tried again: the nose is tired (I.B.2(b)(8)).
    pub(super) fn closed(&self, agent: Agent) -> bool {
        let not_tasted = self.screenings.iter().any(|screening| {
            screening.agent == agent && screening.outcome == Some(ScreeningOutcome::NotTasted)
        });
        let first_fail = self
            .qualitative_fails()
            .filter(|attempt| attempt.method == Method::from(agent) && agent == Agent::IsoamylAcetate)
            .filter_map(|attempt| attempt.ended_at)
            .min();
        let tired =
            |screening: &ScreeningFact| first_fail.is_some_and(|failed| screening.started_at >= failed);
        not_tasted || self.not_noticed(agent).any(|screening| !tired(screening))
    }

    /// Whether the newest run measured the fit factor: whoever is being measured is not sent back to taste.
    pub(super) fn measured_last(&self) -> bool {
        let newest = self.attempts.iter().max_by_key(|attempt| (attempt.started_at, attempt.id));
        newest.is_some_and(|attempt| attempt.method.is_quantitative())
    }

    /// The end of the newest run in which the agent was not noticed without the respirator either: what the screening
    /// before it had found is in doubt.
    fn unproven_at(&self) -> Option<DateTime<Utc>> {
        let unproven = |attempt: &&AttemptFact| attempt.reason == Some(VerdictReason::AgentNotProven);
        self.attempts.iter().filter(unproven).filter_map(|attempt| attempt.ended_at).max()
    }

    /// The newest screening an attempt at `at` may stand on: it found a level, or that the agent is noticed, on the same local day, its agent is not
    /// closed, and it began after the newest fail. A void attempt leaves it standing.
    pub(super) fn basis(&self, at: DateTime<Utc>) -> Option<AttemptBasis> {
        let newest_doubt = self.last_fail_at().max(self.unproven_at());
        let usable = self.screenings.iter().filter_map(|screening| {
            let level = match screening.outcome? {
                ScreeningOutcome::Level => Some(screening.level?),
                ScreeningOutcome::Noticed => None,
                _ => return None,
            };
            let screened_at = screening.ended_at.filter(|ended_at| *ended_at <= at)?;
            let fresh = screening.on == self.on
                && newest_doubt.is_none_or(|doubted_at| screening.started_at >= doubted_at);
            let basis = AttemptBasis { screening: screening.id, agent: screening.agent, level, screened_at };
            (fresh && !self.closed(screening.agent)).then_some(basis)
        });
        usable.max_by_key(|basis| (basis.screened_at, basis.screening))
    }

    /// The agent for the next screening: the one noticed last, else the preferred one, else the other.
    pub(super) fn agent_to_try(&self, rules: &RuleSet, preferred: Agent) -> Option<Agent> {
        let noticed = |outcome| matches!(outcome, ScreeningOutcome::Level | ScreeningOutcome::Noticed);
        let tasted = self.screenings.iter().filter(|screening| screening.outcome.is_some_and(noticed));
        let tasted_last = tasted.max_by_key(|s| (s.ended_at, s.id)).map(|s| s.agent);
        let candidates = [tasted_last, Some(preferred), preferred.other_taste()];
        let mut open = candidates.into_iter().flatten();
        open.find(|agent| rules.method(Method::from(*agent)).is_ok() && !self.closed(*agent))
    }
}

pub(super) fn wait(code: Code, detail: String, at: DateTime<Utc>, until: DateTime<Utc>) -> Refusal {
    Refusal::new(code, detail)
        .fact("earliest_start", until)
        .fact("seconds_remaining", seconds_until(at, until))
}
