//! Gaps: times for which nobody knows what a station sprayed. A gap stays a gap.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use uuid::Uuid;

use crate::{StoreError, Tx, insert_once, look_back, schema::fill_gaps, station};

/// A gap to be recorded.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = fill_gaps, check_for_backend(diesel::pg::Pg))]
pub struct NewFillGap {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// Where.
    pub station_id: Uuid,
    /// Of this agent, as its word; of any where it is none.
    pub agent: Option<String>,
    /// Of this solution, as its word; of any where it is none.
    pub solution: Option<String>,
    /// Its first moment.
    pub from_at: DateTime<Utc>,
    /// The first moment after it.
    pub until_at: DateTime<Utc>,
    /// Why, in words.
    pub reason: String,
    /// When it was noticed.
    pub happened_at: DateTime<Utc>,
}

/// A gap as stored, and when the server learned of it.
pub type FillGap = (NewFillGap, DateTime<Utc>);

/// Gaps of the site by id, of one station or of all.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    station_id: Option<Uuid>,
    (after, limit): (Uuid, i64),
) -> Result<Vec<FillGap>, StoreError> {
    let mut query = fill_gaps::table
        .filter(fill_gaps::site_id.eq(site_id))
        .filter(fill_gaps::id.gt(after))
        .order(fill_gaps::id)
        .limit(limit)
        .select((NewFillGap::as_select(), fill_gaps::recorded_at))
        .into_boxed();
    if let Some(station_id) = station_id {
        query = query.filter(fill_gaps::station_id.eq(station_id));
    }
    Ok(query.load(conn)?)
}

/// Records a gap. Runs that lie in it may have been made with something that is stopped: their clearances follow.
pub fn create(tx: &mut Tx<'_>, new: &NewFillGap) -> Result<FillGap, StoreError> {
    let (now, by) = (tx.now, tx.actor.id);
    station::find(tx.conn, new.site_id, new.station_id)?;
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(fill_gaps::table)
                .values((new, fill_gaps::recorded_at.eq(now), fill_gaps::recorded_by.eq(by)))
                .on_conflict(fill_gaps::id)
                .do_nothing();
            Ok(made.execute(conn)?)
        },
        |conn| {
            let stored = fill_gaps::table.find(new.id).filter(fill_gaps::site_id.eq(new.site_id));
            stored.select(NewFillGap::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("fill_gaps", new.id);
        look_back::after_gap(tx, new.station_id)?;
    }
    let stored = fill_gaps::table.find(new.id).select((NewFillGap::as_select(), fill_gaps::recorded_at));
    Ok(stored.first(tx.conn)?)
}
