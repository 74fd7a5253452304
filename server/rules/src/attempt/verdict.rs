//! How an attempt ends, and why.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

use crate::text_enum::text_enum;

text_enum! {
    /// The four honest ends of an attempt.
    pub enum Outcome {
        /// Every condition held and nothing was tasted.
        Pass = "pass",
        /// The agent was noticed, or the fit factor is too low.
        Fail = "fail",
        /// It counts for nothing, neither way.
        Void = "void",
        /// The wearer was unwell.
        Stopped = "stopped",
    }
}

impl Outcome {
    /// Whether it decides a clearance one way or the other.
    pub const fn counts(self) -> bool {
        matches!(self, Self::Pass | Self::Fail)
    }
}

text_enum! {
    /// What decided the outcome.
    pub enum VerdictReason {
        /// The run was complete, clean and signed.
        Completed = "completed",
        /// The wearer tasted the agent.
        Tasted = "tasted",
        /// The wearer noticed the odour or the smoke.
        Noticed = "noticed",
        /// The fit factor does not reach the pass level.
        FitFactorTooLow = "fit_factor_too_low",
        /// A peak penetration was above its limit.
        PeakTooHigh = "peak_too_high",
        /// The wearer was not sure, and the rule set says what that means.
        Unsure = "unsure",
        /// The respirator was touched or adjusted.
        Adjusted = "adjusted",
        /// The run was interrupted.
        Interrupted = "interrupted",
        /// The hood came off.
        HoodOff = "hood_off",
        /// The respirator came off.
        Doffed = "doffed",
        /// A dose was not given in time.
        DoseMissed = "dose_missed",
        /// Without the respirator the agent was not noticed either, so the run proves nothing.
        AgentNotProven = "agent_not_proven",
        /// The concentration outside drifted too far.
        ChamberUnstable = "chamber_unstable",
        /// The nebulizer was clogged.
        NebulizerClogged = "nebulizer_clogged",
        /// The wearer found the respirator uncomfortable at the end.
        NotComfortable = "not_comfortable",
        /// The seal check failed too often.
        SealCheckFailed = "seal_check_failed",
        /// The wearer was unwell.
        Unwell = "unwell",
    }
}

impl VerdictReason {
    /// Whether a run that ended so is followed by one on another respirator, although it is no fail: the seal check
    /// failed (29 CFR 1910.134 App. A I.A.8), or the wearer cannot wear this one (I.A.11 and I.A.14(b)).
    pub const fn asks_for_another_respirator(self) -> bool {
        matches!(self, Self::NotComfortable | Self::SealCheckFailed)
    }
}

/// How an attempt ended, and when.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Verdict {
    /// How it ended.
    pub outcome: Outcome,
    /// What decided it.
    pub reason: VerdictReason,
    /// The moment that decided it: of a missed dose the moment it became too late, else that of the event.
    pub at: DateTime<Utc>,
    /// The exercise that was running then.
    pub exercise: Option<u8>,
    /// Whole seconds from the beginning of the testing to `at`.
    pub second: Option<u32>,
    /// The beginning of the testing, when it came that far: with a taste agent the first dose. Its local day is the day of the test.
    pub started_testing_at: Option<DateTime<Utc>>,
    /// The event that ended the run.
    pub ended_at: DateTime<Utc>,
}
