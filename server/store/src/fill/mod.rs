//! Fills: one filling of one nebulizer from one bottle at one moment, and its emptying.

mod create;
mod emptying;

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    refusal::Refusal,
    ruleset::RuleSet,
    supplies::{self, Agent, FillFacts, Solution},
};
use uuid::Uuid;

use crate::{
    StoreError,
    bottle::{self, Supply},
    equipment,
    placement::{self, Placed},
    schema::{bottles, fill_emptyings, fills, lots, stations},
    site, station,
};

pub use create::{NewFill, create};
pub use emptying::{NewEmptying, create_emptying};

/// One filling.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = fills, check_for_backend(diesel::pg::Pg))]
pub struct Fill {
    /// Its id.
    pub id: Uuid,
    /// Where it was made.
    pub station_id: Uuid,
    /// The bottle it came from.
    pub bottle_id: Uuid,
    /// What is written on the nebulizer.
    pub nebulizer: String,
    /// How much, in microlitres.
    pub volume_ul: i64,
    /// Whether the nebulizer was rinsed before.
    pub rinsed: bool,
    /// The fill whose rest it was made on top of: it counts for both.
    pub topped_up_fill_id: Option<Uuid>,
    /// `afterwards` where it was made out of reach of the server.
    pub reported: Option<String>,
    /// When it was made.
    pub happened_at: DateTime<Utc>,
    /// When the server learned of it.
    pub recorded_at: DateTime<Utc>,
}

/// A fill with the bottle it came from.
#[derive(Debug, Clone)]
pub struct Filled {
    /// The fill.
    pub fill: Fill,
    /// Its bottle.
    pub supply: Supply,
    /// When it was emptied, if it was.
    pub emptied_at: Option<DateTime<Utc>>,
    /// Where the books had the bottle then, if that is neither the station nor a filling point.
    pub bottle_was_at: Option<Placed>,
    /// The fills of the rests below it with their bottles, the newest first.
    pub below: Vec<(Fill, Supply)>,
}

/// What became of a fill.
#[derive(Debug, Clone)]
pub struct Standing {
    /// When its nebulizer was filled again, if it was.
    pub refilled_at: Option<DateTime<Utc>>,
    /// Until when a run that begins now may use it, or why none may; nothing once it is in no nebulizer any more.
    pub usable: Option<Result<DateTime<Utc>, Refusal>>,
}

impl Filled {
    /// The facts as the rules ask for them.
    pub fn facts(&self, rules: &RuleSet, tz: Tz) -> Result<FillFacts, StoreError> {
        Ok(FillFacts {
            agent: self.supply.lot.agent()?,
            solution: self.supply.lot.solution()?,
            filled_at: self.below.last().map_or(self.fill.happened_at, |(fill, _)| fill.happened_at),
            discarded_at: self.emptied_at,
            bottle: self.supply.facts(rules, tz)?,
            below: self.below.iter().map(|(_, supply)| supply.facts(rules, tz)).collect::<Result<_, _>>()?,
        })
    }

    /// What became of it by `at`. Only whoever shows a fill asks: a run takes the newest of its nebulizer.
    pub fn standing(
        &self,
        conn: &mut PgConnection,
        site_id: Uuid,
        (rules, tz): (&RuleSet, Tz),
        at: DateTime<Utc>,
    ) -> Result<Standing, StoreError> {
        let after = fills::table
            .filter(fills::site_id.eq(site_id))
            .filter(fills::nebulizer.eq(&self.fill.nebulizer))
            .filter(fills::happened_at.gt(self.fill.happened_at));
        let refilled_at: Option<DateTime<Utc>> =
            after.select(diesel::dsl::min(fills::happened_at)).first(conn)?;
        if self.emptied_at.is_some() || refilled_at.is_some() {
            return Ok(Standing { refilled_at, usable: None });
        }
        let mut usable = || {
            let until = self.usable(rules, at, tz)?;
            if self.supply.lot.agent()?.is_tasted() {
                equipment::must_spray(conn, site_id, &self.fill.nebulizer, at)?;
            }
            Ok(until)
        };
        let usable = match usable() {
            Ok(until) => Ok(until),
            Err(StoreError::Refused(refusal)) => Err(refusal),
            Err(error) => return Err(error),
        };
        Ok(Standing { refilled_at, usable: Some(usable) })
    }

    /// The facts as whoever asks could know them at `at`: of a stop that was recorded later nobody knew, and a station
    /// out of reach knew of none. What was done all the same is kept, and held by the stop.
    fn facts_at(
        &self,
        conn: &mut PgConnection,
        (rules, tz): (&RuleSet, Tz),
        at: DateTime<Utc>,
        in_reach: bool,
    ) -> Result<FillFacts, StoreError> {
        let mut facts = self.facts(rules, tz)?;
        facts.bottle.stopped = in_reach && self.supply.stopped_by(conn, at)?;
        for (below, (_, supply)) in facts.below.iter_mut().zip(&self.below) {
            below.stopped = in_reach && supply.stopped_by(conn, at)?;
        }
        Ok(facts)
    }

    /// Refuses it where it could not be used at `at` by what could be known then.
    pub(crate) fn usable_then(
        &self,
        conn: &mut PgConnection,
        (rules, tz): (&RuleSet, Tz),
        at: DateTime<Utc>,
        in_reach: bool,
    ) -> Result<(), StoreError> {
        let facts = self.facts_at(conn, (rules, tz), at, in_reach)?;
        Ok(supplies::fill_usable(&facts, rules.supplies.fill_life_seconds, at, tz).map(drop)?)
    }

