//! What is asked about as the rules look at it, with where it was.

use std::collections::{BTreeSet, HashMap, HashSet};

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    look_back::{Bottle, Placed, Span, Subject, Whereabouts},
    supplies::{Agent, Solution},
};
use uuid::Uuid;

use super::Asked;
use crate::{
    StoreError,
    schema::{
        attempts, bottle_movements, bottles, equipment, fill_emptyings, fills, lots, placements, screenings,
    },
    stored::word,
};

/// Whether it matters where things were: only where the record has a gap or names no hood.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Detail {
    /// Only what they are.
    Names,
    /// Also where they were.
    Whereabouts,
}

/// The parts of each thing that is asked about, in the order of asking. Where it was used is looked up at the stations
/// `at` only, if there are such.
pub(super) fn load(
    conn: &mut PgConnection,
    site_id: Uuid,
    asked: &[Asked],
    detail: Detail,
    at: Option<&[Uuid]>,
) -> Result<Vec<Vec<Subject>>, StoreError> {
    let facepieces = facepieces(conn, site_id, asked)?;
    let mut loader = Loader { supplies: HashMap::new(), equipment: Vec::new(), facepieces, detail, site_id };
    loader.equipment(conn, asked)?;
    // Where hoods were matters without a gap as well: a run may simply not name its hood.
    loader.place_equipment(conn, at)?;
    if detail == Detail::Whereabouts {
        loader.bottles(conn, asked)?;
        loader.place_bottles(conn, at)?;
    }
    asked.iter().map(|asked| loader.parts(conn, *asked)).collect()
}

struct Supply {
    lot: Uuid,
    /// None of what is counted in pieces.
    liquid: Option<(Agent, Solution)>,
    whereabouts: Whereabouts,
    /// The lots that it was made into.
    made_into: Vec<Uuid>,
}

struct Piece {
    id: Uuid,
    kind: String,
    label: String,
    lot: Option<Uuid>,
    whereabouts: Whereabouts,
}

struct Loader {
    supplies: HashMap<Uuid, Supply>,
    equipment: Vec<Piece>,
    facepieces: HashMap<Uuid, Subject>,
    detail: Detail,
    site_id: Uuid,
}

impl Loader {
    fn equipment(&mut self, conn: &mut PgConnection, asked: &[Asked]) -> Result<(), StoreError> {
        let (mut ids, mut lots) = (Vec::new(), Vec::new());
        for one in asked {
            match one {
                Asked::Lot(id) => lots.push(*id),
                Asked::Equipment(id, _) => ids.push(*id),
                _ => {}
            }
        }
        if ids.is_empty() && lots.is_empty() {
            return Ok(());
        }
        type Row = (Uuid, String, String, Option<Uuid>, DateTime<Utc>);
        let rows: Vec<Row> = equipment::table
            .filter(equipment::site_id.eq(self.site_id))
            .filter(equipment::id.eq_any(ids).or(equipment::lot_id.eq_any(lots)))
            .order(equipment::id)
            .select((
                equipment::id,
                equipment::kind,
                equipment::label,
                equipment::lot_id,
                equipment::happened_at,
            ))
            .load(conn)?;
        self.equipment = rows
            .into_iter()
            .map(|(id, kind, label, lot, since)| {
                let whereabouts = Whereabouts { since, ..Whereabouts::default() };
                Piece { id, kind, label, lot, whereabouts }
            })
            .collect();
        Ok(())
    }

    /// The bottles asked about or of lots asked about, and those of whatever was made from them.
    fn bottles(&mut self, conn: &mut PgConnection, asked: &[Asked]) -> Result<(), StoreError> {
        let (mut ids, mut of_lots) = (Vec::new(), Vec::new());
        for one in asked {
            match one {
                Asked::Lot(id) => of_lots.push(*id),
                Asked::Bottle(id) => ids.push(*id),
                _ => {}
            }
        }
        let mut seen: HashSet<Uuid> = of_lots.iter().copied().collect();
        while !(ids.is_empty() && of_lots.is_empty()) {
            type Row = (Uuid, Uuid, Option<String>, Option<String>, DateTime<Utc>);
            let rows: Vec<Row> = bottles::table
                .inner_join(lots::table)
                .filter(bottles::site_id.eq(self.site_id))
                .filter(bottles::id.eq_any(&ids).or(bottles::lot_id.eq_any(&of_lots)))
                .select((bottles::id, bottles::lot_id, lots::agent, lots::solution, bottles::happened_at))
                .load(conn)?;
            let new: Vec<Uuid> = rows.iter().map(|row| row.0).collect();
            for (id, lot, agent, solution, since) in rows {
                let agent: Option<Agent> = agent.as_deref().map(word).transpose()?;
                let liquid = agent.zip(solution.as_deref().map(word).transpose()?);
                let whereabouts = Whereabouts { since, ..Whereabouts::default() };
                self.supplies.insert(id, Supply { lot, liquid, whereabouts, made_into: Vec::new() });
            }
            let made: Vec<(Uuid, Option<Uuid>)> = bottle_movements::table
                .filter(bottle_movements::bottle_id.eq_any(new))
                .filter(bottle_movements::prepared_lot_id.is_not_null())
                .select((bottle_movements::bottle_id, bottle_movements::prepared_lot_id))
                .load(conn)?;
            (ids, of_lots) = (Vec::new(), Vec::new());
            for (bottle, lot) in made {
                let Some(lot) = lot else { continue };
                if let Some(supply) = self.supplies.get_mut(&bottle) {
                    supply.made_into.push(lot);
                }
                if seen.insert(lot) {
                    of_lots.push(lot);
                }
            }
        }
        Ok(())
    }

