//! Devices: gates and stations that sign in by a token instead of a password.

use chrono::{DateTime, TimeDelta, Utc};
use diesel::{PgConnection, prelude::*};
use uuid::Uuid;

use crate::{
    StoreError, Tx, insert_once,
    schema::{
        devices::{self, dsl},
        gates, stations,
    },
};

/// One device as stored. Its token is a signature over these values and is kept nowhere.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = devices, check_for_backend(diesel::pg::Pg))]
pub struct Device {
    /// Its id.
    pub id: Uuid,
    /// What people call it.
    pub name: String,
    /// The word for what it may do.
    pub role: String,
    /// The gate it speaks for.
    pub gate_id: Option<Uuid>,
    /// The station it stands at.
    pub station_id: Option<Uuid>,
    /// When its token ends by itself.
    pub expires_at: DateTime<Utc>,
    /// When its token was taken away.
    pub revoked_at: Option<DateTime<Utc>>,
    /// When it was added.
    pub created_at: DateTime<Utc>,
}

/// A device to be added.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = devices, check_for_backend(diesel::pg::Pg))]
pub struct NewDevice {
    /// Its id.
    pub id: Uuid,
    /// The site it belongs to.
    pub site_id: Uuid,
    /// What people call it.
    pub name: String,
    /// The word for what it may do.
    pub role: String,
    /// The gate it speaks for.
    pub gate_id: Option<Uuid>,
    /// The station it stands at.
    pub station_id: Option<Uuid>,
}

/// A page of the site's devices: ids after `after`, at most `limit`.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Device>, StoreError> {
    Ok(dsl::devices
        .filter(dsl::site_id.eq(site_id))
        .filter(dsl::id.gt(after))
        .order(dsl::id)
        .limit(limit)
        .select(Device::as_select())
        .load(conn)?)
}

/// A device of the site.
pub fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<Device, StoreError> {
    let found = dsl::devices
        .find(id)
        .filter(dsl::site_id.eq(site_id))
        .select(Device::as_select())
        .first(conn)
        .optional()?;
    found.ok_or_else(|| StoreError::not_found("device"))
}

/// Adds a device whose token lasts for `life` from now. A repeat keeps the first end.
pub fn create(tx: &mut Tx<'_>, new: &NewDevice, life: TimeDelta) -> Result<Device, StoreError> {
    stands_here(tx.conn, new)?;
    let expires_at = tx.now + life;
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            Ok(diesel::insert_into(dsl::devices)
                .values((new, dsl::expires_at.eq(expires_at)))
                .on_conflict(dsl::id)
                .do_nothing()
                .execute(conn)?)
        },
        |conn| {
            dsl::devices
                .find(new.id)
                .filter(dsl::site_id.eq(new.site_id))
                .select(NewDevice::as_select())
                .first(conn)
                .optional()
        },
    )?;
    if added.is_new() {
        tx.touched("devices", new.id);
    }
    find(tx.conn, new.site_id, new.id)
}

/// The foreign keys ask only whether gate and station exist, not whose they are.
fn stands_here(conn: &mut PgConnection, new: &NewDevice) -> Result<(), StoreError> {
    if let Some(gate_id) = new.gate_id {
        let gate = gates::table.find(gate_id).filter(gates::site_id.eq(new.site_id));
        if gate.select(gates::id).first::<Uuid>(conn).optional()?.is_none() {
            return Err(StoreError::not_found("gate"));
        }
    }
    if let Some(station_id) = new.station_id {
        let station = stations::table.find(station_id).filter(stations::site_id.eq(new.site_id));
        if station.select(stations::id).first::<Uuid>(conn).optional()?.is_none() {
            return Err(StoreError::not_found("station"));
        }
    }
    Ok(())
}

/// Takes a device's token away. Taken away twice, it was taken away the first time.
pub fn revoke(tx: &mut Tx<'_>, id: Uuid) -> Result<(), StoreError> {
    let site_id = tx.site_id();
    let live = dsl::devices.find(id).filter(dsl::site_id.eq(site_id)).filter(dsl::revoked_at.is_null());
    let revoked = diesel::update(live).set(dsl::revoked_at.eq(tx.now)).execute(tx.conn)?;
    if revoked == 0 {
        return find(tx.conn, site_id, id).map(drop);
    }
    tx.touched("devices", id);
    Ok(())
}
