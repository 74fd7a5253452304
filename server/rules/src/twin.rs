//! The same badge once more: a nervous hand at one gate, or two badges of one serial at two gates.

use chrono::{DateTime, TimeDelta, Utc};
use uuid::Uuid;

/// How soon the same badge at the same gate is a nervous hand; a site may set its own. From memory.
pub const REPEAT_SECONDS: u32 = 10;
/// What the clocks of two gates may differ by where nobody knows it; a site may set its own. From memory.
pub const CLOCK_TOLERANCE_SECONDS: u32 = 30;
/// How exactly a device knows its clock's difference from the server's, for two devices together.
pub const KNOWN_CLOCKS_SECONDS: u32 = 2;
/// A difference of clocks beyond this is no difference but a clock that has to be set.
pub const CLOCK_AHEAD_MAX_MS: i32 = 600_000;

/// One reading of a badge at a gate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reading {
    /// The gate.
    pub gate: Uuid,
    /// When, by the gate's own clock.
    pub at: DateTime<Utc>,
    /// How far that clock was ahead of the server's, where it was known.
    pub clock_ahead_ms: Option<i32>,
    /// When the one was read that it only repeated, at the same gate.
    pub repeats_at: Option<DateTime<Utc>>,
    /// The other gate, where its answer asked for the name.
    pub twin_gate: Option<Uuid>,
}

impl Reading {
    /// When, by the server's clock as far as the difference is known.
    fn true_at(&self) -> DateTime<Utc> {
        self.at - TimeDelta::milliseconds(self.clock_ahead_ms.unwrap_or_default().into())
    }
}

/// How long somebody walks between this gate and another one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Walk {
    /// The other gate.
    pub gate: Uuid,
    /// Seconds.
    pub seconds: u32,
}

/// Two readings closer in time than the walk between their gates.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pair {
    /// The earlier one.
    pub first: Reading,
    /// The later one.
    pub second: Reading,
    /// The walk between the two gates.
    pub walk_seconds: u32,
    /// What was allowed for the two clocks.
    pub tolerance_seconds: u32,
}

/// The moment of the reading at the same gate that this one repeats, if it does. A late delivery may come before the
/// one it belongs to, so both directions count.
pub fn repeated(this: &Reading, others: &[Reading], within_seconds: u32) -> Option<DateTime<Utc>> {
    let within = TimeDelta::seconds(within_seconds.into());
    let here = others.iter().filter(|other| other.gate == this.gate);
    let counted = here.map(|other| other.repeats_at.unwrap_or(other.at));
    counted.filter(|at| (*at - this.at).abs() <= within).min()
}

/// The reading at another gate that no walk explains: the closest one in time.
///
/// The difference of the two clocks is taken out where both are known; else what clocks may differ by counts for the
/// person, so that nobody is asked for the name because a clock is wrong.
pub fn sooner_than_walked(
    this: &Reading,
    others: &[Reading],
    walks: &[Walk],
    tolerance_seconds: u32,
) -> Option<Pair> {
    let pairs = others.iter().filter_map(|other| {
        let walk = walks.iter().find(|walk| walk.gate == other.gate && other.gate != this.gate)?;
        let known = this.clock_ahead_ms.is_some() && other.clock_ahead_ms.is_some();
        let tolerance_seconds = if known { KNOWN_CLOCKS_SECONDS } else { tolerance_seconds };
        let gap = (this.true_at() - other.true_at()).abs();
        let soonest = gap + TimeDelta::seconds(tolerance_seconds.into());
        if soonest >= TimeDelta::seconds(walk.seconds.into()) {
            return None;
        }
        let in_order = other.true_at() <= this.true_at();
        let (first, second) = if in_order { (*other, *this) } else { (*this, *other) };
        Some((gap, Pair { first, second, walk_seconds: walk.seconds, tolerance_seconds }))
    });
    pairs.min_by_key(|(gap, _)| *gap).map(|(_, pair)| pair)
}
