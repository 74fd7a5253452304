//! What can happen in an attempt.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

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
    /// The wearer tasted the agent.
    Tasted,
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
