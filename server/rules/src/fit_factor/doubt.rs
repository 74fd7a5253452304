//! Readings that can hardly be meant, and are asked for a second time.

use super::exact::Exact;
use super::quantity::Quantity;
use super::reading::Reading;

/// Why a reading is asked for a second time, in one sentence; none where nothing speaks against it.
///
/// `before` is the concentration outside before the whole test, for a reading that has none of its own; without it such
/// a reading is looked at only when the test is complete, with [`super::Fit::implausible`]. `plausible_max` is the
/// highest fit factor taken without asking. What no fit factor comes out of is a matter of [`Reading::check`].
/// Common practice, no source.
pub fn implausible(reading: Reading, before: Option<Quantity>, plausible_max: u32) -> Option<String> {
    let factor = reading.fit_factor(before, before).ok()?;
    factor_doubt(&factor, plausible_max)
}

/// Why a fit factor cannot be meant.
pub(super) fn factor_doubt(factor: &Exact, plausible_max: u32) -> Option<String> {
    if !factor.exceeds(1) {
        let sentence = format!(
            "A fit factor of {factor:.2} says that as much is inside as outside: look whether the two were mixed up, \
             and type them again."
        );
        Some(sentence)
    } else if factor.exceeds(plausible_max) {
        Some(format!(
            "A fit factor of {factor:.0} is above {plausible_max}: look at the digits, and type them again."
        ))
    } else {
        None
    }
}
