//! The thread that keeps the server: it starts it, waits for its end, and starts it again unless asked to
//! stop.
//!
//! The kernel ties the death signal of [`super::spawn`] to the THREAD that started the server, not to its
//! process. Were the server started by a passing thread of a pool, it would be shut down when that thread
//! is retired. So one thread of its own starts it and lives exactly as long as it should.

use std::{
    process::{Child, ExitStatus},
    sync::{
        Arc, Condvar, Mutex, MutexGuard, PoisonError,
        mpsc::{Receiver, SyncSender, sync_channel},
    },
    thread::{self, JoinHandle},
    time::{Duration, Instant},
};

use rustix::process::{Pid, Signal, WaitId, WaitIdOptions, kill_process, waitid};

use super::{
    error::ClusterError,
    logs,
    server::{Server, Watch},
};

/// The pause before a server that ended by itself is started again: long enough not to fill the log, short
/// enough that clients who retry hardly notice.
const RESTART_PAUSE: Duration = Duration::from_secs(2);

/// Fast shutdown writes everything to its place first; then immediate shutdown; then the end.
const STOP_STEPS: [(Signal, Duration); 3] = [
    (Signal::INT, Duration::from_secs(60)),
    (Signal::QUIT, Duration::from_secs(10)),
    (Signal::KILL, Duration::from_secs(10)),
];

/// The handle to the thread.
#[derive(Debug)]
pub(super) struct Keeper {
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
}

#[derive(Debug, Default)]
struct Shared {
    state: Mutex<State>,
    changed: Condvar,
}

#[derive(Debug, Default)]
struct State {
    /// The server's number, exactly as long as the number is surely its own.
    pid: Option<Pid>,
    stopping: bool,
    /// The thread has nothing left to do.
    over: bool,
    /// Why there is no working server at this moment.
    trouble: Option<ClusterError>,
    /// What was wrong with the end that was asked for.
    unclean: Option<ClusterError>,
}

impl Keeper {
    /// Starts the thread and through it the server; returns when it takes connections or has failed.
    pub(super) fn start(server: Server, timeout: Duration) -> Result<Self, ClusterError> {
        let shared = Arc::new(Shared::default());
        let (report, reported): (_, Receiver<Result<(), ClusterError>>) = sync_channel(1);
        let theirs = Arc::clone(&shared);
        let thread = thread::Builder::new()
            .name("postgres-keeper".to_owned())
            .spawn(move || keep(server, timeout, &theirs, report))
            .map_err(|error| ClusterError::Thread { reason: error.to_string() })?;
        let keeper = Self { shared, thread: Some(thread) };
        let gone = || Err(ClusterError::Thread { reason: "it ended at once".to_owned() });
        reported.recv().unwrap_or_else(|_| gone()).map(|()| keeper)
    }

    /// Why there is no working server at this moment, if there is none.
    pub(super) fn trouble(&self) -> Option<ClusterError> {
        self.shared.lock().trouble.clone()
    }

    /// The server's process number while it lives.
    pub(super) fn pid(&self) -> Option<Pid> {
        self.shared.lock().pid
    }

    /// Stops the server and ends the thread; safe to repeat.
    pub(super) fn stop(&mut self) -> Result<(), ClusterError> {
        let Some(thread) = self.thread.take() else {
            return Ok(());
        };
        self.shared.lock().stopping = true;
        self.shared.changed.notify_all();
        let over = STOP_STEPS.iter().any(|&(signal, patience)| {
            self.shared.signal(signal);
            self.shared.wait_until_over(patience)
        });
        if over && thread.join().is_err() {
            tracing::error!("the thread that kept PostgreSQL had panicked");
        }
        self.shared.lock().unclean.take().map_or(Ok(()), Err)
    }
}

impl Shared {
    /// A panic elsewhere leaves the state whole: every change to it is a single assignment.
    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn signal(&self, signal: Signal) {
        if let Some(pid) = self.lock().pid
            && let Err(error) = kill_process(pid, signal)
        {
            tracing::warn!(%error, "PostgreSQL could not be signalled");
        }
    }

    fn wait_until_over(&self, patience: Duration) -> bool {
        let waited = self.changed.wait_timeout_while(self.lock(), patience, |state| !state.over);
        waited.unwrap_or_else(PoisonError::into_inner).0.over
    }

