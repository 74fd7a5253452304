//! Whether the database answers.

use diesel::{PgConnection, RunQueryDsl};

use crate::StoreError;

/// One round trip.
pub fn ping(conn: &mut PgConnection) -> Result<(), StoreError> {
    diesel::sql_query("select 1").execute(conn)?;
    Ok(())
}
