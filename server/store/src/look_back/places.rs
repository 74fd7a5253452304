//! Stations and places: where what is asked about was in use, and where it is now. No person is in here.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::look_back::{Certainty, Subject};
use uuid::Uuid;

use super::{
    Asked, LookBack, Totals,
    in_use::sprayed,
    subjects::{self, Detail},
};
use crate::{
    StoreError, balance,
    schema::{bottles, days, equipment, fill_emptyings, fills, lots, places, respirators, stations},
};

/// One station where it was in use, or may have been, with how many runs there stand on it.
#[derive(Debug, Clone)]
pub struct StationUse {
    /// The station.
    pub station_id: Uuid,
    /// Its name.
    pub name: String,
    /// The place of its day.
    pub place: String,
    /// When its day opened.
    pub opens_at: DateTime<Utc>,
    /// People with a run there of each kind: surely, possibly, not affected.
    pub people: [usize; 3],
    /// Runs there of each kind.
    pub runs: [usize; 3],
}

impl LookBack {
    /// The totals of each kind: surely, possibly, not affected.
    #[must_use]
    pub fn all_totals(&self) -> [Totals; 3] {
        KINDS.map(|kind| self.totals(kind))
    }
}

const KINDS: [Certainty; 3] = [Certainty::Surely, Certainty::Possibly, Certainty::NotAffected];

/// The stations of a look-back, by the opening of their day and by name.
pub fn stations_used(
    conn: &mut PgConnection,
    site_id: Uuid,
    found: &LookBack,
) -> Result<Vec<StationUse>, StoreError> {
    let mut runs: HashMap<Uuid, [usize; 3]> = HashMap::new();
    let mut people: HashMap<Uuid, [BTreeSet<Uuid>; 3]> = HashMap::new();
    for run in found.people.iter().flat_map(|person| &person.runs) {
        for (index, kind) in KINDS.iter().enumerate() {
            if run.verdict.certainty != *kind {
                continue;
            }
            if let Some(count) = runs.entry(run.station_id).or_default().get_mut(index) {
                *count += 1;
            }
            if let Some(people) = people.entry(run.station_id).or_default().get_mut(index) {
                people.insert(run.person_id);
            }
        }
    }
    let ids: BTreeSet<Uuid> = found.stations.iter().chain(runs.keys()).copied().collect();
    let rows: Vec<(Uuid, String, String, DateTime<Utc>)> = stations::table
        .inner_join(days::table)
        .filter(stations::site_id.eq(site_id))
        .filter(stations::id.eq_any(ids))
        .order((days::opens_at, stations::name, stations::id))
        .select((stations::id, stations::name, days::place, days::opens_at))
        .load(conn)?;
    let used = rows.into_iter().map(|(station_id, name, place, opens_at)| StationUse {
        station_id,
        name,
        place,
        opens_at,
        people: people.remove(&station_id).unwrap_or_default().map(|people| people.len()),
        runs: runs.remove(&station_id).unwrap_or_default(),
    });
    Ok(used.collect())
}

/// Where something is.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Standing {
    /// In the room of a day, at a station, or in a storeroom: in words.
    At(String),
    /// No record says where.
    Unknown,
}

/// Something that has to be taken away.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Holding {
    /// What it is, in words, with its label.
    pub what: String,
    /// Since when it is there, where that is known.
    pub since: Option<DateTime<Utc>>,
}

/// A place, and what of it is there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlaceHeld {
    /// Where.
    pub place: Standing,
    /// What.
    pub things: Vec<Holding>,
}

