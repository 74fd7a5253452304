//! An attempt as far as its events tell, and the summary a station shows of it.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

use super::event::{AttemptEvent, AttemptEventKind};
use super::machine::{Progress, has_ended};
use super::measuring::{FitSummary, NextMeasurement};
use super::setup::AttemptSetup;
use super::verdict::Verdict;
use crate::dates::seconds_after;
use crate::refusal::{Code, Refusal};
use crate::sequence::{Applied, next_seq, place};
use crate::text_enum::text_enum;

text_enum! {
    /// Where an attempt is.
    pub enum Phase {
        /// Putting on, wearing, seal check, hood.
        Fitting = "fitting",
        /// From the first dose, the chamber, the smoke or the instrument to the end of the last exercise.
        Testing = "testing",
        /// Asking once more, and what else the method wants before the signature.
        Closing = "closing",
        /// It has a verdict.
        Ended = "ended",
    }
}

text_enum! {
    /// What still stands between an attempt and a pass.
    pub enum Missing {
        /// Exercises have not all ended at full length.
        Exercises = "exercises",
        /// A dose is due.
        Dose = "dose",
        /// The agent has not been noticed without the respirator.
        Proof = "proof",
        /// The wearer has not been asked again.
        AskedAgain = "asked_again",
        /// The nebulizer has not been looked at since the last exercise.
        NebulizerChecked = "nebulizer_checked",
        /// What was changed on the respirator for the test has not been undone.
        ModificationRemoved = "modification_removed",
        /// The tester has not signed.
        Signature = "signature",
    }
}

/// The dose to give next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct NextDose {
    /// 0 for the first dose, then 1, 2, 3 and so on.
    pub number: u32,
    /// Squeezes.
    pub squeezes: u8,
    /// When it is due; none for the first dose.
    pub due_at: Option<DateTime<Utc>>,
    /// The first moment at which it is accepted.
    pub earliest_at: Option<DateTime<Utc>>,
    /// The last moment at which it is accepted.
    pub latest_at: Option<DateTime<Utc>>,
}

/// The exercise that is running.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct CurrentExercise {
    /// Its number, from 1.
    pub number: u8,
    /// Its stable name.
    pub key: String,
    /// When it began.
    pub started_at: DateTime<Utc>,
    /// The first moment at which it may end.
    pub ends_at: DateTime<Utc>,
}

/// What a station needs to know to go on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Summary {
    /// Where the attempt is.
    pub phase: Phase,
    /// The number of the next event.
    pub next_seq: u32,
    /// When the wear time is over, while the respirator is on and the testing has not begun.
    pub worn_until: Option<DateTime<Utc>>,
    /// The dose to give next, while one is to be given.
    pub next_dose: Option<NextDose>,
    /// The exercise that is running.
    pub current_exercise: Option<CurrentExercise>,
    /// The exercise to begin next.
    pub next_exercise: Option<u8>,
    /// When the exercises may begin, where the air of a chamber has to settle first.
    pub settled_at: Option<DateTime<Utc>>,
    /// The pass of smoke to make next, before the exercises.
    pub next_perimeter_pass: Option<u8>,
    /// The measurement to take next.
    pub next_measurement: Option<NextMeasurement>,
    /// The fit factors measured so far; the overall one once the measuring has ended.
    pub fit: Option<FitSummary>,
    /// What still stands between here and a pass; empty once there is a verdict.
    pub missing: Vec<Missing>,
    /// How it ended.
    pub verdict: Option<Verdict>,
    /// When it was signed.
    pub signed_at: Option<DateTime<Utc>>,
}

/// An attempt as far as its events tell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct State {
    setup: AttemptSetup,
    log: Vec<AttemptEvent>,
    progress: Progress,
    ended_by: Option<u32>,
}

impl State {
    /// An attempt before its first event.
    pub fn new(setup: AttemptSetup) -> Self {
        Self { setup, log: Vec::new(), progress: Progress::default(), ended_by: None }
    }

    /// What it started from.
    pub fn setup(&self) -> &AttemptSetup {
        &self.setup
    }

    /// The events accepted so far.
    pub fn events(&self) -> &[AttemptEvent] {
        &self.log
    }

    /// Where it is.
    pub fn phase(&self) -> Phase {
        self.progress.phase()
    }

    /// The number of the next event.
    pub fn next_seq(&self) -> u32 {
        next_seq(&self.log)
    }

    /// How it ended, once it has.
    pub fn verdict(&self) -> Option<Verdict> {
        self.progress.verdict
    }

    /// The number of the event that ended it, once it has ended.
    pub fn ended_by(&self) -> Option<u32> {
        self.ended_by
    }

    /// The fit factors, once they have been measured.
    pub fn fit(&self) -> Option<FitSummary> {
        self.progress.fit_summary(&self.setup)
    }

    /// When it was signed, once it has been.
    pub fn signed_at(&self) -> Option<DateTime<Utc>> {
        self.progress.signed_at
    }

    /// Takes one event. On a refusal nothing has changed.
    pub fn apply(&mut self, event: &AttemptEvent) -> Result<Applied, Refusal> {
        match place(&self.log, event) {
            Ok(Applied::New) => {}
            Ok(Applied::Repeat) => return Ok(Applied::Repeat),
            // It was never stored, and is refused as when it came first; the signature has its number since.
            Err(refusal) if refusal.code == Code::EventConflict && self.cannot_follow_end(event) => {
                return Err(has_ended());
            }
            Err(refusal) => return Err(refusal),
        }
        self.progress = self.progress.clone().next(&self.setup, event)?;
        self.log.push(event.clone());
        self.ended_by = self.ended_by.or_else(|| self.progress.verdict.map(|_| event.seq));
        Ok(Applied::New)
    }

    fn cannot_follow_end(&self, event: &AttemptEvent) -> bool {
        event.kind != AttemptEventKind::Signed && self.ended_by.is_some_and(|end| end < event.seq)
    }

    /// What a station needs to know to go on.
    pub fn summary(&self) -> Summary {
        let Self { setup, progress, .. } = self;
        let phase = self.phase();
        let running = progress.running.and_then(|(number, started_at)| {
            let exercise = setup.exercise(number)?;
            Some(CurrentExercise {
                number,
                key: setup.exercise_key(exercise).to_owned(),
                started_at,
                ends_at: seconds_after(started_at, exercise.seconds),
            })
        });
        let fitting = phase == Phase::Fitting;
        Summary {
            phase,
            next_seq: self.next_seq(),
            worn_until: progress
                .donned_at
                .filter(|_| fitting)
                .map(|at| seconds_after(at, setup.rules.wear_seconds)),
            next_dose: progress.next_dose(setup),
            next_exercise: progress
                .next_exercise(setup)
                .filter(|_| running.is_none() && phase == Phase::Testing && setup.rules.measuring.is_none()),
            current_exercise: running,
            settled_at: progress.settled_at(setup).filter(|_| phase == Phase::Testing),
            next_perimeter_pass: progress.next_perimeter_pass(setup),
            next_measurement: progress.next_measurement(setup),
            fit: progress.fit_summary(setup),
            missing: if progress.verdict.is_some() { Vec::new() } else { progress.missing(setup) },
            verdict: progress.verdict,
            signed_at: progress.signed_at,
        }
    }
}

/// The state after all events, or the index of the first one refused and why.
pub fn replay(setup: AttemptSetup, events: &[AttemptEvent]) -> Result<State, (usize, Refusal)> {
    let mut state = State::new(setup);
    for (index, event) in events.iter().enumerate() {
        state.apply(event).map_err(|refusal| (index, refusal))?;
    }
    Ok(state)
}
