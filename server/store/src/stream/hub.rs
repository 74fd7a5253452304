//! Listens to the database for all streams of one server, and reads each site's news once for all of them.

use std::{
    collections::HashMap,
    sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError},
    thread,
    time::{Duration, Instant},
};

use anyhow::Context;
use diesel::{PgConnection, connection::SimpleConnection};
use tokio::sync::broadcast;
use uuid::Uuid;

use super::{CHANNEL, Change, after};
use crate::{Store, StoreError, health};

/// How often the connection is asked for notifications: one system call, no round trip. The library gives no way to
/// sleep until one comes.
const POLL: Duration = Duration::from_millis(20);
/// How often the database must answer, so that a connection that died in silence is noticed.
const PING: Duration = Duration::from_secs(15);
/// How long to wait before the next try to connect: doubled after each that failed.
const PAUSE_MIN: Duration = Duration::from_millis(100);
const PAUSE_MAX: Duration = Duration::from_secs(5);
/// Rows read at a time.
const PAGE: i64 = 500;
/// Pages kept for a stream that does not keep up; after that it has to look for itself.
const KEPT: usize = 64;

/// What the streams of one site are told.
#[derive(Debug, Clone)]
pub enum News {
    /// All rows that follow the row `after`, in order.
    Rows {
        /// The number of the row before the first.
        after: i64,
        /// The rows, shared by all streams.
        rows: Arc<[Change]>,
    },
    /// Something may have been missed: look for what came since.
    LookAgain,
}

/// The streams of one server. Its thread holds a connection while somebody listens, and ends with the hub.
pub struct Hub {
    shared: Arc<Shared>,
}

impl Hub {
    /// Starts the thread. It connects when the first stream comes.
    pub fn open(store: &Store) -> anyhow::Result<Self> {
        let shared = Arc::new(Shared::default());
        let (store, told) = (store.clone(), Arc::clone(&shared));
        thread::Builder::new()
            .name("stream".to_owned())
            .spawn(move || told.work(&store))
            .context("the thread for live streams could not be started")?;
        Ok(Self { shared })
    }

    /// News of a site from here on; none when the hub is closed.
    ///
    /// Whoever does not keep up is told that it lagged, and whoever waits while the hub closes that it is closed. The
    /// place in the chain must be read after this, so that nothing falls between.
    #[must_use]
    pub fn subscribe(&self, site_id: Uuid) -> Option<broadcast::Receiver<News>> {
        let mut board = self.shared.board();
        if board.closed {
            return None;
        }
        let sender = board.sites.entry(site_id).or_insert_with(|| broadcast::channel(KEPT).0);
        let news = sender.subscribe();
        self.shared.woken.notify_all();
        Some(news)
    }

    /// Ends every stream, and refuses new ones.
    pub fn close(&self) {
        let mut board = self.shared.board();
        board.closed = true;
        board.sites.clear();
        self.shared.woken.notify_all();
    }
}

impl Drop for Hub {
    fn drop(&mut self) {
        self.close();
    }
}

#[derive(Default)]
struct Board {
    sites: HashMap<Uuid, broadcast::Sender<News>>,
    closed: bool,
}

impl Board {
    /// Whether anybody listens. Sites that nobody listens to any more are forgotten.
    fn watched(&mut self) -> bool {
        self.sites.retain(|_, sender| sender.receiver_count() > 0);
        !self.sites.is_empty()
    }
}

#[derive(Default)]
struct Shared {
    board: Mutex<Board>,
    woken: Condvar,
}

impl Shared {
    fn board(&self) -> MutexGuard<'_, Board> {
        self.board.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn work(&self, store: &Store) {
        let mut pause = PAUSE_MIN;
        while self.wait_for_streams() {
            if let Err(error) = self.listen(store, &mut pause) {
                tracing::warn!(%error, "live streams wait for the database");
                self.rest(pause);
                pause = (pause * 2).min(PAUSE_MAX);
            }
        }
    }

    /// Sleeps until somebody listens; says no when nobody ever will.
    fn wait_for_streams(&self) -> bool {
        let idle = |board: &mut Board| !board.closed && !board.watched();
        let board = self.woken.wait_while(self.board(), idle).unwrap_or_else(PoisonError::into_inner);
        !board.closed
    }

    /// Sleeps for a while, or until the hub is closed.
    fn rest(&self, pause: Duration) {
        let woken = self.woken.wait_timeout_while(self.board(), pause, |board| !board.closed);
        drop(woken.unwrap_or_else(PoisonError::into_inner));
    }

    /// Listens for as long as there are streams and the connection holds.
    fn listen(&self, store: &Store, pause: &mut Duration) -> Result<(), StoreError> {
        let mut conn = store.connection_apart()?;
        // Shown to whoever looks at the sessions of the database.
        conn.batch_execute(&format!("set application_name = 'sellion-stream'; listen {CHANNEL}"))?;
        *pause = PAUSE_MIN;
        // What was written while nobody listened was told to nobody.
        for sender in self.board().sites.values() {
            sender.send(News::LookAgain).ok();
        }
        let mut read_to: HashMap<Uuid, i64> = HashMap::new();
        let mut heard_at = Instant::now();
        while self.board().watched() {
            for (site_id, first) in notified(&mut conn)? {
                let place = read_to.remove(&site_id).unwrap_or(first - 1);
                // A site that nobody listens to is forgotten: its next listener begins at its own place.
                if let Some(place) = self.tell(&mut conn, site_id, place)? {
                    read_to.insert(site_id, place);
                }
                heard_at = Instant::now();
            }
            if heard_at.elapsed() >= PING {
                health::ping(&mut conn)?;
                heard_at = Instant::now();
            }
            self.rest(POLL);
        }
        Ok(())
    }

    /// Reads what follows the row `place`, once, and gives it to all streams of the site. Returns the last row's
    /// number, unless nobody listens.
    fn tell(
        &self,
        conn: &mut PgConnection,
        site_id: Uuid,
        mut place: i64,
    ) -> Result<Option<i64>, StoreError> {
        loop {
            let Some(sender) = self.board().sites.get(&site_id).cloned() else { return Ok(None) };
            let rows = after(conn, site_id, place, PAGE)?;
            let (Some(last), count) = (rows.last().map(|row| row.seq), rows.len()) else {
                return Ok(Some(place));
            };
            sender.send(News::Rows { after: place, rows: rows.into() }).ok();
            place = last;
            if i64::try_from(count).unwrap_or(PAGE) < PAGE {
                return Ok(Some(place));
            }
        }
    }
}

/// The sites that notifications named since the last call, each with the first row it was told of.
fn notified(conn: &mut PgConnection) -> Result<HashMap<Uuid, i64>, StoreError> {
    let mut sites = HashMap::new();
    for notification in conn.notifications_iter() {
        // Anybody with access to the database may notify; what is not ours says nothing.
        if let Some((site_id, first)) = read(&notification?.payload) {
            let known = sites.entry(site_id).or_insert(first);
            *known = first.min(*known);
        }
    }
    Ok(sites)
}

fn read(payload: &str) -> Option<(Uuid, i64)> {
    let mut words = payload.split(' ');
    let (site_id, first) = (words.next()?.parse().ok()?, words.next()?.parse().ok()?);
    (first > 0).then_some((site_id, first))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_our_own_words_are_understood() {
        let site_id = Uuid::now_v7();
        assert_eq!(read(&format!("{site_id} 7 9")), Some((site_id, 7)));
        for strange in ["", "7", "x 7 9", &format!("{site_id}"), &format!("{site_id} -1 9")] {
            assert_eq!(read(strange), None, "{strange}");
        }
    }
}
