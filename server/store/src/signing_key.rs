//! Signing keys: each site has one that signs its badges; older ones may still be accepted.
//!
//! The private half is stored sealed. This module never sees the key that opens it.

use diesel::{PgConnection, prelude::*};
use serde_json::Value;
use uuid::Uuid;

use crate::{StoreError, Tx, schema::signing_keys};

/// A key as stored, the private half sealed.
#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = signing_keys, check_for_backend(diesel::pg::Pg))]
pub struct SigningKeyRow {
    /// Its id.
    pub id: Uuid,
    /// The site it signs for.
    pub site_id: Uuid,
    /// The id that tokens name it by.
    pub kid: String,
    /// The public half as a JWK (RFC 7517 section 4).
    pub public_jwk: Value,
    /// The private half, sealed.
    pub private_sealed: Vec<u8>,
}

/// The key that signs for a site, when it has one already.
pub fn current(conn: &mut PgConnection, site_id: Uuid) -> Result<Option<SigningKeyRow>, StoreError> {
    Ok(signing_keys::table
        .filter(signing_keys::site_id.eq(site_id))
        .filter(signing_keys::signs_until.is_null())
        .select(SigningKeyRow::as_select())
        .first(conn)
        .optional()?)
}

/// Stores the first key of a site and returns the one that signs: another server may have been quicker.
pub fn create(tx: &mut Tx<'_>, new: &SigningKeyRow) -> Result<SigningKeyRow, StoreError> {
    let made =
        diesel::insert_into(signing_keys::table).values(new).on_conflict_do_nothing().execute(tx.conn)?;
    if made == 1 {
        tx.touched("signing_keys", new.id);
    }
    let site_id = tx.site_id();
    current(tx.conn, site_id)?.ok_or_else(|| StoreError::internal("a signing key was made and is not there"))
}

/// Every key whose signatures are accepted, of all sites: site and public half.
pub fn list_accepted(conn: &mut PgConnection) -> Result<Vec<(Uuid, Value)>, StoreError> {
    Ok(signing_keys::table
        .filter(signing_keys::retired_at.is_null())
        .order(signing_keys::id)
        .select((signing_keys::site_id, signing_keys::public_jwk))
        .load(conn)?)
}

/// Every key that signs, of all sites, for a program that wants to know whether its secret opens them.
pub fn list_signing(conn: &mut PgConnection) -> Result<Vec<SigningKeyRow>, StoreError> {
    Ok(signing_keys::table
        .filter(signing_keys::signs_until.is_null())
        .order(signing_keys::id)
        .select(SigningKeyRow::as_select())
        .load(conn)?)
}
