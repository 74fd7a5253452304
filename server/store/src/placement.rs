//! Placements: where a bottle, a nebulizer or a hood is. The newest one counts.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    dates::local_date,
    refusal::{Code, Refusal},
    stock::{Candidate, PlaceMovement, first_expired_first, way},
    supplies::bottle_in_date,
};
use uuid::Uuid;

use crate::{
    StoreError, Tx, bottle, equipment, insert_once, look_back,
    place::{self, Place},
    schema::{bottles, placements, places},
    site, user,
};

/// What changes its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Thing {
    /// A bottle.
    Bottle(Uuid),
    /// A nebulizer or a hood.
    Equipment(Uuid),
}

impl Thing {
    fn ids(self) -> (Option<Uuid>, Option<Uuid>) {
        match self {
            Self::Bottle(id) => (Some(id), None),
            Self::Equipment(id) => (None, Some(id)),
        }
    }
}

/// One change of place.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable)]
#[diesel(table_name = placements, check_for_backend(diesel::pg::Pg))]
pub struct Placement {
    /// Its id.
    pub id: Uuid,
    /// The bottle, where it is one.
    pub bottle_id: Option<Uuid>,
    /// The nebulizer or hood, where it is one.
    pub equipment_id: Option<Uuid>,
    /// How it changed its place, as its word.
    pub movement: String,
    /// Where it was.
    pub from_place_id: Option<Uuid>,
    /// Where it went.
    pub to_place_id: Uuid,
    /// Who took it.
    pub handed_to: Option<Uuid>,
    /// Why, where a reason was needed.
    pub reason: Option<String>,
    /// When.
    pub happened_at: DateTime<Utc>,
    /// When the server learned of it.
    pub recorded_at: DateTime<Utc>,
}

/// A change of place to be recorded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewPlacement {
    /// Its id.
    pub id: Uuid,
    /// What changes its place.
    pub thing: Thing,
    /// Where the caller believes it to be; none where nobody has said yet.
    pub from_place_id: Option<Uuid>,
    /// Where it goes.
    pub to_place_id: Uuid,
    /// The user name of who takes it.
    pub handed_to: Option<String>,
    /// Why it is not the one that ends first.
    pub reason: Option<String>,
    /// When.
    pub happened_at: DateTime<Utc>,
}

#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = placements, check_for_backend(diesel::pg::Pg))]
struct Row {
    id: Uuid,
    site_id: Uuid,
    bottle_id: Option<Uuid>,
    equipment_id: Option<Uuid>,
    movement: String,
    from_place_id: Option<Uuid>,
    to_place_id: Uuid,
    handed_to: Option<Uuid>,
    reason: Option<String>,
    happened_at: DateTime<Utc>,
}

/// Where something is, and since when.
#[derive(Debug, Clone)]
pub struct Placed {
    /// The place.
    pub place: Place,
    /// When it came there.
    pub since: DateTime<Utc>,
}

/// Where some bottles, nebulizers or hoods are by what is known now.
pub(crate) fn places_of(
    conn: &mut PgConnection,
    site_id: Uuid,
    ids: &[Uuid],
) -> Result<HashMap<Uuid, Placed>, StoreError> {
    let of_things = placements::table.filter(placements::site_id.eq(site_id));
    let newest = (placements::happened_at.desc(), placements::recorded_at.desc(), placements::id.desc());
    let mut rows: Vec<(Option<Uuid>, Uuid, DateTime<Utc>)> = of_things
        .filter(placements::bottle_id.eq_any(ids))
        .distinct_on(placements::bottle_id)
        .order((placements::bottle_id, newest.0, newest.1, newest.2))
        .select((placements::bottle_id, placements::to_place_id, placements::happened_at))
        .load(conn)?;
    rows.extend(
        of_things
            .filter(placements::equipment_id.eq_any(ids))
            .distinct_on(placements::equipment_id)
            .order((placements::equipment_id, newest.0, newest.1, newest.2))
            .select((placements::equipment_id, placements::to_place_id, placements::happened_at))
            .load::<(Option<Uuid>, Uuid, DateTime<Utc>)>(conn)?,
    );
    let place_ids: Vec<Uuid> = rows.iter().map(|(_, place_id, _)| *place_id).collect();
    let found: Vec<Place> =
        places::table.filter(places::id.eq_any(place_ids)).select(Place::as_select()).load(conn)?;
    let by_id: HashMap<Uuid, Place> = found.into_iter().map(|place| (place.id, place)).collect();
    let placed = rows.into_iter().filter_map(|(thing, place_id, since)| {
        Some((thing?, Placed { place: by_id.get(&place_id)?.clone(), since }))
    });
    Ok(placed.collect())
}

/// Where one thing is by what is known now.
pub(crate) fn place_of(
    conn: &mut PgConnection,
    site_id: Uuid,
    id: Uuid,
) -> Result<Option<Placed>, StoreError> {
    Ok(places_of(conn, site_id, &[id])?.remove(&id))
}

