//! Where scans wait: a bounded queue, and a few threads that answer all that wait at a moment together.
//!
//! A commit to disk takes longer than everything else about a scan, and one commit can carry many scans.
//! While a thread commits, the next scans gather; nobody waits for a batch to fill.

use std::{
    panic::{AssertUnwindSafe, catch_unwind},
    sync::{
        Arc, Mutex, PoisonError,
        mpsc::{Receiver, SyncSender, TrySendError, sync_channel},
    },
    thread,
    time::Duration,
};

use anyhow::Context;
use diesel::{PgConnection, connection::SimpleConnection};
use tokio::sync::oneshot;

use super::{Answered, NewScan, batch, versions::Versions};
use crate::{Store, StoreError};

/// Threads, each with a connection of its own. With two, one decides while the other one's commit is under way.
const THREADS: usize = 2;
/// Scans in one transaction at most, so that none waits for a very long one.
const BATCH_MAX: usize = 64;
/// Scans that may wait; a further one is told to come back.
const WAITING_MAX: usize = 1024;

/// Every access of a scan is by an index, and its plan does not depend on what is asked: plan once, and
/// never read a whole table, whatever the statistics of a new database say.
const SETTINGS: &str = "set plan_cache_mode = force_generic_plan; set jit = off; set enable_seqscan = off; \
                        set enable_hashjoin = off; set enable_mergejoin = off";

type Reply = Result<Answered, StoreError>;

struct Waiting {
    scan: NewScan,
    reply: oneshot::Sender<Reply>,
}

/// Answers scans. Its threads end when the last copy is dropped and nothing waits any more.
#[derive(Clone)]
pub struct Desk {
    queue: SyncSender<Waiting>,
    wait: Duration,
}

impl Desk {
    /// Starts the threads. They connect when the first scan comes.
    pub fn open(store: &Store) -> anyhow::Result<Self> {
        let (queue, waiting) = sync_channel(WAITING_MAX);
        let waiting = Arc::new(Mutex::new(waiting));
        for number in 0..THREADS {
            let clerk = Clerk { store: store.clone(), conn: None, versions: Versions::default() };
            let waiting = Arc::clone(&waiting);
            thread::Builder::new()
                .name(format!("scans-{number}"))
                .spawn(move || clerk.work(&waiting))
                .context("a thread for scans could not be started")?;
        }
        Ok(Self { queue, wait: store.wait() })
    }

    /// The answer to a scan, after it was stored.
    ///
    /// `Busy` when too many wait, or after too long a wait; in the second case the scan may be stored all
    /// the same, and sending it again gets the stored answer.
    pub async fn answer(&self, scan: NewScan) -> Reply {
        let (reply, answer) = oneshot::channel();
        match self.queue.try_send(Waiting { scan, reply }) {
            Ok(()) => {}
            Err(TrySendError::Full(_)) => return Err(StoreError::Busy),
            Err(TrySendError::Disconnected(_)) => {
                return Err(StoreError::internal("the threads for scans are gone"));
            }
        }
        match tokio::time::timeout(self.wait, answer).await {
            Ok(Ok(answer)) => answer,
            Ok(Err(_)) => Err(StoreError::internal("a batch of scans ended without an answer")),
            Err(_) => Err(StoreError::Busy),
        }
    }
}

/// One thread and its connection.
struct Clerk {
    store: Store,
    conn: Option<PgConnection>,
    versions: Versions,
}

impl Clerk {
    fn work(mut self, queue: &Mutex<Receiver<Waiting>>) {
        while let Some(waiting) = next_batch(queue) {
            let (scans, replies): (Vec<_>, Vec<_>) =
                waiting.into_iter().map(|waiting| (waiting.scan, waiting.reply)).unzip();
            // A panic must not take the thread along: dropped replies tell their callers of the fault.
            let Ok(answers) = catch_unwind(AssertUnwindSafe(|| self.answer(&scans))) else {
                tracing::error!("a batch of scans ended in a panic");
                self.conn = None;
                continue;
            };
            for (reply, answer) in replies.into_iter().zip(answers) {
                // Whoever does not wait any more gets the stored answer by sending the scan again.
                let _ = reply.send(answer);
            }
        }
    }

    /// The answers to a batch. When the batch fails as a whole, each scan is tried alone.
    fn answer(&mut self, scans: &[NewScan]) -> Vec<Reply> {
        match self.store_batch(scans) {
            Ok(answers) => answers,
            Err(StoreError::Unavailable(cause)) => {
                scans.iter().map(|_| Err(StoreError::Unavailable(cause.clone()))).collect()
            }
            Err(error) if scans.len() == 1 => vec![Err(error)],
            Err(error) => {
                tracing::warn!(%error, scans = scans.len(), "a batch of scans failed: each is tried alone");
                scans.iter().map(|scan| self.answer_alone(scan)).collect()
            }
        }
    }

    fn answer_alone(&mut self, scan: &NewScan) -> Reply {
        let mut answers = self.store_batch(std::slice::from_ref(scan))?;
        answers.pop().unwrap_or_else(|| Err(StoreError::internal("a scan without an answer")))
    }

    /// One transaction; a connection that turns out to be lost is made anew once.
    fn store_batch(&mut self, scans: &[NewScan]) -> Result<Vec<Reply>, StoreError> {
        let kept = self.conn.is_some();
        match self.try_batch(scans) {
            Err(StoreError::Unavailable(_)) if kept => self.try_batch(scans),
            result => result,
        }
    }

    fn try_batch(&mut self, scans: &[NewScan]) -> Result<Vec<Reply>, StoreError> {
        let mut conn = match self.conn.take() {
            Some(conn) => conn,
            None => {
                let mut conn = self.store.connection_apart()?;
                conn.batch_execute(SETTINGS)?;
                conn
            }
        };
        let result = batch::store(&mut conn, &mut self.versions, scans);
        if !matches!(result, Err(StoreError::Unavailable(_))) {
            self.conn = Some(conn);
        }
        result
    }
}

/// The scans that wait now, at least one; `None` when nobody can send any more.
fn next_batch(queue: &Mutex<Receiver<Waiting>>) -> Option<Vec<Waiting>> {
    let queue = queue.lock().unwrap_or_else(PoisonError::into_inner);
    let mut batch = vec![queue.recv().ok()?];
    while batch.len() < BATCH_MAX {
        match queue.try_recv() {
            Ok(waiting) => batch.push(waiting),
            Err(_) => break,
        }
    }
    Some(batch)
}
