//! Equipment: nebulizers and hoods, each known by its own label, and what was found on them.

mod check;
mod hood;
mod review;

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    equipment::{
        EquipmentKind, EquipmentState, FindingFact, must_be_ready, nebulizer_state, unknown_nebulizer,
    },
    refusal::{Code, Refusal},
    stock::PlaceMovement,
    supplies::{Agent, Solution},
};
use uuid::Uuid;

use crate::{
    StoreError, Tx, insert_once, lot, on_constraint, place,
    placement::{self, Placed, Thing},
    schema::{bottles, equipment, fills, lots},
    search,
    stored::{read_count, word},
};

pub use check::{Check, NewCheck, checks, create_check};
pub(crate) use check::{clogged_at_closing, findings, out_since};
pub(crate) use hood::usable_hood;
pub use review::{Review, ReviewedRun, review};

/// One nebulizer or hood.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = equipment, check_for_backend(diesel::pg::Pg))]
pub struct Equipment {
    /// Its id.
    pub id: Uuid,
    /// Which of the two, as its word.
    pub kind: String,
    /// What is written on it.
    pub label: String,
    /// The lot it came in, where that is known.
    pub lot_id: Option<Uuid>,
    /// Of a hood, how long its wipe has to stay wet.
    pub contact_seconds: Option<i32>,
    /// When it came.
    pub happened_at: DateTime<Utc>,
    /// When the server learned of it.
    pub recorded_at: DateTime<Utc>,
}

impl Equipment {
    /// Which of the two it is.
    pub fn kind(&self) -> Result<EquipmentKind, StoreError> {
        word(&self.kind)
    }

    /// How long the wipe of a hood has to stay wet, in seconds.
    pub(crate) fn contact_seconds(&self) -> Result<u32, StoreError> {
        read_count(self.contact_seconds.unwrap_or_default())
    }
}

/// A nebulizer or hood to be registered.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = equipment, check_for_backend(diesel::pg::Pg))]
pub struct NewEquipment {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// Which of the two, as its word.
    pub kind: String,
    /// What is written on it.
    pub label: String,
    /// The lot it came in, where that is known.
    pub lot_id: Option<Uuid>,
    /// Of a hood, how long its wipe has to stay wet.
    pub contact_seconds: Option<i32>,
    /// When it came.
    pub happened_at: DateTime<Utc>,
}

/// A nebulizer or hood with its state and its place.
#[derive(Debug, Clone)]
pub struct Standing {
    /// It.
    pub equipment: Equipment,
    /// Whether it may be used.
    pub state: EquipmentState,
    /// When it will be ready, where that is known.
    pub ready_at: Option<DateTime<Utc>>,
    /// Where it is, where anybody has said so.
    pub placed: Option<Placed>,
}

/// A nebulizer or hood of the site.
pub fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<Equipment, StoreError> {
    let found = equipment::table.find(id).filter(equipment::site_id.eq(site_id));
    let found = found.select(Equipment::as_select()).first(conn).optional()?;
    found.ok_or_else(|| StoreError::not_found("nebulizer or hood"))
}

/// A nebulizer or hood with its state at `at`.
pub fn standing(
    conn: &mut PgConnection,
    site_id: Uuid,
    id: Uuid,
    at: DateTime<Utc>,
) -> Result<Standing, StoreError> {
    let equipment = find(conn, site_id, id)?;
    let findings = findings(conn, id)?;
    let (state, ready_at) = state(conn, &equipment, &findings, at)?;
    let placed = placement::place_of(conn, site_id, id)?;
    Ok(Standing { equipment, state, ready_at, placed })
}

fn state(
    conn: &mut PgConnection,
    equipment: &Equipment,
    findings: &[FindingFact],
    at: DateTime<Utc>,
) -> Result<(EquipmentState, Option<DateTime<Utc>>), StoreError> {
    match equipment.kind()? {
        EquipmentKind::Nebulizer => Ok((nebulizer_state(findings, at), None)),
        EquipmentKind::Hood => hood::state(conn, equipment, findings, None, at),
    }
}

/// Nebulizers and hoods of the site with their states at `at`, by id; those with this text on their label.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    at: DateTime<Utc>,
    text: Option<&str>,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Standing>, StoreError> {
    let of_site = equipment::table.filter(equipment::site_id.eq(site_id)).filter(equipment::id.gt(after));
    let mut page = of_site.order(equipment::id).limit(limit).select(equipment::id).into_boxed();
    if let Some(text) = text {
        page = page.filter(equipment::label.ilike(search::containing(text)));
    }
    let ids: Vec<Uuid> = page.load(conn)?;
    ids.into_iter().map(|id| standing(conn, site_id, id, at)).collect()
}

/// The nebulizers and hoods that are at a place now.
pub fn at_place(
    conn: &mut PgConnection,
    site_id: Uuid,
    place_id: Uuid,
    at: DateTime<Utc>,
) -> Result<Vec<Standing>, StoreError> {
    let ids = placement::equipment_at(conn, site_id, place_id)?;
    ids.into_iter().map(|id| standing(conn, site_id, id, at)).collect()
}

