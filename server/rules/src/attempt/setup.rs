//! What an attempt starts from.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

use crate::level::Level;
use crate::method::Method;
use crate::ruleset::{AttemptRules, DoseRules, Exercise};

/// Everything besides the events that the verdict depends on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct AttemptSetup {
    /// The method.
    #[serde(alias = "agent")]
    pub method: Method,
    /// The level of the screening this attempt stands on, where the agent is tasted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level: Option<Level>,
    /// Jogging in place instead of bending over, where the hood does not let the wearer bend.
    pub jogging_instead_of_bending: bool,
    /// When the screening it stands on ended, where the method has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub screened_at: Option<DateTime<Utc>>,
    /// The last food, drink other than plain water, smoke or gum; none when there was none worth asking about.
    pub last_intake_at: Option<DateTime<Utc>>,
    /// Whether the facepiece was changed for the test: probed, adapted, converted or a surrogate.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub modified_for_test: bool,
    /// The values of the rule set that govern it.
    pub rules: AttemptRules,
}

/// The doses of one attempt with a taste agent.
#[derive(Debug, Clone, Copy)]
pub(super) struct Doses<'a> {
    pub(super) rules: &'a DoseRules,
    /// Squeezes of the first dose.
    pub(super) first: u8,
    /// Squeezes of every later dose.
    pub(super) later: u8,
}

impl AttemptSetup {
    /// The doses, where the method has any.
    pub(super) fn doses(&self) -> Option<Doses<'_>> {
        let (rules, level) = (self.rules.doses.as_ref()?, self.level?);
        Some(Doses { rules, first: level.squeezes(), later: level.redose_squeezes(rules.redose_percent) })
    }

    /// Whether a clogged nebulizer voids this run.
    pub(super) fn clog_voids(&self) -> bool {
        self.rules.doses.as_ref().is_some_and(|doses| match self.method {
            Method::Saccharin => doses.clog_voids_saccharin,
            _ => doses.clog_voids_denatonium_benzoate,
        })
    }

    /// The name of an exercise as this run does it.
    pub fn exercise_key<'a>(&self, exercise: &'a Exercise) -> &'a str {
        match &exercise.alternative {
            Some(alternative) if self.jogging_instead_of_bending => alternative,
            _ => &exercise.key,
        }
    }

    /// The exercise of this number.
    pub(super) fn exercise(&self, number: u8) -> Option<&Exercise> {
        self.rules.exercises.get(usize::from(number).checked_sub(1)?)
    }
}
