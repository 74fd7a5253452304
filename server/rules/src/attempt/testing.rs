//! Testing and closing: doses on their grid, exercises at full length, then the last question, the look, the signature.

use chrono::{DateTime, Utc};

use super::event::AttemptEventKind as Kind;
use super::fitting::dose_is;
use super::machine::{Progress, not_now};
use super::setup::AttemptSetup;
use super::state::{Missing, Phase};
use super::verdict::{Outcome, VerdictReason as Reason};
use crate::dates::{seconds_after, seconds_until};
use crate::refusal::{Code, Refusal};

impl Progress {
    pub(super) fn testing(
        self,
        setup: &AttemptSetup,
        kind: Kind,
        at: DateTime<Utc>,
    ) -> Result<Self, Refusal> {
        match kind {
            Kind::DoseGiven { squeezes } => self.redose(setup, squeezes, at),
            Kind::PerimeterPassed { number } => self.perimeter_passed(setup, number, at),
            Kind::ExerciseStarted { number } => self.exercise_started(setup, number, at),
            Kind::ExerciseEnded { number } => self.exercise_ended(setup, number, at),
            Kind::NebulizerChecked { clear } if !clear && setup.clog_voids() => {
                Ok(self.void(Reason::NebulizerClogged, at))
            }
            // A look in between is good practice and proves nothing about the end of the run.
            Kind::NebulizerChecked { .. } => Ok(self),
            Kind::Signed => Err(self.incomplete(setup)),
            _ => match disturbance(kind) {
                Some(reason) => Ok(self.void(reason, at)),
                None => Err(not_now(Phase::Testing)),
            },
        }
    }

    pub(super) fn closing(
        self,
        setup: &AttemptSetup,
        kind: Kind,
        at: DateTime<Utc>,
    ) -> Result<Self, Refusal> {
        match kind {
            Kind::DoseGiven { squeezes } if self.due(setup).is_some() => self.redose(setup, squeezes, at),
            // Where it could have been noticed, the run has ended by now.
            Kind::AskedAgain { tasted: true, .. } => {
                let detail = "Nothing is tasted or smelled in this test: say false.";
                Err(Refusal::new(Code::InvalidValue, detail).field("tasted"))
            }
            Kind::AskedAgain { comfortable: false, .. } => Ok(self.void(Reason::NotComfortable, at)),
            Kind::AskedAgain { .. } => {
                self.no_dose_due(setup, at)?;
                Ok(Self { asked_again: true, ..self })
            }
            Kind::NebulizerChecked { clear } if !clear && setup.clog_voids() => {
                Ok(self.void(Reason::NebulizerClogged, at))
            }
            Kind::NebulizerChecked { .. } if setup.doses().is_some() => {
                self.no_dose_due(setup, at)?;
                Ok(Self { nebulizer_checked: true, ..self })
            }
            Kind::SealBroken { noticed } if setup.rules.odour.is_some() => Ok(self.proof(noticed, at)),
            Kind::SensitivityChecked { noticed } if setup.rules.smoke.is_some() => {
                if !self.asked_again {
                    let detail =
                        "Ask the wearer once more before the respirator comes off for the smoke check.";
                    return Err(Refusal::new(Code::EventNotNow, detail).fact("missing", "asked_again"));
                }
                Ok(self.proof(noticed, at))
            }
            Kind::ModificationRemoved if setup.modified_for_test => {
                Ok(Self { modification_removed: true, ..self })
            }
            Kind::Signed => self.signed(setup, at),
            _ => match disturbance(kind) {
                // Once the wearer has been asked, hood and respirator come off as they should.
                Some(_) if self.asked_again => Ok(self),
                Some(reason) => Ok(self.void(reason, at)),
                None => Err(not_now(Phase::Closing)),
            },
        }
    }

    fn redose(self, setup: &AttemptSetup, squeezes: u8, at: DateTime<Utc>) -> Result<Self, Refusal> {
        let Some(due) = self.due(setup) else { return Err(not_now(Phase::Closing)) };
        if at < due.earliest_at {
            let left = seconds_until(at, due.due_at);
            let detail = format!("The next dose is due in {left} seconds: wait for it.");
            let refusal = Refusal::new(Code::DoseTooEarly, detail).fact("seconds_remaining", left);
            return Err(refusal.fact("due_at", due.due_at));
        }
        dose_is(squeezes, due.squeezes)?;
        Ok(Self { redoses_given: due.number, ..self })
    }

