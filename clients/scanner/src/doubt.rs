//! Whether the gate's clock can be relied on: dates decide, so a clock that was set wrong must not.
//!
//! Four witnesses speak against it: the steady counter (the clock jumped), the last reading before a restart (it went
//! back), the server's signed clock, and the pack (it was made later than now). A person who looks at a clock may
//! speak for it, but not against the pack.

use std::fmt;

use chrono::{DateTime, TimeDelta, Utc};
use serde::{Deserialize, Serialize};

use crate::clock::Reading;
use crate::words::span;

/// What two good clocks may differ by; the server takes facts that far ahead of its own.
pub const TOLERANCE: TimeDelta = TimeDelta::seconds(120);

/// Why the clock cannot be relied on. Seconds are by how much.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "why", content = "seconds")]
pub enum Doubt {
    /// It was set back.
    JumpedBack(i64),
    /// It was set ahead.
    JumpedAhead(i64),
    /// The server's clock shows another time: it is ahead of ours by so much, or behind where that is negative.
    ServerDiffers(i64),
    /// The pack was made later than the clock shows.
    BeforePack(i64),
}

impl fmt::Display for Doubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::JumpedBack(by) => write!(f, "the clock was set back by {}", span(by)),
            Self::JumpedAhead(by) => write!(f, "the clock was set ahead by {}", span(by)),
            Self::ServerDiffers(by) if by >= 0 => write!(f, "the server's clock is {} ahead of it", span(by)),
            Self::ServerDiffers(by) => write!(f, "the server's clock is {} behind it", span(-by)),
            Self::BeforePack(by) => {
                write!(f, "what this gate knows was signed {} later than the clock shows: set it", span(by))
            }
        }
    }
}

/// What is remembered of the clock from one look to the next.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Mark {
    reading: Reading,
    doubt: Option<Doubt>,
    /// By how much the server's clock was ahead when a person said that ours is right.
    confirmed_ahead_seconds: Option<i64>,
    /// What the server's clock showed when it was last met, and ours.
    met: Option<(DateTime<Utc>, Reading)>,
}

impl Mark {
    /// Looks at the clock, with what was remembered.
    pub fn look(before: Option<Self>, reading: Reading) -> Self {
        let Some(before) = before else {
            return Self { reading, doubt: None, confirmed_ahead_seconds: None, met: None };
        };
        let doubt = jump(&before.reading, &reading).or(before.doubt);
        Self { reading, doubt, ..before }
    }

    /// Compares with the server's clock, read just now.
    #[must_use]
    pub fn met_server(mut self, server: DateTime<Utc>) -> Self {
        self.met = Some((server, self.reading.clone()));
        let ahead = server - self.reading.wall;
        let confirmed = self.confirmed_ahead_seconds.map(TimeDelta::seconds);
        let vouched = ahead.abs() <= TOLERANCE;
        if vouched {
            self.confirmed_ahead_seconds = None;
        }
        let known = vouched || confirmed.is_some_and(|confirmed| (ahead - confirmed).abs() <= TOLERANCE);
        self.doubt = (!known).then(|| Doubt::ServerDiffers(ahead.num_seconds()));
        self
    }

    /// A person says that the clock is right.
    #[must_use]
    pub fn confirmed(mut self) -> Self {
        if let Some(Doubt::ServerDiffers(ahead)) = self.doubt {
            self.confirmed_ahead_seconds = Some(ahead);
        }
        self.doubt = None;
        self
    }

    /// Why the clock cannot be relied on; `known_at` is when the pack was last known to be current.
    pub fn doubt(&self, known_at: Option<DateTime<Utc>>) -> Option<Doubt> {
        let later = known_at.map(|known_at| known_at - self.reading.wall);
        let before_pack = later.filter(|later| *later > TOLERANCE);
        before_pack.map(|later| Doubt::BeforePack(later.num_seconds())).or(self.doubt)
    }

    /// When a badge was really read, in case that the clock showed another time: by the server's clock and the steady
    /// counter since; after a restart of the machine, no later than now.
    pub fn worked_out(&self, read_at: &Reading) -> Option<DateTime<Utc>> {
        let (server, met) = self.met.as_ref()?;
        let now = *server + self.reading.since(met)?;
        let really = match self.reading.since(read_at) {
            Some(passed) => now - passed,
            None => read_at.wall.min(now),
        };
        ((really - read_at.wall).abs() > TOLERANCE).then_some(really)
    }

    /// The reading it stands on.
    pub fn reading(&self) -> &Reading {
        &self.reading
    }
}

/// How the clock moved otherwise than the steady counter. After a restart only a step back can be told: nobody knows for
/// how long the machine was off.
fn jump(before: &Reading, now: &Reading) -> Option<Doubt> {
    let moved = now.wall - before.wall;
    let ahead = match now.since(before) {
        Some(passed) => moved - passed,
        None => moved.min(TimeDelta::zero()),
    };
    if ahead > TOLERANCE {
        Some(Doubt::JumpedAhead(ahead.num_seconds()))
    } else if ahead < -TOLERANCE {
        Some(Doubt::JumpedBack(-ahead.num_seconds()))
    } else {
        None
    }
}
