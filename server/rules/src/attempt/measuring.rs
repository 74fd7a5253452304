//! Measuring a fit factor: readings in the order of the exercises, peaks, drift, lost breaths, and the verdict.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

use super::event::AttemptEventKind as Kind;
use super::fitting::without_help;
use super::machine::{Progress, not_now};
use super::setup::AttemptSetup;
use super::state::Phase;
use super::testing::{disturbance, out_of_order};
use super::verdict::{Outcome, VerdictReason as Reason};
use crate::dates::{seconds_after, seconds_until};
use crate::fit_factor::{
    Exact, Fit, Quantity, Reading, drift_over, fit, implausible, outside_concentrations, peak_over,
};
use crate::method::Family;
use crate::refusal::{Code, Refusal};
use crate::ruleset::{Exercise, MeasuringRules};

/// What the names of exercises begin with in which the respirator is taken off and put on again.
const REDON: &str = "redon";

/// What has been measured so far.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Measured {
    pub(super) before: Option<Quantity>,
    pub(super) after: Option<Quantity>,
    /// Each reading with its exercise, in order. Since a lost breath begins the test again, only those after it.
    pub(super) readings: Vec<(u8, Reading)>,
    /// Where the exercises were begun, the last time they were.
    pub(super) begun_at: Option<DateTime<Utc>>,
    pub(super) restarts: u32,
}

/// The measurement to take next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct NextMeasurement {
    /// The exercise it belongs to.
    pub exercise: u8,
    /// Its number within the exercise, from 1.
    pub number: u8,
    /// The first moment at which it may have ended.
    pub earliest_at: DateTime<Utc>,
}

/// The fit factor of one exercise.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ExerciseFit {
    /// The exercise.
    pub exercise: u8,
    /// Its fit factor, cut off after the last digit shown and never rounded up.
    #[cfg_attr(feature = "openapi", schema(example = "162.4"))]
    pub fit_factor: String,
}

/// Fit factors for people to read. Nothing is decided on these: comparing is done on the exact values.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct FitSummary {
    /// The scored exercises measured so far.
    pub exercises: Vec<ExerciseFit>,
    /// The overall fit factor, once the measuring has ended.
    #[cfg_attr(feature = "openapi", schema(example = "140"))]
    pub overall: Option<String>,
    /// The least that passes.
    pub pass_level: u32,
    /// How often the exercises were begun again after a lost breath.
    pub restarts: u32,
}

impl Progress {
    /// The instrument starts.
    pub(super) fn measuring_started(
        self,
        setup: &AttemptSetup,
        before: Option<Quantity>,
        peak_percent: Option<Quantity>,
        at: DateTime<Utc>,
    ) -> Result<Self, Refusal> {
        let Some(rules) = &setup.rules.measuring else { return Err(not_now(Phase::Fitting)) };
        self.ready(setup, at)?;
        let too_high = peak_too_high(rules, peak_percent)?;
        let measured = Measured { before, begun_at: Some(at), ..Measured::default() };
        let begun = Self { testing_at: Some(at), measured, ..self };
        Ok(if too_high { begun.end(Outcome::Fail, Reason::PeakTooHigh, at, at) } else { begun })
    }

    /// What can happen while it measures.
    pub(super) fn measuring(
        self,
        setup: &AttemptSetup,
        kind: Kind,
        at: DateTime<Utc>,
    ) -> Result<Self, Refusal> {
        match kind {
            Kind::Measured { exercise, reading, typed_first, peak_percent } => {
                let confirmed = typed_first.is_some();
                self.measure(setup, exercise, (reading, confirmed), peak_percent, at)
            }
            Kind::BreathHoldLost if setup.method.family() == Family::Pressure => Ok(self.begun_again(at)),
            Kind::MeasuringEnded { after } => self.measuring_ended(setup, after, at),
            Kind::Donned { by_wearer: false, .. } if self.redonning(setup) => Err(without_help()),
            Kind::Doffed | Kind::Donned { .. } if self.redonning(setup) => Ok(self),
            Kind::Signed => Err(self.incomplete(setup)),
            _ => match disturbance(kind) {
                Some(reason) => Ok(self.void(reason, at)),
                None => Err(not_now(Phase::Testing)),
            },
        }
    }

