//! Which database a command works on: the one it is told, or a private one in the data folder.

use std::{
    fs::DirBuilder,
    os::unix::fs::DirBuilderExt,
    path::{Path, PathBuf},
    time::Duration,
};

use anyhow::{Context, bail};
use sellion_store::{
    Limits, Store,
    cluster::{Cluster, Durability, Options, address_of_running},
};
use sellion_web::Secret;

/// The database in the private PostgreSQL.
const NAME: &str = "sellion";
/// A recovery after a power cut may take its time.
const START_TIMEOUT: Duration = Duration::from_secs(120);
/// Connections that PostgreSQL keeps for itself, and some for backups and other commands.
const CONNECTIONS_RESERVED: u32 = 20;

/// Where the data are.
#[derive(Debug, Clone, clap::Args)]
pub(crate) struct DatabaseArguments {
    /// Use this PostgreSQL database (15 or later) instead of a private one.
    #[arg(long, env = "DATABASE_URL", hide_env_values = true)]
    pub(crate) database_url: Option<String>,
    /// The folder for the private database and the installation's secret.
    #[arg(long, env = "SELLION_DATA", default_value_os_t = default_folder())]
    pub(crate) data: PathBuf,
    /// A file with the installation's secret, 64 hexadecimal digits; made in the data folder unless told.
    ///
    /// All servers that share a database need the same one. Keep a copy: without it no stored badge key opens.
    #[arg(long, env = "SELLION_SECRET_FILE")]
    pub(crate) secret_file: Option<PathBuf>,
    /// Database connections at most.
    #[arg(long, env = "SELLION_CONNECTIONS", default_value_t = 16, value_parser = clap::value_parser!(u32).range(1..=500))]
    pub(crate) connections: u32,
}

/// An open database, migrated. A private PostgreSQL ends with it, unless another process keeps it.
pub(crate) struct Database {
    pub(crate) store: Store,
    pub(crate) migrations: Vec<String>,
    cluster: Option<Cluster>,
}

impl Database {
    /// Ends the private PostgreSQL in order.
    pub(crate) fn close(self) -> anyhow::Result<()> {
        drop(self.store);
        match self.cluster {
            Some(cluster) => Ok(cluster.stop()?),
            None => Ok(()),
        }
    }
}

impl DatabaseArguments {
    /// Opens the database, starting the private PostgreSQL if that is what is used, and migrates it.
    ///
    /// A command that only looks or adds a row may use the PostgreSQL that a running `serve` keeps.
    pub(crate) fn open(&self, share: Share) -> anyhow::Result<Database> {
        let (url, cluster) = match &self.database_url {
            Some(url) => (url.clone(), None),
            None => self.private(share)?,
        };
        let migrations = sellion_store::migrate(&url)?;
        let limits = Limits { connections: self.connections, ..Limits::default() };
        Ok(Database { store: Store::open(&url, limits), migrations, cluster })
    }

    fn private(&self, share: Share) -> anyhow::Result<(String, Option<Cluster>)> {
        self.make_folder()?;
        let home = self.data.join("postgres");
        if share == Share::Allowed
            && let Some(url) = address_of_running(&home, NAME)
        {
            return Ok((url, None));
        }
        let cluster = Cluster::start(&Options {
            home,
            programs: None,
            durability: Durability::Durable,
            max_connections: self.connections + CONNECTIONS_RESERVED,
            start_timeout: START_TIMEOUT,
        })?;
        cluster.ensure_database(NAME)?;
        Ok((cluster.database_url(NAME), Some(cluster)))
    }

    /// The installation's secret, made when there is none yet.
    pub(crate) fn secret(&self) -> anyhow::Result<Secret> {
        let path = match &self.secret_file {
            Some(path) if !path.exists() => bail!("there is no secret at {}", path.display()),
            Some(path) => path.clone(),
            None => {
                self.make_folder()?;
                self.data.join("secret")
            }
        };
        Secret::from_file(&path)
    }

    /// Others may pass through the data folder but not list it: as root, the database runs as another user.
    fn make_folder(&self) -> anyhow::Result<()> {
        DirBuilder::new()
            .recursive(true)
            .mode(0o711)
            .create(&self.data)
            .with_context(|| format!("the folder {} cannot be made", self.data.display()))
    }
}

/// Whether a command may work beside a running server.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Share {
    /// It may use the PostgreSQL that another process keeps.
    Allowed,
    /// It must be the one that keeps it.
    Never,
}

/// Where a service keeps its data when it runs as root, and where a person's programs do otherwise.
fn default_folder() -> PathBuf {
    if rustix::process::geteuid().is_root() {
        return PathBuf::from("/var/lib/sellion");
    }
    let base = std::env::var_os("XDG_DATA_HOME").map(PathBuf::from).filter(|path| path.is_absolute());
    let home = || std::env::var_os("HOME").map(|home| Path::new(&home).join(".local/share"));
    base.or_else(home).unwrap_or_else(|| PathBuf::from(".")).join("sellion")
}
