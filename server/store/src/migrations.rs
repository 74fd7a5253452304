//! Brings a database to the schema this program was built with.

use anyhow::Context;
use diesel::{Connection, PgConnection, RunQueryDsl, connection::SimpleConnection, sql_query};
use diesel_migrations::{EmbeddedMigrations, MigrationHarness, embed_migrations};

use crate::StoreError;

const MIGRATIONS: EmbeddedMigrations = embed_migrations!("../../migrations");

/// An arbitrary number that all servers agree on, so that only one of them migrates at a time.
const LOCK: i64 = 0x5E11_1011;

/// Runs every pending migration under a lock and returns the names of those it ran.
///
/// Several servers may start at once: the later ones wait, then find nothing left to do.
pub fn migrate(database_url: &str) -> Result<Vec<String>, StoreError> {
    let mut conn =
        PgConnection::establish(database_url).map_err(|error| StoreError::Unavailable(error.to_string()))?;
    conn.batch_execute("set client_min_messages = warning")?;
    sql_query(format!("select pg_advisory_lock({LOCK})")).execute(&mut conn)?;
    let versions = conn
        .run_pending_migrations(MIGRATIONS)
        .map_err(|error| anyhow::anyhow!("{error}"))
        .context("a migration failed; nothing of it was kept")
        .map_err(StoreError::Internal)?;
    Ok(versions.iter().map(ToString::to_string).collect())
}

/// Takes back every migration, newest first. Destroys all data: for tests of the migrations themselves.
pub fn revert_all(database_url: &str) -> Result<(), StoreError> {
    let mut conn =
        PgConnection::establish(database_url).map_err(|error| StoreError::Unavailable(error.to_string()))?;
    conn.revert_all_migrations(MIGRATIONS)
        .map_err(|error| StoreError::internal(format!("a migration could not be taken back: {error}")))?;
    Ok(())
}
