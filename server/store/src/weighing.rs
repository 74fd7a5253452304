//! Weighings: how much one squeeze of a nebulizer gives, from its weight before and after so many of them.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    equipment::EquipmentKind,
    refusal::{Code, Refusal},
};
use uuid::Uuid;

use crate::{StoreError, Tx, equipment, insert_once, schema::squeeze_weighings};

/// One weighing.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = squeeze_weighings, check_for_backend(diesel::pg::Pg))]
pub struct Weighing {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The nebulizer.
    pub equipment_id: Uuid,
    /// Squeezes between the two readings.
    pub squeezes: i32,
    /// The weight before them, in milligrams.
    pub before_mg: i64,
    /// The weight after them, in milligrams.
    pub after_mg: i64,
    /// What one step of the scale's last digit weighs, in milligrams.
    pub scale_step_mg: i64,
    /// The density of what was sprayed, in micrograms in a microlitre: 1000 for water.
    pub density_ug_per_ul: i32,
    /// When.
    pub happened_at: DateTime<Utc>,
}

/// The weighings of one nebulizer, in order.
pub fn list(conn: &mut PgConnection, site_id: Uuid, equipment_id: Uuid) -> Result<Vec<Weighing>, StoreError> {
    equipment::find(conn, site_id, equipment_id)?;
    let of_it = squeeze_weighings::table.filter(squeeze_weighings::equipment_id.eq(equipment_id));
    let in_order = of_it.order((squeeze_weighings::happened_at, squeeze_weighings::id));
    Ok(in_order.select(Weighing::as_select()).load(conn)?)
}

/// Keeps a weighing.
pub fn create(tx: &mut Tx<'_>, new: &Weighing) -> Result<Weighing, StoreError> {
    let (now, by) = (tx.now, tx.actor.id);
    if equipment::find(tx.conn, new.site_id, new.equipment_id)?.kind()? != EquipmentKind::Nebulizer {
        let sentence = "Only a nebulizer is weighed for what a squeeze gives.";
        return Err(Refusal::new(Code::InvalidValue, sentence).field("equipment_id").into());
    }
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let recorded = (squeeze_weighings::recorded_at.eq(now), squeeze_weighings::recorded_by.eq(by));
            let made = diesel::insert_into(squeeze_weighings::table).values((new, recorded));
            Ok(made.on_conflict(squeeze_weighings::id).do_nothing().execute(conn)?)
        },
        |conn| {
            let stored = squeeze_weighings::table.find(new.id);
            let stored = stored.filter(squeeze_weighings::site_id.eq(new.site_id));
            stored.select(Weighing::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("squeeze_weighings", new.id);
    }
    Ok(new.clone())
}
