//! Documents that the badge issuer signs and that are no badges: compact JWS (RFC 7515 section 7.1) with ES256.
//!
//! Each kind has its own `typ`, and a reader asks for one kind: RFC 8725 section 3.11 (explicit typing). A badge has no
//! `typ`, so none of these passes for a badge, and no badge for one of these.

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use serde::{Deserialize, Serialize};

use crate::keys::{KeyRing, SigningKey};

const ALGORITHM: &str = "ES256";

/// Why a signed document was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SignedError {
    /// Not a compact JWS of this kind.
    #[error("this is no such document, or it is cut short")]
    Malformed,
    /// Signed with a key that is not accepted, or not any more.
    #[error("the document is signed with a key that is not known here")]
    UnknownKey,
    /// Altered, or signed by another key under our key's name.
    #[error("the signature of the document is not right: it was altered")]
    BadSignature,
}

/// A header with any other member is refused, as that of a badge is.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Header<'a> {
    alg: &'a str,
    kid: &'a str,
    typ: &'a str,
}

/// The payload, signed as a document of this kind; `None` if the crypto library cannot sign.
pub(crate) fn sign(typ: &str, payload: &[u8], key: &SigningKey) -> Option<String> {
    let header = serde_json::to_vec(&Header { alg: ALGORITHM, kid: key.kid(), typ }).ok()?;
    let mut text = URL_SAFE_NO_PAD.encode(header);
    text.reserve(payload.len() * 4 / 3 + 100);
    text.push('.');
    URL_SAFE_NO_PAD.encode_string(payload, &mut text);
    let signature = key.sign(&text)?;
    text.push('.');
    text.push_str(&signature);
    Some(text)
}

/// The payload of a document of this kind, after its signature was found right.
pub(crate) fn open(ring: &KeyRing, typ: &str, text: &str) -> Result<Vec<u8>, SignedError> {
    let (message, signature) = text.rsplit_once('.').ok_or(SignedError::Malformed)?;
    let (head, payload) = message.split_once('.').ok_or(SignedError::Malformed)?;
    let head = decode(head)?;
    let header: Header<'_> = serde_json::from_slice(&head).map_err(|_| SignedError::Malformed)?;
    if header.alg != ALGORITHM || header.typ != typ {
        return Err(SignedError::Malformed);
    }
    let key = ring.get(header.kid).ok_or(SignedError::UnknownKey)?;
    if !key.accepts(message, signature) {
        return Err(SignedError::BadSignature);
    }
    decode(payload)
}

fn decode(part: &str) -> Result<Vec<u8>, SignedError> {
    URL_SAFE_NO_PAD.decode(part).map_err(|_| SignedError::Malformed)
}
