//! Solutions made in-house: what goes in, how, and for how many days they may be used.

use std::fmt;

use chrono::NaiveDate;

use super::values::{Confirmation, RuleSetVersion, RuleStatus};
use crate::dates::days_after;
use crate::supplies::{Agent, Solution};

/// One thing that goes into a solution.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Ingredient {
    /// How much, as a decimal number with a point.
    pub amount: String,
    /// The unit of that, such as `ml` or `mg`.
    pub unit: String,
    /// What.
    pub of: String,
}

impl fmt::Display for Ingredient {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {} {}", self.amount, self.unit, self.of)
    }
}

/// How a solution is made in-house.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Recipe {
    /// The agent.
    pub agent: Agent,
    /// Which solution it gives.
    pub solution: Solution,
    /// What goes in.
    pub ingredients: Vec<Ingredient>,
    /// What else to do, in words; empty where there is nothing.
    pub instructions: String,
    /// Days it may be used, the day of making being the first; none where no text sets a limit.
    pub life_days: Option<u32>,
    /// Where it comes from.
    pub source: String,
    /// How far it can be trusted.
    pub status: RuleStatus,
    /// Who confirmed it and when, where a site has.
    pub confirmation: Option<Confirmation>,
    /// The rule set it stands in.
    pub by: RuleSetVersion,
}

impl Recipe {
    /// The last day on which what was made on `made_on` may be used; none where no text sets a limit.
    pub fn last_day(&self, made_on: NaiveDate) -> Option<NaiveDate> {
        self.life_days.map(|days| days_after(made_on, days.saturating_sub(1)))
    }

    /// What makes two recipes the same one, whatever is said of its life.
    pub(super) fn is_same_as(&self, other: &Self) -> bool {
        self.place() == other.place()
    }

    pub(super) fn place(&self) -> (Agent, Solution, &[Ingredient]) {
        (self.agent, self.solution, &self.ingredients)
    }

    /// Whether its life is at most as long.
    pub(super) fn is_at_least_as_strict(&self, other: &Self) -> bool {
        shorter(self.life_days, other.life_days) == self.life_days
    }
}

/// The shorter of two lives, of which none is the longest.
pub(super) fn shorter(one: Option<u32>, other: Option<u32>) -> Option<u32> {
    match (one, other) {
        (Some(one), Some(other)) => Some(one.min(other)),
        (one, other) => one.or(other),
    }
}
