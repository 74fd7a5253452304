//! What the command line does with signing keys. Each is one write, with its rows in the audit chain.

use anyhow::Context;
use chrono::{DateTime, Utc};
use sellion_store::{Actor, PgConnection, StoreError, signing_key, site, write_on};
use uuid::Uuid;

use super::{generate, open, seal};
use crate::secret::Secret;

/// A key that was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Made {
    /// The site had none: it signs from now on.
    Signs(String),
    /// It is published, and signs once the site rotates to it.
    StandsBy(String),
}

/// Makes a key for a site: the first one signs, a further one stands by.
///
/// # Errors
/// One stands by already, or something failed.
pub fn create(
    conn: &mut PgConnection,
    site_id: Uuid,
    secret: &Secret,
    now: DateTime<Utc>,
) -> anyhow::Result<Made> {
    let seal = seal(secret)?;
    let made = write_on(conn, &Actor::program(site_id), "create_signing_key", now, |tx| {
        let fresh = generate(&seal, site_id)?;
        if signing_key::current(tx.conn, site_id)?.is_none()
            && signing_key::create(tx, &fresh)?.id == fresh.id
        {
            return Ok(Made::Signs(fresh.kid));
        }
        signing_key::stand_by(tx, &fresh)?;
        Ok(Made::StandsBy(fresh.kid))
    })?;
    Ok(made)
}

/// Lets the key that stands by sign, or a new one. Returns the old and the new one's short ids.
///
/// # Errors
/// The site has no key yet, or something failed.
pub fn rotate(
    conn: &mut PgConnection,
    site_id: Uuid,
    secret: &Secret,
    now: DateTime<Utc>,
) -> anyhow::Result<(String, String)> {
    let seal = seal(secret)?;
    Ok(write_on(conn, &Actor::program(site_id), "rotate_signing_key", now, |tx| {
        signing_key::rotate(tx, &generate(&seal, site_id)?)
    })?)
}

/// Accepts nothing any more that a key signed; returns how many badges in force that took along.
///
/// # Errors
/// Badges in force stand on it and `even_so` is not given, it signs, or something failed.
pub fn retire(
    conn: &mut PgConnection,
    site_id: Uuid,
    (kid, even_so): (&str, bool),
    now: DateTime<Utc>,
) -> anyhow::Result<i64> {
    Ok(write_on(conn, &Actor::program(site_id), "retire_signing_key", now, |tx| {
        signing_key::retire(tx, kid, even_so)
    })?)
}

/// Withdraws a key, ends every badge of it, and lets another key sign where it did. Returns how many badges ended, and
/// the successor.
///
/// # Errors
/// There is no such key, or something failed.
pub fn withdraw(
    conn: &mut PgConnection,
    site_id: Uuid,
    kid: &str,
    secret: &Secret,
    now: DateTime<Utc>,
) -> anyhow::Result<(usize, Option<String>)> {
    let seal = seal(secret)?;
    Ok(write_on(conn, &Actor::program(site_id), "withdraw_signing_key", now, |tx| {
        signing_key::withdraw(tx, kid, &generate(&seal, site_id)?)
    })?)
}

/// Seals every private half under another secret, of all sites or of none. Returns how many.
///
/// # Errors
/// The present secret does not open one of them, or something failed.
pub fn reseal(
    conn: &mut PgConnection,
    present: &Secret,
    next: &Secret,
    now: DateTime<Utc>,
) -> anyhow::Result<usize> {
    let (present, next) = (seal(present)?, seal(next)?);
    let done = sellion_store::together(conn, |conn| {
        let rows = signing_key::list_sealed(conn)?;
        for site in site::all(conn)? {
            write_on(conn, &Actor::program(site.id), "reseal_signing_keys", now, |tx| {
                for row in rows.iter().filter(|row| row.site_id == site.id) {
                    let key = open(&present, row).map_err(StoreError::from)?;
                    let sealed = next
                        .seal(&row.kid, key.to_pkcs8_der())
                        .map_err(|_| StoreError::internal("a signing key could not be sealed"))?;
                    signing_key::reseal(tx, row.id, &sealed)?;
                }
                Ok(())
            })?;
        }
        Ok(rows.len())
    });
    done.context("nothing was sealed anew")
}