/// Where all of it is now: bottles, filled nebulizers, nebulizers and hoods.
pub fn holdings(conn: &mut PgConnection, site_id: Uuid, asked: Asked) -> Result<Vec<PlaceHeld>, StoreError> {
    asked.known(conn, site_id)?;
    let parts = subjects::load(conn, site_id, &[asked], Detail::Whereabouts, None)?;
    let subjects = parts.into_iter().next().unwrap_or_default();
    let mut things: Vec<(Option<Uuid>, Holding)> = Vec::new();
    for subject in &subjects {
        match subject {
            Subject::Lot { bottles, .. } | Subject::Bottle { bottles, .. } => {
                let ids: Vec<Uuid> = bottles.iter().map(|bottle| bottle.id).collect();
                let words = bottle_words(conn, &ids)?;
                for bottle in bottles {
                    let put = bottle.whereabouts.placed.last();
                    let what = words.get(&bottle.id).cloned().unwrap_or_default();
                    let since = put.map(|put| put.at);
                    things.push((put.map(|put| put.place), Holding { what, since }));
                }
            }
            Subject::Nebulizer { label, whereabouts, .. } => {
                let put = whereabouts.placed.last();
                let what = format!("Nebulizer {label}");
                things.push((put.map(|put| put.place), Holding { what, since: put.map(|put| put.at) }));
            }
            Subject::Hood { id, whereabouts, .. } => {
                let put = whereabouts.placed.last();
                let label: String = equipment::table.find(id).select(equipment::label).first(conn)?;
                let what = format!("Hood {label}");
                things.push((put.map(|put| put.place), Holding { what, since: put.map(|put| put.at) }));
            }
            Subject::Facepieces { .. }
            | Subject::Fill { .. }
            | Subject::Tester { .. }
            | Subject::Station { .. } => {}
        }
    }
    if let Asked::Lot(id) = asked {
        things.extend(pieces(conn, id)?);
    }
    things.extend(filled(conn, site_id, &subjects)?);
    grouped(conn, site_id, things)
}

/// What is counted of a lot, place by place; also where the books say less than nothing, because somebody has to look.
fn pieces(conn: &mut PgConnection, lot_id: Uuid) -> Result<Vec<(Option<Uuid>, Holding)>, StoreError> {
    let held = balance::pieces_of_lots(conn, &[lot_id])?;
    if held.is_empty() {
        return Ok(Vec::new());
    }
    let lot = words_for(conn, Asked::Lot(lot_id))?;
    let holding = |pieces: balance::Pieces| {
        let what = format!("{} pieces by the books. {lot}", pieces.on_hand);
        (Some(pieces.place_id), Holding { what, since: None })
    };
    Ok(held.into_iter().filter(|pieces| pieces.on_hand != 0).map(holding).collect())
}

fn bottle_words(conn: &mut PgConnection, ids: &[Uuid]) -> Result<HashMap<Uuid, String>, StoreError> {
    type Row = (Uuid, String, String, Option<String>, Option<String>);
    let rows: Vec<Row> = bottles::table
        .inner_join(lots::table)
        .filter(bottles::id.eq_any(ids))
        .select((bottles::id, bottles::label, lots::lot_number, lots::agent, lots::solution))
        .load(conn)?;
    let words = |(id, label, lot, agent, solution): Row| {
        let liquid = liquid_words(agent.as_deref(), solution.as_deref());
        (id, format!("Bottle {label}, lot {lot}, {liquid}"))
    };
    Ok(rows.into_iter().map(words).collect())
}

/// Agent and solution in full words, never by number or colour.
fn liquid_words(agent: Option<&str>, solution: Option<&str>) -> String {
    use sellion_rules::supplies::{Agent, Solution};
    let agent = agent.and_then(|word| word.parse::<Agent>().ok());
    let solution = solution.and_then(|word| word.parse::<Solution>().ok());
    match agent.zip(solution) {
        Some((agent, solution)) => format!("{} of {}", solution.name(), agent.name()),
        None => "counted in pieces".to_owned(),
    }
}

type Filled = (Uuid, Uuid, String, DateTime<Utc>, Option<String>, Option<String>);

/// The nebulizers of open days that hold any of it, or may: not emptied and not filled with something else since.
fn filled(
    conn: &mut PgConnection,
    site_id: Uuid,
    subjects: &[Subject],
) -> Result<Vec<(Option<Uuid>, Holding)>, StoreError> {
    let fillings = sprayed(conn, site_id, subjects)?;
    let ids: Vec<Uuid> = fillings.iter().map(|fill| fill.id).collect();
    let rows: Vec<Filled> = fills::table
        .inner_join(stations::table.inner_join(days::table))
        .inner_join(bottles::table.inner_join(lots::table))
        .left_join(fill_emptyings::table)
        .filter(fills::site_id.eq(site_id))
        .filter(fills::id.eq_any(ids))
        .filter(days::closed_at.is_null())
        .filter(fill_emptyings::id.is_null())
        .order(fills::happened_at)
        .select((
            fills::id,
            fills::station_id,
            fills::nebulizer,
            fills::happened_at,
            lots::agent,
            lots::solution,
        ))
        .load(conn)?;
    let labels: BTreeSet<&str> = rows.iter().map(|row| row.2.as_str()).collect();
    let newest: Vec<Uuid> = fills::table
        .filter(fills::site_id.eq(site_id))
        .filter(fills::nebulizer.eq_any(labels))
        .distinct_on(fills::nebulizer)
        .order((fills::nebulizer, fills::happened_at.desc(), fills::recorded_at.desc(), fills::id.desc()))
        .select(fills::id)
        .load(conn)?;
    let held = rows.into_iter().filter(|row| newest.contains(&row.0));
    Ok(held
        .map(|(_, station, nebulizer, at, agent, solution)| {
            let liquid = liquid_words(agent.as_deref(), solution.as_deref());
            let what = format!("Nebulizer {nebulizer}, filled with {liquid}");
            (Some(station), Holding { what, since: Some(at) })
        })
        .collect())
}

