//! Which database a command works on: the one it is told, or a private one in the data folder.

use std::{
    env,
    fs::{self, DirBuilder, Permissions},
    os::unix::fs::{DirBuilderExt, PermissionsExt},
    path::{Path, PathBuf},
    time::Duration,
};

use anyhow::{Context, bail};
use sellion_store::{
    Limits, Store,
    cluster::{Cluster, Durability, Options, address_of_running},
};
use sellion_web::Secret;
use tempfile::TempDir;

/// The database in the private PostgreSQL.
const NAME: &str = "sellion";
/// A recovery after a power cut may take its time.
const START_TIMEOUT: Duration = Duration::from_secs(120);
/// The environment variable that may hold the installation's secret. No argument does: those are seen by everybody.
const SECRET: &str = "SELLION_SECRET";
/// Connections that PostgreSQL keeps for itself, and some for backups and other commands.
const CONNECTIONS_RESERVED: u32 = 20;

/// Database connections, unless told.
const CONNECTIONS: u32 = 16;
/// Enough to pass through a folder, not to list it.
const FOLDER_MODE: u32 = 0o711;

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
    /// The digits themselves may come in the environment as SELLION_SECRET instead, but never as an argument.
    /// All servers that share a database need the same one. Keep a copy: without it no stored badge key opens.
    #[arg(long, env = "SELLION_SECRET_FILE")]
    pub(crate) secret_file: Option<PathBuf>,
    /// Database connections at most.
    #[arg(long, env = "SELLION_CONNECTIONS", default_value_t = CONNECTIONS, value_parser = clap::value_parser!(u32).range(1..=500))]
    pub(crate) connections: u32,
}

/// An open database, migrated. A private PostgreSQL ends with it, unless another process keeps it.
pub(crate) struct Database {
    pub(crate) store: Store,
    pub(crate) migrations: Vec<String>,
    cluster: Option<Cluster>,
    _passing: Option<TempDir>,
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
    /// Unless it is to keep it, a command may use the PostgreSQL that a running `serve` keeps.
    pub(crate) fn open(&self, purpose: Purpose) -> anyhow::Result<Database> {
        if let Some(url) = &self.database_url {
            return database(url, self.connections, None, None);
        }
        let home = self.data.join("postgres");
        if purpose == Purpose::Look && !home.exists() {
            let data = self.data.display();
            bail!("there is no database in {data}: say where it is with --data or --database-url");
        }
        make_folder(&self.data)?;
        if purpose != Purpose::Keep
            && let Some(url) = address_of_running(&home, NAME)
        {
            return database(&url, self.connections, None, None);
        }
        let cluster = private(home, self.connections)?;
        database(&cluster.database_url(NAME), self.connections, Some(cluster), None)
    }

    /// The installation's secret, made when there is none yet.
    pub(crate) fn secret(&self) -> anyhow::Result<Secret> {
        if let Some(digits) = env::var_os(SECRET) {
            if self.secret_file.is_some() {
                bail!("a secret file and {SECRET} are both given: give one of the two");
            }
            let digits = digits.to_str().with_context(|| format!("{SECRET} holds no text"))?;
            return Secret::from_hex(digits).with_context(|| format!("{SECRET} holds no secret"));
        }
        let path = match &self.secret_file {
            Some(path) if !path.exists() => bail!("there is no secret at {}", path.display()),
            Some(path) => path.clone(),
            None => {
                make_folder(&self.data)?;
                self.data.join("secret")
            }
        };
        Secret::from_file(&path)
    }
}

/// A database for one demonstration: the one given, or a private one that is gone afterwards.
pub(crate) fn open_passing(database_url: Option<&str>) -> anyhow::Result<Database> {
    if let Some(url) = database_url {
        return database(url, CONNECTIONS, None, None);
    }
    // Not below the folder of the output: as root, the database runs as a user who may not get that far.
    let folder = tempfile::Builder::new().prefix("sellion-demo-").tempdir()?;
    fs::set_permissions(folder.path(), Permissions::from_mode(FOLDER_MODE))?;
    let cluster = private(folder.path().join("postgres"), CONNECTIONS)?;
    database(&cluster.database_url(NAME), CONNECTIONS, Some(cluster), Some(folder))
}

fn private(home: PathBuf, connections: u32) -> anyhow::Result<Cluster> {
    let cluster = Cluster::start(&Options {
        home,
        programs: None,
        durability: Durability::Durable,
        max_connections: connections + CONNECTIONS_RESERVED,
        start_timeout: START_TIMEOUT,
    })?;
    cluster.ensure_database(NAME)?;
    Ok(cluster)
}

fn database(
    url: &str,
    connections: u32,
    cluster: Option<Cluster>,
    passing: Option<TempDir>,
) -> anyhow::Result<Database> {
    let migrations = sellion_store::migrate(url)?;
    let store = Store::open(url, Limits { connections, ..Limits::default() });
    Ok(Database { store, migrations, cluster, _passing: passing })
}

/// Others may pass through the data folder but not list it: as root, the database runs as another user.
fn make_folder(path: &Path) -> anyhow::Result<()> {
    DirBuilder::new()
        .recursive(true)
        .mode(FOLDER_MODE)
        .create(path)
        .with_context(|| format!("the folder {} cannot be made", path.display()))
}

/// What a command wants with the database.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Purpose {
    /// Keep it running: nobody else may.
    Keep,
    /// Write something, also into a new one, and beside a running server.
    Write,
    /// Look at what is there, beside a running server; a new database would hold nothing to look at.
    Look,
}

/// Where a service keeps its data when it runs as root, and where a person's programs do otherwise.
fn default_folder() -> PathBuf {
    if rustix::process::geteuid().is_root() {
        return PathBuf::from("/var/lib/sellion");
    }
    let base = env::var_os("XDG_DATA_HOME").map(PathBuf::from).filter(|path| path.is_absolute());
    let home = || env::var_os("HOME").map(|home| Path::new(&home).join(".local/share"));
    base.or_else(home).unwrap_or_else(|| PathBuf::from(".")).join("sellion")
}
