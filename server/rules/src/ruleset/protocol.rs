//! The typed values of one method, and what of them governs one attempt.

use serde::{Deserialize, Serialize};

use crate::method::Method;
use crate::respirator::Facepiece;
use crate::text_enum::text_enum;

text_enum! {
    /// What "I am not sure" from the wearer counts as.
    pub enum UnsureReading {
        /// As noticed: a fail.
        Tasted = "tasted",
        /// For nothing: void, to be repeated.
        Void = "void",
    }
}

text_enum! {
    /// What has to reach the pass level.
    pub enum FitReading {
        /// The overall fit factor.
        Overall = "overall",
        /// The overall fit factor, and that of every scored exercise too.
        EveryExercise = "every_exercise",
    }
}

/// One exercise of a protocol.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Exercise {
    /// Its place, from 1.
    pub number: u8,
    /// Its stable name, such as `normal_breathing`.
    pub key: String,
    /// Its full length in seconds, without measurements that follow it.
    pub seconds: u32,
    /// The exercise that takes its place where the hood does not let the wearer bend.
    pub alternative: Option<String>,
    /// How many measurements it gives to the overall fit factor; none for one that is not scored.
    #[serde(default = "one")]
    pub measurements: u8,
    /// Seconds of measuring after its own seconds, all measurements together.
    #[serde(default)]
    pub measuring_seconds: u32,
    /// Breaths that have to be taken at given places, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub breaths: Option<String>,
    /// What is sampled when, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sampling: Option<String>,
}

fn one() -> u8 {
    1
}

/// Values of the doses of a taste test.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DoseRules {
    /// Seconds from one dose to the next.
    pub redose_interval_seconds: u32,
    /// Later doses as a share of the first, in percent.
    pub redose_percent: u8,
    /// Seconds by which a dose may come before it is due.
    pub dose_early_tolerance_seconds: u32,
    /// Seconds by which a dose may come after it is due.
    pub dose_late_tolerance_seconds: u32,
    /// Whether a clogged nebulizer voids a run with saccharin.
    pub clog_voids_saccharin: bool,
    /// Whether a clogged nebulizer voids a run with denatonium benzoate.
    pub clog_voids_denatonium_benzoate: bool,
}

/// Values of a test by odour.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct OdourRules {
    /// Seconds in the chamber before the exercises.
    pub settle_seconds: u32,
}

/// Values of a test by smoke.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SmokeRules {
    /// Passes around the facepiece before the exercises.
    pub perimeter_passes: u8,
}

/// Values of a test that measures, for one kind of facepiece.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct MeasuringRules {
    /// What has to reach the pass level.
    pub reading: FitReading,
    /// The least fit factor that passes; equality passes.
    pub pass_level: u32,
    /// The greatest peak penetration in percent, where the method looks at peaks.
    pub peak_percent_max: Option<u32>,
    /// How far the concentration outside may drift, in percent, where the method says so.
    pub chamber_drift_percent_max: Option<u32>,
    /// Seconds the breath is held for each measurement, where it is.
    pub breath_hold_seconds: Option<u32>,
    /// A fit factor above this is asked for a second time.
    pub plausible_fit_factor_max: u32,
    /// Whether the exercises are done while moving: stepping, walking or cycling.
    #[serde(default)]
    pub while_moving: bool,
}

/// The values that govern one attempt, as they were when it was opened.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct AttemptRules {
    /// Seconds the respirator is worn before the testing.
    pub wear_seconds: u32,
    /// Seconds without food, drink other than plain water, smoke or gum; none where nothing is tasted.
    pub no_intake_seconds: u32,
    /// Failed seal checks that end an attempt.
    pub seal_check_tries: u8,
    /// What "not sure" counts as.
    pub unsure_counts_as: UnsureReading,
    /// The exercises, in order.
    pub exercises: Vec<Exercise>,
    /// The doses, where the agent is tasted.
    #[serde(flatten)]
    pub doses: Option<DoseRules>,
    /// The chamber, where the agent is smelled.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub odour: Option<OdourRules>,
    /// The smoke, where there is smoke.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub smoke: Option<SmokeRules>,
    /// The measuring, where a fit factor is measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measuring: Option<MeasuringRules>,
}

impl AttemptRules {
    /// Seconds of all exercises together, with their measurements and without the pauses between them.
    pub fn exercise_seconds(&self) -> u32 {
        let length = |exercise: &Exercise| exercise.seconds.saturating_add(exercise.measuring_seconds);
        self.exercises.iter().map(length).fold(0, u32::saturating_add)
    }
}

/// The values of one method that a rule set accepts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MethodRules {
    /// The method.
    pub method: Method,
    /// What governs an attempt on a half facepiece, a quarter one and a filtering one included.
    pub half_facepiece: AttemptRules,
    /// What governs an attempt on a full facepiece.
    pub full_facepiece: AttemptRules,
}

impl MethodRules {
    /// What governs an attempt on this kind of facepiece.
    pub fn attempt(&self, facepiece: Facepiece) -> &AttemptRules {
        match facepiece {
            Facepiece::FullFacepiece => &self.full_facepiece,
            _ => &self.half_facepiece,
        }
    }
}
