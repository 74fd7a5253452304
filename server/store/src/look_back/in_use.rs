//! Where what is asked about was in use, or may have been.

use std::collections::{BTreeSet, HashSet};

use chrono::{DateTime, TimeDelta, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::look_back::{FillRecord, RUN_LASTS_AT_MOST_SECONDS, Span, Subject};
use uuid::Uuid;

use super::{fillings, gaps};
use crate::{
    StoreError,
    schema::{attempts, fills, screenings, stations},
};

/// The stations where any of this was in use, or may have been, by id.
pub(super) fn stations(
    conn: &mut PgConnection,
    site_id: Uuid,
    subjects: &[Subject],
) -> Result<Vec<Uuid>, StoreError> {
    let mut found: BTreeSet<Uuid> =
        sprayed(conn, site_id, subjects)?.iter().map(|fill| fill.station).collect();
    let mut places: BTreeSet<Uuid> = BTreeSet::new();
    for subject in subjects {
        match subject {
            Subject::Station { id, .. } => _ = found.insert(*id),
            Subject::Tester { id, span } => found.extend(ran_at(conn, site_id, *id, *span)?),
            Subject::Hood { id, span, whereabouts } => {
                found.extend(hooded_at(conn, *id, *span)?);
                places.extend(whereabouts.stood_in(*span));
            }
            Subject::Facepieces { lot, respirator, since } => {
                found.extend(worn_at(conn, site_id, *lot, (*respirator, *since))?);
            }
            _ => {}
        }
    }
    if !places.is_empty() {
        let of_site = stations::table.filter(stations::site_id.eq(site_id));
        let stood = of_site.filter(stations::id.eq_any(places)).select(stations::id);
        found.extend(stood.load::<Uuid>(conn)?);
    }
    let has_gaps = |subject: &Subject| {
        let other =
            matches!(subject, Subject::Tester { .. } | Subject::Station { .. } | Subject::Facepieces { .. });
        !other
    };
    if subjects.iter().any(has_gaps) {
        for (station, gaps) in gaps::by_station(conn, site_id, None)? {
            if gaps.iter().any(|gap| subjects.iter().any(|subject| subject.may_fill(station, gap, None))) {
                found.insert(station);
            }
        }
    }
    Ok(found.into_iter().collect())
}

/// The fillings after which it was in a nebulizer, or may have been.
pub(super) fn sprayed(
    conn: &mut PgConnection,
    site_id: Uuid,
    subjects: &[Subject],
) -> Result<Vec<FillRecord>, StoreError> {
    let wanted = seeds(conn, site_id, subjects)?;
    if wanted.is_empty() {
        return Ok(Vec::new());
    }
    let reached = fillings::onward(conn, site_id, &wanted)?;
    let around = fillings::around(conn, site_id, &reached)?;
    let reached: HashSet<Uuid> = reached.into_iter().collect();
    let affected = |fill: &&FillRecord| {
        let contents = around.contents(fill.id, DateTime::<Utc>::MAX_UTC);
        let holds = |subject: &Subject| match subject {
            // Only near the time that is asked about, not for ever.
            Subject::Nebulizer { .. } => wanted.contains(&fill.id) && subject.is_among(&contents),
            _ => subject.is_among(&contents),
        };
        reached.contains(&fill.id) && subjects.iter().any(holds)
    };
    Ok(around.all().filter(affected).cloned().collect())
}

/// The fillings that were made with it.
fn seeds(conn: &mut PgConnection, site_id: Uuid, subjects: &[Subject]) -> Result<Vec<Uuid>, StoreError> {
    let mut found = Vec::new();
    for subject in subjects {
        let made = fills::table.filter(fills::site_id.eq(site_id)).select(fills::id);
        match subject {
            Subject::Lot { bottles, .. } | Subject::Bottle { bottles, .. } => {
                let ids = bottles.iter().map(|bottle| bottle.id);
                found.extend(made.filter(fills::bottle_id.eq_any(ids)).load::<Uuid>(conn)?);
            }
            Subject::Fill { id, .. } => found.push(*id),
            Subject::Nebulizer { label, span, .. } => {
                let (from, until) = around(*span);
                let of_it = made.filter(fills::nebulizer.eq(label));
                let of_it = of_it.filter(fills::happened_at.ge(from)).filter(fills::happened_at.lt(until));
                found.extend(of_it.load::<Uuid>(conn)?);
            }
            _ => {}
        }
    }
    Ok(found)
}

/// The first and last moment at which what is in use in the span can have begun.
fn around(span: Span) -> (DateTime<Utc>, DateTime<Utc>) {
    let day = TimeDelta::seconds(i64::from(RUN_LASTS_AT_MOST_SECONDS));
    let from = span.from.and_then(|from| from.checked_sub_signed(day));
    // Within what the database can compare: no fact is older or newer.
    let (first, last) = (DateTime::<Utc>::UNIX_EPOCH - TimeDelta::days(36_525), DateTime::<Utc>::UNIX_EPOCH);
    (from.unwrap_or(first), span.until.unwrap_or(last + TimeDelta::days(365_250)))
}

fn ran_at(conn: &mut PgConnection, site_id: Uuid, tester: Uuid, span: Span) -> Result<Vec<Uuid>, StoreError> {
    let (from, until) = around(span);
    let mut found: Vec<Uuid> = screenings::table
        .filter(screenings::site_id.eq(site_id))
        .filter(screenings::recorded_by.eq(tester))
        .filter(screenings::happened_at.ge(from))
        .filter(screenings::happened_at.lt(until))
        .select(screenings::station_id)
        .distinct()
        .load(conn)?;
    let tested: Vec<Uuid> = attempts::table
        .filter(attempts::site_id.eq(site_id))
        .filter(attempts::recorded_by.eq(tester))
        .filter(attempts::happened_at.ge(from))
        .filter(attempts::happened_at.lt(until))
        .select(attempts::station_id)
        .distinct()
        .load(conn)?;
    found.extend(tested);
    Ok(found)
}

/// Where the lot was named, or its respirator worn once the lot had come, or was still.
fn worn_at(
    conn: &mut PgConnection,
    site_id: Uuid,
    lot: Uuid,
    (respirator, since): (Uuid, DateTime<Utc>),
) -> Result<Vec<Uuid>, StoreError> {
    let from = since - TimeDelta::seconds(i64::from(RUN_LASTS_AT_MOST_SECONDS));
    Ok(attempts::table
        .filter(attempts::site_id.eq(site_id))
        .filter(attempts::respirator_id.eq(respirator))
        .filter(attempts::happened_at.ge(from).or(attempts::facepiece_lot_id.assume_not_null().eq(lot)))
        .select(attempts::station_id)
        .distinct()
        .load(conn)?)
}

/// A run of the same day that names the hood shows that it was there, also one that lies after the span.
fn hooded_at(conn: &mut PgConnection, hood: Uuid, span: Span) -> Result<Vec<Uuid>, StoreError> {
    let (from, until) = around(span);
    let until = until + TimeDelta::seconds(i64::from(RUN_LASTS_AT_MOST_SECONDS));
    let mut found: Vec<Uuid> = screenings::table
        .filter(screenings::hood_id.eq(hood))
        .filter(screenings::happened_at.ge(from))
        .filter(screenings::happened_at.lt(until))
        .select(screenings::station_id)
        .distinct()
        .load(conn)?;
    let tested: Vec<Uuid> = attempts::table
        .filter(attempts::hood_id.eq(hood))
        .filter(attempts::happened_at.ge(from))
        .filter(attempts::happened_at.lt(until))
        .select(attempts::station_id)
        .distinct()
        .load(conn)?;
    found.extend(tested);
    Ok(found)
}
