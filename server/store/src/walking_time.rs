//! How long somebody walks between two gates: measured on site, the same both ways, the newest counts.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use uuid::Uuid;

use crate::{StoreError, Tx, gate, insert_once, schema::walking_times};

/// A walking time about to be stored.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = walking_times, check_for_backend(diesel::pg::Pg))]
pub struct NewWalkingTime {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// One gate: the one with the smaller id.
    pub gate_id: Uuid,
    /// The other one.
    pub other_gate_id: Uuid,
    /// Seconds; none at all when nobody wants to be told of these two.
    pub seconds: i32,
    /// When it was measured.
    pub happened_at: DateTime<Utc>,
}

impl NewWalkingTime {
    /// The same walk whichever way it is told.
    #[must_use]
    pub fn in_order(mut self) -> Self {
        if self.other_gate_id < self.gate_id {
            std::mem::swap(&mut self.gate_id, &mut self.other_gate_id);
        }
        self
    }
}

/// A walking time in force.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = walking_times, check_for_backend(diesel::pg::Pg))]
pub struct WalkingTime {
    /// Its id.
    pub id: Uuid,
    /// One gate.
    pub gate_id: Uuid,
    /// The other one.
    pub other_gate_id: Uuid,
    /// Seconds.
    pub seconds: i32,
    /// When it was measured.
    pub happened_at: DateTime<Utc>,
    /// When it was stored.
    pub recorded_at: DateTime<Utc>,
    /// Who told it.
    pub recorded_by: Uuid,
}

/// The walking times in force at a site, by gates; gates are few, so all of them come at once.
pub fn in_force(conn: &mut PgConnection, site_id: Uuid) -> Result<Vec<WalkingTime>, StoreError> {
    Ok(walking_times::table
        .filter(walking_times::site_id.eq(site_id))
        .distinct_on((walking_times::gate_id, walking_times::other_gate_id))
        .order((
            walking_times::gate_id,
            walking_times::other_gate_id,
            walking_times::recorded_at.desc(),
            walking_times::id.desc(),
        ))
        .select(WalkingTime::as_select())
        .load(conn)?)
}

/// Stores a walking time, which is in force from now on.
pub fn create(tx: &mut Tx<'_>, new: &NewWalkingTime) -> Result<WalkingTime, StoreError> {
    let (site_id, now, by) = (tx.site_id(), tx.now, tx.actor.id);
    for gate_id in [new.gate_id, new.other_gate_id] {
        gate::find(tx.conn, site_id, gate_id)?;
    }
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let stamps = (walking_times::recorded_at.eq(now), walking_times::recorded_by.eq(by));
            let made = diesel::insert_into(walking_times::table)
                .values((new, stamps))
                .on_conflict(walking_times::id)
                .do_nothing()
                .execute(conn);
            Ok(made?)
        },
        |conn| {
            walking_times::table
                .find(new.id)
                .filter(walking_times::site_id.eq(site_id))
                .select(NewWalkingTime::as_select())
                .first(conn)
                .optional()
        },
    )?;
    if added.is_new() {
        tx.touched("walking_times", new.id);
    }
    Ok(walking_times::table.find(new.id).select(WalkingTime::as_select()).first(tx.conn)?)
}
