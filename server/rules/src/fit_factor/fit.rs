//! The overall fit factor of a test, and those of its exercises.

use std::collections::BTreeMap;

use num_rational::BigRational;
use num_traits::Zero;
use serde::Serialize;

use super::doubt::factor_doubt;
use super::exact::Exact;
use super::quantity::Quantity;
use super::reading::{Basis, Reading};
use crate::refusal::{Code, Refusal};
use crate::ruleset::{Exercise, FitReading};

/// No protocol has nearly as many measurements.
pub(crate) const MEASUREMENTS_MAX: usize = 100;

/// A fit factor and the exercise it belongs to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Measured {
    /// The number of the exercise.
    pub exercise: u8,
    /// Its fit factor.
    pub fit_factor: Exact,
}

/// What follows from the measurements of one test.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Fit {
    /// What was measured.
    pub basis: Basis,
    /// The fit factor of each measurement, in the order of the measurements.
    pub measurements: Vec<Measured>,
    /// The fit factor of each exercise, by number: the harmonic mean of its measurements.
    pub exercises: Vec<Measured>,
    /// The overall fit factor: the harmonic mean of all measurements.
    pub overall: Exact,
}

impl Fit {
    /// Whether the test reaches a pass level; the level itself passes, and nothing is rounded before.
    ///
    /// 29 CFR 1910.134 App. A I.C.2(b)(9), I.C.3(b)(1): the overall fit factor decides. Other rules ask the same of every
    /// exercise too.
    pub fn passes(&self, reading: FitReading, level: u32) -> bool {
        match reading {
            FitReading::Overall => self.overall.at_least(level),
            // A harmonic mean is never below the least of its numbers, so the overall one needs no look of its own.
            FitReading::EveryExercise => {
                self.exercises.iter().all(|exercise| exercise.fit_factor.at_least(level))
            }
        }
    }

    /// The measurements that cannot be meant, each with its place from 0 and a sentence.
    pub fn implausible(&self, plausible_max: u32) -> Vec<(usize, String)> {
        let doubt = |(place, measured): (usize, &Measured)| {
            factor_doubt(&measured.fit_factor, plausible_max).map(|sentence| (place, sentence))
        };
        self.measurements.iter().enumerate().filter_map(doubt).collect()
    }
}

/// The fit factors of one test: n / (1/ff1 + ... + 1/ffn) over its measurements, which is the mean penetration turned
/// back into a fit factor (29 CFR 1910.134 App. A I.C.2(b)(8)(iii)(D), I.C.7(d)).
///
/// The text gives the formula for generated aerosol and for the redonning protocol; for the counting and pressure
/// protocols it says no more than "overall fit factor", and the same formula is taken.
/// `measurements` are those of the scored exercises only, see [`check_complete`]; each is the number of its exercise
/// and what was read. `before` and `after` are the concentrations outside before and after the whole test; they count
/// where the basis is [`Basis::Inside`] and are left alone elsewhere.
///
/// # Errors
/// `invalid_value`, with the field and the number of the exercise where one is meant: no or too many measurements, two
/// kinds of readings in one test, a zero, or a concentration outside that is missing.
pub fn fit(
    measurements: &[(u8, Reading)],
    before: Option<Quantity>,
    after: Option<Quantity>,
) -> Result<Fit, Refusal> {
    let basis = basis_of(measurements)?;
    let mut measured = Vec::with_capacity(measurements.len());
    for &(exercise, reading) in measurements {
        let fit_factor =
            reading.fit_factor(before, after).map_err(|refusal| refusal.fact("exercise", exercise))?;
        measured.push(Measured { exercise, fit_factor });
    }
    let mut by_exercise = BTreeMap::<u8, Vec<&Exact>>::new();
    for one in &measured {
        by_exercise.entry(one.exercise).or_default().push(&one.fit_factor);
    }
    let exercises = by_exercise
        .into_iter()
        .map(|(exercise, factors)| Measured { exercise, fit_factor: harmonic_mean(&factors) })
        .collect();
    let all: Vec<_> = measured.iter().map(|one| &one.fit_factor).collect();
    let overall = harmonic_mean(&all);
    Ok(Fit { basis, exercises, overall, measurements: measured })
}

/// The one basis of all measurements.
fn basis_of(measurements: &[(u8, Reading)]) -> Result<Basis, Refusal> {
    let refuse = |sentence: String, field: &str| Err(Refusal::new(Code::InvalidValue, sentence).field(field));
    let Some((_, first)) = measurements.first() else {
        return refuse("There is no measurement yet.".to_owned(), "measurements");
    };
    if measurements.len() > MEASUREMENTS_MAX {
        let sentence = format!("A test has at most {MEASUREMENTS_MAX} measurements.");
        return refuse(sentence, "measurements");
    }
    let basis = first.basis();
    match measurements.iter().find(|(_, reading)| reading.basis() != basis) {
        Some((exercise, other)) => {
            let sentence = format!(
                "The measurements of one test are all of one kind: the first is \"{basis}\", that of exercise \
                 {exercise} is \"{}\".",
                other.basis()
            );
            let refusal = Refusal::new(Code::InvalidValue, sentence).field("basis");
            Err(refusal.fact("exercise", *exercise))
        }
        None => Ok(basis),
    }
}

/// Of one factor or more, all above zero.
fn harmonic_mean(factors: &[&Exact]) -> Exact {
    let sum = factors.iter().fold(BigRational::zero(), |sum, factor| sum + factor.0.recip());
    Exact(BigRational::from_integer(factors.len().into()) / sum)
}

/// Whether the measurements are those that the protocol asks for: as many of each exercise as it gives to the overall
/// fit factor, and none of an exercise that is not scored, such as the grimace (29 CFR 1910.134 App. A I.C.2(b)(8)).
///
/// # Errors
/// `invalid_value` for the field `measurements`, with the number of the first exercise that has too few or too many.
pub fn check_complete(exercises: &[Exercise], measurements: &[(u8, Reading)]) -> Result<(), Refusal> {
    let refuse = |number: u8, sentence: String| {
        let refusal = Refusal::new(Code::InvalidValue, sentence).field("measurements");
        Err(refusal.fact("exercise", number))
    };
    for exercise in exercises {
        let number = exercise.number;
        let expected = usize::from(exercise.measurements);
        let found = measurements.iter().filter(|(of, _)| *of == number).count();
        match (expected, found) {
            (0, 1..) => {
                let sentence = format!("Exercise {number} is not scored: leave its measurement out.");
                return refuse(number, sentence);
            }
            _ if expected != found => {
                let sentence = format!("Exercise {number} has {found} of {expected} measurements.");
                return refuse(number, sentence);
            }
            _ => {}
        }
    }
    let known = |number: u8| exercises.iter().any(|exercise| exercise.number == number);
    match measurements.iter().find(|(number, _)| !known(*number)) {
        Some((number, _)) => refuse(*number, format!("The protocol has no exercise {number}.")),
        None => Ok(()),
    }
}
