//! Emptying a nebulizer: what was left of its fill is thrown away.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use sellion_rules::refusal::{Code, Refusal};
use uuid::Uuid;

use super::{Filled, find};
use crate::{StoreError, Tx, day, insert_once, look_back, on_constraint, schema::fill_emptyings, station};

/// An emptying to be recorded.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = fill_emptyings, check_for_backend(diesel::pg::Pg))]
pub struct NewEmptying {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The fill.
    pub fill_id: Uuid,
    /// What was left, in microlitres, where somebody measured it.
    pub discarded_ul: Option<i64>,
    /// Whether the nebulizer was rinsed with it.
    pub rinsed: bool,
    /// When it was done.
    pub happened_at: DateTime<Utc>,
}

/// Records that a nebulizer was emptied. From then on its fill cannot be used.
pub fn create_emptying(tx: &mut Tx<'_>, new: &NewEmptying) -> Result<Filled, StoreError> {
    let (now, by) = (tx.now, tx.actor.id);
    let filled = find(tx.conn, new.site_id, new.fill_id)?;
    let day_id = station::find(tx.conn, new.site_id, filled.fill.station_id)?.day_id;
    // A fill onto the rest waits until it is known whether there is one.
    day::lock(tx, day_id)?;
    fits(&filled, new)?;
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(fill_emptyings::table)
                .values((new, fill_emptyings::recorded_at.eq(now), fill_emptyings::recorded_by.eq(by)))
                .on_conflict(fill_emptyings::id)
                .do_nothing();
            on_constraint(made.execute(conn), "fill_emptyings_emptied_already", || {
                let sentence = "This fill was emptied before: the first emptying counts.";
                Refusal::new(Code::AlreadyExists, sentence).field("id")
            })
        },
        |conn| {
            let stored = fill_emptyings::table.find(new.id).filter(fill_emptyings::site_id.eq(new.site_id));
            stored.select(NewEmptying::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("fill_emptyings", new.id);
        look_back::rinsed(tx, &filled.fill.nebulizer, new.happened_at)?;
    }
    find(tx.conn, new.site_id, new.fill_id)
}

fn fits(filled: &Filled, new: &NewEmptying) -> Result<(), StoreError> {
    if new.happened_at < filled.fill.happened_at {
        let sentence = "It cannot have been emptied before it was filled.";
        return Err(Refusal::new(Code::InvalidValue, sentence).field("happened_at").into());
    }
    let below: i64 = filled.below.iter().map(|(rest, _)| rest.volume_ul).sum();
    let filled_ul = filled.fill.volume_ul.saturating_add(below);
    if new.discarded_ul.is_some_and(|left| left > filled_ul) {
        let sentence = format!("No more than {filled_ul} microlitres were filled in.");
        let refusal = Refusal::new(Code::InvalidValue, sentence).field("discarded_ul");
        return Err(refusal.fact("filled_ul", filled_ul).into());
    }
    Ok(())
}
