//! One database for one test.

use diesel::connection::SimpleConnection;
use diesel::{Connection, PgConnection};
use uuid::Uuid;

use super::template::{maintenance, template_name};
use super::{server_url, with_database};

/// A database of a test's own on the shared server, dropped with this value.
pub struct TestDatabase {
    name: String,
    url: String,
}

impl TestDatabase {
    /// A migrated database without rows.
    #[must_use]
    pub fn fresh() -> Self {
        // Copying files beats replaying them through the log when nothing is ever synced.
        Self::create(&format!("template {} strategy file_copy", template_name()))
    }

    /// A database without any table, for tests of the migrations themselves.
    #[must_use]
    pub fn empty() -> Self {
        Self::create("template template0 encoding 'UTF8'")
    }

    fn create(how: &str) -> Self {
        let name = format!("sellion_test_{}", Uuid::now_v7().simple());
        run(&mut maintenance(), &format!("create database {name} {how}"));
        let url = with_database(server_url(), &name);
        Self { name, url }
    }

    /// The address to give to a server or a pool.
    #[must_use]
    pub fn url(&self) -> &str {
        &self.url
    }

    /// A new connection to this database.
    #[must_use]
    pub fn connect(&self) -> PgConnection {
        PgConnection::establish(&self.url)
            .unwrap_or_else(|error| panic!("no connection to {}: {error}", self.name))
    }

    /// Runs statements on a connection of their own. A statement that fails fails the test.
    pub fn execute(&self, sql: &str) {
        run(&mut self.connect(), sql);
    }

    /// Ends every connection and refuses new ones, as a database does that is gone.
    pub fn go_away(&self) {
        let name = &self.name;
        let mut server = maintenance();
        run(&mut server, &format!("alter database {name} with allow_connections false"));
        let end = format!("select pg_terminate_backend(pid) from pg_stat_activity where datname = '{name}'");
        run(&mut server, &end);
    }

    /// Takes connections again after [`TestDatabase::go_away`].
    pub fn come_back(&self) {
        run(&mut maintenance(), &format!("alter database {} with allow_connections true", self.name));
    }
}

impl Drop for TestDatabase {
    fn drop(&mut self) {
        // A server that is gone takes the database with it, and a panic here would hide the test's own.
        if let Ok(mut server) = PgConnection::establish(server_url()) {
            let drop = format!("drop database if exists {} with (force)", self.name);
            let _ = server.batch_execute(&drop);
        }
    }
}

fn run(conn: &mut PgConnection, sql: &str) {
    conn.batch_execute(sql).unwrap_or_else(|error| panic!("{sql}: {error}"));
}
