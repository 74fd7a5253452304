//! What was found on a nebulizer or hood, and what follows from it at once.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    equipment::{EquipmentKind, EquipmentState, Finding, FindingFact, nebulizer_state},
    refusal::{Code, Refusal},
};
use uuid::Uuid;

use super::{Equipment, Standing, find, lock, standing};
use crate::{
    StoreError, Tx, attempt,
    fill::{self, NewEmptying},
    insert_once, look_back,
    schema::{attempt_verdicts, attempts, equipment, equipment_checks, fill_emptyings, fills},
    stored::word,
};

/// One finding.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = equipment_checks, check_for_backend(diesel::pg::Pg))]
pub struct Check {
    /// Its id.
    pub id: Uuid,
    /// On what.
    pub equipment_id: Uuid,
    /// What was found or done, as its word.
    pub finding: String,
    /// Of a mix-up, the nebulizer whose liquid was poured in.
    pub other_equipment_id: Option<Uuid>,
    /// Words.
    pub note: Option<String>,
    /// When.
    pub happened_at: DateTime<Utc>,
    /// When the server learned of it.
    pub recorded_at: DateTime<Utc>,
}

/// A finding to be recorded.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = equipment_checks, check_for_backend(diesel::pg::Pg))]
pub struct NewCheck {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// On what.
    pub equipment_id: Uuid,
    /// What was found or done, as its word.
    pub finding: String,
    /// Of a mix-up, the nebulizer whose liquid was poured in.
    pub other_equipment_id: Option<Uuid>,
    /// Words.
    pub note: Option<String>,
    /// When.
    pub happened_at: DateTime<Utc>,
}

/// Everything found on one nebulizer or hood, in order. A mix-up counts for both nebulizers.
pub(crate) fn findings(conn: &mut PgConnection, id: Uuid) -> Result<Vec<FindingFact>, StoreError> {
    let rows: Vec<(String, DateTime<Utc>)> = equipment_checks::table
        .filter(equipment_checks::equipment_id.eq(id).or(equipment_checks::other_equipment_id.eq(id)))
        .order((equipment_checks::happened_at, equipment_checks::recorded_at, equipment_checks::id))
        .select((equipment_checks::finding, equipment_checks::happened_at))
        .load(conn)?;
    let fact = |(finding, happened_at): (String, DateTime<Utc>)| {
        Ok(FindingFact { finding: word(&finding)?, happened_at })
    };
    rows.into_iter().map(fact).collect()
}

