//! The badge serial: ten characters that a person can read aloud and type at a gate.
//!
//! The alphabet has 29 characters: digits and capitals without 0, 1, I, L, O (alike), Z (like 2) and U (like V).
//! 29 is prime, which lets one check character catch every single wrong character and every exchange of two:
//! with weights that are all different and none of them 0, such a mistake changes the weighted sum modulo 29.
//! Nine characters count: 29^9, about 1.4 * 10^13 serials.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// The characters of a serial in value order.
pub const ALPHABET: &[u8; 29] = b"23456789ABCDEFGHJKMNPQRSTVWXY";

/// Characters in a serial, the check character included.
pub const LENGTH: usize = 10;

/// How many serials there are.
pub const COUNT: u64 = 29u64.pow(9);

const BASE: u64 = 29;
const GROUP: usize = 5;
/// More than this cannot be a serial with a few spaces or dashes in it.
const INPUT_MAX: usize = 40;

/// A badge serial whose check character is right. Shown in two groups of five: `7KQ2M-XW9RD`.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct Serial([u8; LENGTH]);

/// Why a text is not a serial.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SerialError {
    /// Not ten characters after spaces and dashes are taken out.
    #[error("a serial has {LENGTH} characters")]
    Length,
    /// A character that no serial has.
    #[error("a serial has no {0:?} in it")]
    Character(char),
    /// The check character does not fit: something was misread or mistyped.
    #[error("the serial was misread: its last character does not fit the others")]
    Check,
    /// Right as it was typed, but not as it is written in a token.
    #[error("a token has a serial of ten capital letters and digits, without a dash")]
    Form,
    /// A number that is not below [`COUNT`].
    #[error("a serial number lies below {COUNT}")]
    Number,
}

impl Serial {
    /// The serial of a number below [`COUNT`].
    ///
    /// # Errors
    /// [`SerialError::Number`] from [`COUNT`] upwards.
    pub fn from_number(number: u64) -> Result<Self, SerialError> {
        if number < COUNT { Ok(Self::checked(number)) } else { Err(SerialError::Number) }
    }

    /// A serial drawn from the random bits at the end of a version 4 or 7 UUID. Two UUIDs can meet in one
    /// serial (among 100,000 badges with a chance of about 1 in 3,000): keep serials unique where they are
    /// stored, and draw again.
    pub fn from_uuid(id: Uuid) -> Self {
        // The last 62 bits are random in both versions; the two above them are the variant.
        Self::checked((id.as_u64_pair().1 & ((1 << 62) - 1)) % COUNT)
    }

    /// Digits to the base of the alphabet, then the character that makes the weighted sum 0.
    fn checked(number: u64) -> Self {
        let mut values = [0; LENGTH];
        let mut rest = number;
        for place in (0..LENGTH - 1).rev() {
            values[place] = rest % BASE;
            rest /= BASE;
        }
        values[LENGTH - 1] = (BASE - weighted_sum(&values)) % BASE;
        Self(values.map(character))
    }

    /// Reads a typed serial: small letters, spaces and dashes are accepted.
    ///
    /// # Errors
    /// [`SerialError`] says whether length, a character or the check is wrong.
    pub fn parse(text: &str) -> Result<Self, SerialError> {
        if text.len() > INPUT_MAX {
            return Err(SerialError::Length);
        }
        let mut values = Vec::with_capacity(LENGTH);
        for typed in text.chars().filter(|c| !c.is_whitespace() && *c != '-') {
            let value = ALPHABET.iter().position(|c| char::from(*c) == typed.to_ascii_uppercase());
            values.push(value.ok_or(SerialError::Character(typed))? as u64);
        }
        let values: [u64; LENGTH] = values.try_into().map_err(|_| SerialError::Length)?;
        if weighted_sum(&values) != 0 {
            return Err(SerialError::Check);
        }
        Ok(Self(values.map(character)))
    }

    /// The number it was made of, below [`COUNT`].
    pub fn number(self) -> u64 {
        let values = self.0[..LENGTH - 1].iter().map(|letter| ALPHABET.iter().position(|c| c == letter));
        values.fold(0, |number, value| number * BASE + value.unwrap_or_default() as u64)
    }

    /// The ten characters without a dash, as stored and as carried in the token.
    pub fn compact(&self) -> String {
        self.0.iter().copied().map(char::from).collect()
    }
}

/// The check character has weight 1, the others 2 to 10 from the right.
fn weighted_sum(values: &[u64; LENGTH]) -> u64 {
    values.iter().rev().zip(1..).map(|(value, weight)| value * weight).sum::<u64>() % BASE
}

fn character(value: u64) -> u8 {
    ALPHABET[(value % BASE) as usize]
}

impl fmt::Display for Serial {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let compact = self.compact();
        let (left, right) = compact.split_at(GROUP);
        write!(f, "{left}-{right}")
    }
}

impl fmt::Debug for Serial {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Serial({self})")
    }
}

impl FromStr for Serial {
    type Err = SerialError;
    fn from_str(text: &str) -> Result<Self, SerialError> {
        Self::parse(text)
    }
}

impl From<Serial> for String {
    fn from(serial: Serial) -> Self {
        serial.compact()
    }
}

impl TryFrom<String> for Serial {
    type Error = SerialError;
    /// As a token carries it: people type dashes and small letters, tokens have one way to write a serial.
    fn try_from(text: String) -> Result<Self, SerialError> {
        let serial = Self::parse(&text)?;
        if serial.compact() == text { Ok(serial) } else { Err(SerialError::Form) }
    }
}