/// By place: stations with the place of their day, then storerooms, then what nobody knows the place of.
fn grouped(
    conn: &mut PgConnection,
    site_id: Uuid,
    things: Vec<(Option<Uuid>, Holding)>,
) -> Result<Vec<PlaceHeld>, StoreError> {
    let ids: BTreeSet<Uuid> = things.iter().filter_map(|(place, _)| *place).collect();
    let of_stations: Vec<(Uuid, String, String)> = stations::table
        .inner_join(days::table)
        .filter(stations::site_id.eq(site_id))
        .filter(stations::id.eq_any(&ids))
        .select((stations::id, stations::name, days::place))
        .load(conn)?;
    let rooms: Vec<(Uuid, String)> = places::table
        .filter(places::site_id.eq(site_id))
        .filter(places::id.eq_any(&ids))
        .select((places::id, places::name))
        .load(conn)?;
    let mut names: HashMap<Uuid, String> = rooms.into_iter().collect();
    names.extend(of_stations.into_iter().map(|(id, name, place)| (id, format!("{name}, {place}"))));
    let mut held: BTreeMap<Standing, Vec<Holding>> = BTreeMap::new();
    for (place, thing) in things {
        let name = place.and_then(|place| names.get(&place).cloned());
        held.entry(name.map_or(Standing::Unknown, Standing::At)).or_default().push(thing);
    }
    Ok(held
        .into_iter()
        .map(|(place, mut things)| {
            things.sort_by(|one, other| one.what.cmp(&other.what));
            PlaceHeld { place, things }
        })
        .collect())
}

/// What is asked about, in words, for a print.
pub fn words_for(conn: &mut PgConnection, asked: Asked) -> Result<String, StoreError> {
    Ok(match asked {
        Asked::Lot(id) => lot_words(conn, id)?,
        Asked::Bottle(id) => bottle_words(conn, &[id])?.remove(&id).unwrap_or_default(),
        Asked::Fill(id) => {
            let row = fills::table.find(id).select((fills::nebulizer, fills::bottle_id));
            let (nebulizer, bottle): (String, Uuid) = row.first(conn)?;
            let bottle = bottle_words(conn, &[bottle])?.remove(&bottle).unwrap_or_default();
            format!("One filling of nebulizer {nebulizer}: {bottle}")
        }
        Asked::Equipment(id, _) => {
            let row = equipment::table.find(id).select((equipment::kind, equipment::label));
            let (kind, label): (String, String) = row.first(conn)?;
            if kind == "hood" { format!("Hood {label}") } else { format!("Nebulizer {label}") }
        }
        Asked::Tester(..) => "Runs of one tester: nothing to take away".to_owned(),
        Asked::Station(id, _) => {
            let name: String = stations::table.find(id).select(stations::name).first(conn)?;
            format!("{name}: nothing to take away")
        }
    })
}

/// A lot with its maker and what it is.
fn lot_words(conn: &mut PgConnection, id: Uuid) -> Result<String, StoreError> {
    let row: LotRow = lots::table
        .left_join(respirators::table)
        .filter(lots::id.eq(id))
        .select((
            lots::lot_number,
            lots::maker,
            (lots::agent, lots::solution, lots::supply),
            (respirators::make, respirators::model, respirators::style, respirators::size).nullable(),
        ))
        .first(conn)?;
    let (number, maker, (agent, solution, supply), respirator) = row;
    let maker = maker.map(|maker| format!(" of {maker}")).unwrap_or_default();
    let what = match (supply, respirator) {
        (_, Some((make, model, style, size))) => format!("facepieces {make} {model} {style} {size}"),
        (Some(supply), None) => format!("{supply}s"),
        (None, None) => liquid_words(agent.as_deref(), solution.as_deref()),
    };
    Ok(format!("Lot {number}{maker}, {what}"))
}

type LotRow = (
    String,
    Option<String>,
    (Option<String>, Option<String>, Option<String>),
    Option<(String, String, String, String)>,
);