/// Where a bottle was at a moment, by what is known now.
pub(crate) fn place_at(
    conn: &mut PgConnection,
    site_id: Uuid,
    bottle_id: Uuid,
    at: DateTime<Utc>,
) -> Result<Option<Placed>, StoreError> {
    let found: Option<(Place, DateTime<Utc>)> = placements::table
        .inner_join(places::table.on(places::id.eq(placements::to_place_id)))
        .filter(placements::site_id.eq(site_id))
        .filter(placements::bottle_id.eq(bottle_id))
        .filter(placements::happened_at.le(at))
        .order((placements::happened_at.desc(), placements::recorded_at.desc(), placements::id.desc()))
        .select((Place::as_select(), placements::happened_at))
        .first(conn)
        .optional()?;
    Ok(found.map(|(place, since)| Placed { place, since }))
}

/// The ways of one thing through the house, in order.
pub fn list(conn: &mut PgConnection, site_id: Uuid, thing: Thing) -> Result<Vec<Placement>, StoreError> {
    let (bottle_id, equipment_id) = thing.ids();
    let of_thing = placements::table
        .filter(placements::site_id.eq(site_id))
        .filter(placements::bottle_id.is_not_distinct_from(bottle_id))
        .filter(placements::equipment_id.is_not_distinct_from(equipment_id));
    let in_order = of_thing.order((placements::happened_at, placements::recorded_at, placements::id));
    Ok(in_order.select(Placement::as_select()).load(conn)?)
}

/// Moves a bottle, a nebulizer or a hood, if it still is where the caller believes it to be.
pub fn create(tx: &mut Tx<'_>, new: &NewPlacement) -> Result<Placement, StoreError> {
    let site_id = tx.site_id();
    // Two who reach for the same thing at once come one after the other; the second finds it gone.
    match new.thing {
        Thing::Bottle(id) => bottle::lock(tx, id)?,
        Thing::Equipment(id) => equipment::lock(tx, id)?,
    }
    let to = place::find(tx.conn, site_id, new.to_place_id)?;
    let from = new.from_place_id.map(|id| place::find(tx.conn, site_id, id)).transpose()?;
    let row = row(tx, new, from.as_ref(), &to)?;
    let (bottle_id, equipment_id) = new.thing.ids();
    let thing_id = bottle_id.or(equipment_id).unwrap_or_default();
    let before = place_of(tx.conn, site_id, thing_id)?;
    if insert(tx, &row)? {
        still_there(before, from.as_ref(), new.happened_at)?;
        if let (Thing::Bottle(id), Some(from)) = (new.thing, &from) {
            may_leave(tx, id, from, &to, new)?;
        }
        if row.movement == PlaceMovement::HandOver.as_str() && row.handed_to.is_none() {
            let sentence = "A hand-over has two names: say who takes it.";
            return Err(Refusal::new(Code::InvalidValue, sentence).field("handed_to").into());
        }
    }
    Ok(placements::table.find(new.id).select(Placement::as_select()).first(tx.conn)?)
}

/// Where a thing was received.
pub(crate) fn append(
    tx: &mut Tx<'_>,
    thing: Thing,
    movement: PlaceMovement,
    (from, to): (Option<Uuid>, Uuid),
    happened_at: DateTime<Utc>,
) -> Result<(), StoreError> {
    let (bottle_id, equipment_id) = thing.ids();
    let row = Row {
        id: Uuid::now_v7(),
        site_id: tx.site_id(),
        bottle_id,
        equipment_id,
        movement: movement.as_str().to_owned(),
        from_place_id: from,
        to_place_id: to,
        handed_to: None,
        reason: None,
        happened_at,
    };
    insert(tx, &row).map(drop)
}

fn row(tx: &mut Tx<'_>, new: &NewPlacement, from: Option<&Place>, to: &Place) -> Result<Row, StoreError> {
    let (bottle_id, equipment_id) = new.thing.ids();
    if from.is_some_and(|from| from.id == to.id) {
        let sentence = "It is there already: name another place.";
        return Err(Refusal::new(Code::InvalidValue, sentence).field("to_place_id").into());
    }
    let handed_to = new.handed_to.as_deref().map(|name| user::id_of(tx.conn, tx.actor.site_id, name));
    Ok(Row {
        id: new.id,
        site_id: tx.site_id(),
        bottle_id,
        equipment_id,
        movement: between(from, to).as_str().to_owned(),
        from_place_id: new.from_place_id,
        to_place_id: new.to_place_id,
        handed_to: handed_to.transpose()?,
        reason: new.reason.clone(),
        happened_at: new.happened_at,
    })
}

/// What a way between two places is called.
pub(crate) fn between(from: Option<&Place>, to: &Place) -> PlaceMovement {
    way(from.map(Place::is_in_use), to.is_in_use())
}

