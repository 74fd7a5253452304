//! The private PostgreSQL: a server of our own in one folder, reached only through a Unix socket.
//!
//! [`Cluster::start`] finds the installed server programs, makes a database in the home folder if there is
//! none, clears away what a killed run left behind, starts the server as an ordinary user even when this
//! process is root, and keeps it running until [`Cluster::stop`] or the end of this process. Whatever
//! stands in the way comes back as one sentence ([`ClusterError`]) that says what to do.

mod create;
mod error;
mod home;
mod keeper;
mod leftovers;
mod logs;
mod owner;
mod processes;
mod programs;
mod running;
mod server;
mod socket;
mod spawn;

use std::{
    path::{Path, PathBuf},
    time::Duration,
};

use diesel::{
    Connection, OptionalExtension, PgConnection, QueryableByName, RunQueryDsl,
    result::{DatabaseErrorKind, Error as QueryError},
    sql_query,
    sql_types::{Integer, Text},
};

pub use self::{error::ClusterError, programs::Programs, running::address_of_running};
use self::{home::Home, keeper::Keeper, logs::Log, owner::Owner, server::Server};

/// The longest name that PostgreSQL keeps whole, in bytes (its manual, section "Identifiers and Key
/// Words").
const LONGEST_NAME_BYTES: usize = 63;

/// Whether what is committed must survive a power cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Durability {
    /// Every commit is on disk before it is answered.
    Durable,
    /// Nothing is synced: fast, for tests. Survives killed processes, not a machine that stops.
    Throwaway,
}

/// Where and how the private database runs.
#[derive(Debug, Clone)]
pub struct Options {
    /// The folder for everything of this database; made if it is missing. As root, the user of the database
    /// (`postgres`, else `nobody`) must be able to enter the folders above it.
    pub home: PathBuf,
    /// The folder with PostgreSQL's server programs; without it the usual places are searched.
    pub programs: Option<PathBuf>,
    /// Whether commits survive a power cut.
    pub durability: Durability,
    /// How many connections the server accepts, its own three reserved ones included.
    pub max_connections: u32,
    /// How long the server may take until it accepts connections. A recovery after a crash takes part of
    /// it: give a minute or more where data are kept. Making a new database is not counted.
    pub start_timeout: Duration,
}

/// A running private PostgreSQL. Dropping it stops the server; if the process is killed instead, the kernel
/// tells the server to shut down (Linux), or the next start does (elsewhere).
#[derive(Debug)]
pub struct Cluster {
    // Declared, and so dropped, before the home: its lock must outlast the server.
    keeper: Keeper,
    home: Home,
    programs: Programs,
    socket_folder: PathBuf,
    user: String,
}

impl Cluster {
    /// Starts the server and returns when it accepts connections. Blocks meanwhile: a few seconds the first
    /// time, else a fraction of one. May be called from any thread, because a thread of the cluster's own
    /// starts the server and lives as long as it. If the server later ends by itself it is started again
    /// until it works; [`Cluster::trouble`] tells why it does not.
    ///
    /// # Errors
    ///
    /// See [`ClusterError`]: each is a sentence for the person who started this process.
    pub fn start(options: &Options) -> Result<Self, ClusterError> {
        let home = Home::open(&options.home)?;
        let data = home.data();
        let stored = home.stored_version()?;
        let owner = Owner::choose(&data, stored.is_some())?;
        let programs = programs::choose(
            options.programs.as_deref(),
            stored.as_deref().map(|made_by| (data.as_path(), made_by)),
        )?;
        home.let_pass(&owner)?;
        create::remove_unfinished(home.root());
        if stored.is_none() {
            tracing::info!(version = programs.version(), "making a new database");
            create::create(&home, &programs, &owner, options.durability)?;
        }
        let socket_folder = socket::make_folder(&home, &owner)?;
        let server = Server {
            programs: programs.clone(),
            owner: owner.clone(),
            data,
            socket_folder: socket_folder.clone(),
            log: Log::rotate(&home.logs(), "postgres"),
            durability: options.durability,
            max_connections: options.max_connections,
        };
        let keeper = Keeper::start(server, options.start_timeout)
            .inspect_err(|_| socket::remove_folder(&socket_folder, home.root()))?;
        tracing::info!(version = programs.version(), user = owner.name, "the private PostgreSQL runs");
        Ok(Self { keeper, home, programs, socket_folder, user: owner.name })
    }

