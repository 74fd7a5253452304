//! One run of the server program: its settings, its start, and how a failed start is judged.

use std::{
    ffi::OsString,
    os::unix::net::UnixStream,
    path::PathBuf,
    process::{Child, ExitStatus},
    time::{Duration, Instant},
};

use rustix::process::{Pid, Signal, kill_process};

use super::{
    Durability,
    error::ClusterError,
    leftovers,
    logs::{self, Log},
    owner::Owner,
    programs::Programs,
    socket,
    spawn::Spawn,
};

/// How often a starting server is looked at.
const POLL: Duration = Duration::from_millis(5);

/// How long a start is tried again while PostgreSQL still sees the remains of the run before.
const REMAINS_PATIENCE: Duration = Duration::from_secs(15);

/// The pause before such another try.
const REMAINS_PAUSE: Duration = Duration::from_millis(200);

/// How long a server that was not ready in time gets to end.
const ABORT_PATIENCE: Duration = Duration::from_secs(10);

/// PostgreSQL keeps three connections for its superuser and does not start with fewer than that.
const FEWEST_CONNECTIONS: u32 = 8;

/// Everything needed to start the server, as often as it must be.
#[derive(Debug)]
pub(super) struct Server {
    pub(super) programs: Programs,
    pub(super) owner: Owner,
    pub(super) data: PathBuf,
    pub(super) socket_folder: PathBuf,
    pub(super) log: Log,
    pub(super) durability: Durability,
    pub(super) max_connections: u32,
}

/// What the thread that waits for the server asks its surroundings.
pub(super) trait Watch {
    /// Starts the child and makes its number known, unless the end has been asked for.
    fn adopt(
        &self,
        start: &mut dyn FnMut() -> Result<Child, ClusterError>,
    ) -> Result<Option<Child>, ClusterError>;
    /// Takes notice of the child if it has ended, and withdraws its number in the same moment.
    fn ended(&self, child: &mut Child) -> Option<ExitStatus>;
    /// Waits, but not longer than until the end is asked for; says whether it is.
    fn pause(&self, length: Duration) -> bool;
}

impl Server {
    /// Starts the server and waits until it takes connections: `None` if it was stopped meanwhile. Without
    /// a `timeout` the wait lasts as long as the server lives, for instance through a long recovery.
    pub(super) fn start(
        &mut self,
        watch: &dyn Watch,
        timeout: Option<Duration>,
    ) -> Result<Option<Child>, ClusterError> {
        let begun = Instant::now();
        loop {
            leftovers::clear(&self.data, &self.socket_folder)?;
            let Some(mut child) = watch.adopt(&mut || self.spawn())? else {
                return Ok(None);
            };
            let Some(status) = self.wait_until_ready(&mut child, watch, timeout, begun)? else {
                return Ok(Some(child));
            };
            if !self.speaks_of_remains() || begun.elapsed() > REMAINS_PATIENCE {
                return Err(self.log.explain("PostgreSQL", status.to_string(), &self.data));
            }
            if watch.pause(REMAINS_PAUSE) {
                return Ok(None);
            }
        }
    }

    fn spawn(&mut self) -> Result<Child, ClusterError> {
        let log = self.log.open()?;
        let spawn = Spawn { programs: &self.programs, owner: &self.owner, folder: &self.data, log };
        // SIGINT is PostgreSQL's fast shutdown: clients are disconnected, nothing is left to recover.
        spawn.start("postgres", self.arguments(), Signal::INT)
    }

    /// `None` when it is ready, the exit status when it has ended instead.
    fn wait_until_ready(
        &self,
        child: &mut Child,
        watch: &dyn Watch,
        timeout: Option<Duration>,
        begun: Instant,
    ) -> Result<Option<ExitStatus>, ClusterError> {
        let pid = Pid::from_child(child);
        loop {
            if let Some(status) = watch.ended(child) {
                return Ok(Some(status));
            }
            if self.is_ready(pid) {
                return Ok(None);
            }
            if let Some(timeout) = timeout.filter(|timeout| begun.elapsed() > *timeout) {
                abort(child, pid, watch);
                return Err(ClusterError::NotReady {
                    seconds: timeout.as_secs(),
                    line: logs::last_of_weight(&self.log.tail()),
                    log: self.log.path.clone(),
                });
            }
            watch.pause(POLL);
        }
    }

    fn is_ready(&self, pid: Pid) -> bool {
        leftovers::says_ready(&self.data, pid)
            && UnixStream::connect(socket::file(&self.socket_folder)).is_ok()
    }

    /// Whether the failed start met what a killed server left behind and the system clears away by itself:
    /// a number not yet free again, shared memory that the last backend still holds.
    fn speaks_of_remains(&self) -> bool {
        let tail = self.log.tail();
        ["lock file \"postmaster.pid\" already exists", "pre-existing shared memory block"]
            .iter()
            .any(|words| tail.contains(words))
    }

    fn arguments(&self) -> Vec<OsString> {
        let mut settings: Vec<OsString> = [
            "listen_addresses=",
            "unix_socket_permissions=0700",
            "timezone=UTC",
            "log_timezone=UTC",
            "log_destination=stderr",
            "logging_collector=off",
            "lc_messages=C",
            // Statements and details of errors hold people's names and numbers, which do not belong in a
            // log.
            "log_min_error_statement=panic",
            "log_error_verbosity=terse",
            "log_parameter_max_length=0",
        ]
        .map(OsString::from)
        .into();
        settings.push(format!("port={}", socket::PORT).into());
        settings.push(socket::setting(&self.socket_folder));
        settings.push(format!("max_connections={}", self.max_connections.max(FEWEST_CONNECTIONS)).into());
        if self.durability == Durability::Throwaway {
            // Commits still go to the system before they are answered, so that killed processes lose none.
            settings.extend(["fsync=off", "full_page_writes=off"].map(OsString::from));
        }
        let switches = settings.into_iter().flat_map(|setting| ["-c".into(), setting]);
        ["-D".into(), self.data.clone().into_os_string()].into_iter().chain(switches).collect()
    }
}

/// Ends a server that did not become ready.
fn abort(child: &mut Child, pid: Pid, watch: &dyn Watch) {
    for signal in [Signal::INT, Signal::KILL] {
        // Not reaped yet, so the number is still this child's.
        if let Err(error) = kill_process(pid, signal) {
            tracing::warn!(%error, "a PostgreSQL that was not ready in time could not be signalled");
        }
        let begun = Instant::now();
        while begun.elapsed() < ABORT_PATIENCE {
            if watch.ended(child).is_some() {
                return;
            }
            std::thread::sleep(POLL);
        }
    }
}
