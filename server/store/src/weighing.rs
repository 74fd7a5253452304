//! Weighings: how much one squeeze of a nebulizer gives, from its weight before and after so many of them.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    equipment::{EquipmentKind, Finding},
    refusal::{Code, Refusal},
};
use uuid::Uuid;

use crate::{
    StoreError, Tx, equipment, insert_once,
    schema::{equipment_checks, squeeze_weighings},
};

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

impl Weighing {
    /// What one squeeze gave, in microlitres.
    #[must_use]
    pub fn squeeze_ul(&self) -> f64 {
        #[allow(clippy::cast_precision_loss, reason = "milligrams of a nebulizer")]
        let gone_ug = (self.before_mg - self.after_mg) as f64 * 1000.0;
        gone_ug / f64::from(self.squeezes) / f64::from(self.density_ug_per_ul)
    }
}

/// The weighings of one nebulizer, in order.
pub fn list(conn: &mut PgConnection, site_id: Uuid, equipment_id: Uuid) -> Result<Vec<Weighing>, StoreError> {
    equipment::find(conn, site_id, equipment_id)?;
    let of_it = squeeze_weighings::table.filter(squeeze_weighings::equipment_id.eq(equipment_id));
    let in_order = of_it.order((squeeze_weighings::happened_at, squeeze_weighings::id));
    Ok(in_order.select(Weighing::as_select()).load(conn)?)
}

/// The newest weighing of each nebulizer that is still in use, in the order of time.
pub fn newest(conn: &mut PgConnection, site_id: Uuid) -> Result<Vec<Weighing>, StoreError> {
    let retired = equipment_checks::table
        .filter(equipment_checks::equipment_id.eq(squeeze_weighings::equipment_id))
        .filter(equipment_checks::finding.eq(Finding::Retired.as_str()));
    let mut found: Vec<Weighing> = squeeze_weighings::table
        .filter(squeeze_weighings::site_id.eq(site_id))
        .filter(diesel::dsl::not(diesel::dsl::exists(retired)))
        .distinct_on(squeeze_weighings::equipment_id)
        .order((
            squeeze_weighings::equipment_id,
            squeeze_weighings::happened_at.desc(),
            squeeze_weighings::id.desc(),
        ))
        .select(Weighing::as_select())
        .load(conn)?;
    found.sort_by_key(|weighing| (weighing.happened_at, weighing.id));
    Ok(found)
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