    fn exercise_started(self, setup: &AttemptSetup, number: u8, at: DateTime<Utc>) -> Result<Self, Refusal> {
        self.agent_in_place(setup, at)?;
        if let Some((running, _)) = self.running {
            let detail = format!("Exercise {running} is still running: end it first.");
            return Err(out_of_order(detail, running));
        }
        match self.next_exercise(setup) {
            Some(next) if next == number => Ok(Self { running: Some((number, at)), ..self }),
            Some(next) => Err(out_of_order(format!("Exercise {next} comes next, not {number}."), next)),
            None => Err(not_now(Phase::Testing)),
        }
    }

    fn exercise_ended(self, setup: &AttemptSetup, number: u8, at: DateTime<Utc>) -> Result<Self, Refusal> {
        let Some((running, started_at)) = self.running else {
            let next = self.next_exercise(setup).unwrap_or(number);
            return Err(out_of_order(format!("No exercise is running: start exercise {next}."), next));
        };
        if running != number {
            return Err(out_of_order(format!("Exercise {running} is running, not {number}."), running));
        }
        let seconds = setup.exercise(running).map_or(0, |exercise| exercise.seconds);
        let full_at = seconds_after(started_at, seconds);
        if at < full_at {
            let left = seconds_until(at, full_at);
            let detail = format!("Exercise {running} has {left} seconds to go; it is never cut short.");
            let refusal = Refusal::new(Code::ExerciseTooShort, detail).fact("seconds_remaining", left);
            return Err(refusal.fact("ends_at", full_at));
        }
        let done = Self { running: None, exercises_done: running, ..self };
        let ended_at = done.next_exercise(setup).is_none().then_some(at);
        Ok(Self { exercises_ended_at: ended_at, ..done })
    }

    fn no_dose_due(&self, setup: &AttemptSetup, at: DateTime<Utc>) -> Result<(), Refusal> {
        let Some(due) = self.due(setup) else { return Ok(()) };
        let detail = "A dose that fell due before the end of the exercises is still missing: give it first.";
        let refusal = Refusal::new(Code::DoseDue, detail).fact("expected_squeezes", due.squeezes);
        Err(refusal.fact("due_at", due.due_at).fact("seconds_remaining", seconds_until(at, due.latest_at)))
    }

    fn signed(self, setup: &AttemptSetup, at: DateTime<Utc>) -> Result<Self, Refusal> {
        if self.missing(setup) != [Missing::Signature] {
            return Err(self.incomplete(setup));
        }
        Ok(Self { signed_at: Some(at), ..self.end(Outcome::Pass, Reason::Completed, at, at) })
    }

    pub(super) fn incomplete(&self, setup: &AttemptSetup) -> Refusal {
        let mut missing = self.missing(setup);
        missing.retain(|what| *what != Missing::Signature);
        let words: Vec<_> = missing.iter().map(|what| in_words(*what)).collect();
        let names: Vec<_> = missing.iter().map(|what| what.as_str()).collect();
        let detail = format!("Before signing a pass: {}.", words.join("; "));
        Refusal::new(Code::ClosingIncomplete, detail).fact("missing", names.join(","))
    }
}

fn in_words(missing: Missing) -> &'static str {
    match missing {
        Missing::Exercises => "finish every exercise at full length",
        Missing::Dose => "give the dose that is due",
        Missing::Proof => "show that the agent is noticed without the respirator",
        Missing::AskedAgain => "ask the wearer once more",
        Missing::NebulizerChecked => "look at the nebulizer",
        Missing::ModificationRemoved => "undo what was changed on the respirator for the test",
        Missing::Signature => "sign",
    }
}

/// Why an event voids a run under the hood, if it does.
pub(super) fn disturbance(kind: Kind) -> Option<Reason> {
    match kind {
        Kind::Adjusted => Some(Reason::Adjusted),
        Kind::Interrupted => Some(Reason::Interrupted),
        Kind::HoodOff => Some(Reason::HoodOff),
        Kind::Doffed => Some(Reason::Doffed),
        _ => None,
    }
}

pub(super) fn out_of_order(detail: String, expected: u8) -> Refusal {
    Refusal::new(Code::ExerciseOutOfOrder, detail).field("number").fact("expected_exercise", expected)
}
