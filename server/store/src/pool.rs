//! The connections: how many, how they are set up, and how long a caller waits for one.

use std::{sync::Arc, time::Duration};

use diesel::{
    Connection, PgConnection,
    connection::SimpleConnection,
    r2d2::{ConnectionManager, Pool, PooledConnection},
};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

use crate::StoreError;

/// How many connections the store may hold and how long anything may take on them.
#[derive(Debug, Clone)]
pub struct Limits {
    /// Connections at most; also how many units of work run at once.
    pub connections: u32,
    /// How long a caller waits for its turn before it is told to come back.
    pub wait: Duration,
    /// How long one SQL statement may run.
    pub statement: Duration,
}

impl Default for Limits {
    fn default() -> Self {
        Self { connections: 16, wait: Duration::from_secs(2), statement: Duration::from_secs(30) }
    }
}

/// The pool of connections to one database, shared by every handler. Cheap to clone.
#[derive(Clone)]
pub struct Store {
    pool: Pool<ConnectionManager<PgConnection>>,
    permits: Arc<Semaphore>,
    limits: Limits,
    database_url: Arc<str>,
}

/// A connection together with the permit that allowed taking it.
pub(crate) struct Lease {
    pub(crate) conn: PooledConnection<ConnectionManager<PgConnection>>,
    _permit: OwnedSemaphorePermit,
}

impl Store {
    /// Opens the pool. Connections are made when first needed, so a database that is still starting is no error.
    #[must_use]
    pub fn open(database_url: &str, limits: Limits) -> Self {
        let pool = Pool::builder()
            .max_size(limits.connections)
            .min_idle(Some(0))
            // One round trip per unit of work buys that a restarted database heals by itself.
            .test_on_check_out(true)
            .connection_timeout(limits.wait)
            .error_handler(Box::new(Quiet))
            .connection_customizer(Box::new(Setup { statement: limits.statement }))
            .build_unchecked(ConnectionManager::new(database_url));
        let permits = Arc::new(Semaphore::new(limits.connections as usize));
        Self { pool, permits, limits, database_url: database_url.into() }
    }

    /// Waits its turn without blocking the thread, and no longer than callers should wait.
    pub(crate) async fn permit(&self) -> Result<OwnedSemaphorePermit, StoreError> {
        let turn = Arc::clone(&self.permits).acquire_owned();
        match tokio::time::timeout(self.limits.wait, turn).await {
            Ok(Ok(permit)) => Ok(permit),
            Ok(Err(_)) | Err(_) => Err(StoreError::Busy),
        }
    }

    /// Takes the connection that a permit stands for. Blocks: only for threads that may.
    pub(crate) fn lease(&self, permit: OwnedSemaphorePermit) -> Result<Lease, StoreError> {
        let conn = self.pool.get().map_err(|error| StoreError::Unavailable(error.to_string()))?;
        Ok(Lease { conn, _permit: permit })
    }

    /// A connection for the program itself (command line, start-up), outside any request. Blocks.
    pub fn connection(&self) -> Result<PooledConnection<ConnectionManager<PgConnection>>, StoreError> {
        self.pool.get().map_err(|error| StoreError::Unavailable(error.to_string()))
    }

    /// A connection beside the pool, set up as the pool's are, for a thread that keeps it. Blocks.
    pub(crate) fn connection_apart(&self) -> Result<PgConnection, StoreError> {
        let mut conn = PgConnection::establish(&self.database_url)
            .map_err(|error| StoreError::Unavailable(error.to_string()))?;
        conn.batch_execute(&settings(self.limits.statement))?;
        Ok(conn)
    }

    /// How long a caller waits for its turn.
    pub(crate) fn wait(&self) -> Duration {
        self.limits.wait
    }

    /// Connections in use and idle, for the metrics.
    #[must_use]
    pub fn connections(&self) -> (u32, u32) {
        let state = self.pool.state();
        (state.connections - state.idle_connections, state.idle_connections)
    }
}

/// Applied to every new connection.
#[derive(Debug)]
struct Setup {
    statement: Duration,
}

impl r2d2::CustomizeConnection<PgConnection, diesel::r2d2::Error> for Setup {
    fn on_acquire(&self, conn: &mut PgConnection) -> Result<(), diesel::r2d2::Error> {
        conn.batch_execute(&settings(self.statement)).map_err(diesel::r2d2::Error::QueryError)
    }
}

/// UTC, because the digests of the audit chain are taken over the text form of the rows.
fn settings(statement: Duration) -> String {
    format!(
        "set application_name = 'sellion'; set timezone = 'UTC'; set datestyle = 'ISO, YMD'; \
         set statement_timeout = {}; set lock_timeout = 5000; \
         set idle_in_transaction_session_timeout = 30000",
        statement.as_millis()
    )
}

/// Connection failures reach their caller as an error; the pool need not print them as well.
#[derive(Debug)]
struct Quiet;

impl<E: std::fmt::Display> r2d2::HandleError<E> for Quiet {
    fn handle_error(&self, error: E) {
        tracing::debug!(%error, "a database connection could not be made");
    }
}
