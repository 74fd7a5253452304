//! The events of a measurement that was read out of a file: begun at a moment that a person names, each exercise at its
//! full length, so that the same machine judges it as one that was typed.

use chrono::{DateTime, Utc};

use super::event::{AttemptEvent, AttemptEventKind as Kind};
use super::setup::AttemptSetup;
use super::state::State;
use crate::dates::seconds_after;
use crate::fit_factor::{Quantity, implausible};
use crate::reading_file::FileReadings;
use crate::refusal::{Code, Refusal};

/// What a person says of a file beside its readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OfFile {
    /// When the measuring began.
    pub began_at: DateTime<Utc>,
    /// The greatest peak penetration of the test in percent, where the method looks at peaks.
    pub peak_percent: Option<Quantity>,
    /// Whether values that are hardly possible were looked at a second time.
    pub looked_again: bool,
}

/// The events that follow from the readings of one test, for an attempt whose measuring has not begun.
///
/// # Errors
/// What the machine refuses, with the file's line in `line` where one is meant.
pub fn events_of_file(
    state: &State,
    file: &FileReadings,
    said: OfFile,
) -> Result<Vec<AttemptEvent>, Refusal> {
    let mut tried = state.clone();
    let mut events = Vec::with_capacity(file.readings.len().saturating_add(2));
    let OfFile { began_at, peak_percent, looked_again } = said;
    take(&mut tried, &mut events, began_at, Kind::MeasuringStarted { before: file.before, peak_percent })?;
    for row in &file.readings {
        let in_line = |refusal: Refusal| refusal.fact("line", row.line);
        let Some(next) = tried.summary().next_measurement else {
            let detail = "The file goes on after the last exercise: is it of another protocol?";
            return Err(in_line(Refusal::new(Code::InvalidValue, detail).field("file")));
        };
        let doubtful = implausible(row.reading, file.before, plausible_max(state.setup())).is_some();
        let kind = Kind::Measured {
            exercise: row.exercise,
            reading: row.reading,
            typed_first: (doubtful && looked_again).then_some(row.reading),
            peak_percent,
        };
        take(&mut tried, &mut events, next.earliest_at, kind).map_err(look_again).map_err(in_line)?;
    }
    let full_at = seconds_after(began_at, state.setup().rules.exercise_seconds());
    if tried.verdict().is_none() {
        take(&mut tried, &mut events, full_at, Kind::MeasuringEnded { after: file.after })?;
    }
    Ok(events)
}

fn take(
    state: &mut State,
    events: &mut Vec<AttemptEvent>,
    happened_at: DateTime<Utc>,
    kind: Kind,
) -> Result<(), Refusal> {
    let event = AttemptEvent { seq: state.next_seq(), happened_at, kind };
    state.apply(&event)?;
    events.push(event);
    Ok(())
}

/// A file is not typed a second time: somebody looks again, and says so.
fn look_again(refusal: Refusal) -> Refusal {
    if refusal.code != Code::ImplausibleValue {
        return refusal;
    }
    let detail =
        "This value is hardly possible: look at the instrument again, and if it is so, say looked_again.";
    Refusal { detail: detail.to_owned(), ..refusal }
}

fn plausible_max(setup: &AttemptSetup) -> u32 {
    setup.rules.measuring.as_ref().map_or(u32::MAX, |rules| rules.plausible_fit_factor_max)
}
