//! Attempts of one person that overlap at two stations: nobody sits in two chairs, so one of them is not what it says.
//!
//! It happens when two stations that cannot reach each other take the same person. Both runs are kept; while neither
//! is corrected, no pass of the two clears anybody.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::clearance::StopFact;
use uuid::Uuid;

use crate::{
    StoreError, day,
    schema::{attempt_corrections, attempt_verdicts, attempts, people, visits},
};

/// Two attempts of one person that overlap, and of which none is corrected.
#[derive(Debug, Clone)]
pub struct Overlap {
    /// The person.
    pub person_id: Uuid,
    /// Given name.
    pub given_name: String,
    /// Family name.
    pub family_name: String,
    /// The number, as text.
    pub staff_number: String,
    /// The two attempts, the one that was opened first in front.
    pub attempts: [Uuid; 2],
    /// Since when both are known.
    pub known_since: DateTime<Utc>,
}

/// From when until when one attempt took the person's time.
#[derive(Debug, Clone, Queryable)]
struct Span {
    attempt: Uuid,
    person: Uuid,
    station: Uuid,
    from: DateTime<Utc>,
    until: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
    corrected_at: Option<DateTime<Utc>>,
}

impl Span {
    fn overlaps(&self, other: &Self) -> bool {
        self.person == other.person
            && self.station != other.station
            && self.from < other.until
            && other.from < self.until
    }

    /// What the other attempt does to this one: it is in doubt until one of the two is corrected.
    fn doubt(&self, other: &Self) -> StopFact {
        StopFact {
            stop: other.attempt,
            of_lot: false,
            recorded_at: self.recorded_at.max(other.recorded_at),
            released_recorded_at: [self.corrected_at, other.corrected_at].into_iter().flatten().min(),
        }
    }
}

/// The doubts that overlaps cast on the attempts of these people.
pub(crate) fn doubts(
    conn: &mut PgConnection,
    site_id: Uuid,
    people: &[Uuid],
) -> Result<HashMap<Uuid, Vec<StopFact>>, StoreError> {
    let spans = spans(conn, site_id, people)?;
    let mut found: HashMap<Uuid, Vec<StopFact>> = HashMap::new();
    for (one, other) in pairs(&spans) {
        found.entry(one.attempt).or_default().push(one.doubt(other));
        found.entry(other.attempt).or_default().push(other.doubt(one));
    }
    Ok(found)
}

/// The overlaps of a day that nobody has decided, the first known in front.
pub fn list(conn: &mut PgConnection, site_id: Uuid, day_id: Uuid) -> Result<Vec<Overlap>, StoreError> {
    day::find(conn, site_id, day_id)?;
    let rows: Vec<(Uuid, String, String, String)> = visits::table
        .inner_join(people::table)
        .filter(visits::day_id.eq(day_id))
        .filter(visits::site_id.eq(site_id))
        .select((people::id, people::given_name, people::family_name, people::staff_number))
        .load(conn)?;
    let ids: Vec<Uuid> = rows.iter().map(|(id, ..)| *id).collect();
    let spans = spans(conn, site_id, &ids)?;
    let names: HashMap<Uuid, _> = rows.into_iter().map(|row| (row.0, row)).collect();
    let open = pairs(&spans).filter(|(one, other)| one.doubt(other).released_recorded_at.is_none());
    let mut found: Vec<Overlap> = open
        .filter_map(|(one, other)| {
            let (person_id, given_name, family_name, staff_number) = names.get(&one.person)?.clone();
            let (attempts, known_since) = ([one.attempt, other.attempt], one.doubt(other).recorded_at);
            Some(Overlap { person_id, given_name, family_name, staff_number, attempts, known_since })
        })
        .collect();
    found.sort_by_key(|overlap| (overlap.known_since, overlap.attempts));
    Ok(found)
}

/// Every pair that overlaps, once. `spans` are in the order of people, and those of one person by their beginning.
fn pairs(spans: &[Span]) -> impl Iterator<Item = (&Span, &Span)> {
    spans.iter().enumerate().flat_map(move |(index, one)| {
        let later = spans.get(index + 1..).unwrap_or_default().iter();
        let of_person = later.take_while(|other| other.person == one.person);
        of_person.filter(|other| one.overlaps(other)).map(move |other| (one, other))
    })
}

/// The ended attempts of these people, in the order of people and of their beginning.
fn spans(conn: &mut PgConnection, site_id: Uuid, people: &[Uuid]) -> Result<Vec<Span>, StoreError> {
    let rows = attempts::table
        .inner_join(attempt_verdicts::table)
        .left_join(attempt_corrections::table)
        .filter(attempts::site_id.eq(site_id))
        .filter(attempts::person_id.eq_any(people))
        .order((attempts::person_id, attempts::happened_at, attempts::id))
        .select((
            attempts::id,
            attempts::person_id,
            attempts::station_id,
            attempts::happened_at,
            attempt_verdicts::ended_at,
            attempt_verdicts::recorded_at,
            attempt_corrections::recorded_at.nullable(),
        ))
        .load(conn)?;
    Ok(rows)
}
