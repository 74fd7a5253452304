//! How many values pass on average until a running sum signals: the false-alarm rate that is told to people, computed
//! for the very k and h in use.

use serde::Serialize;

use crate::cusum::Setup;
use crate::normal::share_below;

/// States of the coarser of the two chains; the finer one has twice as many.
const STATES: u32 = 60;

/// Longer runs than this are not told apart from "never": binary arithmetic no longer carries them.
const LONGEST: f64 = 1e9;

/// What Siegmund adds to h for the part of a step that reaches beyond the boundary.
const OVERSHOOT: f64 = 1.166;

/// What the sums promise, for people who have to act on them.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct AlarmRate {
    /// The setup it holds for.
    pub setup: Setup,
    /// Values from one false alarm to the next on average, when nothing is wrong; none where that is more than 1e9.
    pub values_between_false_alarms: Option<f64>,
    /// Values until a lasting change of one standard deviation is signalled, on average.
    pub values_to_notice_one_sigma: Option<f64>,
    /// Values until a lasting change of two standard deviations is signalled, on average.
    pub values_to_notice_two_sigma: Option<f64>,
}

/// The promise of one setup.
pub fn alarm_rate(setup: Setup) -> AlarmRate {
    AlarmRate {
        setup,
        values_between_false_alarms: two_sided(setup, 0.0),
        values_to_notice_one_sigma: two_sided(setup, 1.0),
        values_to_notice_two_sigma: two_sided(setup, 2.0),
    }
}

impl AlarmRate {
    /// False alarms to be expected among `values` values when nothing is wrong.
    pub fn false_alarms_expected(&self, values: u32) -> f64 {
        self.values_between_false_alarms.map_or(0.0, |between| f64::from(values) / between)
    }
}

/// The average run length of both sums together, from zero, when independent normal values have a mean of `shift`
/// standard deviations; none where it is more than 1e9 or `shift` is no finite number.
///
/// The reciprocals of the two one-sided run lengths add up: K. W. Kemp, J R Stat Soc B 1961;23:149-153.
pub fn two_sided(setup: Setup, shift: f64) -> Option<f64> {
    let rate = |shift| one_sided(setup, shift).map_or(0.0, |length| 1.0 / length);
    let both = rate(shift) + rate(-shift);
    Some(1.0 / both).filter(|length| length.is_finite() && *length <= LONGEST)
}

/// As [`two_sided`], for the upper sum alone.
///
/// The chain of D. Brook and D. A. Evans, Biometrika 1972;59:539-549, solved for two numbers of states; since its error
/// falls with their square, the two together give a better value than either (as D. M. Hawkins, Commun Stat Simul
/// Comput 1992;21:1001-1020, does).
pub fn one_sided(setup: Setup, shift: f64) -> Option<f64> {
    if !shift.is_finite() {
        return None;
    }
    let coarse = chain(setup, shift, STATES)?;
    let fine = chain(setup, shift, STATES * 2)?;
    let length = fine + (fine - coarse) / 3.0;
    Some(length).filter(|length| length.is_finite() && (1.0..=LONGEST).contains(length))
}

/// D. Siegmund's approximation for one side, a closed form to hold the chain against: Sequential Analysis, 1985.
pub fn siegmund(setup: Setup, shift: f64) -> f64 {
    let drift = shift - setup.reference();
    let boundary = setup.decision() + OVERSHOOT;
    if drift.abs() < 1e-6 {
        return boundary * boundary;
    }
    let exponent = -2.0 * drift * boundary;
    (exponent.exp() - exponent - 1.0) / (2.0 * drift * drift)
}

/// The average run length from zero, with the sum rounded to one of `states` heights.
fn chain(setup: Setup, shift: f64, states: u32) -> Option<f64> {
    let width = 2.0 * setup.decision() / (2.0 * f64::from(states) - 1.0);
    let offset = setup.reference() - shift;
    let below = |steps: f64| share_below(steps * width + offset);
    let mut rows: Vec<Vec<f64>> = Vec::new();
    for from in (0..states).map(f64::from) {
        let mut row: Vec<f64> = (0..states)
            .map(f64::from)
            .map(|to| {
                let upper = below(to - from + 0.5);
                // Everything that would fall below zero stays at zero.
                let chance = if to == 0.0 { upper } else { upper - below(to - from - 0.5) };
                if to == from { 1.0 - chance } else { -chance }
            })
            .collect();
        row.push(1.0);
        rows.push(row);
    }
    solve_first(rows)
}

/// The first unknown of a set of linear equations, each row with its right side at the end; none where they have no
/// single solution. The rows are diagonally dominant, so no pivots are looked for.
fn solve_first(mut rows: Vec<Vec<f64>>) -> Option<f64> {
    // From the last unknown to the first, so that the first one is left over.
    while let Some(last) = rows.pop() {
        let column = rows.len();
        let (pivot, right) = (*last.get(column)?, *last.last()?);
        if pivot.abs() < f64::MIN_POSITIVE {
            return None;
        }
        if column == 0 {
            return Some(right / pivot);
        }
        for row in &mut rows {
            let factor = *row.get(column)? / pivot;
            for (cell, taken) in row.iter_mut().zip(&last).take(column) {
                *cell -= factor * taken;
            }
            if let Some(cell) = row.last_mut() {
                *cell -= factor * right;
            }
        }
    }
    None
}
