//! The audit chain, for those who may ask who did what.

use actix_web::{
    get,
    web::{Json, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::roles::op;
use sellion_store::audit::{self, AuditRow};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::{
    auth::Caller,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    words::hex,
};

/// One link of the chain: one row that somebody appended or changed.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct AuditRowView {
    /// Its place in the chain, from 1 without a gap.
    #[schema(example = 4711)]
    seq: i64,
    recorded_at: DateTime<Utc>,
    /// `user`, `device` or `program`.
    #[schema(example = "user")]
    actor_kind: String,
    /// The user or device; absent for the program itself.
    actor_id: Option<Uuid>,
    /// The operation.
    #[schema(example = "create_permission")]
    action: String,
    /// What kind of row it is about.
    #[schema(example = "permissions")]
    subject_table: String,
    /// The row it is about.
    subject_id: Uuid,
    /// SHA-256 of that row as it was then, in hexadecimal digits.
    #[schema(example = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08")]
    subject_digest: Option<String>,
    /// What the row itself does not keep.
    #[schema(value_type = Object)]
    detail: Value,
    /// The hash of the row before, in hexadecimal digits.
    #[schema(example = "60303ae22b998861bce3b28f33eec1be758a213c86c93c076dbe9f558c11c752")]
    previous_hash: String,
    /// SHA-256 over this row and the hash before, in hexadecimal digits.
    #[schema(example = "fd61a03af4f77d870fc21e05e7e80678095c92d808cfb3b5c279ee04c74aca13")]
    hash: String,
}

impl From<AuditRow> for AuditRowView {
    fn from(row: AuditRow) -> Self {
        Self {
            seq: row.seq,
            recorded_at: row.recorded_at,
            actor_kind: row.actor_kind,
            actor_id: row.actor_id,
            action: row.action,
            subject_table: row.subject_table,
            subject_id: row.subject_id,
            subject_digest: row.subject_digest.as_deref().map(hex),
            // Text that somebody changed behind our back is shown as it is.
            detail: serde_json::from_str(&row.detail).unwrap_or(Value::String(row.detail)),
            previous_hash: hex(&row.previous_hash),
            hash: hex(&row.hash),
        }
    }
}

/// Which rows of the chain.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct AuditQuery {
    /// Only rows about this one subject.
    subject_id: Option<Uuid>,
    /// Where to begin, when there is no cursor.
    #[param(example = 1)]
    from_seq: Option<i64>,
}

/// The audit chain, in its own order.
#[utoipa::path(tag = "audit rows", params(AuditQuery, PageQuery), responses((status = 200, body = Page<AuditRowView>), (status = 400, body = ProblemBody)))]
#[get("/api/v1/audit_rows")]
pub(crate) async fn list_audit_rows(
    caller: Caller<op::ListAuditRows>,
    page: Query<PageQuery>,
    query: Query<AuditQuery>,
) -> Result<Json<Page<AuditRowView>>, Problem> {
    let (site_id, window, subject) = (caller.site_id(), page.window()?, query.subject_id);
    let (cursor, limit) = window.fetch();
    let from = query.from_seq.unwrap_or(1).max(1);
    let after = seq_of(cursor).max(from - 1);
    let rows = caller.read_store(move |conn| audit::list(conn, site_id, subject, (after, limit))).await?;
    Ok(Json(Page::of(rows, window, |row| as_cursor(row.seq), AuditRowView::from)))
}

/// Cursors carry ids; the place in a chain is small enough to travel as one.
fn as_cursor(seq: i64) -> Uuid {
    Uuid::from_u128(u128::try_from(seq).unwrap_or_default())
}

fn seq_of(cursor: Uuid) -> i64 {
    i64::try_from(cursor.as_u128()).unwrap_or(i64::MAX)
}
