//! Stations: the places of one day, and what can be done at each.

use std::sync::Arc;

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    day::StationPart,
    refusal::{Code, Refusal},
    ruleset::RuleSet,
};
use uuid::Uuid;

use crate::{
    StoreError, TextList, Tx, day, insert_once, on_constraint,
    place::{self, NewPlace},
    schema::stations,
    site,
};

/// One place of a day.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = stations, check_for_backend(diesel::pg::Pg))]
pub struct Station {
    /// Its id.
    pub id: Uuid,
    /// The day.
    pub day_id: Uuid,
    /// What the people there call it.
    pub name: String,
    /// What can be done there.
    pub parts: TextList,
    /// Whether the wearer cannot bend over under its hood.
    pub hood_forbids_bending: bool,
    /// When it was set up.
    pub created_at: DateTime<Utc>,
    /// Counts the changes; none is the first.
    version: Option<i32>,
    /// Since when it takes nobody any more.
    pub closed_at: Option<DateTime<Utc>>,
}

/// A station to be set up.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = stations, check_for_backend(diesel::pg::Pg))]
pub struct NewStation {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The day.
    pub day_id: Uuid,
    /// What the people there call it.
    pub name: String,
    /// What can be done there.
    pub parts: TextList,
    /// Whether the wearer cannot bend over under its hood.
    pub hood_forbids_bending: bool,
}

/// What may change about a station. A run that is under way goes on as it began.
#[derive(Debug, Clone, Default)]
pub struct StationChange {
    /// Another name.
    pub name: Option<String>,
    /// What can be done there from now on.
    pub parts: Option<TextList>,
    /// Whether the wearer cannot bend over under its hood.
    pub hood_forbids_bending: Option<bool>,
    /// Close it, or open it again.
    pub closed: Option<bool>,
}

#[derive(AsChangeset)]
#[diesel(table_name = stations)]
struct Changed {
    name: Option<String>,
    parts: Option<TextList>,
    hood_forbids_bending: Option<bool>,
    closed_at: Option<Option<DateTime<Utc>>>,
    version: i32,
}

impl Station {
    /// Counts the changes.
    #[must_use]
    pub fn version(&self) -> i32 {
        self.version.unwrap_or(1)
    }

    /// Refuses to call anybody after it was closed.
    pub(crate) fn refuse_closed(&self, happened_at: DateTime<Utc>) -> Result<(), Refusal> {
        match self.closed_at {
            Some(closed_at) if closed_at <= happened_at => {
                let sentence = "This station is closed: open it again on its day, or use another one.";
                Err(Refusal::new(Code::StationClosed, sentence).fact("closed_at", closed_at))
            }
            _ => Ok(()),
        }
    }

    /// Whether `part` can be done here.
    #[must_use]
    pub fn can(&self, part: StationPart) -> bool {
        self.parts.0.iter().any(|found| found == part.as_str())
    }

    /// Refuses what cannot be done here.
    pub fn must(&self, part: StationPart) -> Result<(), Refusal> {
        if self.can(part) {
            return Ok(());
        }
        let sentence = format!("{} is not set up for {part}: use another station.", self.name);
        Err(Refusal::new(Code::InvalidValue, sentence).field("station_id"))
    }
}

/// A station of the site.
pub fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<Station, StoreError> {
    let found = stations::table.find(id).filter(stations::site_id.eq(site_id));
    let station = found.select(Station::as_select()).first(conn).optional()?;
    station.ok_or_else(|| StoreError::not_found("station"))
}

/// A station, and the rule set of its day.
pub fn with_rules(
    conn: &mut PgConnection,
    site_id: Uuid,
    id: Uuid,
) -> Result<(Station, Arc<RuleSet>), StoreError> {
    let station = find(conn, site_id, id)?;
    let day = day::find(conn, site_id, station.day_id)?;
    let rules = day::rules(conn, &day)?;
    Ok((station, rules))
}

