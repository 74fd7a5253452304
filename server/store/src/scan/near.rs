//! The other readings of the same badge about the same time: a nervous hand, or a badge that is in two places.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use sellion_rules::twin::{
    CLOCK_TOLERANCE_SECONDS, Pair, REPEAT_SECONDS, Reading, Walk, repeated, sooner_than_walked,
};
use uuid::Uuid;

use super::{NewScan, facts::Facts};

/// What the other readings say of this one.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Near {
    /// When the same badge was read at this gate a moment before.
    pub(super) repeats_at: Option<DateTime<Utc>>,
    /// The other gate, where the name is to be checked here.
    pub(super) twin_gate: Option<Uuid>,
    /// The pair for somebody to look at.
    pub(super) pair: Option<Pair>,
}

/// The readings of a batch so far: none of them is stored yet.
#[derive(Default)]
pub(super) struct BatchReadings {
    of_badge: HashMap<Uuid, Vec<Reading>>,
    of_scan: HashMap<Uuid, Near>,
}

impl BatchReadings {
    /// What is near this scan; the second delivery of a scan is told the same as the first.
    pub(super) fn near(&mut self, scan: &NewScan, facts: &Facts) -> Near {
        let Some(badge) = facts.badge_id else { return Near::default() };
        if let Some(known) = self.of_scan.get(&scan.id) {
            return *known;
        }
        let mut this = Reading {
            gate: scan.gate_id,
            at: scan.happened_at,
            clock_ahead_ms: scan.clock_ahead_ms,
            repeats_at: None,
            twin_gate: None,
        };
        let in_batch = self.of_badge.entry(badge).or_default();
        let others: Vec<Reading> = facts.near().chain(in_batch.iter().copied()).collect();
        let near = judge(&this, &others, facts);
        (this.repeats_at, this.twin_gate) = (near.repeats_at, near.twin_gate);
        in_batch.push(this);
        self.of_scan.insert(scan.id, near);
        near
    }
}

fn judge(this: &Reading, others: &[Reading], facts: &Facts) -> Near {
    let or = |stored: Option<i32>, own| stored.and_then(|stored| u32::try_from(stored).ok()).unwrap_or(own);
    let repeats_at = repeated(this, others, or(facts.repeat_seconds, REPEAT_SECONDS));
    let tolerance = or(facts.tolerance_seconds, CLOCK_TOLERANCE_SECONDS);
    let pair = sooner_than_walked(this, others, &facts.walks(), tolerance);
    let second = pair.filter(|pair| pair.second == *this).map(|pair| pair.first.gate);
    // A repeated reading says once more what the first one said.
    let of_it = |other: &&Reading| {
        other.gate == this.gate
            && [Some(other.at), other.repeats_at].contains(&repeats_at)
            && repeats_at.is_some()
    };
    let said = || others.iter().filter(of_it).find_map(|said| said.twin_gate);
    let twin_gate = second.or_else(said);
    Near { repeats_at, twin_gate, pair }
}

impl Facts {
    fn near(&self) -> impl Iterator<Item = Reading> + '_ {
        let clocks = self.near_at.iter().zip(&self.near_ahead);
        let marks = self.near_repeats.iter().zip(&self.near_twins);
        let rows = self.near_gates.iter().zip(clocks).zip(marks);
        rows.map(|((gate, (at, clock_ahead_ms)), (repeats_at, twin_gate))| Reading {
            gate: *gate,
            at: *at,
            clock_ahead_ms: *clock_ahead_ms,
            repeats_at: *repeats_at,
            twin_gate: *twin_gate,
        })
    }

    fn walks(&self) -> Vec<Walk> {
        let rows = self.walk_gates.iter().zip(&self.walk_seconds);
        rows.map(|(gate, seconds)| Walk { gate: *gate, seconds: u32::try_from(*seconds).unwrap_or_default() })
            .collect()
    }
}