    fn place_bottles(&mut self, conn: &mut PgConnection, at: Option<&[Uuid]>) -> Result<(), StoreError> {
        let ids: Vec<Uuid> = self.supplies.keys().copied().collect();
        let placed: Vec<(Option<Uuid>, DateTime<Utc>, Uuid)> = placements::table
            .filter(placements::bottle_id.eq_any(&ids))
            .order((placements::happened_at, placements::recorded_at, placements::id))
            .select((placements::bottle_id, placements::happened_at, placements::to_place_id))
            .load(conn)?;
        for (bottle, at, place) in placed {
            if let Some(supply) = bottle.and_then(|bottle| self.supplies.get_mut(&bottle)) {
                supply.whereabouts.placed.push(Placed { at, place });
            }
        }
        let mut used = fills::table
            .filter(fills::bottle_id.eq_any(&ids))
            .select((fills::bottle_id, fills::station_id))
            .distinct()
            .into_boxed();
        if let Some(at) = at {
            used = used.filter(fills::station_id.eq_any(at));
        }
        for (bottle, station) in used.load::<(Uuid, Uuid)>(conn)? {
            if let Some(supply) = self.supplies.get_mut(&bottle) {
                supply.whereabouts.used_at.insert(station);
            }
        }
        Ok(())
    }

    fn place_equipment(&mut self, conn: &mut PgConnection, at: Option<&[Uuid]>) -> Result<(), StoreError> {
        for piece in &mut self.equipment {
            let placed: Vec<(DateTime<Utc>, Uuid)> = placements::table
                .filter(placements::equipment_id.eq(piece.id))
                .order((placements::happened_at, placements::recorded_at, placements::id))
                .select((placements::happened_at, placements::to_place_id))
                .load(conn)?;
            piece.whereabouts.placed = placed.into_iter().map(|(at, place)| Placed { at, place }).collect();
            piece.whereabouts.used_at = if piece.kind == "hood" {
                hood_used_at(conn, piece.id, at)?
            } else {
                let mut used = fills::table
                    .filter(fills::site_id.eq(self.site_id))
                    .filter(fills::nebulizer.eq(&piece.label))
                    .select(fills::station_id)
                    .distinct()
                    .into_boxed();
                if let Some(at) = at {
                    used = used.filter(fills::station_id.eq_any(at));
                }
                used.load::<Uuid>(conn)?.into_iter().collect()
            };
        }
        Ok(())
    }

    /// The bottles reached from some, through what was made from them.
    fn reached(&self, first: impl Fn(Uuid, &Supply) -> bool) -> Vec<Bottle> {
        let mut reached: BTreeSet<Uuid> = BTreeSet::new();
        let mut open: Vec<Uuid> = Vec::new();
        open.extend(self.supplies.iter().filter(|(id, supply)| first(**id, supply)).map(|(id, _)| *id));
        while let Some(id) = open.pop() {
            if !reached.insert(id) {
                continue;
            }
            let made_into = self.supplies.get(&id).map(|supply| supply.made_into.as_slice());
            let further = |supply: &Supply| made_into.is_some_and(|lots| lots.contains(&supply.lot));
            open.extend(self.supplies.iter().filter(|(_, supply)| further(supply)).map(|(id, _)| *id));
        }
        let bottle = |id: Uuid| {
            let supply = self.supplies.get(&id)?;
            let (agent, solution) = supply.liquid?;
            Some(Bottle { id, agent, solution, whereabouts: supply.whereabouts.clone() })
        };
        reached.into_iter().filter_map(bottle).collect()
    }

