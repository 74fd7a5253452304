//! The transitions of an attempt: what has come of the events so far, and which part of the run takes the next one.

use chrono::{DateTime, Utc};

use super::event::{AttemptEvent, AttemptEventKind as Kind};
use super::measuring::Measured;
use super::setup::AttemptSetup;
use super::state::{Missing, NextDose, Phase};
use super::verdict::{Outcome, Verdict, VerdictReason as Reason};
use crate::dates::{seconds_after, seconds_before, seconds_since};
use crate::method::Family;
use crate::refusal::{Code, Refusal};
use crate::ruleset::UnsureReading;

/// What the wearer's last seal check says about the way the respirator sits now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Seal {
    #[default]
    Unchecked,
    Good,
    Leaking,
}

/// What has come of the events so far.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Progress {
    /// Since when the respirator is on.
    pub(super) donned_at: Option<DateTime<Utc>>,
    pub(super) seal: Seal,
    pub(super) seal_failures: u8,
    /// The hood is on and the taste of the screening is gone.
    pub(super) hood_ready: bool,
    /// The beginning of the testing: the first dose, the chamber, the first pass of smoke, the instrument.
    pub(super) testing_at: Option<DateTime<Utc>>,
    pub(super) redoses_given: u32,
    pub(super) perimeter_passes: u8,
    pub(super) measured: Measured,
    /// The running exercise and since when it runs.
    pub(super) running: Option<(u8, DateTime<Utc>)>,
    pub(super) exercises_done: u8,
    /// The end of the last exercise.
    pub(super) exercises_ended_at: Option<DateTime<Utc>>,
    pub(super) asked_again: bool,
    pub(super) nebulizer_checked: bool,
    /// The agent was noticed without the respirator, after the exercises.
    pub(super) proven: bool,
    pub(super) modification_removed: bool,
    pub(super) verdict: Option<Verdict>,
    pub(super) signed_at: Option<DateTime<Utc>>,
}

/// The dose that is due next, and the window in which it counts.
pub(super) struct Due {
    pub(super) number: u32,
    pub(super) squeezes: u8,
    pub(super) due_at: DateTime<Utc>,
    pub(super) earliest_at: DateTime<Utc>,
    pub(super) latest_at: DateTime<Utc>,
}

impl Progress {
    pub(super) fn phase(&self) -> Phase {
        if self.verdict.is_some() {
            Phase::Ended
        } else if self.testing_at.is_none() {
            Phase::Fitting
        } else if self.exercises_ended_at.is_none() {
            Phase::Testing
        } else {
            Phase::Closing
        }
    }

    /// The state after `event`, or why it is refused.
    pub(super) fn next(self, setup: &AttemptSetup, event: &AttemptEvent) -> Result<Self, Refusal> {
        let (kind, at) = (event.kind, event.happened_at);
        match self.phase() {
            Phase::Ended => self.after_end(kind, at),
            Phase::Fitting => self.fitting(setup, kind, at),
            Phase::Testing | Phase::Closing => {
                // What the wearer says outranks everything, a missed dose included: a taste is a fail even in a run
                // that could no longer pass, and nobody who is unwell is told that a dose is late.
                if let Some(end) = self.spoken_by_wearer(setup, kind, at) {
                    return Ok(end);
                }
                if let Some(due) = self.due(setup).filter(|due| at > due.latest_at) {
                    return Ok(self.end(Outcome::Void, Reason::DoseMissed, due.latest_at, at));
                }
                match (self.phase(), setup.method.family()) {
                    (Phase::Testing, Family::Aerosol | Family::Pressure) => self.measuring(setup, kind, at),
                    (Phase::Testing, _) => self.testing(setup, kind, at),
                    _ => self.closing(setup, kind, at),
                }
            }
        }
    }

    /// The end that the wearer's own words bring about, at any moment from the first dose until the signature.
    fn spoken_by_wearer(&self, setup: &AttemptSetup, kind: Kind, at: DateTime<Utc>) -> Option<Self> {
        let noticing = match setup.method.family() {
            Family::Taste => Some((Kind::Tasted, Reason::Tasted)),
            Family::Odour | Family::Smoke => Some((Kind::Noticed, Reason::Noticed)),
            Family::Aerosol | Family::Pressure => None,
        };
        let end = |outcome, reason| Some(self.clone().end(outcome, reason, at, at));
        match kind {
            Kind::Unwell => end(Outcome::Stopped, Reason::Unwell),
            Kind::AskedAgain { tasted: true, .. } => {
                noticing.and_then(|(_, reason)| end(Outcome::Fail, reason))
            }
            Kind::Unsure => noticing.and_then(|_| match setup.rules.unsure_counts_as {
                UnsureReading::Tasted => end(Outcome::Fail, Reason::Unsure),
                UnsureReading::Void => end(Outcome::Void, Reason::Unsure),
            }),
            _ => {
                noticing.filter(|(word, _)| *word == kind).and_then(|(_, reason)| end(Outcome::Fail, reason))
            }
        }
    }