/// The checks of one nebulizer or hood, in order.
pub fn checks(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<Vec<Check>, StoreError> {
    find(conn, site_id, id)?;
    let of_it = equipment_checks::equipment_id.eq(id).or(equipment_checks::other_equipment_id.eq(id));
    let found = equipment_checks::table.filter(of_it);
    let in_order = found.order((equipment_checks::happened_at, equipment_checks::recorded_at));
    Ok(in_order.select(Check::as_select()).load(conn)?)
}

/// Records a finding. Attempts that run on a nebulizer found clogged or mixed up are void from that moment.
pub fn create_check(tx: &mut Tx<'_>, new: &NewCheck) -> Result<Standing, StoreError> {
    let mut ids: Vec<Uuid> = [Some(new.equipment_id), new.other_equipment_id].into_iter().flatten().collect();
    // Always in the same order, so that no two transactions wait for each other.
    ids.sort_unstable();
    for id in &ids {
        lock(tx, *id)?;
    }
    let found = find(tx.conn, new.site_id, new.equipment_id)?;
    let finding: Finding = word(&new.finding)?;
    fits(&found, finding)?;
    if let Some(other) = new.other_equipment_id {
        let other = find(tx.conn, new.site_id, other)?;
        if finding != Finding::MixedUp || other.id == found.id || other.kind()? != EquipmentKind::Nebulizer {
            let sentence = "Only of a mix-up there is another nebulizer: name the one whose liquid it was.";
            return Err(Refusal::new(Code::InvalidValue, sentence).field("other_equipment_id").into());
        }
    }
    let fresh = append(tx, new)?;
    if fresh && matches!(finding, Finding::Clogged | Finding::MixedUp) {
        for id in &ids {
            end_running(tx, *id, new.happened_at)?;
        }
    }
    if fresh && finding == Finding::MixedUp {
        look_back::mixed_up(tx, &ids, new.happened_at)?;
    }
    if fresh && finding == Finding::Rinsed {
        empty(tx, &found.label, new.happened_at)?;
        look_back::rinsed(tx, &found.label, new.happened_at)?;
    }
    standing(tx.conn, new.site_id, new.equipment_id, tx.now)
}

fn fits(found: &Equipment, finding: Finding) -> Result<(), StoreError> {
    let kind = found.kind()?;
    if kind.can_be(finding) {
        return Ok(());
    }
    let sentence = format!("A {} is never \"{finding}\".", kind.name());
    Err(Refusal::new(Code::InvalidValue, sentence).field("finding").into())
}

fn append(tx: &mut Tx<'_>, new: &NewCheck) -> Result<bool, StoreError> {
    let (now, by) = (tx.now, tx.actor.id);
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(equipment_checks::table).values((
                new,
                equipment_checks::recorded_at.eq(now),
                equipment_checks::recorded_by.eq(by),
            ));
            Ok(made.on_conflict(equipment_checks::id).do_nothing().execute(conn)?)
        },
        |conn| {
            let stored =
                equipment_checks::table.find(new.id).filter(equipment_checks::site_id.eq(new.site_id));
            stored.select(NewCheck::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("equipment_checks", new.id);
    }
    Ok(added.is_new())
}

/// What was in a nebulizer that was rinsed is gone: nobody tests with water.
fn empty(tx: &mut Tx<'_>, label: &str, happened_at: DateTime<Utc>) -> Result<(), StoreError> {
    let site_id = tx.site_id();
    let newest: Option<Uuid> = fills::table
        .left_join(fill_emptyings::table)
        .filter(fills::site_id.eq(site_id))
        .filter(fills::nebulizer.eq(label))
        .filter(fills::happened_at.le(happened_at))
        .order((fills::happened_at.desc(), fills::recorded_at.desc(), fills::id.desc()))
        .select((fills::id, fill_emptyings::id.nullable()))
        .first::<(Uuid, Option<Uuid>)>(tx.conn)
        .optional()?
        .and_then(|(fill, emptied)| emptied.is_none().then_some(fill));
    let Some(fill_id) = newest else { return Ok(()) };
    let new =
        NewEmptying { id: Uuid::now_v7(), site_id, fill_id, discarded_ul: None, rinsed: true, happened_at };
    fill::create_emptying(tx, &new).map(drop)
}

/// The attempts that are in their doses on this nebulizer's fills end now.
fn end_running(tx: &mut Tx<'_>, equipment_id: Uuid, found_at: DateTime<Utc>) -> Result<(), StoreError> {
    let site_id = tx.site_id();
    let label: String = equipment::table.find(equipment_id).select(equipment::label).first(tx.conn)?;
    let running: Vec<Uuid> = attempts::table
        .inner_join(fills::table)
        .left_join(attempt_verdicts::table)
        .filter(fills::site_id.eq(site_id))
        .filter(fills::nebulizer.eq(label))
        .filter(attempt_verdicts::attempt_id.is_null())
        .order(attempts::id)
        .select(attempts::id)
        .load(tx.conn)?;
    running.into_iter().try_for_each(|id| attempt::spoil(tx, id, found_at))
}

/// Since when the nebulizer of a fill has been out of order, if that was found at `from` or later, or before it and not
/// mended by then.
pub(crate) fn out_since(
    conn: &mut PgConnection,
    fill_id: Uuid,
    from: DateTime<Utc>,
) -> Result<Option<DateTime<Utc>>, StoreError> {
    let (site_id, label): (Uuid, String) =
        fills::table.find(fill_id).select((fills::site_id, fills::nebulizer)).first(conn)?;
    let found = super::labelled(conn, site_id, EquipmentKind::Nebulizer, &label)?;
    let Some(nebulizer) = found else { return Ok(None) };
    let findings = findings(conn, nebulizer.id)?;
    if matches!(nebulizer_state(&findings, from), EquipmentState::Clogged | EquipmentState::MixedUp) {
        return Ok(Some(from));
    }
    let mut later = findings.iter().filter(|fact| fact.happened_at > from);
    let out = later.find(|fact| matches!(fact.finding, Finding::Clogged | Finding::MixedUp));
    Ok(out.map(|fact| fact.happened_at))
}

/// A nebulizer that an attempt found clogged is out from then on.
pub(crate) fn clogged_at_closing(
    tx: &mut Tx<'_>,
    fill_id: Uuid,
    happened_at: DateTime<Utc>,
) -> Result<(), StoreError> {
    let site_id = tx.site_id();
    let label: String = fills::table.find(fill_id).select(fills::nebulizer).first(tx.conn)?;
    let found = super::labelled(tx.conn, site_id, EquipmentKind::Nebulizer, &label)?;
    let Some(nebulizer) = found else { return Ok(()) };
    // Whoever found it first has recorded it already.
    if nebulizer_state(&findings(tx.conn, nebulizer.id)?, happened_at) != EquipmentState::Ready {
        return Ok(());
    }
    let new = NewCheck {
        id: Uuid::now_v7(),
        site_id,
        equipment_id: nebulizer.id,
        finding: Finding::Clogged.as_str().to_owned(),
        other_equipment_id: None,
        note: None,
        happened_at,
    };
    append(tx, &new).map(drop)
}
