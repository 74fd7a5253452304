//! One measurement of an exercise, as a fit factor or as the concentrations it comes from.

use num_rational::BigRational;
use serde::{Deserialize, Serialize};

use super::exact::Exact;
use super::quantity::Quantity;
use crate::refusal::{Code, Refusal};
use crate::text_enum::text_enum;

text_enum! {
    /// What a measurement consists of.
    pub enum Basis {
        /// A fit factor that the instrument has computed.
        FitFactor = "fit_factor",
        /// Concentrations outside before and after each exercise, and inside during it.
        Each = "each",
        /// Mean concentrations outside and inside, both during the exercise.
        Continuous = "continuous",
        /// The concentration inside; outside it is measured before and after the whole test.
        Inside = "inside",
    }
}

/// One measurement. Concentrations of one test share one unit, whichever the instrument counts in.
///
/// 29 CFR 1910.134 App. A I.C.2(b)(8)(i) and (ii): the concentration outside is the mean of before and after the test,
/// the mean of before and after each exercise, or a true average of what is measured all the time. How the one inside
/// comes out of the peaks (iii) is the instrument's matter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(tag = "basis", rename_all = "snake_case", deny_unknown_fields)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum Reading {
    /// A fit factor that the instrument has computed.
    FitFactor {
        /// The fit factor.
        fit_factor: Quantity,
    },
    /// Outside before and after this exercise, inside during it.
    Each {
        /// The concentration outside before the exercise.
        before: Quantity,
        /// The concentration outside after the exercise.
        after: Quantity,
        /// The concentration inside.
        inside: Quantity,
    },
    /// Outside and inside during this exercise.
    Continuous {
        /// The mean concentration outside.
        outside: Quantity,
        /// The concentration inside.
        inside: Quantity,
    },
    /// Inside during this exercise.
    Inside {
        /// The concentration inside.
        inside: Quantity,
    },
}

impl Reading {
    /// What it consists of.
    pub const fn basis(self) -> Basis {
        match self {
            Self::FitFactor { .. } => Basis::FitFactor,
            Self::Each { .. } => Basis::Each,
            Self::Continuous { .. } => Basis::Continuous,
            Self::Inside { .. } => Basis::Inside,
        }
    }

    /// Whether a fit factor can come out of it at all.
    ///
    /// # Errors
    /// `invalid_value` naming the member that is zero. Nothing inside is no fit factor without end: the instrument's
    /// limit of detection counts in its place (I.C.2(a)(13)).
    pub fn check(self) -> Result<(), Refusal> {
        match self {
            Self::FitFactor { fit_factor } => above_zero(fit_factor, "fit_factor", FACTOR_ZERO),
            Self::Each { before, after, inside } => above_zero(before, "before", OUTSIDE_ZERO)
                .and_then(|()| above_zero(after, "after", OUTSIDE_ZERO))
                .and_then(|()| above_zero(inside, "inside", INSIDE_ZERO)),
            Self::Continuous { outside, inside } => above_zero(outside, "outside", OUTSIDE_ZERO)
                .and_then(|()| above_zero(inside, "inside", INSIDE_ZERO)),
            Self::Inside { inside } => above_zero(inside, "inside", INSIDE_ZERO),
        }
    }

    /// The fit factor of this measurement alone: the mean concentration outside over the one inside (I.C.2(b)(8)(i)).
    ///
    /// `before` and `after` are the concentrations outside before and after the whole test; they count only for a
    /// reading that has none of its own.
    ///
    /// # Errors
    /// As [`Reading::check`], and `invalid_value` naming `before` or `after` where one is needed and missing or zero.
    pub fn fit_factor(self, before: Option<Quantity>, after: Option<Quantity>) -> Result<Exact, Refusal> {
        self.check()?;
        let factor = match self {
            Self::FitFactor { fit_factor } => fit_factor.ratio(),
            Self::Each { before, after, inside } => mean(before, after) / inside.ratio(),
            Self::Continuous { outside, inside } => outside.ratio() / inside.ratio(),
            Self::Inside { inside } => {
                mean(needed(before, "before")?, needed(after, "after")?) / inside.ratio()
            }
        };
        Ok(Exact(factor))
    }
}

const FACTOR_ZERO: &str = "A fit factor is above zero: type what the instrument shows.";
const OUTSIDE_ZERO: &str = "The concentration outside is above zero: without any there is nothing to measure, so start the test again.";
const INSIDE_ZERO: &str =
    "Nothing inside is no measurement: type the lowest concentration that the instrument can detect.";

fn above_zero(number: Quantity, field: &'static str, sentence: &'static str) -> Result<(), Refusal> {
    if number.is_zero() { Err(Refusal::new(Code::InvalidValue, sentence).field(field)) } else { Ok(()) }
}

fn needed(outside: Option<Quantity>, field: &'static str) -> Result<Quantity, Refusal> {
    let Some(outside) = outside else {
        let sentence = format!("The concentration outside {field} the test is missing: type it too.");
        return Err(Refusal::new(Code::InvalidValue, sentence).field(field));
    };
    above_zero(outside, field, OUTSIDE_ZERO)?;
    Ok(outside)
}

fn mean(one: Quantity, other: Quantity) -> BigRational {
    (one.ratio() + other.ratio()) / BigRational::from_integer(2.into())
}
