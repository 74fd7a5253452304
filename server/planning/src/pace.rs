//! How long the rest of a day takes at the pace of the last hour. An estimate with its spread, never a promise.

use serde::Serialize;

/// The 90 % point of the standard normal distribution: 80 days in 100 lie between it and its negative.
const Z_80: f64 = 1.281_551_565_544_6;

/// How long it takes until nobody is left.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct TimeLeft {
    /// Seconds at just this pace.
    pub likely_seconds: f64,
    /// Seconds where the true pace is as fast as what was seen still allows, in 80 cases of 100 together with the slowest.
    pub soonest_seconds: f64,
    /// Seconds where it is as slow.
    pub latest_seconds: f64,
}

/// The time that `left` people take when `finished` people took `over_seconds`; none while nobody has finished, because
/// then there is no pace to go by.
///
/// People finish one by one, so their count is taken as Poisson; its 80 % score interval is the set of means whose
/// standard score is at most z: the roots of (n - m)^2 = z^2 m.
#[must_use]
pub fn time_left(left: u64, finished: u64, over_seconds: f64) -> Option<TimeLeft> {
    if finished == 0 || !(over_seconds > 0.0 && over_seconds.is_finite()) {
        return None;
    }
    let (left, seen) = (as_f64(left), as_f64(finished));
    let (centre, half) = (seen + Z_80 * Z_80 / 2.0, Z_80 * (seen + Z_80 * Z_80 / 4.0).sqrt());
    let seconds = |count: f64| left * over_seconds / count;
    Some(TimeLeft {
        likely_seconds: seconds(seen),
        soonest_seconds: seconds(centre + half),
        latest_seconds: seconds(centre - half),
    })
}

#[allow(clippy::cast_precision_loss, reason = "nobody counts as many people as a double cannot")]
fn as_f64(count: u64) -> f64 {
    count as f64
}
