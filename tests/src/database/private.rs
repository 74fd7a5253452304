//! A private Postgres cluster for tests, from the installed server programs.

use std::fs::Permissions;
use std::os::unix::fs::PermissionsExt;
use std::time::Duration;

use anyhow::Context;
use sellion_store::cluster::{Cluster, Durability, Options};
use tempfile::TempDir;

/// A throw-away cluster; dropping it stops the server and removes its files.
pub struct PrivateServer {
    // Fields drop in order: the server first, then the folder it writes to.
    cluster: Cluster,
    _folder: TempDir,
}

impl PrivateServer {
    /// Makes a cluster in a temporary folder and starts it.
    ///
    /// # Errors
    /// No server programs, or the server does not come up; the sentence says what to do.
    pub fn start() -> anyhow::Result<Self> {
        // Started as root, the server runs as another user, who must be able to walk through this folder.
        let folder = tempfile::Builder::new()
            .prefix("sellion-test-")
            .permissions(Permissions::from_mode(0o755))
            .tempdir()
            .context("no temporary folder")?;
        let cluster = Cluster::start(&Options {
            home: folder.path().join("db"),
            programs: None,
            durability: Durability::Throwaway,
            max_connections: 300,
            start_timeout: Duration::from_secs(60),
        })?;
        Ok(Self { cluster, _folder: folder })
    }

    /// The address of the maintenance database.
    #[must_use]
    pub fn url(&self) -> String {
        self.cluster.database_url("postgres")
    }

    /// Which programs it runs, for the person watching.
    #[must_use]
    pub fn description(&self) -> String {
        format!("PostgreSQL {}", self.cluster.programs().version())
    }
}
