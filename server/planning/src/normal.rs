//! The standard normal distribution, which the standard library does not have.

/// Beyond this many standard deviations the tail is smaller than the error of the series.
const TAIL: f64 = 8.0;

/// The share of a standard normal distribution at or below `x`, with an absolute error below 1e-14.
///
/// The series of G. Marsaglia, J Stat Softw 2004;11(4):1-11: half, and the density times x + x^3/3 + x^5/(3 x 5) + ...
/// Not a number where `x` is none.
pub fn share_below(x: f64) -> f64 {
    if x.is_nan() {
        return x;
    }
    if x.abs() > TAIL {
        return if x > 0.0 { 1.0 } else { 0.0 };
    }
    let square = x * x;
    let (mut sum, mut term, mut odd) = (x, x, 1.0);
    while term.abs() > f64::EPSILON * 1e-3 {
        odd += 2.0;
        term *= square / odd;
        sum += term;
    }
    let density = (-square / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt();
    (0.5 + sum * density).clamp(0.0, 1.0)
}
