//! What is asked about, and where it was.

use std::collections::BTreeSet;

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::contents::{Content, How};
use super::run::Gap;
use crate::supplies::{Agent, Solution};

/// From when until when, the last moment not included; open ends where there is none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Span {
    /// The first moment.
    pub from: Option<DateTime<Utc>>,
    /// The first moment after it.
    pub until: Option<DateTime<Utc>>,
}

/// What is in doubt. A lot of nebulizers or hoods is each of them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Subject {
    /// A lot of a solution.
    Lot {
        /// The lot.
        id: Uuid,
        /// Its bottles, and those of lots that were made from it.
        bottles: Vec<Bottle>,
    },
    /// One bottle.
    Bottle {
        /// The bottle.
        id: Uuid,
        /// It, and the bottles of lots that were made from it.
        bottles: Vec<Bottle>,
    },
    /// One filling.
    Fill {
        /// The filling.
        id: Uuid,
        /// Where it was made.
        station: Uuid,
        /// What it is.
        agent: Agent,
        /// Which strength.
        solution: Solution,
        /// From its making until the nebulizer was emptied or filled again.
        span: Span,
    },
    /// One nebulizer.
    Nebulizer {
        /// What is written on it.
        label: String,
        /// The time for which it is in doubt.
        span: Span,
        /// Where it was.
        whereabouts: Whereabouts,
    },
    /// One hood.
    Hood {
        /// The hood.
        id: Uuid,
        /// The time for which it is in doubt.
        span: Span,
        /// Where it was.
        whereabouts: Whereabouts,
    },
    /// A lot of facepieces.
    Facepieces {
        /// The lot.
        lot: Uuid,
        /// The respirator that they are.
        respirator: Uuid,
        /// When the lot came to the site.
        since: DateTime<Utc>,
    },
    /// Somebody who tests.
    Tester {
        /// The user.
        id: Uuid,
        /// The time for which their runs are in doubt.
        span: Span,
    },
    /// A station.
    Station {
        /// The station.
        id: Uuid,
        /// The time for which its runs are in doubt.
        span: Span,
    },
}

/// A bottle with what is in it and where it was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bottle {
    /// The bottle.
    pub id: Uuid,
    /// What it is.
    pub agent: Agent,
    /// Which strength.
    pub solution: Solution,
    /// Where it was.
    pub whereabouts: Whereabouts,
}

/// Where a thing was, as far as it is recorded.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Whereabouts {
    /// When it came to the site.
    pub since: DateTime<Utc>,
    /// Where it was put, in the order of time.
    pub placed: Vec<Placed>,
    /// Stations that recorded a use of it: they belong to one day each, so it was there on that day.
    pub used_at: BTreeSet<Uuid>,
}

/// A thing was put somewhere.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Placed {
    /// When.
    pub at: DateTime<Utc>,
    /// The place: a storeroom, or a station under its own id.
    pub place: Uuid,
}

impl Subject {
    /// Whether it is what this filling brought into a nebulizer.
    pub(super) fn came_with(&self, content: &Content<'_>) -> bool {
        let sources = &content.fill.sources;
        match self {
            Self::Lot { id, .. } => sources.iter().any(|source| source.lot == *id),
            Self::Bottle { id, .. } => sources.iter().any(|source| source.bottle == *id),
            Self::Fill { id, .. } => content.fill.id == *id,
            Self::Nebulizer { label, .. } => content.how == How::Own && content.fill.nebulizer == *label,
            Self::Hood { .. } | Self::Facepieces { .. } | Self::Tester { .. } | Self::Station { .. } => false,
        }
    }

    /// Whether a nebulizer with these contents has, or may have, anything to do with it.
    pub fn is_among(&self, contents: &[Content<'_>]) -> bool {
        contents.iter().any(|content| self.came_with(content))
    }

    /// Whether it may be what the station sprayed in the gap: as this liquid, or as any that the gap is about.
    pub fn may_fill(&self, station: Uuid, gap: &Gap, liquid: Option<(Agent, Solution)>) -> bool {
        let is_liquid = |own| gap.is_about(own) && liquid.is_none_or(|liquid| liquid == own);
        match self {
            Self::Lot { bottles, .. } | Self::Bottle { bottles, .. } => bottles.iter().any(|bottle| {
                is_liquid((bottle.agent, bottle.solution))
                    && bottle.whereabouts.may_be_at(station, gap.from, gap.until)
            }),
            Self::Fill { station: made_at, agent, solution, span, .. } => {
                *made_at == station && is_liquid((*agent, *solution)) && span.meets(gap)
            }
            Self::Nebulizer { span, whereabouts, .. } => {
                liquid.is_none_or(|(agent, _)| agent.is_tasted())
                    && span.meets(gap)
                    && whereabouts.may_be_at(station, gap.from, gap.until)
            }
            Self::Hood { .. } | Self::Facepieces { .. } | Self::Tester { .. } | Self::Station { .. } => false,
        }
    }
}

impl Span {
    fn meets(self, gap: &Gap) -> bool {
        self.from.is_none_or(|from| from < gap.until) && self.until.is_none_or(|until| until > gap.from)
    }
}

impl Whereabouts {
    /// The places where it stood at any moment of the span.
    pub fn stood_in(&self, span: Span) -> BTreeSet<Uuid> {
        let ends = self.placed.iter().skip(1).map(|next| Some(next.at)).chain([None]);
        let stood = self.placed.iter().zip(ends).filter(|(put, end)| {
            span.until.is_none_or(|until| put.at < until)
                && span.from.is_none_or(|from| end.is_none_or(|end| end > from))
        });
        stood.map(|(put, _)| put.place).collect()
    }

    /// Whether it was used at the station, or stood there at any moment of the span.
    pub(super) fn was_at(&self, station: Uuid, from: DateTime<Utc>, until: DateTime<Utc>) -> bool {
        let stood = self.placed.iter().rfind(|placed| placed.at <= from);
        let came = self.placed.iter().filter(|placed| placed.at > from && placed.at < until);
        self.used_at.contains(&station) || stood.into_iter().chain(came).any(|put| put.place == station)
    }

    /// As [`Whereabouts::was_at`], or nobody knows where it was: a thing that no record puts anywhere may be anywhere.
    pub(super) fn may_be_at(&self, station: Uuid, from: DateTime<Utc>, until: DateTime<Utc>) -> bool {
        let unknown = !self.placed.iter().any(|placed| placed.at < until);
        self.since < until && (unknown || self.was_at(station, from, until))
    }
}
