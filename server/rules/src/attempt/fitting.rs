//! Fitting: donned by the wearer, worn long enough, seal checked, hood on, until the first dose.

use chrono::{DateTime, Utc};

use super::event::{AttemptEventKind as Kind, SealCheckResult};
use super::machine::{Progress, Seal, not_now};
use super::setup::AttemptSetup;
use super::state::Phase;
use super::verdict::{Outcome, VerdictReason as Reason};
use crate::dates::{seconds_after, seconds_until};
use crate::refusal::{Code, Refusal};
use crate::screening::intake_over;

impl Progress {
    pub(super) fn fitting(
        self,
        setup: &AttemptSetup,
        kind: Kind,
        at: DateTime<Utc>,
    ) -> Result<Self, Refusal> {
        match kind {
            Kind::Donned { by_wearer, .. } => self.donned(setup, by_wearer, at),
            Kind::Doffed => {
                self.on()?;
                Ok(Self { donned_at: None, seal: Seal::Unchecked, hood_ready: false, ..self })
            }
            Kind::SealChecked { result } => self.seal_checked(setup, result, at),
            // Adjusting is part of fitting, but what the seal check found is no longer true of the new seat.
            Kind::Adjusted => {
                self.on()?;
                let seal = if self.seal == Seal::Leaking { Seal::Leaking } else { Seal::Unchecked };
                Ok(Self { seal, ..self })
            }
            Kind::Hooded { taste_gone } if setup.doses().is_some() => {
                self.on()?;
                Ok(Self { hood_ready: taste_gone, ..self })
            }
            Kind::HoodOff => Ok(Self { hood_ready: false, ..self }),
            Kind::DoseGiven { squeezes } => self.first_dose(setup, squeezes, at),
            Kind::ChamberEntered if setup.rules.odour.is_some() => self.begins(setup, at),
            Kind::PerimeterPassed { number } => self.perimeter_passed(setup, number, at),
            Kind::MeasuringStarted { before, peak_percent } => {
                self.measuring_started(setup, before, peak_percent, at)
            }
            Kind::Interrupted => Ok(self.void(Reason::Interrupted, at)),
            Kind::Unwell => Ok(self.end(Outcome::Stopped, Reason::Unwell, at, at)),
            Kind::Signed => {
                let detail = "There is nothing to sign yet: the testing has not begun.";
                Err(Refusal::new(Code::ClosingIncomplete, detail).fact("phase", Phase::Fitting.as_str()))
            }
            _ => Err(not_now(Phase::Fitting)),
        }
    }

    /// Since when the respirator is on.
    fn on(&self) -> Result<DateTime<Utc>, Refusal> {
        self.donned_at.ok_or_else(|| {
            Refusal::new(Code::NotDonned, "The respirator is not on: let the wearer put it on and record it.")
        })
    }

    fn donned(self, setup: &AttemptSetup, by_wearer: bool, at: DateTime<Utc>) -> Result<Self, Refusal> {
        if !by_wearer {
            return Err(without_help());
        }
        if self.donned_at.is_some() {
            let detail = "The respirator is already on: record first that it was taken off.";
            return Err(Refusal::new(Code::AlreadyDonned, detail));
        }
        if let Some(screened_at) = setup.screened_at.filter(|screened_at| at < *screened_at) {
            let detail = "Put the respirator on after the screening: no respirator is worn during it.";
            let refusal = Refusal::new(Code::DonnedBeforeScreening, detail);
            return Err(refusal.fact("earliest_start", screened_at));
        }
        // Seal and hood were reset when it came off.
        Ok(Self { donned_at: Some(at), ..self })
    }

    fn seal_checked(
        self,
        setup: &AttemptSetup,
        result: SealCheckResult,
        at: DateTime<Utc>,
    ) -> Result<Self, Refusal> {
        self.on()?;
        if self.seal == Seal::Leaking {
            let detail = "The seal leaked: take the respirator off, put it on again, then check the seal.";
            return Err(Refusal::new(Code::RedonFirst, detail));
        }
        Ok(match result {
            SealCheckResult::Ok => Self { seal: Seal::Good, ..self },
            SealCheckResult::NotPossible => Self { seal: Seal::Unchecked, ..self },
            SealCheckResult::Failed => {
                let seal_failures = self.seal_failures.saturating_add(1);
                let leaking = Self { seal: Seal::Leaking, seal_failures, ..self };
                if seal_failures >= setup.rules.seal_check_tries {
                    leaking.void(Reason::SealCheckFailed, at)
                } else {
                    leaking
                }
            }
        })
    }

    /// What comes before the testing of any method: worn long enough, and a good seal check.
    pub(super) fn ready(&self, setup: &AttemptSetup, at: DateTime<Utc>) -> Result<(), Refusal> {
        let worn_until = seconds_after(self.on()?, setup.rules.wear_seconds);
        if at < worn_until {
            let left = seconds_until(at, worn_until);
            let detail = format!("Wait {left} more seconds: the respirator has not been worn long enough.");
            let refusal = Refusal::new(Code::WearTimeShort, detail).fact("seconds_remaining", left);
            return Err(refusal.fact("earliest_start", worn_until));
        }
        if self.seal != Seal::Good {
            let detail = "Let the wearer check the seal first; the test needs a good seal check.";
            return Err(Refusal::new(Code::SealCheckMissing, detail));
        }
        Ok(())
    }

    /// The testing begins.
    pub(super) fn begins(self, setup: &AttemptSetup, at: DateTime<Utc>) -> Result<Self, Refusal> {
        self.ready(setup, at)?;
        Ok(Self { testing_at: Some(at), ..self })
    }

    fn first_dose(self, setup: &AttemptSetup, squeezes: u8, at: DateTime<Utc>) -> Result<Self, Refusal> {
        let Some(doses) = setup.doses() else { return Err(not_now(Phase::Fitting)) };
        self.ready(setup, at)?;
        if !self.hood_ready {
            let detail = "Put the hood on and ask whether the taste of the screening is gone.";
            return Err(Refusal::new(Code::NotReady, detail));
        }
        intake_over(setup.last_intake_at, setup.rules.no_intake_seconds, at)?;
        dose_is(squeezes, doses.first)?;
        self.begins(setup, at)
    }
}

/// The refusal of a respirator that somebody else put on.
pub(super) fn without_help() -> Refusal {
    let detail = "Let the wearer put it on without help: take it off and begin again.";
    Refusal::new(Code::MustBeDonnedByWearer, detail).field("by_wearer")
}

/// A dose is the very number due, since the client shows what the server said.
pub(super) fn dose_is(squeezes: u8, expected: u8) -> Result<(), Refusal> {
    if squeezes == expected {
        return Ok(());
    }
    let detail = format!("The dose due is {expected} squeezes, not {squeezes}.");
    Err(Refusal::new(Code::WrongDose, detail).field("squeezes").fact("expected_squeezes", expected))
}
