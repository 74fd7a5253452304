//! Stores the decided scans of a batch, in one statement that each connection plans once.

use chrono::{DateTime, Utc};
use diesel::{
    PgConnection, QueryResult, RunQueryDsl,
    pg::Pg,
    query_builder::{AstPass, Query, QueryFragment, QueryId},
    sql_types::{Array, Binary, Bool, Nullable, Text, Timestamptz, Uuid as SqlUuid},
};
use sellion_rules::gate::{Answer, ScanReason};
use uuid::Uuid;

use super::NewScan;

/// A scan with what was decided.
pub(super) struct Decided<'s> {
    pub(super) scan: &'s NewScan,
    /// Where the scan stands among those that came together.
    pub(super) place: usize,
    pub(super) batch_id: Uuid,
    pub(super) badge_id: Option<Uuid>,
    pub(super) respirator_id: Option<Uuid>,
    pub(super) policy_id: Option<Uuid>,
    pub(super) answer: Answer,
    pub(super) reason: ScanReason,
}

/// The rows, one column each, as the statement takes them.
#[derive(Debug, Default)]
struct Rows<'s> {
    id: Vec<Uuid>,
    batch_id: Vec<Uuid>,
    site_id: Vec<Uuid>,
    gate_id: Vec<Uuid>,
    recorded_by: Vec<Uuid>,
    badge_id: Vec<Option<Uuid>>,
    respirator_id: Vec<Option<Uuid>>,
    policy_id: Vec<Option<Uuid>>,
    code_digest: Vec<&'s [u8]>,
    typed: Vec<bool>,
    answer: Vec<&'static str>,
    reason: Vec<&'static str>,
    happened_at: Vec<DateTime<Utc>>,
    recorded_at: Vec<DateTime<Utc>>,
}

/// Stores what is not stored yet and returns the ids of the new rows.
pub(super) fn insert(conn: &mut PgConnection, decided: &[Decided<'_>]) -> QueryResult<Vec<Uuid>> {
    let mut rows = Rows::default();
    for row in decided {
        rows.id.push(row.scan.id);
        rows.batch_id.push(row.batch_id);
        rows.site_id.push(row.scan.actor.site_id);
        rows.gate_id.push(row.scan.gate_id);
        rows.recorded_by.push(row.scan.actor.id);
        rows.badge_id.push(row.badge_id);
        rows.respirator_id.push(row.respirator_id);
        rows.policy_id.push(row.policy_id);
        rows.code_digest.push(&row.scan.code_digest);
        rows.typed.push(row.scan.typed);
        rows.answer.push(row.answer.as_str());
        rows.reason.push(row.reason.as_str());
        rows.happened_at.push(row.scan.happened_at);
        rows.recorded_at.push(row.scan.recorded_at);
    }
    rows.load(conn)
}

const HEAD: &str = "\
insert into scans (id, batch_id, site_id, gate_id, recorded_by, badge_id, respirator_id, gate_policy_id, \
  code_digest, typed, answer, reason, happened_at, recorded_at) select * from unnest(";

// In the order of the ids, so that two batches with the same scans wait for each other and never cross.
const TAIL: &str = ") as q(id) order by q.id on conflict (id) do nothing returning id";

impl QueryFragment<Pg> for Rows<'_> {
    fn walk_ast<'b>(&'b self, mut out: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        out.push_sql(HEAD);
        out.push_bind_param::<Array<SqlUuid>, _>(&self.id)?;
        for ids in [&self.batch_id, &self.site_id, &self.gate_id, &self.recorded_by] {
            out.push_sql(", ");
            out.push_bind_param::<Array<SqlUuid>, _>(ids)?;
        }
        for ids in [&self.badge_id, &self.respirator_id, &self.policy_id] {
            out.push_sql(", ");
            out.push_bind_param::<Array<Nullable<SqlUuid>>, _>(ids)?;
        }
        out.push_sql(", ");
        out.push_bind_param::<Array<Binary>, _>(&self.code_digest)?;
        out.push_sql(", ");
        out.push_bind_param::<Array<Bool>, _>(&self.typed)?;
        for words in [&self.answer, &self.reason] {
            out.push_sql(", ");
            out.push_bind_param::<Array<Text>, _>(words)?;
        }
        for times in [&self.happened_at, &self.recorded_at] {
            out.push_sql(", ");
            out.push_bind_param::<Array<Timestamptz>, _>(times)?;
        }
        out.push_sql(TAIL);
        Ok(())
    }
}

/// The statement's text is the same whatever the rows borrow.
#[derive(Debug)]
struct InsertScans;

impl QueryId for Rows<'_> {
    type QueryId = InsertScans;
    const HAS_STATIC_QUERY_ID: bool = true;
}

impl Query for Rows<'_> {
    type SqlType = SqlUuid;
}

impl RunQueryDsl<PgConnection> for Rows<'_> {}