/// Holds a nebulizer or hood, so that what happens to it is decided by one caller after another.
pub(crate) fn lock(tx: &mut Tx<'_>, id: Uuid) -> Result<(), StoreError> {
    let found = equipment::table.find(id).filter(equipment::site_id.eq(tx.site_id()));
    let held: Option<Uuid> = found.select(equipment::id).for_no_key_update().first(tx.conn).optional()?;
    held.map(drop).ok_or_else(|| StoreError::not_found("nebulizer or hood"))
}

/// Registers a nebulizer or hood, at a place or in the first storeroom.
pub fn create(tx: &mut Tx<'_>, new: &NewEquipment, place_id: Option<Uuid>) -> Result<Standing, StoreError> {
    if let Some(lot_id) = new.lot_id {
        let (lot, _) = lot::find(tx.conn, new.site_id, lot_id)?;
        if lot.supply.as_deref() != Some(new.kind.as_str()) {
            let sentence = format!("That lot is not one of {}s.", new.kind);
            return Err(Refusal::new(Code::InvalidValue, sentence).field("lot_id").into());
        }
    }
    let place = match place_id {
        Some(id) => place::find(tx.conn, new.site_id, id)?,
        None => place::storeroom(tx.conn, new.site_id)?,
    };
    register(tx, new, place.id)?;
    standing(tx.conn, new.site_id, new.id, tx.now)
}

fn register(tx: &mut Tx<'_>, new: &NewEquipment, place_id: Uuid) -> Result<(), StoreError> {
    let (now, by) = (tx.now, tx.actor.id);
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(equipment::table)
                .values((new, equipment::recorded_at.eq(now), equipment::recorded_by.eq(by)))
                .on_conflict(equipment::id)
                .do_nothing();
            on_constraint(made.execute(conn), "equipment_label_taken", || {
                let sentence = format!("Another {} has this label: write a new one on this one.", new.kind);
                Refusal::new(Code::AlreadyExists, sentence).field("label")
            })
        },
        |conn| {
            let stored = equipment::table.find(new.id).filter(equipment::site_id.eq(new.site_id));
            stored.select(NewEquipment::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("equipment", new.id);
        let thing = Thing::Equipment(new.id);
        placement::append(tx, thing, PlaceMovement::Receive, (None, place_id), new.happened_at)?;
    }
    Ok(())
}

/// The nebulizer of this label, held until the transaction ends; refused where nobody registered it.
pub(crate) fn registered_nebulizer(tx: &mut Tx<'_>, label: &str) -> Result<Equipment, StoreError> {
    let site_id = tx.site_id();
    if let Some(found) = labelled(tx.conn, site_id, EquipmentKind::Nebulizer, label)? {
        lock(tx, found.id)?;
        return Ok(found);
    }
    let of_site = equipment::table.filter(equipment::site_id.eq(site_id));
    let nebulizers = of_site.filter(equipment::kind.eq(EquipmentKind::Nebulizer.as_str()));
    let known: Vec<String> = nebulizers.select(equipment::label).load(tx.conn)?;
    Err(unknown_nebulizer(label, known.iter().map(String::as_str)).into())
}

/// Refuses a nebulizer that is out of use at `at`. One that nobody has registered yet is not.
pub(crate) fn must_spray(
    conn: &mut PgConnection,
    site_id: Uuid,
    label: &str,
    at: DateTime<Utc>,
) -> Result<(), StoreError> {
    let Some(found) = labelled(conn, site_id, EquipmentKind::Nebulizer, label)? else { return Ok(()) };
    let state = nebulizer_state(&findings(conn, found.id)?, at);
    Ok(must_be_ready((EquipmentKind::Nebulizer, label), (state, None), at)?)
}

/// What a nebulizer was filled with last: the liquid it is kept for.
pub fn last_liquid(
    conn: &mut PgConnection,
    site_id: Uuid,
    label: &str,
) -> Result<Option<(Agent, Solution)>, StoreError> {
    let newest = fills::table
        .inner_join(bottles::table.inner_join(lots::table))
        .filter(fills::site_id.eq(site_id))
        .filter(fills::nebulizer.eq(label))
        .order((fills::happened_at.desc(), fills::recorded_at.desc()))
        .select((lots::agent.assume_not_null(), lots::solution.assume_not_null()))
        .first::<(String, String)>(conn)
        .optional()?;
    newest.map(|(agent, solution)| Ok((word(&agent)?, word(&solution)?))).transpose()
}

diesel::define_sql_function! {
    /// The text in small letters.
    fn lower(text: diesel::sql_types::Text) -> diesel::sql_types::Text;
}

/// What has this label, in small or capital letters.
pub fn labelled(
    conn: &mut PgConnection,
    site_id: Uuid,
    kind: EquipmentKind,
    label: &str,
) -> Result<Option<Equipment>, StoreError> {
    let found = equipment::table
        .filter(equipment::site_id.eq(site_id))
        .filter(equipment::kind.eq(kind.as_str()))
        .filter(lower(equipment::label).eq(lower(label)));
    Ok(found.select(Equipment::as_select()).first(conn).optional()?)
}
