//! Clearances, computed again for the moment at which each was written.

use std::collections::BTreeMap;

use diesel::{PgConnection, prelude::*};
use uuid::Uuid;

use super::{AT_ONCE, Run, rows};
use crate::{
    StoreError,
    clearance::{Cached, Pair, cached, frame, load, rows_of},
    schema::{attempts, clearances, people},
};

pub(super) fn count(conn: &mut PgConnection, site_id: Uuid) -> Result<u64, StoreError> {
    Ok(rows(clearances::table.filter(clearances::site_id.eq(site_id)).count().get_result(conn)?))
}

pub(super) fn all(conn: &mut PgConnection, run: &mut Run<'_>) -> Result<(), StoreError> {
    let frame = frame(conn, run.site_id)?;
    let mut after = Uuid::nil();
    loop {
        let some = people_after(conn, run.site_id, after)?;
        let Some(last) = some.last() else { return Ok(()) };
        after = *last;
        let stored = rows_of(conn, &some)?.into_iter().map(|row| ((row.person_id, row.respirator_id), row));
        let mut stored: BTreeMap<Pair, Cached> = stored.collect();
        for (pair, facts) in load(conn, run.site_id, &some)? {
            let row = stored.remove(&pair);
            let written_at = row.as_ref().map(|row| row.computed_at);
            // Without a row there is no moment to compute for; any will do to say what is missing.
            let at = written_at.or_else(|| facts.attempts.iter().map(|attempt| attempt.recorded_at).max());
            let computed = cached(&frame, run.site_id, pair, &facts, at.unwrap_or_default());
            run.compare(("clearances", pair.0, Some(pair.1)), row.as_ref(), Ok(Some(&computed)));
            run.report.clearances += 1;
        }
        for (pair, row) in stored {
            run.compare(("clearances", pair.0, Some(pair.1)), Some(&row), Ok(None));
            run.report.clearances += 1;
        }
        run.told();
    }
}

/// The next people who have a clearance, or should have one.
fn people_after(conn: &mut PgConnection, site_id: Uuid, after: Uuid) -> Result<Vec<Uuid>, StoreError> {
    let tested = attempts::table.filter(attempts::site_id.eq(site_id)).select(attempts::person_id);
    let written = clearances::table.filter(clearances::site_id.eq(site_id)).select(clearances::person_id);
    let ids = people::table
        .filter(people::site_id.eq(site_id))
        .filter(people::id.gt(after))
        .filter(people::id.eq_any(tested).or(people::id.eq_any(written)))
        .order(people::id)
        .limit(AT_ONCE)
        .select(people::id)
        .load(conn)?;
    Ok(ids)
}
