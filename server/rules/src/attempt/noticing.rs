//! What odour and smoke have of their own: the air that settles, the passes around the facepiece, and the proof after
//! the exercises that the agent would have been noticed.

use chrono::{DateTime, Utc};

use super::machine::{Progress, not_now};
use super::setup::AttemptSetup;
use super::state::Phase;
use super::testing::out_of_order;
use super::verdict::VerdictReason as Reason;
use crate::dates::{seconds_after, seconds_until};
use crate::refusal::{Code, Refusal};

impl Progress {
    /// When the air of the chamber has settled (29 CFR 1910.134 App. A I.B.2(b)(6)).
    pub(super) fn settled_at(&self, setup: &AttemptSetup) -> Option<DateTime<Utc>> {
        let odour = setup.rules.odour.as_ref()?;
        Some(seconds_after(self.testing_at?, odour.settle_seconds))
    }

    /// The pass to make next, before the exercises.
    pub(super) fn next_perimeter_pass(&self, setup: &AttemptSetup) -> Option<u8> {
        let smoke = setup.rules.smoke.as_ref()?;
        let open = self.verdict.is_none() && self.perimeter_passes < smoke.perimeter_passes;
        open.then(|| self.perimeter_passes.saturating_add(1))
    }

    /// One pass around the facepiece; the first one begins the testing (I.B.5(c)(3)).
    pub(super) fn perimeter_passed(
        self,
        setup: &AttemptSetup,
        number: u8,
        at: DateTime<Utc>,
    ) -> Result<Self, Refusal> {
        if setup.rules.smoke.is_none() {
            return Err(not_now(self.phase()));
        }
        let Some(next) = self.next_perimeter_pass(setup) else { return Err(not_now(Phase::Testing)) };
        if number != next {
            let detail = format!("Pass {next} comes next, not {number}.");
            return Err(Refusal::new(Code::EventNotNow, detail).field("number").fact("expected_pass", next));
        }
        let begun = if self.testing_at.is_none() { self.begins(setup, at)? } else { self };
        Ok(Self { perimeter_passes: next, ..begun })
    }

    /// Whether the exercises may begin: the air has settled, the smoke went around.
    pub(super) fn agent_in_place(&self, setup: &AttemptSetup, at: DateTime<Utc>) -> Result<(), Refusal> {
        if let Some(settled_at) = self.settled_at(setup).filter(|settled_at| at < *settled_at) {
            let left = seconds_until(at, settled_at);
            let detail = format!("Wait {left} more seconds until the air in the chamber has settled.");
            let refusal = Refusal::new(Code::NotReady, detail).fact("seconds_remaining", left);
            return Err(refusal.fact("earliest_start", settled_at));
        }
        match self.next_perimeter_pass(setup) {
            Some(next) => {
                Err(out_of_order(format!("Lead the smoke around the facepiece first: pass {next}."), 1))
            }
            None => Ok(()),
        }
    }

    /// The agent was tried without a seal after the exercises: noticed, the run counts; not noticed, it proves nothing.
    pub(super) fn proof(self, noticed: bool, at: DateTime<Utc>) -> Self {
        if noticed { Self { proven: true, ..self } } else { self.void(Reason::AgentNotProven, at) }
    }
}
