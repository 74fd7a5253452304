//! Clearances: what follows from the facts, and a cache of it that is rewritten in the transaction of every such fact.

mod cache;
mod facts;
mod gate;

use std::sync::Arc;

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    clearance::{Clearance, PersonRespiratorFacts, clearance},
    ruleset::RuleSet,
};
use uuid::Uuid;

use crate::{StoreError, schema::people, site};

pub(crate) use cache::{Cached, cached, recompute_site, rows_of};
pub use cache::{recompute_people, recompute_person};
pub(crate) use facts::{Pair, load};
pub use gate::{GateClearances, PersonCleared, cleared_at};

/// One person's clearance for one respirator.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RespiratorClearance {
    /// The respirator.
    pub respirator_id: Uuid,
    /// What follows from the facts.
    pub clearance: Clearance,
}

/// The two clocks of a question: what held at one moment, as it was known at another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moments {
    /// The moment that is asked about.
    pub at: DateTime<Utc>,
    /// Only what was stored by then counts.
    pub known_at: DateTime<Utc>,
}

/// What clearances of a site are computed under.
pub(crate) struct Frame {
    pub(crate) rules: Arc<RuleSet>,
    pub(crate) zone: Tz,
}

/// The site's own zone and rule set.
pub(crate) fn frame(conn: &mut PgConnection, site_id: Uuid) -> Result<Frame, StoreError> {
    let (rules, zone) = site::rules_and_zone(conn, site_id)?;
    Ok(Frame { rules, zone })
}

impl Frame {
    pub(crate) fn clearance(&self, facts: &PersonRespiratorFacts, moments: Moments) -> Clearance {
        clearance(facts, &self.rules, self.zone, moments.at, moments.known_at)
    }
}

/// The clearances of one person, one for each respirator with a result, always from the facts.
pub fn of_person(
    conn: &mut PgConnection,
    site_id: Uuid,
    person_id: Uuid,
    moments: Moments,
) -> Result<Vec<RespiratorClearance>, StoreError> {
    people::table
        .find(person_id)
        .filter(people::site_id.eq(site_id))
        .select(people::id)
        .first::<Uuid>(conn)
        .optional()?
        .ok_or_else(|| StoreError::not_found("person"))?;
    let frame = frame(conn, site_id)?;
    let found = load(conn, site_id, &[person_id])?;
    let known = found.into_iter().filter(|(_, facts)| tested(facts, moments.known_at));
    let clearances = known.map(|((_, respirator_id), facts)| RespiratorClearance {
        respirator_id,
        clearance: frame.clearance(&facts, moments),
    });
    Ok(clearances.collect())
}

/// Whether any result was known at a moment: before it there is nothing to say about the respirator.
fn tested(facts: &PersonRespiratorFacts, known_at: DateTime<Utc>) -> bool {
    facts.attempts.iter().any(|attempt| attempt.recorded_at <= known_at)
}
