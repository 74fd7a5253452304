//! The plan of an attempt as data: what to do, how long, how many squeezes, what to say.

use serde::{Deserialize, Serialize};

use super::setup::{AttemptSetup, Doses};
use super::wording;
use crate::level::Level;
use crate::method::{Family, Method};
use crate::respirator::Facepiece;
use crate::ruleset::{AttemptRules, FitReading, RuleSet};
use crate::text_enum::text_enum;

text_enum! {
    /// What a step of the plan is about.
    pub enum StepKind {
        /// Explain the test.
        Explain = "explain",
        /// Put the respirator on.
        Don = "don",
        /// Wear it.
        Wear = "wear",
        /// Check the seal.
        SealCheck = "seal_check",
        /// Put the hood on and ask whether the taste is gone.
        Hood = "hood",
        /// Give the first dose.
        FirstDose = "first_dose",
        /// Enter the chamber, and let the air in it settle.
        Chamber = "chamber",
        /// Lead the smoke around the facepiece.
        Perimeter = "perimeter",
        /// Connect and start the instrument.
        Measure = "measure",
        /// Run the exercises.
        Exercises = "exercises",
        /// Show that the agent would have been noticed.
        Prove = "prove",
        /// Ask once more.
        AskAgain = "ask_again",
        /// Look at the nebulizer.
        CheckNebulizer = "check_nebulizer",
        /// Undo what was changed on the respirator for the test.
        RemoveModification = "remove_modification",
        /// Sign.
        Sign = "sign",
    }
}

/// One step.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct PlanStep {
    /// Its place, from 1.
    pub number: u8,
    /// What it is about.
    pub kind: StepKind,
    /// What the tester does.
    pub instruction: String,
    /// What the tester says, where there is something to say.
    pub say: Option<String>,
    /// How long it lasts at least, where the rule set says so.
    pub seconds: Option<u32>,
    /// Squeezes, where the step is a dose.
    pub squeezes: Option<u8>,
}

/// One exercise.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct PlanExercise {
    /// Its place, from 1.
    pub number: u8,
    /// Its stable name.
    pub key: String,
    /// Its name in words.
    pub name: String,
    /// Its full length in seconds, without measurements that follow it.
    pub seconds: u32,
    /// Measurements it gives to the overall fit factor; none where it is not scored or nothing is measured.
    pub measurements: u8,
    /// Seconds of measuring after its own seconds.
    pub measuring_seconds: u32,
    /// Breaths that have to be taken at given places, in words.
    pub breaths: Option<String>,
    /// What is sampled when, in words.
    pub sampling: Option<String>,
    /// What the tester says.
    pub say: String,
}

/// The doses of a taste test.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct PlanDoses {
    /// The level of the screening.
    pub level: Level,
    /// Squeezes of the first dose.
    pub first_dose: u8,
    /// Squeezes of every later dose.
    pub redose: u8,
    /// Seconds from one dose to the next, counted from the first.
    pub redose_interval_seconds: u32,
    /// Seconds by which a dose may come early.
    pub dose_early_tolerance_seconds: u32,
    /// Seconds by which a dose may come late.
    pub dose_late_tolerance_seconds: u32,
    /// Later doses when the exercises follow each other without a pause.
    pub expected_redoses: u32,
    /// Squeezes in all when the exercises follow each other without a pause.
    pub expected_squeezes: u32,
}

/// What a measuring test is held against.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct PlanMeasuring {
    /// The least fit factor that passes; equality passes, and nothing is rounded before comparing.
    pub pass_level: u32,
    /// What has to reach it.
    pub reading: FitReading,
    /// The greatest peak penetration in percent, where the method looks at peaks.
    pub peak_percent_max: Option<u32>,
    /// How far the concentration outside may drift in percent, where the method says so.
    pub chamber_drift_percent_max: Option<u32>,
    /// Seconds the breath is held for each measurement, where it is.
    pub breath_hold_seconds: Option<u32>,
}