fn insert(tx: &mut Tx<'_>, row: &Row) -> Result<bool, StoreError> {
    let (now, by) = (tx.now, tx.actor.id);
    let added = insert_once(
        tx.conn,
        row,
        |conn, row| {
            let made = diesel::insert_into(placements::table).values((
                row,
                placements::recorded_at.eq(now),
                placements::recorded_by.eq(by),
            ));
            Ok(made.on_conflict(placements::id).do_nothing().execute(conn)?)
        },
        |conn| {
            let stored = placements::table.find(row.id).filter(placements::site_id.eq(row.site_id));
            stored.select(Row::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("placements", row.id);
        let places: Vec<Uuid> = row.from_place_id.into_iter().chain([row.to_place_id]).collect();
        look_back::placed(tx, &places, row.happened_at)?;
    }
    Ok(added.is_new())
}

/// Where it is by now is where it has to come from, and it cannot leave before it came.
fn still_there(
    before: Option<Placed>,
    from: Option<&Place>,
    happened_at: DateTime<Utc>,
) -> Result<(), StoreError> {
    let Some(Placed { place, since }) = before else {
        if from.is_none() {
            return Ok(());
        }
        let sentence = "Nobody has said yet where this is: leave the place it comes from out.";
        return Err(Refusal::new(Code::MovedMeanwhile, sentence).field("from_place_id").into());
    };
    if from.map(|from| from.id) == Some(place.id) && happened_at >= since {
        return Ok(());
    }
    let sentence = format!("Since {} it is at {}.", since.format("%F %T UTC"), place.name);
    let refusal = Refusal::new(Code::MovedMeanwhile, sentence).field("from_place_id");
    Err(refusal.fact("place_id", place.id.to_string()).fact("place", place.name).fact("since", since).into())
}

/// A bottle leaves a storeroom for a place of use only when it is in date, of no stopped lot, and the one that ends first.
fn may_leave(
    tx: &mut Tx<'_>,
    bottle_id: Uuid,
    from: &Place,
    to: &Place,
    new: &NewPlacement,
) -> Result<(), StoreError> {
    let site_id = tx.site_id();
    if !to.is_in_use() {
        return Ok(());
    }
    let (rules, tz) = site::rules_and_zone(tx.conn, site_id)?;
    let today = local_date(new.happened_at, tz);
    let taken = bottle::find(tx.conn, site_id, bottle_id)?;
    let last_day = bottle_in_date(&taken.facts(&rules, tz)?, today)?;
    if from.is_in_use() {
        return Ok(());
    }
    let mut others = Vec::new();
    for other in bottle::at_place(tx.conn, site_id, from.id)? {
        let alike = other.lot.agent == taken.lot.agent && other.lot.solution == taken.lot.solution;
        if other.bottle.id == bottle_id || !alike || other.on_hand_ul <= 0 {
            continue;
        }
        if let Ok(ends) = bottle_in_date(&other.facts(&rules, tz)?, today) {
            others.push(Candidate { label: other.bottle.label, expires_on: Some(ends) });
        }
    }
    let taken = Candidate { label: taken.bottle.label, expires_on: Some(last_day) };
    Ok(first_expired_first(&taken, &others, new.reason.as_deref())?)
}

/// The bottles whose newest placement is at this place.
pub(crate) fn bottles_at(
    conn: &mut PgConnection,
    site_id: Uuid,
    place_id: Uuid,
) -> Result<Vec<Uuid>, StoreError> {
    // Whatever was ever brought here is looked at, and left out where it went on since.
    let came: Vec<Uuid> = placements::table
        .inner_join(bottles::table)
        .filter(placements::site_id.eq(site_id))
        .filter(placements::to_place_id.eq(place_id))
        .select(bottles::id)
        .distinct()
        .load(conn)?;
    still_at(conn, site_id, place_id, came)
}

/// The nebulizers and hoods whose newest placement is at this place.
pub(crate) fn equipment_at(
    conn: &mut PgConnection,
    site_id: Uuid,
    place_id: Uuid,
) -> Result<Vec<Uuid>, StoreError> {
    let came: Vec<Option<Uuid>> = placements::table
        .filter(placements::site_id.eq(site_id))
        .filter(placements::to_place_id.eq(place_id))
        .filter(placements::equipment_id.is_not_null())
        .select(placements::equipment_id)
        .distinct()
        .load(conn)?;
    still_at(conn, site_id, place_id, came.into_iter().flatten().collect())
}

fn still_at(
    conn: &mut PgConnection,
    site_id: Uuid,
    place_id: Uuid,
    came: Vec<Uuid>,
) -> Result<Vec<Uuid>, StoreError> {
    let now = places_of(conn, site_id, &came)?;
    let here = |id: &Uuid| now.get(id).is_some_and(|placed| placed.place.id == place_id);
    Ok(came.into_iter().filter(here).collect())
}
