//! The text inside the QR code: a prefix and the raw parts of a JWT in base45.
//!
//! A JWT is base64url text; put into a code as it stands it needs byte mode at 10.7 bits for each byte of
//! content. Its three decoded parts in base45 need 8.25. The layout of the packed bytes is
//! `header length (1 byte) | payload length (2 bytes, high first) | header | payload | signature`.
//! The three parts come back as the very same JWT, because only canonical base64url is packed.
//!
//! The text holds spaces and `%`: never put it into a URL unescaped.

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;

use crate::base45::{self, Base45Error};
use crate::jws::decode_parts;

/// What every code starts with: ours, version 1 of the layout. Upper case keeps it in the alphanumeric segment.
pub const PREFIX: &str = "SL1:";

/// Longest text that is looked at, in characters. A version 17 code at level M, the densest that still prints
/// large enough on a card, holds 730; more can only be a mistake or an attack.
pub const LENGTH_MAX: usize = 730;

const LENGTHS: usize = 3;

/// Why a text is not one of our codes, or a token cannot become one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum CodeError {
    /// The text does not start with [`PREFIX`].
    #[error("the code does not start with {PREFIX}")]
    Prefix,
    /// Longer than [`LENGTH_MAX`], before or after packing.
    #[error("a code has at most {LENGTH_MAX} characters")]
    TooLong,
    /// What follows the prefix is not base45.
    #[error("the code is not base45: {0}")]
    Base45(#[from] Base45Error),
    /// The lengths inside the code do not fit the bytes that are there, or a part is empty.
    #[error("the parts of the code do not fit its length")]
    Parts,
    /// The token is not three non-empty canonical base64url parts.
    #[error("the token is not a compact JWS in canonical base64url")]
    Token,
}

/// Packs a compact JWT into the text of a code.
///
/// # Errors
/// [`CodeError::Token`] if the token would not come back letter for letter, [`CodeError::Parts`] if its
/// header or payload outgrows its length field, [`CodeError::TooLong`] if the code would.
pub fn pack(jwt: &str) -> Result<String, CodeError> {
    // Base64url of the longest code is shorter than twice its characters.
    if jwt.len() > 2 * LENGTH_MAX {
        return Err(CodeError::TooLong);
    }
    let [header, payload, signature] = decode_parts(jwt).ok_or(CodeError::Token)?;
    let header_length = u8::try_from(header.len()).map_err(|_| CodeError::Parts)?;
    let payload_length = u16::try_from(payload.len()).map_err(|_| CodeError::Parts)?;
    let mut bytes = Vec::with_capacity(LENGTHS + header.len() + payload.len() + signature.len());
    bytes.push(header_length);
    bytes.extend(payload_length.to_be_bytes());
    bytes.extend(header);
    bytes.extend(payload);
    bytes.extend(signature);
    let text = format!("{PREFIX}{}", base45::encode(&bytes));
    if text.len() > LENGTH_MAX { Err(CodeError::TooLong) } else { Ok(text) }
}

/// Turns the text of a code back into the JWT it was packed from. The signature is not looked at here.
///
/// A keyboard scanner ends its input with a line end: take that off first, for nothing is trimmed here.
///
/// # Errors
/// [`CodeError`] for every text that [`pack`] cannot have made.
pub fn unpack(text: &str) -> Result<String, CodeError> {
    if text.len() > LENGTH_MAX {
        return Err(CodeError::TooLong);
    }
    let packed = text.strip_prefix(PREFIX).ok_or(CodeError::Prefix)?;
    let bytes = base45::decode(packed)?;
    let (lengths, parts) = bytes.split_first_chunk::<LENGTHS>().ok_or(CodeError::Parts)?;
    let [header_length, high, low] = *lengths;
    let (header, rest) = parts.split_at_checked(usize::from(header_length)).ok_or(CodeError::Parts)?;
    let payload_length = usize::from(u16::from_be_bytes([high, low]));
    let (payload, signature) = rest.split_at_checked(payload_length).ok_or(CodeError::Parts)?;
    if [header, payload, signature].iter().any(|part| part.is_empty()) {
        return Err(CodeError::Parts);
    }
    let [header, payload, signature] = [header, payload, signature].map(|part| URL_SAFE_NO_PAD.encode(part));
    Ok(format!("{header}.{payload}.{signature}"))
}
