//! Holds the badges of a batch until it is committed, so that of two readings of one badge at the same moment the second
//! one knows of the first, whichever thread or server it came to.

use diesel::{
    PgConnection, QueryResult, RunQueryDsl,
    pg::Pg,
    query_builder::{AstPass, QueryFragment, QueryId},
    sql_types::{Array, Text},
};

use super::{NewScan, Reading};

#[derive(Debug)]
struct Hold<'s> {
    serials: Vec<&'s str>,
}

/// Waits for the badges of these scans. A statement of its own: what is read must be read after the wait.
pub(super) fn hold(conn: &mut PgConnection, scans: &[NewScan]) -> QueryResult<()> {
    let serials: Vec<&str> = scans
        .iter()
        .filter_map(|scan| match &scan.reading {
            Reading::Serial(serial) => Some(serial.as_str()),
            Reading::NotOurs(_) => None,
        })
        .collect();
    if serials.is_empty() {
        return Ok(());
    }
    Hold { serials }.execute(conn).map(drop)
}

// Always in one order, so that no two batches wait for each other.
const HEAD: &str =
    "select pg_advisory_xact_lock(o.k) from (select distinct hashtextextended(s, 0) as k from unnest(";
const TAIL: &str = ") s order by k) o";

impl QueryFragment<Pg> for Hold<'_> {
    fn walk_ast<'b>(&'b self, mut out: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        out.push_sql(HEAD);
        out.push_bind_param::<Array<Text>, _>(&self.serials)?;
        out.push_sql(TAIL);
        Ok(())
    }
}

/// The statement's text is the same whatever it borrows.
#[derive(Debug)]
struct HoldBadges;

impl QueryId for Hold<'_> {
    type QueryId = HoldBadges;
    const HAS_STATIC_QUERY_ID: bool = true;
}

impl RunQueryDsl<PgConnection> for Hold<'_> {}
