//! The screening level: the class of sensitivity that sets every dose of the attempts that follow.

use serde::{Deserialize, Serialize};

/// The set of ten squeezes in which the agent was tasted. A class, never the exact count.
///
/// On the wire and in a column it is the number 10, 20 or 30 (29 CFR 1910.134 App. A I.B.3(a)(7)-(9), B.4(a)(6)-(8)).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(into = "u8", try_from = "u8")]
pub enum Level {
    /// Tasted within the first ten squeezes.
    Ten,
    /// Tasted within squeezes 11 to 20.
    Twenty,
    /// Tasted within squeezes 21 to 30.
    Thirty,
}

impl Level {
    /// Every level, the most sensitive first.
    pub const ALL: &'static [Self] = &[Self::Ten, Self::Twenty, Self::Thirty];

    /// Squeezes of the first dose.
    pub const fn squeezes(self) -> u8 {
        match self {
            Self::Ten => 10,
            Self::Twenty => 20,
            Self::Thirty => 30,
        }
    }

    /// Squeezes of every later dose, as a share of the first in percent, rounded up so that it is never less.
    pub fn redose_squeezes(self, percent: u8) -> u8 {
        let squeezes = (u16::from(self.squeezes()) * u16::from(percent)).div_ceil(100);
        u8::try_from(squeezes).unwrap_or(u8::MAX)
    }
}

impl From<Level> for u8 {
    fn from(level: Level) -> Self {
        level.squeezes()
    }
}

/// A number that is no level.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NotALevel(pub u8);

impl std::fmt::Display for NotALevel {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} is not a screening level; a level is 10, 20 or 30", self.0)
    }
}

impl std::error::Error for NotALevel {}

impl TryFrom<u8> for Level {
    type Error = NotALevel;

    fn try_from(number: u8) -> Result<Self, Self::Error> {
        Self::ALL.iter().copied().find(|level| level.squeezes() == number).ok_or(NotALevel(number))
    }
}

#[cfg(feature = "openapi")]
mod schema {
    use utoipa::openapi::schema::{ObjectBuilder, Type};
    use utoipa::openapi::{RefOr, Schema};

    use super::Level;

    impl utoipa::PartialSchema for Level {
        fn schema() -> RefOr<Schema> {
            let numbers = Level::ALL.iter().map(|level| level.squeezes());
            ObjectBuilder::new()
                .schema_type(Type::Integer)
                .description(Some("The screening level, which is also the first dose in squeezes"))
                .enum_values(Some(numbers))
                .into()
        }
    }

    impl utoipa::ToSchema for Level {}
}
