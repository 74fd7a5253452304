//! The one place of this program that reads clocks: the one that people set, and one that nobody can set.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use chrono::{DateTime, TimeDelta, Utc};
use serde::{Deserialize, Serialize};

/// Both clocks, read together.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reading {
    /// What the machine's clock shows.
    pub wall: DateTime<Utc>,
    /// Milliseconds since the machine started, sleep included: a counter that nobody sets.
    pub steady_ms: i64,
    /// Which start of the machine the counter counts from.
    pub boot: String,
}

impl Reading {
    /// How long after an earlier reading this one was taken by the steady counter; none across a restart.
    pub fn since(&self, earlier: &Self) -> Option<TimeDelta> {
        let same = self.boot == earlier.boot && self.steady_ms >= earlier.steady_ms;
        same.then(|| TimeDelta::milliseconds(self.steady_ms - earlier.steady_ms))
    }
}

/// Reads the clocks; its copies share how far a test set the one that people set.
#[derive(Debug, Clone)]
pub struct Clock {
    boot: Arc<str>,
    set_ahead_ms: Arc<AtomicI64>,
}

impl Clock {
    /// The clocks of this machine.
    pub fn new() -> Self {
        let boot = std::fs::read_to_string("/proc/sys/kernel/random/boot_id").unwrap_or_default();
        Self { boot: boot.trim().into(), set_ahead_ms: Arc::default() }
    }

    /// Both clocks now.
    pub fn read(&self) -> Reading {
        #[expect(clippy::disallowed_methods, reason = "this is the one place of this program")]
        let wall = Utc::now() + TimeDelta::milliseconds(self.set_ahead_ms.load(Ordering::Relaxed));
        Reading {
            // What the server keeps: whole microseconds.
            wall: DateTime::from_timestamp_micros(wall.timestamp_micros()).unwrap_or(wall),
            steady_ms: steady_ms().unwrap_or_default(),
            boot: self.boot.to_string(),
        }
    }

    /// Sets the clock that people set by so much, for this program alone. For tests.
    pub fn set_ahead(&self, by: TimeDelta) {
        self.set_ahead_ms.fetch_add(by.num_milliseconds(), Ordering::Relaxed);
    }
}

/// Linux counts it in hundredths of a second, sleep included (proc(5), `/proc/uptime`).
fn steady_ms() -> Option<i64> {
    let text = std::fs::read_to_string("/proc/uptime").ok()?;
    let (seconds, hundredths) = text.split_whitespace().next()?.split_once('.')?;
    Some(seconds.parse::<i64>().ok()? * 1000 + hundredths.parse::<i64>().ok()? * 10)
}

impl Default for Clock {
    fn default() -> Self {
        Self::new()
    }
}
