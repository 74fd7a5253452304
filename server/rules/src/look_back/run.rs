//! One screening or attempt, as far as a look-back asks.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::contents::Content;
use crate::dates::seconds_after;
use crate::supplies::{Agent, Solution};

/// A run that was left open is taken to have lasted this long and no longer: nobody is sprayed for a day.
pub const RUN_LASTS_AT_MOST_SECONDS: u32 = 24 * 3600;

/// One screening or attempt.
#[derive(Debug, Clone)]
pub struct Run<'f> {
    /// Who ran it.
    pub tester: Uuid,
    /// Where. A station belongs to one day.
    pub station: Uuid,
    /// When it was opened.
    pub began_at: DateTime<Utc>,
    /// When it ended; none while it is open.
    pub ended_at: Option<DateTime<Utc>>,
    /// The hood, where it was named.
    pub hood: Option<Uuid>,
    /// What was sprayed; none where one measures.
    pub spray: Option<Spray<'f>>,
    /// What was worn; none in a screening.
    pub worn: Option<Worn>,
}

/// What was worn in an attempt.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Worn {
    /// Which respirator.
    pub respirator: Uuid,
    /// The lot of its facepiece, where it was named.
    pub lot: Option<Uuid>,
}

/// What was sprayed, or otherwise given to be noticed.
#[derive(Debug, Clone)]
pub struct Spray<'f> {
    /// The agent.
    pub agent: Agent,
    /// The solution.
    pub solution: Solution,
    /// What was in the nebulizer, by the record.
    pub contents: Vec<Content<'f>>,
    /// The gaps in the record of the station.
    pub gaps: Vec<Gap>,
}

/// A time for which nobody knows what a station sprayed: from its first moment to the one before its last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Gap {
    /// Of this agent; of any where it is none.
    pub agent: Option<Agent>,
    /// Of this solution; of any where it is none.
    pub solution: Option<Solution>,
    /// Its first moment.
    pub from: DateTime<Utc>,
    /// The first moment after it.
    pub until: DateTime<Utc>,
}

impl Run<'_> {
    /// When it ended, or the latest moment at which it can have ended.
    pub fn over_at(&self) -> DateTime<Utc> {
        let latest = seconds_after(self.began_at, RUN_LASTS_AT_MOST_SECONDS);
        self.ended_at.map_or(latest, |ended| ended.min(latest))
    }

    /// Whether any moment of it lies in the span.
    pub(super) fn touches(&self, from: Option<DateTime<Utc>>, until: Option<DateTime<Utc>>) -> bool {
        until.is_none_or(|until| self.began_at < until) && from.is_none_or(|from| self.over_at() >= from)
    }

    /// The gaps in which its spray is not known.
    pub(super) fn gaps(&self) -> impl Iterator<Item = &Gap> {
        let pairs = self.spray.iter().flat_map(|spray| spray.gaps.iter().map(move |gap| (spray, gap)));
        let touched = |(spray, gap): &(&Spray<'_>, &Gap)| {
            gap.is_about((spray.agent, spray.solution)) && self.touches(Some(gap.from), Some(gap.until))
        };
        pairs.filter(touched).map(|(_, gap)| gap)
    }
}

impl Gap {
    /// Whether it is about this liquid.
    pub(super) fn is_about(&self, (agent, solution): (Agent, Solution)) -> bool {
        self.agent.is_none_or(|of| of == agent) && self.solution.is_none_or(|of| of == solution)
    }
}
