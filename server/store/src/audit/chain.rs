//! How one audit row is hashed, and where a site's chain begins.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use crate::{
    StoreError,
    schema::{audit_heads, audit_rows},
};

/// An audit row as stored, in the order its fields are hashed.
#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = audit_rows, check_for_backend(diesel::pg::Pg), treat_none_as_default_value = false)]
pub struct Row {
    /// The site whose chain it is part of.
    pub site_id: Uuid,
    /// Its place in the chain, from 1 without a gap.
    pub seq: i64,
    /// When it was appended.
    pub recorded_at: DateTime<Utc>,
    /// The word for what kind of actor.
    pub actor_kind: String,
    /// The user or device; none for the program itself.
    pub actor_id: Option<Uuid>,
    /// The operation.
    pub action: String,
    /// The table of the row that was appended or changed.
    pub subject_table: String,
    /// That row.
    pub subject_id: Uuid,
    /// A digest of that row as it was then.
    pub subject_digest: Option<Vec<u8>>,
    /// JSON text with what the row itself does not keep.
    pub detail: String,
    /// The hash of the row before.
    pub previous_hash: Vec<u8>,
    /// The hash of this row.
    pub hash: Vec<u8>,
}

impl Row {
    /// SHA-256 over every other field, each preceded by its length so that no two rows can read alike.
    pub(super) fn computed_hash(&self) -> Vec<u8> {
        let mut hasher = Sha256::new();
        let mut field = |bytes: &[u8]| {
            hasher.update(u64::try_from(bytes.len()).unwrap_or(u64::MAX).to_be_bytes());
            hasher.update(bytes);
        };
        field(&self.previous_hash);
        field(self.site_id.as_bytes());
        field(&self.seq.to_be_bytes());
        field(&self.recorded_at.timestamp_micros().to_be_bytes());
        field(self.actor_kind.as_bytes());
        field(self.actor_id.as_ref().map_or(&[][..], |id| id.as_bytes()));
        field(self.action.as_bytes());
        field(self.subject_table.as_bytes());
        field(self.subject_id.as_bytes());
        field(self.subject_digest.as_deref().unwrap_or_default());
        field(self.detail.as_bytes());
        hasher.finalize().to_vec()
    }
}

/// The hash that the first row of a site's chain points back to.
pub(super) fn genesis(site_id: Uuid) -> Vec<u8> {
    Sha256::digest(site_id.as_bytes()).to_vec()
}

/// Begins the chain of a new site.
pub fn start(conn: &mut PgConnection, site_id: Uuid) -> Result<(), StoreError> {
    diesel::insert_into(audit_heads::table)
        .values((
            audit_heads::site_id.eq(site_id),
            audit_heads::seq.eq(0),
            audit_heads::hash.eq(genesis(site_id)),
        ))
        .on_conflict_do_nothing()
        .execute(conn)?;
    Ok(())
}
