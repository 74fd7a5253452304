//! Compact JWS (RFC 7515) as everything here is signed: with ES256 and nothing else, under a header of known members.
//!
//! One key signs tokens of several kinds. Each kind but the badge has a `typ` of its own, and a token is opened as
//! the kind that is expected, so that none passes for another (RFC 8725 sections 3.11 and 3.12).

use std::borrow::Cow;

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use serde::{Deserialize, Serialize};

use crate::keys::{KeyRing, SigningKey};
use crate::token::TokenError;

const ALGORITHM: &str = "ES256";

/// A header with any other member is refused: a critical extension we ignored (RFC 7515 section 4.1.11) or
/// another kind of token must not pass.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Header<'a> {
    #[serde(borrow)]
    alg: Cow<'a, str>,
    #[serde(borrow)]
    kid: Cow<'a, str>,
    #[serde(borrow, default, skip_serializing_if = "Option::is_none")]
    typ: Option<Cow<'a, str>>,
}

/// Only what decides which error a foreign header gets.
#[derive(Deserialize)]
struct AnyHeader {
    alg: String,
}

/// Signs a payload as a token of the kind `typ`; `None` if the crypto library cannot.
pub fn sign(typ: Option<&str>, payload: &[u8], key: &SigningKey) -> Option<String> {
    let header = Header { alg: ALGORITHM.into(), kid: key.kid().into(), typ: typ.map(Cow::from) };
    let header = serde_json::to_vec(&header).ok()?;
    let mut token = URL_SAFE_NO_PAD.encode(header);
    token.push('.');
    URL_SAFE_NO_PAD.encode_string(payload, &mut token);
    let signature = key.sign(&token)?;
    token.push('.');
    token.push_str(&signature);
    Some(token)
}

/// The payload of a token of the kind `typ` that a key of the ring signed.
///
/// # Errors
/// [`TokenError::Malformed`], [`TokenError::WrongAlgorithm`], [`TokenError::UnknownKey`] or
/// [`TokenError::BadSignature`].
pub fn open(ring: &KeyRing, typ: Option<&str>, token: &str) -> Result<Vec<u8>, TokenError> {
    let [header, payload, _] = decode_parts(token).ok_or(TokenError::Malformed)?;
    let kid = kid_of(&header, typ)?;
    let key = ring.get(&kid).ok_or(TokenError::UnknownKey)?;
    let (message, signature) = token.rsplit_once('.').ok_or(TokenError::Malformed)?;
    if key.accepts(message, signature) { Ok(payload) } else { Err(TokenError::BadSignature) }
}

fn kid_of<'h>(header: &'h [u8], typ: Option<&str>) -> Result<Cow<'h, str>, TokenError> {
    let any: AnyHeader = serde_json::from_slice(header).map_err(|_| TokenError::Malformed)?;
    if any.alg != ALGORITHM {
        return Err(TokenError::WrongAlgorithm);
    }
    let header: Header<'h> = serde_json::from_slice(header).map_err(|_| TokenError::Malformed)?;
    if header.typ.as_deref() == typ { Ok(header.kid) } else { Err(TokenError::Malformed) }
}

/// The three decoded parts of a compact JWS; `None` unless each is non-empty canonical base64url.
pub(crate) fn decode_parts(jwt: &str) -> Option<[Vec<u8>; 3]> {
    let mut texts = jwt.split('.');
    let mut next = || {
        // The engine refuses padding and stray trailing bits, so there is one text for one byte string.
        let bytes = URL_SAFE_NO_PAD.decode(texts.next()?).ok()?;
        (!bytes.is_empty()).then_some(bytes)
    };
    let parts = [next()?, next()?, next()?];
    texts.next().is_none().then_some(parts)
}