    fn parts(&self, conn: &mut PgConnection, asked: Asked) -> Result<Vec<Subject>, StoreError> {
        Ok(match asked {
            Asked::Lot(id) if self.facepieces.contains_key(&id) => {
                self.facepieces.get(&id).into_iter().cloned().collect()
            }
            Asked::Lot(id) => {
                let of_lot = self.equipment.iter().filter(|piece| piece.lot == Some(id));
                let pieces = of_lot.map(|piece| piece.subject(Span::default()));
                let bottles = self.reached(|_, supply| supply.lot == id);
                std::iter::once(Subject::Lot { id, bottles }).chain(pieces).collect()
            }
            Asked::Bottle(id) => {
                vec![Subject::Bottle { id, bottles: self.reached(|bottle, _| bottle == id) }]
            }
            Asked::Fill(id) => vec![fill(conn, self.site_id, id, self.detail)?],
            Asked::Equipment(id, span) => {
                let pieces = self.equipment.iter().filter(|piece| piece.id == id);
                pieces.map(|piece| piece.subject(span)).collect()
            }
            Asked::Tester(id, span) => vec![Subject::Tester { id, span }],
            Asked::Station(id, span) => vec![Subject::Station { id, span }],
        })
    }
}

/// The lots of facepieces among what is asked about.
fn facepieces(
    conn: &mut PgConnection,
    site_id: Uuid,
    asked: &[Asked],
) -> Result<HashMap<Uuid, Subject>, StoreError> {
    let of_lots = asked.iter().filter_map(|asked| match asked {
        Asked::Lot(id) => Some(*id),
        _ => None,
    });
    let of_lots: Vec<Uuid> = of_lots.collect();
    if of_lots.is_empty() {
        return Ok(HashMap::new());
    }
    let rows: Vec<(Uuid, Uuid, DateTime<Utc>)> = lots::table
        .filter(lots::site_id.eq(site_id))
        .filter(lots::id.eq_any(of_lots))
        .filter(lots::respirator_id.is_not_null())
        .select((lots::id, lots::respirator_id.assume_not_null(), lots::happened_at))
        .load(conn)?;
    let subject = |(lot, respirator, since)| (lot, Subject::Facepieces { lot, respirator, since });
    Ok(rows.into_iter().map(subject).collect())
}

impl Piece {
    fn subject(&self, span: Span) -> Subject {
        let whereabouts = self.whereabouts.clone();
        if self.kind == "hood" {
            Subject::Hood { id: self.id, span, whereabouts }
        } else {
            Subject::Nebulizer { label: self.label.clone(), span, whereabouts }
        }
    }
}

fn hood_used_at(
    conn: &mut PgConnection,
    hood: Uuid,
    at: Option<&[Uuid]>,
) -> Result<BTreeSet<Uuid>, StoreError> {
    let screened = screenings::table.filter(screenings::hood_id.eq(hood));
    let mut screened = screened.select(screenings::station_id).distinct().into_boxed();
    let tested = attempts::table.filter(attempts::hood_id.eq(hood));
    let mut tested = tested.select(attempts::station_id).distinct().into_boxed();
    if let Some(at) = at {
        screened = screened.filter(screenings::station_id.eq_any(at));
        tested = tested.filter(attempts::station_id.eq_any(at));
    }
    let mut used: Vec<Uuid> = screened.load(conn)?;
    used.extend(tested.load::<Uuid>(conn)?);
    Ok(used.into_iter().collect())
}

/// A filling, from its making until the nebulizer was emptied or filled again.
fn fill(conn: &mut PgConnection, site_id: Uuid, id: Uuid, detail: Detail) -> Result<Subject, StoreError> {
    type Row = (Uuid, String, DateTime<Utc>, Option<String>, Option<String>);
    let row: Option<Row> = fills::table
        .inner_join(bottles::table.inner_join(lots::table))
        .filter(fills::id.eq(id))
        .filter(fills::site_id.eq(site_id))
        .select((fills::station_id, fills::nebulizer, fills::happened_at, lots::agent, lots::solution))
        .first(conn)
        .optional()?;
    let (station, nebulizer, made_at, agent, solution) = row.ok_or_else(|| StoreError::not_found("fill"))?;
    let mut span = Span { from: Some(made_at), until: None };
    if detail == Detail::Whereabouts {
        let next: Option<DateTime<Utc>> = fills::table
            .filter(fills::site_id.eq(site_id))
            .filter(fills::nebulizer.eq(nebulizer))
            .filter(fills::happened_at.gt(made_at))
            .order(fills::happened_at)
            .select(fills::happened_at)
            .first(conn)
            .optional()?;
        let emptied: Option<DateTime<Utc>> = fill_emptyings::table
            .filter(fill_emptyings::fill_id.eq(id))
            .select(fill_emptyings::happened_at)
            .first(conn)
            .optional()?;
        span.until = next.into_iter().chain(emptied).min();
    }
    let solution = solution.ok_or_else(|| StoreError::internal("a fill of a lot without a solution"))?;
    let agent = agent.ok_or_else(|| StoreError::internal("a fill of a lot without an agent"))?;
    Ok(Subject::Fill { id, station, agent: word(&agent)?, solution: word(&solution)?, span })
}
