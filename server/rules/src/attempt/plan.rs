//! The plan of an attempt as data: what to do, how long, how many squeezes, what to say.

use serde::{Deserialize, Serialize};

use super::setup::AttemptSetup;
use super::wording;
use crate::level::Level;
use crate::supplies::Agent;
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
        /// Run the exercises with the later doses.
        Exercises = "exercises",
        /// Ask once more.
        AskAgain = "ask_again",
        /// Look at the nebulizer.
        CheckNebulizer = "check_nebulizer",
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
    /// Its full length in seconds.
    pub seconds: u32,
    /// What the tester says.
    pub say: String,
}

/// Everything a station needs to run an attempt without computing anything itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Plan {
    /// The agent.
    pub agent: Agent,
    /// The level.
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
    /// Seconds the respirator is worn before the first dose.
    pub wear_seconds: u32,
    /// Seconds of all exercises together.
    pub exercise_seconds: u32,
    /// The steps, in order.
    pub steps: Vec<PlanStep>,
    /// The exercises, in order.
    pub exercises: Vec<PlanExercise>,
    /// Cautions to keep in sight.
    pub cautions: Vec<String>,
}

/// The plan of an attempt.
pub fn plan(setup: &AttemptSetup) -> Plan {
    let rules = &setup.rules;
    let expected_redoses = redoses_within(rules.exercise_seconds(), rules.redose_interval_seconds);
    let redose_squeezes = u32::from(setup.redose()).saturating_mul(expected_redoses);
    Plan {
        agent: setup.agent,
        level: setup.level,
        first_dose: setup.first_dose(),
        redose: setup.redose(),
        redose_interval_seconds: rules.redose_interval_seconds,
        dose_early_tolerance_seconds: rules.dose_early_tolerance_seconds,
        dose_late_tolerance_seconds: rules.dose_late_tolerance_seconds,
        expected_redoses,
        expected_squeezes: u32::from(setup.first_dose()).saturating_add(redose_squeezes),
        wear_seconds: rules.wear_seconds,
        exercise_seconds: rules.exercise_seconds(),
        steps: wording::steps(setup),
        exercises: wording::exercises(setup),
        cautions: wording::CAUTIONS.iter().map(|&caution| caution.to_owned()).collect(),
    }
}

/// Later doses that fall strictly inside `seconds` of exercises that follow each other without a pause.
fn redoses_within(seconds: u32, interval: u32) -> u32 {
    seconds.saturating_sub(1).checked_div(interval).unwrap_or(0)
}