    fn note(&self, change: impl FnOnce(&mut State)) {
        change(&mut self.lock());
        self.changed.notify_all();
    }

    /// Sleeps until the child has ended, leaving it unreaped so that its number stays its own until it is
    /// withdrawn.
    fn wait_for_end(&self, child: &mut Child) -> Option<ExitStatus> {
        let pid = Pid::from_child(child);
        while let Err(error) = waitid(WaitId::Pid(pid), WaitIdOptions::EXITED | WaitIdOptions::NOWAIT) {
            if error != rustix::io::Errno::INTR {
                tracing::error!(%error, "waiting for PostgreSQL failed");
                break;
            }
        }
        let mut state = self.lock();
        state.pid = None;
        child.wait().ok()
    }
}

impl Watch for Shared {
    fn adopt(
        &self,
        start: &mut dyn FnMut() -> Result<Child, ClusterError>,
    ) -> Result<Option<Child>, ClusterError> {
        let mut state = self.lock();
        if state.stopping {
            return Ok(None);
        }
        let child = start()?;
        state.pid = Some(Pid::from_child(&child));
        Ok(Some(child))
    }

    fn ended(&self, child: &mut Child) -> Option<ExitStatus> {
        let mut state = self.lock();
        let status = child.try_wait().ok().flatten();
        if status.is_some() {
            state.pid = None;
        }
        status
    }

    fn pause(&self, length: Duration) -> bool {
        let waited = self.changed.wait_timeout_while(self.lock(), length, |state| !state.stopping);
        waited.unwrap_or_else(PoisonError::into_inner).0.stopping
    }
}

/// Whatever way the thread ends, whoever waits for it must learn of it.
struct OverAtEnd<'a>(&'a Shared);

impl Drop for OverAtEnd<'_> {
    fn drop(&mut self) {
        self.0.note(|state| state.over = true);
    }
}

/// The thread's work. Only a failure of the first start ends it by itself; later ones are tried again for
/// ever, because space returns on a disk and memory to a machine, and the clients' pool connects again by
/// itself.
fn keep(
    mut server: Server,
    timeout: Duration,
    shared: &Shared,
    report: SyncSender<Result<(), ClusterError>>,
) {
    let _over = OverAtEnd(shared);
    let mut report = Some(report);
    loop {
        let timeout = report.is_some().then_some(timeout);
        match server.start(shared, timeout) {
            Ok(None) => return,
            Ok(Some(mut child)) => {
                shared.note(|state| state.trouble = None);
                tell(&mut report, Ok(()));
                let begun = Instant::now();
                let status = shared.wait_for_end(&mut child);
                if shared.lock().stopping {
                    note_end(&server, status, shared);
                    return;
                }
                let words = status.map_or_else(|| "unknown".to_owned(), |status| status.to_string());
                let error = server.log.explain("PostgreSQL", words, &server.data);
                let lived_seconds = begun.elapsed().as_secs();
                tracing::error!(%error, lived_seconds, "PostgreSQL ended by itself");
                shared.note(|state| state.trouble = Some(error));
            }
            Err(error) => {
                if tell(&mut report, Err(error.clone())) || shared.lock().stopping {
                    return;
                }
                tracing::error!(%error, "PostgreSQL could not be started again");
                shared.note(|state| state.trouble = Some(error));
            }
        }
        if shared.pause(RESTART_PAUSE) {
            return;
        }
    }
}

/// Reports the outcome of the first start; says whether this was it.
fn tell(
    report: &mut Option<SyncSender<Result<(), ClusterError>>>,
    outcome: Result<(), ClusterError>,
) -> bool {
    // The receiver waits for exactly this one message.
    report.take().is_some_and(|report| report.send(outcome).is_ok())
}

fn note_end(server: &Server, status: Option<ExitStatus>, shared: &Shared) {
    if status.is_some_and(|status| status.success()) {
        return;
    }
    let status = status.map_or_else(|| "unknown".to_owned(), |status| status.to_string());
    let line = logs::last_of_weight(&server.log.tail());
    let unclean = ClusterError::UncleanStop { status, line, log: server.log.path.clone() };
    shared.note(|state| state.unclean = Some(unclean));
}
