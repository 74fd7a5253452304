//! A home that cleans up after itself, and short words for what the tests do with a cluster.

use std::{
    fs,
    os::unix::fs::{MetadataExt, PermissionsExt},
    path::{Path, PathBuf},
    time::{Duration, Instant},
};

use diesel::{
    Connection, PgConnection, QueryableByName, RunQueryDsl, connection::SimpleConnection, sql_query,
    sql_types,
};
use rustix::process::{Pid, Signal, kill_process};
use sellion_store::cluster::{Cluster, ClusterError, Durability, Options};
use tempfile::TempDir;

/// A folder of its own for one test. Its end, also by a failed assertion, ends every PostgreSQL in it.
pub(crate) struct TestHome {
    top: TempDir,
    home: PathBuf,
}

impl TestHome {
    pub(crate) fn new() -> Self {
        Self::named("home")
    }

    /// With the home itself under a name of the test's choice.
    pub(crate) fn named(name: &str) -> Self {
        let open = fs::Permissions::from_mode(0o755);
        let top = tempfile::Builder::new().prefix("cluster-").permissions(open).tempdir().unwrap();
        let home = top.path().join(name);
        Self { top, home }
    }

    pub(crate) fn top(&self) -> &Path {
        self.top.path()
    }

    pub(crate) fn path(&self) -> &Path {
        &self.home
    }

    pub(crate) fn data(&self) -> PathBuf {
        self.home.join("data")
    }

    pub(crate) fn options(&self, durability: Durability) -> Options {
        Options {
            home: self.home.clone(),
            programs: None,
            durability,
            max_connections: 20,
            start_timeout: Duration::from_secs(120),
        }
    }

    pub(crate) fn start(&self) -> Cluster {
        self.try_start().unwrap_or_else(|error| panic!("{error}"))
    }

    /// Most tests need no syncing: a killed process loses nothing that the system has taken over.
    pub(crate) fn try_start(&self) -> Result<Cluster, ClusterError> {
        Cluster::start(&self.options(Durability::Throwaway))
    }

    /// The sentence of a start that must be refused.
    pub(crate) fn refusal(&self) -> String {
        match self.try_start() {
            Ok(_) => panic!("the start was not refused"),
            Err(error) => error.to_string(),
        }
    }

    /// The user and group of the stored database.
    pub(crate) fn owner(&self) -> (u32, u32) {
        let meta = fs::metadata(self.data()).unwrap();
        (meta.uid(), meta.gid())
    }

    /// Every PostgreSQL process at work in this home.
    pub(crate) fn servers(&self) -> Vec<Pid> {
        let top = fs::canonicalize(self.top.path()).unwrap();
        let entries = fs::read_dir("/proc").unwrap().flatten();
        let numbers = entries.filter_map(|entry| entry.file_name().to_str()?.parse::<i32>().ok());
        numbers.filter(|number| works_below(*number, &top)).filter_map(Pid::from_raw).collect()
    }
}

fn works_below(number: i32, top: &Path) -> bool {
    let link = |name: &str| fs::read_link(format!("/proc/{number}/{name}")).unwrap_or_default();
    link("cwd").starts_with(top) && link("exe").to_string_lossy().contains("/postgres")
}

impl Drop for TestHome {
    fn drop(&mut self) {
        for _ in 0..100 {
            let left = self.servers();
            if left.is_empty() {
                return;
            }
            for pid in left {
                // It may have ended by itself since it was listed.
                kill_process(pid, Signal::KILL).ok();
            }
            std::thread::sleep(Duration::from_millis(50));
        }
    }
}

pub(crate) fn is_root() -> bool {
    rustix::process::geteuid().is_root()
}

pub(crate) fn kill(pid: u32, signal: Signal) {
    kill_process(Pid::from_raw(pid.try_into().unwrap()).unwrap(), signal).unwrap();
}

/// Waits for something that must come true.
pub(crate) fn eventually(what: &str, mut holds: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !holds() {
        assert!(begun.elapsed() < Duration::from_secs(60), "waited in vain: {what}");
        std::thread::sleep(Duration::from_millis(20));
    }
}

pub(crate) fn connect(url: &str) -> PgConnection {
    PgConnection::establish(url).unwrap_or_else(|error| panic!("{error}"))
}

/// A connection to the database `day`, made with a table `fact` where it is missing.
pub(crate) fn day(cluster: &Cluster) -> PgConnection {
    cluster.ensure_database("day").unwrap();
    let mut connection = connect(&cluster.database_url("day"));
    run(&mut connection, "CREATE TABLE IF NOT EXISTS fact (words text NOT NULL)");
    connection
}

pub(crate) fn run(connection: &mut PgConnection, sql: &str) {
    connection.batch_execute(sql).unwrap_or_else(|error| panic!("{sql}: {error}"));
}

#[derive(QueryableByName)]
struct Answer {
    #[diesel(sql_type = sql_types::Text)]
    answer: String,
}

/// The single value of a query, as text.
pub(crate) fn ask(connection: &mut PgConnection, value: &str) -> String {
    let sql = format!("SELECT ({value})::text AS answer");
    sql_query(&sql).get_result::<Answer>(connection).unwrap_or_else(|error| panic!("{sql}: {error}")).answer
}

pub(crate) fn count_facts(connection: &mut PgConnection) -> u64 {
    ask(connection, "SELECT count(*) FROM fact").parse().unwrap()
}

/// Says on standard error, past the harness, that something could not be shown here.
pub(crate) fn left_out(what: &str, why: &str) {
    use std::io::Write;
    let line = format!("\nNOT SHOWN HERE: {what} ({why})\n");
    std::io::stderr().write_all(line.as_bytes()).unwrap();
}
