//! What a gate read: the text of a code, or a serial that somebody typed. The server and a gate without a network
//! understand it alike.

use chrono::{DateTime, Utc};
use sellion_rules::gate::NotOurs;

use crate::code::{PREFIX, unpack};
use crate::keys::KeyRing;
use crate::serial::Serial;
use crate::token::{self, BadgeClaims, TokenError};

/// What was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Read {
    /// The text of a code.
    Code(String),
    /// A serial.
    Typed(String),
}

impl Read {
    /// The text of a code without what a scanner that types puts around it: line ends and tabulators, and blanks too
    /// where only without them a code is left. A blank is a digit of base45 and may well be the last one (RFC 9285
    /// section 4.1).
    pub fn code(text: &str) -> Self {
        let text = text.trim_matches(['\r', '\n', '\t']);
        let bare = text.trim();
        let only_bare = bare.len() < text.len() && unpack(text).is_err() && unpack(bare).is_ok();
        Self::Code(if only_bare { bare } else { text }.to_owned())
    }

    /// A serial as somebody typed it.
    pub fn typed(text: &str) -> Self {
        Self::Typed(text.trim_matches(|c: char| !c.is_alphanumeric()).to_owned())
    }

    /// One line from a keyboard or from a scanner that types: whatever reads as a serial was typed as one.
    pub fn line(text: &str) -> Self {
        let typed = Self::typed(text);
        let is_serial = !text.trim().starts_with(PREFIX) && Serial::parse(typed.text()).is_ok();
        if is_serial { typed } else { Self::code(text) }
    }

    /// What was read, as text.
    pub fn text(&self) -> &str {
        let (Self::Code(text) | Self::Typed(text)) = self;
        text
    }

    /// Whether a serial was typed.
    pub fn is_typed(&self) -> bool {
        matches!(self, Self::Typed(_))
    }
}

/// What the text of a code says, when a key of the ring signed it. A badge that has run out is genuine all the same:
/// whoever asks holds that it is over against the rules.
///
/// # Errors
/// [`TokenError`], never [`TokenError::Expired`].
pub fn genuine(ring: &KeyRing, code: &str, at: DateTime<Utc>) -> Result<BadgeClaims, TokenError> {
    let jwt = unpack(code).map_err(|_| TokenError::Malformed)?;
    match token::verify(ring, &jwt, at) {
        Err(TokenError::Expired(claims)) => Ok(*claims),
        verified => verified,
    }
}

/// What a refused token is in the words of the rules.
pub fn not_ours(error: &TokenError) -> NotOurs {
    match error {
        TokenError::Malformed => NotOurs::CodeUnreadable,
        _ => NotOurs::WrongSignature,
    }
}