    /// The address of a database in this server, for libpq and everything built on it. The database need
    /// not exist.
    #[must_use]
    pub fn database_url(&self, database: &str) -> String {
        socket::database_url(&self.socket_folder, database)
    }

    /// Creates the database unless it is there already.
    ///
    /// # Errors
    ///
    /// [`ClusterError::DatabaseName`] for an impossible name, [`ClusterError::Database`] with the server's
    /// words for everything else.
    pub fn ensure_database(&self, name: &str) -> Result<(), ClusterError> {
        if name.is_empty() || name.len() > LONGEST_NAME_BYTES || name.contains('\0') {
            return Err(ClusterError::DatabaseName { name: name.escape_debug().to_string() });
        }
        let failed =
            |reason: String| ClusterError::Database { name: name.to_owned(), reason: one_line(&reason) };
        let mut connection = PgConnection::establish(&self.database_url("postgres"))
            .map_err(|error| self.trouble().unwrap_or_else(|| failed(error.to_string())))?;
        let known = sql_query("SELECT 1 AS one FROM pg_database WHERE datname = $1")
            .bind::<Text, _>(name)
            .get_result::<One>(&mut connection)
            .optional()
            .map_err(|error| failed(error.to_string()))?;
        if known.is_some_and(|row| row.one == 1) {
            return Ok(());
        }
        let quoted = name.replace('"', "\"\"");
        match sql_query(format!("CREATE DATABASE \"{quoted}\"")).execute(&mut connection) {
            Ok(_) => Ok(()),
            // Somebody else asked for the same in the same moment, which is as good.
            Err(QueryError::DatabaseError(DatabaseErrorKind::UniqueViolation, _)) => Ok(()),
            Err(QueryError::DatabaseError(_, about)) if about.message().ends_with("already exists") => Ok(()),
            Err(error) => Err(failed(error.to_string())),
        }
    }

    /// Stops the server in its fast way: clients are disconnected, open transactions rolled back, nothing
    /// is left to recover. Waits for its end.
    ///
    /// # Errors
    ///
    /// [`ClusterError::UncleanStop`] if the server ended, but not as asked; what was committed is safe even
    /// then.
    pub fn stop(mut self) -> Result<(), ClusterError> {
        self.halt()
    }

    /// The server programs in use.
    #[must_use]
    pub fn programs(&self) -> &Programs {
        &self.programs
    }

    /// The user the server runs as.
    #[must_use]
    pub fn user(&self) -> &str {
        &self.user
    }

    /// The home folder, links resolved.
    #[must_use]
    pub fn home(&self) -> &Path {
        self.home.root()
    }

    /// The process number of the server; nothing while it is being started again.
    #[must_use]
    pub fn server_pid(&self) -> Option<u32> {
        self.keeper.pid().and_then(|pid| u32::try_from(pid.as_raw_pid()).ok())
    }

    /// Why there is no working server at this moment; nothing while there is one.
    #[must_use]
    pub fn trouble(&self) -> Option<ClusterError> {
        self.keeper.trouble()
    }

    fn halt(&mut self) -> Result<(), ClusterError> {
        let stopped = self.keeper.stop();
        socket::remove_folder(&self.socket_folder, self.home.root());
        stopped
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        if let Err(error) = self.halt() {
            tracing::warn!(%error, "the private PostgreSQL was stopped");
        }
    }
}

#[derive(QueryableByName)]
struct One {
    #[diesel(sql_type = Integer)]
    one: i32,
}

/// The server's words as part of a sentence.
fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ").trim_end_matches('.').to_owned()
}
