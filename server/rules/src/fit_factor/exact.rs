//! Results of the arithmetic of fit factors, kept as fractions so that no comparison is ever rounded.

use std::fmt;

use num_rational::BigRational;
use num_traits::ToPrimitive;
use serde::{Serialize, Serializer};

use super::quantity::Quantity;

/// Digits from the first that is not zero on, as it travels and is stored.
const WIRE_DIGITS: usize = 15;
/// More digits after the point than any result could need.
const DECIMALS_MAX: usize = 64;

/// A number from 0 up as an exact fraction: a fit factor, or a share in percent.
///
/// People and programs are shown decimal digits of it, cut off and never rounded up, so that nothing below a level looks
/// as if it had reached it. Nothing reads those digits back: a verdict is always computed anew from the readings.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Exact(pub(super) BigRational);

impl Exact {
    /// Whether it reaches a level; the level itself does.
    pub fn at_least(&self, level: u32) -> bool {
        self.0 >= BigRational::from_integer(level.into())
    }

    /// Whether it lies above a limit; the limit itself does not.
    pub fn exceeds(&self, limit: u32) -> bool {
        self.0 > BigRational::from_integer(limit.into())
    }

    /// Decimal digits with this many after the point, the rest cut off.
    pub fn as_decimal(&self, decimals: u8) -> String {
        self.cut(usize::from(decimals))
    }

    /// The nearest binary number, for charts and statistics; never to be compared with a level.
    pub fn to_f64(&self) -> f64 {
        self.0.to_f64().unwrap_or(f64::MAX)
    }

    fn cut(&self, decimals: usize) -> String {
        let decimals = decimals.min(DECIMALS_MAX);
        let ten = BigRational::from_integer(10.into());
        let digits = (&self.0 * num_traits::pow(ten, decimals)).to_integer().to_string();
        // At least one digit stands before the point.
        let padded = format!("{digits:0>width$}", width = decimals + 1);
        match padded.split_at_checked(padded.len() - decimals) {
            Some((whole, fraction)) if !fraction.is_empty() => format!("{whole}.{fraction}"),
            _ => padded,
        }
    }

    /// Enough digits for programs, without zeros at the end.
    fn wire(&self) -> String {
        let long = self.cut(DECIMALS_MAX);
        let Some((whole, fraction)) = long.split_once('.') else { return long };
        let kept = if whole == "0" {
            fraction.bytes().take_while(|digit| *digit == b'0').count() + WIRE_DIGITS
        } else {
            WIRE_DIGITS.saturating_sub(whole.len())
        };
        let fraction = fraction.get(..kept).unwrap_or(fraction).trim_end_matches('0');
        if fraction.is_empty() { whole.to_owned() } else { format!("{whole}.{fraction}") }
    }
}

impl From<Quantity> for Exact {
    fn from(number: Quantity) -> Self {
        Self(number.ratio())
    }
}

/// For people: one digit after the point, or as many as the precision asks for; the rest is cut off.
impl fmt::Display for Exact {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.cut(f.precision().unwrap_or(1)))
    }
}

impl Serialize for Exact {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.wire())
    }
}

#[cfg(feature = "openapi")]
mod schema {
    use utoipa::openapi::schema::{ObjectBuilder, Type};
    use utoipa::openapi::{RefOr, Schema};

    use super::Exact;

    impl utoipa::PartialSchema for Exact {
        fn schema() -> RefOr<Schema> {
            ObjectBuilder::new()
                .schema_type(Type::String)
                .description(Some(
                    "A number from 0 up: its first 15 digits, cut off and never rounded up. Compare it with nothing: \
                     the server compares the fraction itself",
                ))
                .pattern(Some(r"^[0-9]+(\.[0-9]+)?$"))
                .into()
        }
    }

    impl utoipa::ToSchema for Exact {}
}
