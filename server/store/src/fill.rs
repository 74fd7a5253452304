//! Fills: one filling of one nebulizer from one bottle at one moment. A label names the same nebulizer all day.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    refusal::{Code, Refusal},
    ruleset::RuleSet,
    supplies::{self, Agent, FillFacts, Solution},
};
use uuid::Uuid;

use crate::{
    StoreError, Tx,
    bottle::{self, Supply},
    day, insert_once,
    schema::{bottles, fills, lots, stations},
    site, station,
};

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
    /// When it was made.
    pub happened_at: DateTime<Utc>,
    /// When the server learned of it.
    pub recorded_at: DateTime<Utc>,
}

/// A filling to be recorded.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = fills, check_for_backend(diesel::pg::Pg))]
pub struct NewFill {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
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
    /// When it was made.
    pub happened_at: DateTime<Utc>,
}

/// A fill with the bottle it came from.
#[derive(Debug, Clone)]
pub struct Filled {
    /// The fill.
    pub fill: Fill,
    /// Its bottle.
    pub supply: Supply,
}

impl Filled {
    /// The facts as the rules ask for them.
    pub fn facts(&self, rules: &RuleSet, tz: Tz) -> Result<FillFacts, StoreError> {
        Ok(FillFacts {
            agent: self.supply.lot.agent()?,
            solution: self.supply.lot.solution()?,
            filled_at: self.fill.happened_at,
            discarded_at: None,
            bottle: self.supply.facts(rules, tz)?,
        })
    }

    /// The first moment at which it may no longer be used, when it may be used at `at`.
    pub fn usable(&self, rules: &RuleSet, at: DateTime<Utc>, tz: Tz) -> Result<DateTime<Utc>, StoreError> {
        let facts = self.facts(rules, tz)?;
        Ok(supplies::fill_usable(&facts, rules.supplies.fill_life_seconds, at, tz)?)
    }
}

/// The fill that a run at the station would use at that moment, or why there is none that may be used.
///
/// It is the newest one of that agent and solution whose nebulizer was not filled again since.
pub fn current(
    conn: &mut PgConnection,
    site_id: Uuid,
    station_id: Uuid,
    (agent, solution): (Agent, Solution),
    at: DateTime<Utc>,
    rules: &RuleSet,
) -> Result<Fill, StoreError> {
    let tz = site::zone(conn, site_id)?;
    let station = station::find(conn, site_id, station_id)?;
    let held = held_by_nebulizers(conn, site_id, station.day_id, at, None)?;
    let newest = held
        .into_iter()
        .filter(|held| held.fill.station_id == station_id && held.is(agent, solution))
        .max_by_key(|held| (held.fill.happened_at, held.fill.recorded_at, held.fill.id));
    let filled = match newest {
        Some(held) => Some(filled(conn, site_id, held.fill)?),
        None => None,
    };
    let facts = filled.as_ref().map(|filled| filled.facts(rules, tz)).transpose()?;
    supplies::fill_required(facts.as_ref(), agent, solution, rules.supplies.fill_life_seconds, at, tz)?;
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
    let bottle_ids: Vec<Uuid> = found.iter().map(|fill| fill.bottle_id).collect();
    let supplies = bottle::of_ids(conn, site_id, &bottle_ids)?;
    let with_supply = |fill: Fill| {
        let supply = supplies.iter().find(|supply| supply.bottle.id == fill.bottle_id)?;
        Some(Filled { supply: supply.clone(), fill })
    };
    Ok(found.into_iter().filter_map(with_supply).collect())
}

/// Records a filling. The bottle must be usable at that moment, and the nebulizer not hold the rest of another liquid.
pub fn create(tx: &mut Tx<'_>, new: &NewFill) -> Result<Filled, StoreError> {
    let (now, by) = (tx.now, tx.actor.id);
    let station = station::find(tx.conn, new.site_id, new.station_id)?;
    let supply = bottle::find(tx.conn, new.site_id, new.bottle_id)?;
    // Fillings of one nebulizer are put in one order, because each depends on the one before.
    let day = day::lock(tx, station.day_id)?;
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(fills::table)
                .values((new, fills::recorded_at.eq(now), fills::recorded_by.eq(by)))
                .on_conflict(fills::id)
                .do_nothing();
            Ok(made.execute(conn)?)
        },
        |conn| {
            let stored = fills::table.find(new.id).filter(fills::site_id.eq(new.site_id));
            stored.select(NewFill::as_select()).first(conn).optional()
        },
    )?;
    // Only a new fill is judged: a repeat has to find its row even when the lot was stopped since.
    if added.is_new() {
        let tz = site::zone(tx.conn, new.site_id)?;
        let rules = day::rules(tx.conn, &day)?;
        supplies::bottle_usable(&supply.facts(&rules, tz)?, new.happened_at, tz)?;
        if !new.rinsed {
            refuse_other_liquid(tx.conn, new, day.id, &supply)?;
        }
        tx.touched("fills", new.id);
    }
    find(tx.conn, new.site_id, new.id)
}

/// A nebulizer that is not rinsed keeps to one liquid: a rest of the other would falsify the next dose.
fn refuse_other_liquid(
    conn: &mut PgConnection,
    new: &NewFill,
    day_id: Uuid,
    supply: &Supply,
) -> Result<(), StoreError> {
    let (agent, solution) = (supply.lot.agent()?, supply.lot.solution()?);
    let held = held_by_nebulizers(conn, new.site_id, day_id, new.happened_at, Some(new.id))?;
    let Some(before) = held.into_iter().find(|held| held.fill.nebulizer == new.nebulizer) else {
        return Ok(());
    };
    if before.is(agent, solution) {
        return Ok(());
    }
    let code = if before.agent == agent.as_str() { Code::FillWrongSolution } else { Code::FillWrongAgent };
    let sentence = format!(
        "{} held another liquid today: take the nebulizer for {} of {}, or rinse this one and say so.",
        new.nebulizer,
        solution.name(),
        agent.name()
    );
    Err(Refusal::new(code, sentence).field("nebulizer").into())
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

/// What each nebulizer of the day held at `at`, leaving one fill out of account.
fn held_by_nebulizers(
    conn: &mut PgConnection,
    site_id: Uuid,
    day_id: Uuid,
    at: DateTime<Utc>,
    except: Option<Uuid>,
) -> Result<Vec<Held>, StoreError> {
    Ok(fills::table
        .inner_join(stations::table)
        .inner_join(bottles::table.inner_join(lots::table))
        .filter(fills::site_id.eq(site_id))
        .filter(stations::day_id.eq(day_id))
        .filter(fills::happened_at.le(at))
        .filter(fills::id.ne(except.unwrap_or_default()))
        .distinct_on(fills::nebulizer)
        .order((fills::nebulizer, fills::happened_at.desc(), fills::recorded_at.desc(), fills::id.desc()))
        .select((Fill::as_select(), lots::agent.assume_not_null(), lots::solution.assume_not_null()))
        .load(conn)?)
}

fn filled(conn: &mut PgConnection, site_id: Uuid, fill: Fill) -> Result<Filled, StoreError> {
    let supply = bottle::find(conn, site_id, fill.bottle_id)?;
    Ok(Filled { fill, supply })
}
