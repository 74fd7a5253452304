//! What can happen in an attempt.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

use crate::fit_factor::{Quantity, Reading};
use crate::sequence::Sequenced;
use crate::text_enum::text_enum;

text_enum! {
    /// What the wearer's seal check found.
    pub enum SealCheckResult {
        /// No leak was felt.
        Ok = "ok",
        /// A leak was felt.
        Failed = "failed",
        /// This respirator or wearer allows none; a test needs one all the same.
        NotPossible = "not_possible",
    }
}

/// What happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum AttemptEventKind {
    /// The respirator was put on.
    Donned {
        /// Whether the wearer did it without help.
        by_wearer: bool,
        /// Whether another piece of the same respirator was taken than the one before; the first one always is.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        fresh: bool,
    },
    /// The respirator was taken off.
    Doffed,
    /// The wearer checked the seal.
    SealChecked {
        /// What the check found.
        result: SealCheckResult,
    },
    /// The hood was put on, or the wearer under it was asked again.
    Hooded {
        /// Whether the taste of the screening is gone.
        taste_gone: bool,
    },
    /// A dose was given. The first one starts the testing.
    DoseGiven {
        /// Squeezes of the bulb.
        squeezes: u8,
    },
    /// An exercise began.
    ExerciseStarted {
        /// Its number, from 1.
        number: u8,
    },
    /// An exercise ended at its full length.
    ExerciseEnded {
        /// Its number, from 1.
        number: u8,
    },
    /// The wearer entered the chamber: with the wetted towel in it, or with the generated aerosol.
    ChamberEntered,
    /// The smoke was led once around the facepiece.
    PerimeterPassed {
        /// The number of the pass, from 1.
        number: u8,
    },
    /// The measuring began.
    MeasuringStarted {
        /// The concentration outside before the test, where it is measured once before and once after it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        before: Option<Quantity>,
        /// The peak penetration on entering in percent, where the method looks at peaks.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        peak_percent: Option<Quantity>,
    },
    /// One measurement ended; `happened_at` is its end.
    Measured {
        /// The number of the exercise it belongs to, from 1.
        exercise: u8,
        /// What the instrument said.
        reading: Reading,
        /// What was typed first, where a value that is hardly possible had to be typed again; kept beside what counts.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        typed_first: Option<Reading>,
        /// The greatest peak penetration in percent, where the method looks at peaks.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        peak_percent: Option<Quantity>,
    },
    /// The wearer did not hold the breath: the test begins again with the first exercise.
    BreathHoldLost,
    /// The measuring ended. With it the fit factor is known.
    MeasuringEnded {
        /// The concentration outside after the test, where it is measured once before and once after it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        after: Option<Quantity>,
    },
    /// The wearer tasted the agent.
    Tasted,
    /// The wearer noticed the odour or the smoke.
    Noticed,
    /// The wearer was not sure.
    Unsure,
    /// The respirator was touched or adjusted.
    Adjusted,
    /// The run was interrupted.
    Interrupted,
    /// The hood came off.
    HoodOff,
    /// The wearer is unwell.
    Unwell,
    /// The wearer was asked once more after the last exercise.
    AskedAgain {
        /// Whether the agent was tasted at any moment.
        tasted: bool,
        /// Whether the respirator is comfortable.
        comfortable: bool,
    },
    /// In the chamber, after the exercises, the wearer broke the seal and took a breath.
    SealBroken {
        /// Whether the odour was noticed then, as it has to be.
        noticed: bool,
    },
    /// After the exercises, without the respirator, smoke of the same tube.
    SensitivityChecked {
        /// Whether the smoke was noticed, as it has to be.
        noticed: bool,
    },
    /// What had been changed on the respirator for the test was undone, or the changed facepiece was set aside.
    ModificationRemoved,
    /// The nebulizer was looked at.
    NebulizerChecked {
        /// Whether it sprays.
        clear: bool,
    },
    /// The tester signed.
    Signed,
}

/// One event of an attempt.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct AttemptEvent {
    /// Its number, from 1.
    pub seq: u32,
    /// When it happened.
    pub happened_at: DateTime<Utc>,
    /// What happened.
    #[serde(flatten)]
    pub kind: AttemptEventKind,
}

impl Sequenced for AttemptEvent {
    fn seq(&self) -> u32 {
        self.seq
    }

    fn happened_at(&self) -> DateTime<Utc> {
        self.happened_at
    }
}
