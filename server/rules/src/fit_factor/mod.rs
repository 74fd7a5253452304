//! Fit factors, exactly: what was measured, what follows from it, and what cannot be meant.
//!
//! 29 CFR 1910.134 App. A I.C.2(b)(8) for the factor of one exercise and for the overall one, I.C.7(d) for the formula
//! in symbols. All arithmetic is done with fractions of whole numbers, so a comparison with a pass level is never
//! rounded and equality passes.

mod doubt;
mod exact;
mod fit;
mod quantity;
mod reading;
mod stability;

pub use doubt::implausible;
pub use exact::Exact;
pub use fit::{Fit, Measured, check_complete, fit};
pub use quantity::{NotAQuantity, Quantity};
pub use reading::{Basis, Reading};
pub use stability::{drift_over, drift_percent, outside_concentrations, peak_over};