/// Everything a station needs to run an attempt without computing anything itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Plan {
    /// The method.
    pub method: Method,
    /// The doses, where the agent is tasted.
    pub doses: Option<PlanDoses>,
    /// What is measured against what, where a fit factor is measured.
    pub measuring: Option<PlanMeasuring>,
    /// Seconds the respirator is worn before the testing.
    pub wear_seconds: u32,
    /// Seconds of all exercises together, with their measurements.
    pub exercise_seconds: u32,
    /// The steps, in order.
    pub steps: Vec<PlanStep>,
    /// The exercises, in order.
    pub exercises: Vec<PlanExercise>,
    /// Cautions to keep in sight.
    pub cautions: Vec<String>,
}

/// A plan that lies ready, with what it is for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ReadyPlan {
    /// The level of the screening, where the agent is tasted.
    pub level: Option<Level>,
    /// Whether it is for full facepieces, or for all others.
    pub full_facepiece: bool,
    /// The plan.
    pub plan: Plan,
}

/// The plan of every attempt that may be opened under `rules`, so that a station that loses its network has the right
/// one at hand and computes nothing.
pub fn ready_plans(rules: &RuleSet, jogging_instead_of_bending: bool) -> Vec<ReadyPlan> {
    let mut found = Vec::new();
    for (&method, of_method) in &rules.methods {
        let levels = match method.family() {
            Family::Taste => Level::ALL.iter().copied().map(Some).collect(),
            _ => vec![None],
        };
        for level in levels {
            for facepiece in [Facepiece::HalfMask, Facepiece::FullFacepiece] {
                let setup = AttemptSetup {
                    method,
                    level,
                    jogging_instead_of_bending,
                    screened_at: None,
                    last_intake_at: None,
                    modified_for_test: false,
                    rules: of_method.attempt(facepiece).clone(),
                };
                let full_facepiece = facepiece == Facepiece::FullFacepiece;
                found.push(ReadyPlan { level, full_facepiece, plan: plan(&setup) });
            }
        }
    }
    found
}

/// The plan of an attempt.
pub fn plan(setup: &AttemptSetup) -> Plan {
    let rules = &setup.rules;
    Plan {
        method: setup.method,
        doses: setup.level.zip(setup.doses()).map(|(level, doses)| planned(level, doses, rules)),
        measuring: rules.measuring.as_ref().map(|measuring| PlanMeasuring {
            pass_level: measuring.pass_level,
            reading: measuring.reading,
            peak_percent_max: measuring.peak_percent_max,
            chamber_drift_percent_max: measuring.chamber_drift_percent_max,
            breath_hold_seconds: measuring.breath_hold_seconds,
        }),
        wear_seconds: rules.wear_seconds,
        exercise_seconds: rules.exercise_seconds(),
        steps: wording::steps(setup),
        exercises: wording::exercises(setup),
        cautions: wording::cautions(setup.method),
    }
}

fn planned(level: Level, doses: Doses<'_>, rules: &AttemptRules) -> PlanDoses {
    let expected_redoses = redoses_within(rules.exercise_seconds(), doses.rules.redose_interval_seconds);
    let redose_squeezes = u32::from(doses.later).saturating_mul(expected_redoses);
    PlanDoses {
        level,
        first_dose: doses.first,
        redose: doses.later,
        redose_interval_seconds: doses.rules.redose_interval_seconds,
        dose_early_tolerance_seconds: doses.rules.dose_early_tolerance_seconds,
        dose_late_tolerance_seconds: doses.rules.dose_late_tolerance_seconds,
        expected_redoses,
        expected_squeezes: u32::from(doses.first).saturating_add(redose_squeezes),
    }
}

/// Later doses that fall strictly inside `seconds` of exercises that follow each other without a pause.
fn redoses_within(seconds: u32, interval: u32) -> u32 {
    seconds.saturating_sub(1).checked_div(interval).unwrap_or(0)
}
