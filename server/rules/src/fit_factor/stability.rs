//! How steady the concentration outside was, and how high a peak inside.

use num_rational::BigRational;

use super::exact::Exact;
use super::quantity::Quantity;
use super::reading::Reading;

/// Every concentration outside that a test knows: before it, in its readings, and after it.
pub fn outside_concentrations(
    measurements: &[(u8, Reading)],
    before: Option<Quantity>,
    after: Option<Quantity>,
) -> Vec<Quantity> {
    let of = |(_, reading): &(u8, Reading)| match *reading {
        Reading::Each { before, after, .. } => [Some(before), Some(after)],
        Reading::Continuous { outside, .. } => [Some(outside), None],
        Reading::FitFactor { .. } | Reading::Inside { .. } => [None, None],
    };
    let own = measurements.iter().flat_map(of).flatten();
    before.into_iter().chain(own).chain(after).collect()
}

/// How far the concentration outside varied, in percent: from the lowest to the highest, of the lowest.
///
/// 29 CFR 1910.134 App. A I.C.2(a)(8) asks for a concentration that is constant within 10 percent, and leaves open of
/// what. Of the lowest it is the most, so what keeps the limit here keeps it of the first, of the mean and of the last
/// too, whether it rose or fell. None where there are fewer than two concentrations, or where one is zero.
pub fn drift_percent(outside: &[Quantity]) -> Option<Exact> {
    let (lowest, highest) = extremes(outside)?;
    if outside.len() < 2 || lowest.is_zero() {
        return None;
    }
    let share = (highest.ratio() - lowest.ratio()) / lowest.ratio();
    Some(Exact(share * hundred()))
}

/// Whether the concentration outside varied by more than a limit in percent; exactly the limit is within it.
///
/// Without two concentrations nothing is known to have varied. One that fell to zero is over every limit.
pub fn drift_over(outside: &[Quantity], limit_percent: u32) -> bool {
    extremes(outside).is_some_and(|(lowest, highest)| {
        let limit = BigRational::from_integer(limit_percent.into());
        (highest.ratio() - lowest.ratio()) * hundred() > lowest.ratio() * limit
    })
}

/// Whether a single peak penetration, in percent, exceeds a limit; exactly the limit does not (I.C.2(b)(4) and (7)).
pub fn peak_over(peak_percent: Quantity, limit_percent: u32) -> bool {
    peak_percent > Quantity::from(limit_percent)
}

fn extremes(outside: &[Quantity]) -> Option<(Quantity, Quantity)> {
    Some((*outside.iter().min()?, *outside.iter().max()?))
}

fn hundred() -> BigRational {
    BigRational::from_integer(100.into())
}