    /// After the end nothing counts any more but one signature.
    fn after_end(self, kind: Kind, at: DateTime<Utc>) -> Result<Self, Refusal> {
        if kind == Kind::Signed && self.signed_at.is_none() {
            return Ok(Self { signed_at: Some(at), ..self });
        }
        Err(has_ended())
    }

    /// Ends the run. `decided_at` is the moment that decided it, `ended_at` that of the event.
    pub(super) fn end(
        self,
        outcome: Outcome,
        reason: Reason,
        decided_at: DateTime<Utc>,
        ended_at: DateTime<Utc>,
    ) -> Self {
        let verdict = Verdict {
            outcome,
            reason,
            at: decided_at,
            exercise: self.running.map(|(number, _)| number),
            second: self.testing_at.map(|first| seconds_since(first, decided_at)),
            started_testing_at: self.testing_at,
            ended_at,
        };
        Self { verdict: Some(verdict), ..self }
    }

    pub(super) fn void(self, reason: Reason, at: DateTime<Utc>) -> Self {
        self.end(Outcome::Void, reason, at, at)
    }

    /// The later dose that comes next.
    ///
    /// Doses stand on a fixed grid counted from the first one, so that a late dose does not push the next ones back.
    /// The grid covers the span from the first dose to the end of the last exercise: as long as the exercises run,
    /// pauses between them included, the concentration in the hood is kept up. A grid point at or after that end
    /// needs no dose. One that lies before it does, also when the exercises end within its tolerance: that dose may
    /// still be given, and nothing else of the closing may come before it.
    pub(super) fn due(&self, setup: &AttemptSetup) -> Option<Due> {
        let first = self.testing_at?;
        let doses = setup.doses()?;
        let rules = doses.rules;
        let number = self.redoses_given.saturating_add(1);
        let due_at = seconds_after(first, rules.redose_interval_seconds.saturating_mul(number));
        if self.exercises_ended_at.is_some_and(|ended_at| due_at >= ended_at) {
            return None;
        }
        Some(Due {
            number,
            squeezes: doses.later,
            due_at,
            earliest_at: seconds_before(due_at, rules.dose_early_tolerance_seconds),
            latest_at: seconds_after(due_at, rules.dose_late_tolerance_seconds),
        })
    }

    /// The dose to give next, as a station shows it.
    pub(super) fn next_dose(&self, setup: &AttemptSetup) -> Option<NextDose> {
        let doses = setup.doses()?;
        match self.phase() {
            Phase::Ended => None,
            Phase::Fitting => Some(NextDose {
                number: 0,
                squeezes: doses.first,
                due_at: None,
                earliest_at: None,
                latest_at: None,
            }),
            Phase::Testing | Phase::Closing => self.due(setup).map(|due| NextDose {
                number: due.number,
                squeezes: due.squeezes,
                due_at: Some(due.due_at),
                earliest_at: Some(due.earliest_at),
                latest_at: Some(due.latest_at),
            }),
        }
    }

    /// The number of the exercise that comes after those done, if one is left.
    pub(super) fn next_exercise(&self, setup: &AttemptSetup) -> Option<u8> {
        let index = usize::from(self.exercises_done);
        setup.rules.exercises.get(index).map(|_| self.exercises_done.saturating_add(1))
    }

    /// What still stands between here and a pass.
    pub(super) fn missing(&self, setup: &AttemptSetup) -> Vec<Missing> {
        let family = setup.method.family();
        let dose_due = self.exercises_ended_at.is_some() && self.due(setup).is_some();
        let proof = matches!(family, Family::Odour | Family::Smoke);
        let open = [
            (self.exercises_ended_at.is_none(), Missing::Exercises),
            (dose_due, Missing::Dose),
            (proof && !self.proven, Missing::Proof),
            (!self.asked_again, Missing::AskedAgain),
            (family == Family::Taste && !self.nebulizer_checked, Missing::NebulizerChecked),
            (setup.modified_for_test && !self.modification_removed, Missing::ModificationRemoved),
            (self.signed_at.is_none(), Missing::Signature),
        ];
        open.into_iter().filter_map(|(is_open, what)| is_open.then_some(what)).collect()
    }
}

/// The refusal of an event after the end.
pub(super) fn has_ended() -> Refusal {
    Refusal::new(Code::AttemptEnded, "This attempt has ended: start a new one if the next step says so.")
}

/// The refusal of an event that belongs to another phase.
pub(super) fn not_now(phase: Phase) -> Refusal {
    let detail = match phase {
        Phase::Fitting => "The testing has not begun: this belongs after its beginning.",
        Phase::Testing => "The testing is running: this does not belong here.",
        Phase::Closing => "The exercises are over: do what is still missing, then sign.",
        Phase::Ended => "The attempt has ended.",
    };
    Refusal::new(Code::EventNotNow, detail).fact("phase", phase.as_str())
}
