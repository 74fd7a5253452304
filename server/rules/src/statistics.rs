//! Statistics of small counts.

use serde::Serialize;

/// The 97.5 % point of the standard normal distribution, which leaves 95 % between itself and its negative.
const Z: f64 = 1.959_963_984_540_054;

/// A 95 % interval of a share, from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Interval {
    /// Its lower end.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
}

/// The 95 % score interval of a share, without correction for continuity; none without trials, or with more successes
/// than trials.
///
/// E. B. Wilson, J Am Stat Assoc 1927;22:209-212; R. G. Newcombe, Stat Med 1998;17:857-872, method 3.
#[expect(clippy::cast_precision_loss, reason = "counts of people are far below 2^52")]
pub fn wilson(successes: u64, trials: u64) -> Option<Interval> {
    if trials == 0 || successes > trials {
        return None;
    }
    let n = trials as f64;
    let share = successes as f64 / n;
    let spread = Z * Z / n;
    let centre = share + spread / 2.0;
    let half = (Z * Z * share * (1.0 - share) / n + spread * spread / 4.0).sqrt();
    // At the ends the formula gives exactly 0 and 1, which binary arithmetic misses by a hair.
    let low = if successes == 0 { 0.0 } else { (centre - half) / (1.0 + spread) };
    let high = if successes == trials { 1.0 } else { (centre + half) / (1.0 + spread) };
    Some(Interval { low, high })
}
