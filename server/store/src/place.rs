//! Places: where supplies are. A storeroom, or a station under the station's own id.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::refusal::{Code, Refusal};
use uuid::Uuid;

use crate::{StoreError, Tx, insert_once, on_constraint, schema::places, site};

/// The name of the storeroom that every site begins with.
const FIRST_STOREROOM: &str = "Storeroom";

/// One place.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = places, check_for_backend(diesel::pg::Pg))]
pub struct Place {
    /// Its id; of a station that of the station.
    pub id: Uuid,
    /// The station it is; none of a storeroom.
    pub station_id: Option<Uuid>,
    /// What the people there call it.
    pub name: String,
    /// `filling_point` where nebulizers of any station are filled there.
    pub purpose: Option<String>,
    /// When it was set up.
    pub created_at: DateTime<Utc>,
    /// Counts the changes; none is the first.
    version: Option<i32>,
}

/// A place to be set up.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = places, check_for_backend(diesel::pg::Pg))]
pub struct NewPlace {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The station it is; none of a storeroom.
    pub station_id: Option<Uuid>,
    /// What the people there call it.
    pub name: String,
    /// `filling_point` where nebulizers of any station are filled there.
    pub purpose: Option<String>,
}

/// The word for a storeroom where nebulizers of any station are filled.
pub const FILLING_POINT: &str = "filling_point";

impl Place {
    /// Counts the changes.
    #[must_use]
    pub fn version(&self) -> i32 {
        self.version.unwrap_or(1)
    }

    /// Whether nebulizers of any station are filled there.
    #[must_use]
    pub fn is_filling_point(&self) -> bool {
        self.purpose.as_deref() == Some(FILLING_POINT)
    }

    /// Whether things are used there: what comes there is issued, and goes on from hand to hand.
    #[must_use]
    pub fn is_in_use(&self) -> bool {
        self.station_id.is_some() || self.is_filling_point()
    }
}

/// What may change about a storeroom.
#[derive(Debug, Clone, Default)]
pub struct StoreroomChange {
    /// Another name.
    pub name: Option<String>,
    /// Whether nebulizers of any station are filled there.
    pub filling_point: Option<bool>,
}

#[derive(AsChangeset)]
#[diesel(table_name = places)]
struct Changed<'a> {
    name: Option<&'a str>,
    purpose: Option<Option<&'static str>>,
    version: i32,
}

/// A place of the site.
pub fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<Place, StoreError> {
    let found = places::table.find(id).filter(places::site_id.eq(site_id));
    let place = found.select(Place::as_select()).first(conn).optional()?;
    place.ok_or_else(|| StoreError::not_found("place"))
}

/// Places of the site, by id.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Place>, StoreError> {
    let of_site = places::table.filter(places::site_id.eq(site_id)).filter(places::id.gt(after));
    Ok(of_site.order(places::id).limit(limit).select(Place::as_select()).load(conn)?)
}

/// Sets up a storeroom, or the place that a station is.
pub fn create(tx: &mut Tx<'_>, new: &NewPlace) -> Result<Place, StoreError> {
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(places::table).values(new).on_conflict(places::id).do_nothing();
            on_constraint(made.execute(conn), "places_name_taken", name_taken)
        },
        |conn| {
            let stored = places::table.find(new.id).filter(places::site_id.eq(new.site_id));
            stored.select(NewPlace::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("places", new.id);
    }
    find(tx.conn, new.site_id, new.id)
}

/// Changes a storeroom, unless somebody changed it since `version`.
pub fn update(
    tx: &mut Tx<'_>,
    id: Uuid,
    version: i32,
    change: &StoreroomChange,
) -> Result<Place, StoreError> {
    let found = places::table.find(id).filter(places::site_id.eq(tx.site_id()));
    let before = found.select(Place::as_select()).for_no_key_update().first(tx.conn).optional()?;
    let before = before.ok_or_else(|| StoreError::not_found("place"))?;
    if before.station_id.is_some() {
        let sentence = "This place is a station: change it on its day.";
        return Err(Refusal::new(Code::InvalidValue, sentence).field("place_id").into());
    }
    site::refuse_stale(version, before.version())?;
    let purpose = change.filling_point.map(|is| is.then_some(FILLING_POINT));
    let changed = Changed { name: change.name.as_deref(), purpose, version: version + 1 };
    let updated = diesel::update(places::table.find(id)).set(changed).execute(tx.conn);
    on_constraint(updated, "places_name_taken", name_taken)?;
    tx.touched("places", id);
    find(tx.conn, tx.site_id(), id)
}

/// The place that a station is has the name of the station.
pub(crate) fn named_as_station(tx: &mut Tx<'_>, station_id: Uuid, name: &str) -> Result<(), StoreError> {
    let version = find(tx.conn, tx.site_id(), station_id)?.version();
    let changed = (places::name.eq(name), places::version.eq(version + 1));
    diesel::update(places::table.find(station_id)).set(changed).execute(tx.conn)?;
    tx.touched("places", station_id);
    Ok(())
}

fn name_taken() -> Refusal {
    let sentence = "There is a storeroom of this name already: choose another name.";
    Refusal::new(Code::AlreadyExists, sentence).field("name")
}

/// The storeroom that a new site begins with.
pub(crate) fn create_first(tx: &mut Tx<'_>) -> Result<(), StoreError> {
    let (id, site_id) = (Uuid::now_v7(), tx.site_id());
    let name = FIRST_STOREROOM.to_owned();
    create(tx, &NewPlace { id, site_id, station_id: None, name, purpose: None }).map(drop)
}

/// The storeroom that counts where none is named: the first one of the site.
pub(crate) fn storeroom(conn: &mut PgConnection, site_id: Uuid) -> Result<Place, StoreError> {
    let rooms = places::table.filter(places::site_id.eq(site_id)).filter(places::station_id.is_null());
    let first = rooms.order((places::created_at, places::id)).select(Place::as_select()).first(conn);
    first.optional()?.ok_or_else(|| StoreError::internal("the site has no storeroom"))
}
