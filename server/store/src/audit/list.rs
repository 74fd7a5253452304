//! Reading the audit chain, for people who ask who did what.

use diesel::{PgConnection, prelude::*};
use uuid::Uuid;

use super::{AuditRow, chain::Row};
use crate::{StoreError, schema::audit_rows::dsl};

/// A page of the site's audit rows: those after `after`, at most `limit`, about one subject where one is named.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    subject_id: Option<Uuid>,
    (after, limit): (i64, i64),
) -> Result<Vec<AuditRow>, StoreError> {
    let mut query = dsl::audit_rows.filter(dsl::site_id.eq(site_id)).filter(dsl::seq.gt(after)).into_boxed();
    if let Some(subject_id) = subject_id {
        query = query.filter(dsl::subject_id.eq(subject_id));
    }
    Ok(query.order(dsl::seq).limit(limit).select(Row::as_select()).load(conn)?)
}