    /// Whether the exercise that comes next is to take the respirator off and put it on again.
    fn redonning(&self, setup: &AttemptSetup) -> bool {
        let next = self.next_measurement(setup).and_then(|next| setup.exercise(next.exercise));
        next.is_some_and(|exercise| exercise.key.starts_with(REDON))
    }

    /// A lost breath ends the test, which is begun again from its first exercise (App. A I.C.6(c)(1)).
    fn begun_again(self, at: DateTime<Utc>) -> Self {
        let restarts = self.measured.restarts.saturating_add(1);
        let before = self.measured.before;
        Self { measured: Measured { before, restarts, begun_at: Some(at), ..Measured::default() }, ..self }
    }

    fn measure(
        mut self,
        setup: &AttemptSetup,
        exercise: u8,
        (reading, confirmed): (Reading, bool),
        peak_percent: Option<Quantity>,
        at: DateTime<Utc>,
    ) -> Result<Self, Refusal> {
        let Some(rules) = &setup.rules.measuring else { return Err(not_now(Phase::Testing)) };
        let Some(next) = self.next_measurement(setup) else { return Err(not_now(Phase::Testing)) };
        if exercise != next.exercise {
            let detail =
                format!("The next measurement belongs to exercise {}, not {exercise}.", next.exercise);
            return Err(out_of_order(detail, next.exercise).field("exercise"));
        }
        if at < next.earliest_at {
            let left = seconds_until(at, next.earliest_at);
            let detail = format!("Exercise {exercise} cannot have ended yet: {left} seconds are missing.");
            let refusal = Refusal::new(Code::ExerciseTooShort, detail).fact("seconds_remaining", left);
            return Err(refusal.fact("ends_at", next.earliest_at));
        }
        self.same_basis(&reading)?;
        reading.check()?;
        let doubt = implausible(reading, self.measured.before, rules.plausible_fit_factor_max);
        if let Some(why) = doubt.filter(|_| !confirmed) {
            return Err(Refusal::new(Code::ImplausibleValue, why).field("reading"));
        }
        let too_high = peak_too_high(rules, peak_percent)?;
        self.measured.readings.push((exercise, reading));
        Ok(if too_high { self.end(Outcome::Fail, Reason::PeakTooHigh, at, at) } else { self })
    }

    /// Every reading of a test is of one kind, and one that needs the air outside has it.
    fn same_basis(&self, reading: &Reading) -> Result<(), Refusal> {
        let refused = |detail: &str| Err(Refusal::new(Code::InvalidValue, detail).field("reading"));
        if matches!(reading, Reading::Inside { .. }) && self.measured.before.is_none() {
            return refused("These readings need the concentration outside before the test: start with it.");
        }
        let differs = |(_, first): &(u8, Reading)| first.basis() != reading.basis();
        if self.measured.readings.first().is_some_and(differs) {
            return refused(
                "All readings of one test are of one kind: go on with the kind it was begun with.",
            );
        }
        Ok(())
    }

    /// The measurement to take next, while there is one.
    pub(super) fn next_measurement(&self, setup: &AttemptSetup) -> Option<NextMeasurement> {
        if self.phase() != Phase::Testing || setup.rules.measuring.is_none() {
            return None;
        }
        let mut due_at = self.measured.begun_at?;
        let mut left = self.measured.readings.len();
        for exercise in &setup.rules.exercises {
            let taken = left.min(usize::from(exercise.measurements));
            left -= taken;
            let number = u8::try_from(taken).unwrap_or(u8::MAX).saturating_add(1);
            if number <= exercise.measurements {
                let earliest_at = seconds_after(due_at, seconds_until_measurement(exercise, number));
                return Some(NextMeasurement { exercise: exercise.number, number, earliest_at });
            }
            due_at = seconds_after(due_at, exercise.seconds.saturating_add(exercise.measuring_seconds));
        }
        None
    }

