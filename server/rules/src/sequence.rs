//! The order of events in one run: numbered from 1, without gaps, never going back in time, repeats accepted.

use chrono::{DateTime, Utc};
use serde::Serialize;

use crate::refusal::{Code, Refusal};

/// An event with its place in a run and its moment.
pub trait Sequenced: PartialEq {
    /// Its number, from 1.
    fn seq(&self) -> u32;
    /// When it happened.
    fn happened_at(&self) -> DateTime<Utc>;
}

/// What accepting an event did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Applied {
    /// It was new and is now part of the run.
    New,
    /// The very same event was there already; nothing changed.
    Repeat,
}

/// An event of a batch that was not stored, because one before it in the same batch had ended the run.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct NotStored {
    /// Its number.
    pub seq: u32,
    /// Why it was not stored.
    pub code: Code,
    /// The same in a sentence.
    pub detail: String,
}

/// The number the next new event has to carry.
pub fn next_seq<E: Sequenced>(log: &[E]) -> u32 {
    u32::try_from(log.len()).unwrap_or(u32::MAX).saturating_add(1)
}

/// Whether `event` is the next one, a harmless repeat, or out of place.
///
/// Times may repeat (two touches in one tick) but not go back, since every duration of the run is taken from them.
pub fn place<E: Sequenced>(log: &[E], event: &E) -> Result<Applied, Refusal> {
    let expected = next_seq(log);
    let seq = event.seq();
    if seq < expected {
        let stored =
            usize::try_from(seq).ok().and_then(|n| n.checked_sub(1)).and_then(|index| log.get(index));
        return if stored == Some(event) {
            Ok(Applied::Repeat)
        } else {
            let detail = format!("Event {seq} is already stored with other content: read the run again.");
            Err(Refusal::new(Code::EventConflict, detail).field("seq").fact("expected_seq", expected))
        };
    }
    if seq > expected {
        let detail = format!("Send event {expected} first; event {seq} cannot follow yet.");
        return Err(Refusal::new(Code::EventOutOfOrder, detail).field("seq").fact("expected_seq", expected));
    }
    match log.last() {
        Some(last) if event.happened_at() < last.happened_at() => {
            let detail = "The event lies before the one stored before it: check the clock of the station.";
            let refusal = Refusal::new(Code::EventBeforePrevious, detail);
            Err(refusal.field("happened_at").fact("previous_at", last.happened_at()))
        }
        _ => Ok(Applied::New),
    }
}
