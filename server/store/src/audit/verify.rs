//! Walks a site's chain from its beginning and names the first place where it does not hold.

use std::collections::{HashMap, HashSet};

use diesel::{PgConnection, prelude::*};
use serde_json::Value;
use uuid::Uuid;

use super::{
    chain::{Row, genesis},
    digest::{self, Kept},
};
use crate::{
    StoreError, retention,
    schema::{audit_heads, audit_rows},
};

/// Rows read at a time.
const PAGE: i64 = 2000;

/// What a walk along the chain found.
#[derive(Debug, Clone)]
pub struct Report {
    /// Audit rows that hold.
    pub rows: u64,
    /// Stored rows whose digest was compared.
    pub subjects: u64,
    /// Audit rows whose scans retention has taken away.
    pub pruned: u64,
    /// The first row that does not hold.
    pub broken: Option<Break>,
}

/// The first place where the chain does not hold.
#[derive(Debug, Clone)]
pub struct Break {
    /// The number of the audit row.
    pub seq: i64,
    /// The table and id the row is about.
    pub subject: String,
    /// What is wrong, in a sentence.
    pub what: String,
}

/// Checks every audit row's hash and every covered row's digest. `progress` gets (done, total).
pub fn verify(
    conn: &mut PgConnection,
    site_id: Uuid,
    mut progress: impl FnMut(u64, u64),
) -> Result<Report, StoreError> {
    conn.build_transaction().read_only().repeatable_read().run(|conn| {
        let (head_seq, head_hash): (i64, Vec<u8>) =
            audit_heads::table.find(site_id).select((audit_heads::seq, audit_heads::hash)).first(conn)?;
        let newest = newest_mentions(conn, site_id)?;
        let through = retention::through(conn, site_id)?;
        let mut walk = Walk { previous: genesis(site_id), seq: 0, subjects: 0, pruned: 0, through };
        let total = u64::try_from(head_seq).unwrap_or_default();
        loop {
            let page = page_after(conn, site_id, walk.seq)?;
            if page.is_empty() {
                break;
            }
            if let Some(broken) = walk.links(&page).or(walk.digests(conn, &page, &newest)?) {
                return Ok(walk.report(Some(broken)));
            }
            progress(u64::try_from(walk.seq).unwrap_or_default(), total);
        }
        if walk.seq != head_seq || walk.previous != head_hash {
            let what = format!("the chain ends at row {} but its head names row {head_seq}", walk.seq);
            let broken = Break { seq: walk.seq + 1, subject: "audit_heads".to_owned(), what };
            return Ok(walk.report(Some(broken)));
        }
        Ok(walk.report(None))
    })
}

fn page_after(conn: &mut PgConnection, site_id: Uuid, seq: i64) -> Result<Vec<Row>, StoreError> {
    Ok(audit_rows::table
        .filter(audit_rows::site_id.eq(site_id))
        .filter(audit_rows::seq.gt(seq))
        .order(audit_rows::seq)
        .limit(PAGE)
        .select(Row::as_select())
        .load(conn)?)
}

/// For rows that may change, only the newest mention can be compared with what is stored now.
fn newest_mentions(conn: &mut PgConnection, site_id: Uuid) -> Result<HashSet<i64>, StoreError> {
    let rows: Vec<i64> = audit_rows::table
        .filter(audit_rows::site_id.eq(site_id))
        .group_by((audit_rows::subject_table, audit_rows::subject_id))
        .select(diesel::dsl::max(audit_rows::seq).assume_not_null())
        .load(conn)?;
    Ok(rows.into_iter().collect())
}

struct Walk {
    previous: Vec<u8>,
    seq: i64,
    subjects: u64,
    pruned: u64,
    /// The last row whose scans retention has taken away.
    through: i64,
}

impl Walk {
    fn report(&self, broken: Option<Break>) -> Report {
        let held = broken.as_ref().map_or(self.seq, |broken| broken.seq - 1);
        Report {
            rows: u64::try_from(held).unwrap_or_default(),
            subjects: self.subjects,
            pruned: self.pruned,
            broken,
        }
    }

    /// The rows follow each other without a gap, and each carries the hash it should.
    fn links(&mut self, page: &[Row]) -> Option<Break> {
        for row in page {
            let what = if row.seq != self.seq + 1 {
                Some(format!("row {} is missing", self.seq + 1))
            } else if row.previous_hash != self.previous {
                Some("it does not point at the row before it".to_owned())
            } else if row.computed_hash() != row.hash {
                Some("its content was changed after it was written".to_owned())
            } else {
                None
            };
            if let Some(what) = what {
                return Some(broken(row, what));
            }
            self.seq = row.seq;
            self.previous.clone_from(&row.hash);
        }
        None
    }

    /// What the rows are about is stored as it was when they were written.
    fn digests(
        &mut self,
        conn: &mut PgConnection,
        page: &[Row],
        newest: &HashSet<i64>,
    ) -> Result<Option<Break>, StoreError> {
        let mut by_table: HashMap<&str, Vec<Uuid>> = HashMap::new();
        for row in page.iter().filter(|row| span(row).is_none()) {
            by_table.entry(&row.subject_table).or_default().push(row.subject_id);
        }
        let mut found = HashMap::new();
        for (table, ids) in by_table {
            found.insert(table, digest::of_rows(conn, table, &ids)?);
        }
        for row in page {
            let (_, _, kept) = digest::table(&row.subject_table)?;
            if kept == Kept::Latest && !newest.contains(&row.seq) {
                continue;
            }
            let now = match span(row) {
                Some(span) => digest::of_events(conn, &row.subject_table, row.subject_id, span)?,
                None => {
                    found.get(row.subject_table.as_str()).and_then(|rows| rows.get(&row.subject_id)).cloned()
                }
            };
            if row.subject_table == "scans" && row.seq <= self.through {
                if now.is_some() {
                    return Ok(Some(broken(row, "scans are stored that were to be gone".to_owned())));
                }
                self.pruned += 1;
                continue;
            }
            self.subjects += 1;
            if now != row.subject_digest {
                let what = match now {
                    Some(_) => "the stored row was changed outside the program",
                    None => "the stored row is gone",
                };
                return Ok(Some(broken(row, what.to_owned())));
            }
        }
        Ok(None)
    }
}

fn broken(row: &Row, what: String) -> Break {
    Break { seq: row.seq, subject: format!("{} {}", row.subject_table, row.subject_id), what }
}

/// The run of events a row is about, when it is about one.
fn span(row: &Row) -> Option<(i32, i32)> {
    let detail: Value = serde_json::from_str(&row.detail).ok()?;
    let seq = |name: &str| detail.get(name)?.as_i64().and_then(|seq| i32::try_from(seq).ok());
    Some((seq("from_seq")?, seq("to_seq")?))
}