    fn measuring_ended(
        mut self,
        setup: &AttemptSetup,
        after: Option<Quantity>,
        at: DateTime<Utc>,
    ) -> Result<Self, Refusal> {
        let Some(rules) = &setup.rules.measuring else { return Err(not_now(Phase::Testing)) };
        if let Some(next) = self.next_measurement(setup) {
            let detail = format!("The measurement of exercise {} is missing.", next.exercise);
            return Err(out_of_order(detail, next.exercise));
        }
        let full_at =
            self.measured.begun_at.map(|begun| seconds_after(begun, setup.rules.exercise_seconds()));
        if let Some(full_at) = full_at.filter(|full_at| at < *full_at) {
            let left = seconds_until(at, full_at);
            let detail = format!("The exercises have {left} seconds to go; none is ever cut short.");
            let refusal = Refusal::new(Code::ExerciseTooShort, detail).fact("seconds_remaining", left);
            return Err(refusal.fact("ends_at", full_at));
        }
        self.measured.after = after;
        let fit = self.fit()?;
        self.exercises_ended_at = Some(at);
        if self.drifted(rules) {
            return Ok(self.void(Reason::ChamberUnstable, at));
        }
        Ok(if fit.passes(rules.reading, rules.pass_level) {
            self
        } else {
            self.end(Outcome::Fail, Reason::FitFactorTooLow, at, at)
        })
    }

    fn fit(&self) -> Result<Fit, Refusal> {
        fit(&self.measured.readings, self.measured.before, self.measured.after)
    }

    /// Whether the air outside drifted further than the method allows, during the test or around an exercise.
    fn drifted(&self, rules: &MeasuringRules) -> bool {
        let Measured { before, after, readings, .. } = &self.measured;
        let outside = outside_concentrations(readings, *before, *after);
        rules.chamber_drift_percent_max.is_some_and(|limit| drift_over(&outside, limit))
    }

    /// The fit factors for people to read.
    pub(super) fn fit_summary(&self, setup: &AttemptSetup) -> Option<FitSummary> {
        let rules = setup.rules.measuring.as_ref()?;
        let ended = self.exercises_ended_at.is_some();
        let fit = self.fit().ok();
        let exercises = fit.iter().flat_map(|fit| &fit.exercises).map(|measured| ExerciseFit {
            exercise: measured.exercise,
            fit_factor: shown(&measured.fit_factor),
        });
        Some(FitSummary {
            exercises: exercises.collect(),
            overall: fit.as_ref().filter(|_| ended).map(|fit| shown(&fit.overall)),
            pass_level: rules.pass_level,
            restarts: self.measured.restarts,
        })
    }
}

/// Seconds from the beginning of an exercise to the end of its measurement `number`: its own seconds, then its part
/// of the measuring.
fn seconds_until_measurement(exercise: &Exercise, number: u8) -> u32 {
    let part = exercise.measuring_seconds.saturating_mul(u32::from(number));
    exercise.seconds.saturating_add(part.checked_div(u32::from(exercise.measurements)).unwrap_or(0))
}

/// Three decimals, cut off and not rounded, without zeros at the end.
fn shown(factor: &Exact) -> String {
    let text = factor.as_decimal(3);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Whether a peak ends the test (App. A I.C.2(b)(4) and (7)). A method that looks at peaks has to be told them.
fn peak_too_high(rules: &MeasuringRules, peak_percent: Option<Quantity>) -> Result<bool, Refusal> {
    match (rules.peak_percent_max, peak_percent) {
        (Some(limit), Some(peak)) => Ok(peak_over(peak, limit)),
        (Some(limit), None) => {
            let detail = format!(
                "This method looks at peaks: send the greatest one in percent; {limit} is the limit."
            );
            Err(Refusal::new(Code::InvalidValue, detail).field("peak_percent"))
        }
        (None, _) => Ok(false),
    }
}
