//! The text of the codes on our own supply labels: which bottle, nebulizer or hood this is.
//!
//! `SU1:`, a letter for the kind, 26 characters for the id, a check character: 32 characters, all of them in the
//! alphanumeric mode of a QR code. It names a thing and proves nothing: nothing is signed, and whoever reads it still
//! asks the server. It can't be taken for a badge: badges begin with [`crate::code::PREFIX`], and a typed serial
//! is shorter.
//!
//! The alphabet has 31 characters: digits and capitals without I, L, O, U and Z. 31 is prime, which lets the check
//! character catch every single wrong character and every exchange of two, the letter of the kind included.

use std::fmt;
use std::str::FromStr;

use uuid::Uuid;

/// What every label begins with: a supply, version 1 of the layout.
pub const PREFIX: &str = "SU1:";

/// The characters after the prefix, in value order.
pub const ALPHABET: &[u8; 31] = b"0123456789ABCDEFGHJKMNPQRSTVWXY";

/// Characters of a label with its prefix.
pub const LENGTH: usize = PREFIX.len() + PLACES;

const BASE: u32 = 31;
/// Characters that hold the 128 bits of an id: 31^26 is above 2^128, 31^25 is not.
const ID_PLACES: usize = 26;
/// The kind, the id, the check.
const PLACES: usize = ID_PLACES + 2;
/// Characters in a group when it is shown to a person.
const GROUP: usize = 4;
/// More than this can't be a label with a few spaces or dashes in it.
const INPUT_MAX: usize = 100;

/// What a label stands on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LabelKind {
    /// A bottle, or another single container of a lot, such as a smoke tube.
    Bottle,
    /// A nebulizer.
    Nebulizer,
    /// A hood.
    Hood,
}

impl LabelKind {
    /// Every kind.
    pub const ALL: [Self; 3] = [Self::Bottle, Self::Nebulizer, Self::Hood];

    /// The name in words.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Bottle => "bottle",
            Self::Nebulizer => "nebulizer",
            Self::Hood => "hood",
        }
    }

    const fn letter(self) -> char {
        match self {
            Self::Bottle => 'B',
            Self::Nebulizer => 'N',
            Self::Hood => 'H',
        }
    }
}

/// One thing of the stores, by kind and id.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Label {
    /// What it is.
    pub kind: LabelKind,
    /// Its id.
    pub id: Uuid,
}

/// Why a text is not a label of ours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum LabelError {
    /// It does not begin with [`PREFIX`].
    #[error("a label begins with {PREFIX}")]
    Prefix,
    /// Not [`LENGTH`] characters after spaces and dashes are taken out.
    #[error("a label has {LENGTH} characters")]
    Length,
    /// A character that no label has.
    #[error("a label has no {0:?} in it")]
    Character(char),
    /// A letter that stands for no kind.
    #[error("{0:?} is not a kind of label")]
    Kind(char),
    /// The check character does not fit, or the id is none: something was misread or mistyped.
    #[error("the label was misread: its last character does not fit the others")]
    Check,
}

impl Label {
    /// The text of the code: [`LENGTH`] characters of a QR code's alphanumeric mode.
    pub fn text(&self) -> String {
        let mut values = [0; PLACES];
        values[0] = value(self.kind.letter()).unwrap_or(0);
        let mut rest = self.id.as_u128();
        for place in values[1..=ID_PLACES].iter_mut().rev() {
            *place = u32::try_from(rest % u128::from(BASE)).unwrap_or(0);
            rest /= u128::from(BASE);
        }
        values[PLACES - 1] = (BASE - weighted_sum(&values)) % BASE;
        PREFIX.chars().chain(values.into_iter().map(character)).collect()
    }

    /// Reads a scanned or typed label. Small letters, spaces and dashes are accepted, and O, I and L for the digits
    /// that they are mistaken for.
    ///
    /// # Errors
    /// [`LabelError`] says what is wrong.
    pub fn parse(text: &str) -> Result<Self, LabelError> {
        if text.len() > INPUT_MAX {
            return Err(LabelError::Length);
        }
        let cleaned: String = text
            .chars()
            .filter(|c| !c.is_whitespace() && *c != '-')
            .map(|c| c.to_ascii_uppercase())
            .collect();
        let typed = cleaned.strip_prefix(PREFIX).ok_or(LabelError::Prefix)?;
        let values = typed.chars().map(|c| value(c).ok_or(LabelError::Character(c)));
        let values: Vec<u32> = values.collect::<Result<_, _>>()?;
        let values: [u32; PLACES] = values.try_into().map_err(|_| LabelError::Length)?;
        let letter = character(values[0]);
        let kind = LabelKind::ALL.into_iter().find(|kind| kind.letter() == letter);
        if weighted_sum(&values) != 0 {
            return Err(LabelError::Check);
        }
        let mut id = 0_u128;
        for value in &values[1..=ID_PLACES] {
            let shifted = id.checked_mul(u128::from(BASE)).and_then(|id| id.checked_add(u128::from(*value)));
            id = shifted.ok_or(LabelError::Check)?;
        }
        Ok(Self { kind: kind.ok_or(LabelError::Kind(letter))?, id: Uuid::from_u128(id) })
    }
}

/// As it is printed for people: in groups of four, which [`Label::parse`] reads as well.
impl fmt::Display for Label {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = self.text();
        let (prefix, places) = text.split_at(PREFIX.len());
        f.write_str(prefix)?;
        for (index, c) in places.chars().enumerate() {
            if index > 0 && index % GROUP == 0 {
                f.write_str("-")?;
            }
            write!(f, "{c}")?;
        }
        Ok(())
    }
}

impl FromStr for Label {
    type Err = LabelError;
    fn from_str(text: &str) -> Result<Self, LabelError> {
        Self::parse(text)
    }
}

/// Weights 1 to 28 from the right: all different and none of them 0 modulo 31.
fn weighted_sum(values: &[u32; PLACES]) -> u32 {
    values.iter().rev().zip(1..).map(|(value, weight)| value * weight).sum::<u32>() % BASE
}

fn value(typed: char) -> Option<u32> {
    let meant = match typed {
        'O' => '0',
        'I' | 'L' => '1',
        other => other,
    };
    (0..).zip(ALPHABET).find(|(_, c)| char::from(**c) == meant).map(|(value, _)| value)
}

fn character(value: u32) -> char {
    char::from(ALPHABET[(value % BASE) as usize])
}