    /// The first moment at which it may no longer be used, when it may be used at `at`.
    pub fn usable(&self, rules: &RuleSet, at: DateTime<Utc>, tz: Tz) -> Result<DateTime<Utc>, StoreError> {
        let facts = self.facts(rules, tz)?;
        Ok(supplies::fill_usable(&facts, rules.supplies.fill_life_seconds, at, tz)?)
    }
}

/// The fill that a run at the station would use at that moment, or why there is none that may be used.
///
/// It is the newest one of that agent and solution whose nebulizer was not filled again since. A station that was not
/// `in_reach` of the server could know neither of a stop nor of what others found on its nebulizer.
pub fn current(
    conn: &mut PgConnection,
    site_id: Uuid,
    station_id: Uuid,
    (agent, solution): (Agent, Solution),
    (at, in_reach): (DateTime<Utc>, bool),
    rules: &RuleSet,
) -> Result<Fill, StoreError> {
    let tz = site::zone(conn, site_id)?;
    let station = station::find(conn, site_id, station_id)?;
    let held = held_by_nebulizers(conn, site_id, station.day_id, at)?;
    let newest = held
        .into_iter()
        .filter(|held| held.fill.station_id == station_id && held.is(agent, solution))
        .max_by_key(|held| (held.fill.happened_at, held.fill.recorded_at, held.fill.id));
    let filled = match newest {
        Some(held) => Some(filled(conn, site_id, held.fill)?),
        None => None,
    };
    let facts = match &filled {
        Some(filled) => Some(filled.facts_at(conn, (rules, tz), at, in_reach)?),
        None => None,
    };
    supplies::fill_required(facts.as_ref(), agent, solution, rules.supplies.fill_life_seconds, at, tz)?;
    if let Some(filled) = filled.as_ref().filter(|_| agent.is_tasted() && in_reach) {
        equipment::must_spray(conn, site_id, &filled.fill.nebulizer, at)?;
    }
    filled
        .map(|filled| filled.fill)
        .ok_or_else(|| StoreError::internal("a fill was accepted that is not there"))
}

/// A fill of the site.
pub fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<Filled, StoreError> {
    let found = fills::table.find(id).filter(fills::site_id.eq(site_id)).select(Fill::as_select());
    let fill = found.first(conn).optional()?.ok_or_else(|| StoreError::not_found("fill"))?;
    filled(conn, site_id, fill)
}

/// The fills made at a station, by id.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    station_id: Uuid,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Filled>, StoreError> {
    station::find(conn, site_id, station_id)?;
    let at_station = fills::table.filter(fills::station_id.eq(station_id)).filter(fills::site_id.eq(site_id));
    let page = at_station.filter(fills::id.gt(after)).order(fills::id).limit(limit);
    let found: Vec<Fill> = page.select(Fill::as_select()).load(conn)?;
    found.into_iter().map(|fill| filled(conn, site_id, fill)).collect()
}

/// The newest fill of one nebulizer, and what it is.
#[derive(Queryable)]
struct Held {
    fill: Fill,
    agent: String,
    solution: String,
}

impl Held {
    fn is(&self, agent: Agent, solution: Solution) -> bool {
        self.agent == agent.as_str() && self.solution == solution.as_str()
    }
}

/// What each nebulizer of the day was filled with last by `at`.
fn held_by_nebulizers(
    conn: &mut PgConnection,
    site_id: Uuid,
    day_id: Uuid,
    at: DateTime<Utc>,
) -> Result<Vec<Held>, StoreError> {
    Ok(fills::table
        .inner_join(stations::table)
        .inner_join(bottles::table.inner_join(lots::table))
        .filter(fills::site_id.eq(site_id))
        .filter(stations::day_id.eq(day_id))
        .filter(fills::happened_at.le(at))
        .distinct_on(fills::nebulizer)
        .order((fills::nebulizer, fills::happened_at.desc(), fills::recorded_at.desc(), fills::id.desc()))
        .select((Fill::as_select(), lots::agent.assume_not_null(), lots::solution.assume_not_null()))
        .load(conn)?)
}

pub(crate) fn filled(conn: &mut PgConnection, site_id: Uuid, fill: Fill) -> Result<Filled, StoreError> {
    let supply = bottle::find(conn, site_id, fill.bottle_id)?;
    let placed = placement::place_at(conn, site_id, fill.bottle_id, fill.happened_at)?;
    let at_hand = |placed: &Placed| placed.place.id == fill.station_id || placed.place.is_filling_point();
    let bottle_was_at = placed.filter(|placed| !at_hand(placed));
    let emptied = fill_emptyings::table.filter(fill_emptyings::fill_id.eq(fill.id));
    let emptied_at = emptied.select(fill_emptyings::happened_at).first(conn).optional()?;
    let mut below = Vec::new();
    let mut next = fill.topped_up_fill_id;
    while let Some(id) = next {
        let rest: Fill = fills::table.find(id).select(Fill::as_select()).first(conn)?;
        next = rest.topped_up_fill_id;
        let supply = bottle::find(conn, site_id, rest.bottle_id)?;
        below.push((rest, supply));
    }
    Ok(Filled { fill, supply, emptied_at, bottle_was_at, below })
}