/// A station, locked so that what it holds is decided by one caller after another.
pub(crate) fn lock(tx: &mut Tx<'_>, id: Uuid) -> Result<Station, StoreError> {
    let found = stations::table.find(id).filter(stations::site_id.eq(tx.site_id()));
    let station = found.select(Station::as_select()).for_no_key_update().first(tx.conn).optional()?;
    station.ok_or_else(|| StoreError::not_found("station"))
}

/// Who is measured on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Measuring {
    /// Nobody: no station measures, or no method that measures is accepted.
    Nobody,
    /// Whoever was referred.
    Referred,
    /// Everybody: nothing else can be done here.
    Everybody,
}

/// Who is measured on the day: everybody where no station screens, or where no agent to screen with is accepted.
pub(crate) fn measuring(
    conn: &mut PgConnection,
    day_id: Uuid,
    rules: &RuleSet,
) -> Result<Measuring, StoreError> {
    let lists: Vec<TextList> =
        stations::table.filter(stations::day_id.eq(day_id)).select(stations::parts).load(conn)?;
    let any =
        |part: StationPart| lists.iter().any(|parts| parts.0.iter().any(|found| found == part.as_str()));
    let accepted =
        |quantitative: bool| rules.methods.keys().any(|method| method.is_quantitative() == quantitative);
    Ok(if !any(StationPart::Measuring) || !accepted(true) {
        Measuring::Nobody
    } else if !any(StationPart::Screening) || !accepted(false) {
        Measuring::Everybody
    } else {
        Measuring::Referred
    })
}

/// The stations of a day, by id.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    day_id: Uuid,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Station>, StoreError> {
    day::find(conn, site_id, day_id)?;
    let of_day = stations::table.filter(stations::day_id.eq(day_id)).filter(stations::site_id.eq(site_id));
    let page = of_day.filter(stations::id.gt(after)).order(stations::id).limit(limit);
    Ok(page.select(Station::as_select()).load(conn)?)
}

/// Sets up a station.
pub fn create(tx: &mut Tx<'_>, new: &NewStation) -> Result<Station, StoreError> {
    day::find(tx.conn, new.site_id, new.day_id)?;
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made =
                diesel::insert_into(stations::table).values(new).on_conflict(stations::id).do_nothing();
            on_constraint(made.execute(conn), "stations_name_taken", name_taken)
        },
        |conn| {
            let stored = stations::table.find(new.id).filter(stations::site_id.eq(new.site_id));
            stored.select(NewStation::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        tx.touched("stations", new.id);
        let (id, name) = (new.id, new.name.clone());
        place::create(tx, &NewPlace { id, site_id: new.site_id, station_id: Some(id), name, purpose: None })?;
    }
    find(tx.conn, new.site_id, new.id)
}

/// Changes a station, unless somebody changed it since `version`. Who sits there stays and is finished with, also when
/// it is closed.
pub fn update(
    tx: &mut Tx<'_>,
    id: Uuid,
    version: i32,
    change: &StationChange,
) -> Result<Station, StoreError> {
    let before = lock(tx, id)?;
    site::refuse_stale(version, before.version())?;
    let changed = Changed {
        name: change.name.clone(),
        parts: change.parts.clone(),
        hood_forbids_bending: change.hood_forbids_bending,
        // Closing a closed station leaves the moment at which it closed.
        closed_at: change.closed.map(|closed| closed.then(|| before.closed_at.unwrap_or(tx.now))),
        version: version + 1,
    };
    let updated = diesel::update(stations::table.find(id)).set(changed).execute(tx.conn);
    on_constraint(updated, "stations_name_taken", name_taken)?;
    tx.touched("stations", id);
    let after = find(tx.conn, tx.site_id(), id)?;
    if after.name != before.name {
        place::named_as_station(tx, id, &after.name)?;
    }
    Ok(after)
}

fn name_taken() -> Refusal {
    let sentence = "This day has a station of this name already: choose another name.";
    Refusal::new(Code::AlreadyExists, sentence).field("name")
}
