//! Numbers as people and instruments write them: decimal, never negative, never rounded.

use std::fmt;
use std::str::FromStr;

use num_rational::BigRational;
use rust_decimal::Decimal;
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

/// Digits before the point at most.
const WHOLE_DIGITS_MAX: usize = 12;
/// Digits after the point at most.
const FRACTION_DIGITS_MAX: usize = 9;
/// So many digits come through a binary number of 64 bits unchanged, whatever they are.
const BINARY_DIGITS_MAX: usize = 15;

/// A decimal number from 0 up, with at most 12 digits before the point and 9 after it, kept exactly as typed.
///
/// On the wire it is a text such as `"12.5"`, without zeros at its end. A JSON number is read too, as long as it has at
/// most 15 digits: with more of them a reader of JSON would change it unseen, so it has to come as a text.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Quantity(Decimal);

/// Why something is not a [`Quantity`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotAQuantity {
    /// It is no plain decimal number.
    NotANumber,
    /// It is below zero.
    Negative,
    /// It has more digits than are kept.
    TooManyDigits,
    /// It came as a JSON number and has more digits than such a number can carry.
    NeedsText,
}

impl fmt::Display for NotAQuantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotANumber => f.write_str("Write a plain decimal number, such as 12.5."),
            Self::Negative => f.write_str("The number must not be below zero."),
            Self::TooManyDigits => write!(
                f,
                "The number has at most {WHOLE_DIGITS_MAX} digits before the point and {FRACTION_DIGITS_MAX} after it."
            ),
            Self::NeedsText => {
                write!(
                    f,
                    "Send a number of more than {BINARY_DIGITS_MAX} digits as a text, in quotation marks."
                )
            }
        }
    }
}

impl std::error::Error for NotAQuantity {}

impl Quantity {
    /// Nothing.
    pub const ZERO: Self = Self(Decimal::ZERO);

    /// Whether it is nothing.
    pub fn is_zero(self) -> bool {
        self.0.is_zero()
    }

    /// The same number as a fraction of whole numbers.
    pub(crate) fn ratio(self) -> BigRational {
        let ten_to_scale = 10_u128.pow(self.0.scale());
        BigRational::new(self.0.mantissa().into(), ten_to_scale.into())
    }

    /// So many tenths of it, if that still has few enough digits. No product of this size is ever rounded.
    pub(crate) fn in_tenths(self, tenths: u16) -> Option<Self> {
        self.0.checked_mul(Decimal::new(tenths.into(), 1))?.to_string().parse().ok()
    }
}

impl FromStr for Quantity {
    type Err = NotAQuantity;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        if let Some(rest) = text.strip_prefix('-') {
            return Err(if digits(rest).is_some() {
                NotAQuantity::Negative
            } else {
                NotAQuantity::NotANumber
            });
        }
        let (whole, fraction) = digits(text).ok_or(NotAQuantity::NotANumber)?;
        if whole.len() > WHOLE_DIGITS_MAX || fraction.len() > FRACTION_DIGITS_MAX {
            return Err(NotAQuantity::TooManyDigits);
        }
        // The digits that say something, so that no number of zeros round them can be too many.
        let plain = format!("0{whole}.{fraction}0");
        let number = Decimal::from_str_exact(&plain).map_err(|_| NotAQuantity::TooManyDigits)?;
        Ok(Self(number.normalize()))
    }
}

/// The digits before and after the point without the zeros that say nothing; none where it is no decimal number.
fn digits(text: &str) -> Option<(&str, &str)> {
    let only = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
    let (whole, fraction) = match text.split_once('.') {
        Some((whole, fraction)) if !fraction.is_empty() => (whole, fraction),
        None if !text.is_empty() => (text, ""),
        _ => return None,
    };
    (only(whole) && only(fraction)).then(|| (whole.trim_start_matches('0'), fraction.trim_end_matches('0')))
}

impl From<u32> for Quantity {
    fn from(number: u32) -> Self {
        Self(Decimal::from(number))
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(&self.0, f)
    }
}

impl fmt::Debug for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl Serialize for Quantity {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Quantity {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(TextOrNumber)
    }
}

/// Reads a text or a number, also out of the buffer that a flattened or tagged enum is read from.
struct TextOrNumber;

impl de::Visitor<'_> for TextOrNumber {
    type Value = Quantity;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a decimal number from 0 up, as a text or as a number")
    }

    fn visit_str<E: de::Error>(self, text: &str) -> Result<Quantity, E> {
        text.parse().map_err(E::custom)
    }

    fn visit_u64<E: de::Error>(self, number: u64) -> Result<Quantity, E> {
        self.visit_str(&number.to_string())
    }

    fn visit_i64<E: de::Error>(self, number: i64) -> Result<Quantity, E> {
        self.visit_str(&number.to_string())
    }

    fn visit_f64<E: de::Error>(self, number: f64) -> Result<Quantity, E> {
        // The shortest decimal number that means this binary one, without a power of ten.
        let text = number.to_string();
        let quantity: Quantity = text.parse().map_err(E::custom)?;
        let said = text.bytes().filter(u8::is_ascii_digit).skip_while(|digit| *digit == b'0').count();
        if said > BINARY_DIGITS_MAX { Err(E::custom(NotAQuantity::NeedsText)) } else { Ok(quantity) }
    }
}

#[cfg(feature = "openapi")]
mod schema {
    use utoipa::openapi::schema::{ObjectBuilder, Type};
    use utoipa::openapi::{RefOr, Schema};

    use super::Quantity;

    impl utoipa::PartialSchema for Quantity {
        fn schema() -> RefOr<Schema> {
            ObjectBuilder::new()
                .schema_type(Type::String)
                .description(Some(
                    "A decimal number from 0 up, kept exactly as typed. A JSON number of at most 15 digits is read too",
                ))
                .pattern(Some(r"^([0-9]{1,12}|[0-9]{0,12}\.[0-9]{1,9})$"))
                .into()
        }
    }

    impl utoipa::ToSchema for Quantity {}
}
