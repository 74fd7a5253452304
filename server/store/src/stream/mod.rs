//! News of what was written, for the live stream: the rows of a site's audit chain, in their order.
//!
//! The chain is the list of news: its numbers have no gap, follow the order of the commits, and are the same for every
//! server. A notification only says when to look; whoever missed one finds the same rows by looking later.

mod hub;

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*, sql_types::Text};
use uuid::Uuid;

use crate::{
    Actor, ActorKind, StoreError,
    schema::{audit_heads, audit_rows},
};

pub use hub::{Hub, News};

/// The name under which the database tells its listeners of changes.
const CHANNEL: &str = "sellion_changes";

/// Whoever is further behind than this reads everything again sooner than the news of it.
pub const MISSED_MAX: i64 = 5000;

/// One row of the chain, without what only an auditor may see.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = audit_rows, check_for_backend(diesel::pg::Pg))]
pub struct Change {
    /// Its place in the chain.
    pub seq: i64,
    /// When it was appended.
    pub recorded_at: DateTime<Utc>,
    /// The operation.
    pub action: String,
    /// The table of the row that was appended or changed.
    pub subject_table: String,
    /// That row.
    pub subject_id: Uuid,
}

impl Change {
    /// Whether it is about the sign-in of this actor, so that the sign-in may be over.
    #[must_use]
    pub fn is_of_sign_in(&self, actor: &Actor) -> bool {
        match actor.kind {
            ActorKind::User => self.subject_table == "sessions" && actor.session_id == Some(self.subject_id),
            ActorKind::Device => self.subject_table == "devices" && actor.id == self.subject_id,
            ActorKind::Program => false,
        }
    }
}

/// What came after a place in the chain.
#[derive(Debug, Clone)]
pub enum Missed {
    /// These rows and no others, up to the chain's present end.
    Rows(Vec<Change>),
    /// Too many, or the place is not in this chain; it ends at this number.
    All(i64),
}

/// The number of the site's newest row.
pub fn head(conn: &mut PgConnection, site_id: Uuid) -> Result<i64, StoreError> {
    Ok(audit_heads::table.find(site_id).select(audit_heads::seq).first(conn)?)
}

/// What came after the row `seq`. To be read in one snapshot, as every unit of work that reads is.
pub fn missed(conn: &mut PgConnection, site_id: Uuid, seq: i64) -> Result<Missed, StoreError> {
    let head = head(conn, site_id)?;
    if seq < 0 || seq > head || head - seq > MISSED_MAX {
        return Ok(Missed::All(head));
    }
    Ok(Missed::Rows(after(conn, site_id, seq, MISSED_MAX)?))
}

/// The rows after `seq`, at most `limit`.
fn after(conn: &mut PgConnection, site_id: Uuid, seq: i64, limit: i64) -> Result<Vec<Change>, StoreError> {
    Ok(audit_rows::table
        .filter(audit_rows::site_id.eq(site_id))
        .filter(audit_rows::seq.gt(seq))
        .order(audit_rows::seq)
        .limit(limit)
        .select(Change::as_select())
        .load(conn)?)
}

/// Tells every server of the rows `first` to `last`, once this transaction has committed.
pub(crate) fn notify(
    conn: &mut PgConnection,
    site_id: Uuid,
    (first, last): (i64, i64),
) -> Result<(), StoreError> {
    diesel::sql_query("select pg_notify($1, $2)")
        .bind::<Text, _>(CHANNEL)
        .bind::<Text, _>(format!("{site_id} {first} {last}"))
        .execute(conn)?;
    Ok(())
}
