//! What an attempt starts from.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

use crate::level::Level;
use crate::ruleset::{AttemptRules, Exercise, RuleSet};
use crate::supplies::Agent;

/// Everything besides the events that the verdict depends on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct AttemptSetup {
    /// The agent that is tasted.
    pub agent: Agent,
    /// The level of the screening this attempt stands on.
    pub level: Level,
    /// Jogging in place instead of bending over, where the hood does not let the wearer bend.
    pub jogging_instead_of_bending: bool,
    /// When that screening ended.
    pub screened_at: DateTime<Utc>,
    /// The last food, drink other than plain water, smoke or gum; none when there was none worth asking about.
    pub last_intake_at: Option<DateTime<Utc>>,
    /// The values of the rule set that govern it.
    pub rules: AttemptRules,
}

impl AttemptSetup {
    /// A setup under `rules`.
    pub fn new(
        rules: &RuleSet,
        agent: Agent,
        level: Level,
        jogging_instead_of_bending: bool,
        screened_at: DateTime<Utc>,
        last_intake_at: Option<DateTime<Utc>>,
    ) -> Self {
        let rules = rules.attempt.clone();
        Self { agent, level, jogging_instead_of_bending, screened_at, last_intake_at, rules }
    }

    /// Squeezes of the first dose.
    pub fn first_dose(&self) -> u8 {
        self.level.squeezes()
    }

    /// Squeezes of every later dose.
    pub fn redose(&self) -> u8 {
        self.level.redose_squeezes(self.rules.redose_percent)
    }

    /// Whether a clogged nebulizer voids a run with this agent.
    pub fn clog_voids(&self) -> bool {
        match self.agent {
            Agent::Saccharin => self.rules.clog_voids_saccharin,
            Agent::DenatoniumBenzoate => self.rules.clog_voids_denatonium_benzoate,
        }
    }

    /// The name of an exercise as this run does it.
    pub fn exercise_key<'a>(&self, exercise: &'a Exercise) -> &'a str {
        match &exercise.alternative {
            Some(alternative) if self.jogging_instead_of_bending => alternative,
            _ => &exercise.key,
        }
    }
}
