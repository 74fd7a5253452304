//! The one place that reads the clock.

use std::sync::{
    Arc,
    atomic::{AtomicI64, Ordering},
};

use chrono::{DateTime, DurationRound, TimeDelta, Utc};

/// Tells the time to everything that asks: the machine's, shifted when a test wants another day.
#[derive(Debug, Clone, Default)]
pub struct Clock {
    shift_ms: Arc<AtomicI64>,
}

impl Clock {
    /// Now, in whole microseconds, because that is what the database keeps.
    #[must_use]
    pub fn now(&self) -> DateTime<Utc> {
        let shift = TimeDelta::milliseconds(self.shift_ms.load(Ordering::Relaxed));
        #[expect(clippy::disallowed_methods, reason = "this is the one place")]
        let now = Utc::now() + shift;
        now.duration_trunc(TimeDelta::microseconds(1)).unwrap_or(now)
    }

    /// Shifts the clock and all its copies from here on. For tests of what happens on later days.
    pub fn shift(&self, by: TimeDelta) {
        self.shift_ms.fetch_add(by.num_milliseconds(), Ordering::Relaxed);
    }
}
