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

impl Station {
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
            on_constraint(made.execute(conn), "stations_name_taken", || {
                let sentence = "This day has a station of this name already: choose another name.";
                Refusal::new(Code::AlreadyExists, sentence).field("name")
            })
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
