//! The status list: two bits for each badge of an issuer, signed, by which whoever holds it can tell without a
//! network which badges have ended and which are held. After the IETF draft Token Status List
//! (draft-ietf-oauth-status-list); its section names are cited.
//!
//! A badge carries no `status` claim, for a printed code has no room for one. Its `iss` and `sti` stand for
//! `{"status_list": {"idx": sti, "uri": ADDRESS + path(iss)}}`, where ADDRESS is that of the installation.
//!
//! Dates are not part of the list: whether a badge or a respirator on it has run out, the badge itself says, and a
//! badge that has run out is over whatever its status (draft, "Status Types").

use std::io::{Read as _, Write as _};

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use chrono::serde::{ts_seconds, ts_seconds_option};
use chrono::{DateTime, Utc};
use flate2::{Compression, read::ZlibDecoder, write::ZlibEncoder};
use serde::{Deserialize, Serialize};

use crate::jws;
use crate::keys::{KeyRing, SigningKey};
use crate::token::TokenError;

/// The `typ` of the token.
pub const TYPE: &str = "statuslist+jwt";
/// The media type it is served with.
pub const CONTENT_TYPE: &str = "application/statuslist+jwt";

/// Bits for each badge in the lists that are made here.
const BITS: u8 = 2;
const PER_BYTE: usize = 8 / BITS as usize;
/// Longest token that is looked at: a list of ten million badges without any pattern in it fits.
const TOKEN_LENGTH_MAX: usize = 8 << 20;
/// Most bytes that a list may hold once it is decompressed, so that a small token cannot fill the memory.
const LIST_LENGTH_MAX: u64 = 16 << 20;

/// Where an installation serves the list of an issuer, below its own address.
pub fn path(issuer: &str) -> String {
    format!("/api/v1/status_lists/{issuer}")
}

/// What a list says of one badge (draft, "Status Types Values").
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Status {
    /// VALID: nothing is against it but, perhaps, its dates.
    Valid,
    /// INVALID: it was ended or replaced, or its key was withdrawn. For good.
    Ended,
    /// SUSPENDED: it is held, or a respirator on it is not presently cleared for its person.
    Held,
}

impl Status {
    fn value(self) -> u8 {
        match self {
            Self::Valid => 0,
            Self::Ended => 1,
            Self::Held => 2,
        }
    }

    fn of(value: u8) -> Option<Self> {
        [Self::Valid, Self::Ended, Self::Held].into_iter().find(|status| status.value() == value)
    }
}

/// The statuses of the badges 0, 1, 2 and so on, packed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Statuses(Vec<u8>);

impl Statuses {
    /// A list in which that many badges are valid.
    pub fn valid(badges: usize) -> Self {
        Self(vec![0; badges.div_ceil(PER_BYTE)])
    }

    /// Says what a badge is; one that lies beyond the list is left out, and the caller told so.
    pub fn set(&mut self, index: u64, status: Status) -> bool {
        let place = usize::try_from(index).unwrap_or(usize::MAX);
        let Some(byte) = self.0.get_mut(place / PER_BYTE) else { return false };
        // The first badge has the lowest bits of the first byte (draft, "Status List").
        let shift = place % PER_BYTE * usize::from(BITS);
        *byte = *byte & !(3 << shift) | status.value() << shift;
        true
    }

    /// The packed bytes.
    pub fn bytes(&self) -> &[u8] {
        &self.0
    }

    /// The bytes as a list carries them: zlib at its highest level. Takes a while for a large list, so keep it off
    /// an async thread.
    ///
    /// # Errors
    /// [`TokenError::Sign`] if the compressor fails, which it has no reason to.
    pub fn compressed(&self) -> Result<Vec<u8>, TokenError> {
        let mut encoder = ZlibEncoder::new(Vec::new(), Compression::best());
        encoder.write_all(&self.0).and_then(|()| encoder.finish()).map_err(|_| TokenError::Sign)
    }
}

#[derive(Serialize, Deserialize)]
struct Wire {
    bits: u8,
    lst: String,
}

#[derive(Serialize, Deserialize)]
struct Claims {
    sub: String,
    #[serde(with = "ts_seconds")]
    iat: DateTime<Utc>,
    #[serde(default, with = "ts_seconds_option", skip_serializing_if = "Option::is_none")]
    exp: Option<DateTime<Utc>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    ttl: Option<u64>,
    status_list: Wire,
}

/// What a list says of itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Terms {
    /// Its own address.
    pub subject: String,
    /// When it was made; whole seconds.
    pub issued_at: DateTime<Utc>,
    /// From when on it is not to be used.
    pub expires_at: Option<DateTime<Utc>>,
    /// After how many seconds whoever can should ask for a newer one.
    pub ttl_seconds: Option<u64>,
}

/// Signs a list of compressed statuses.
///
/// # Errors
/// [`TokenError::Sign`] if signing fails.
pub fn sign(terms: &Terms, compressed: &[u8], key: &SigningKey) -> Result<String, TokenError> {
    let claims = Claims {
        sub: terms.subject.clone(),
        iat: terms.issued_at,
        exp: terms.expires_at,
        ttl: terms.ttl_seconds,
        status_list: Wire { bits: BITS, lst: URL_SAFE_NO_PAD.encode(compressed) },
    };
    let payload = serde_json::to_vec(&claims).map_err(|_| TokenError::Sign)?;
    jws::sign(Some(TYPE), &payload, key).ok_or(TokenError::Sign)
}

/// A list that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StatusList {
    /// What it says of itself.
    pub terms: Terms,
    bits: u8,
    bytes: Vec<u8>,
}

/// Why a list was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum StatusListError {
    /// It is no status list, or none that a key of the ring signed.
    #[error(transparent)]
    Token(#[from] TokenError),
    /// It is the list of another issuer.
    #[error("the status list is that of {0:?}")]
    Subject(String),
    /// It was made to be used until then.
    #[error("the status list was not to be used from {0} on")]
    Expired(DateTime<Utc>),
}

/// Reads the list of an issuer at the moment `at`.
///
/// # Errors
/// [`StatusListError`]; how old a list may be is the caller's to judge, by [`Terms::issued_at`].
pub fn read(
    ring: &KeyRing,
    token: &str,
    issuer: &str,
    at: DateTime<Utc>,
) -> Result<StatusList, StatusListError> {
    if token.len() > TOKEN_LENGTH_MAX {
        return Err(TokenError::Malformed.into());
    }
    let payload = jws::open(ring, Some(TYPE), token)?;
    let claims: Claims = serde_json::from_slice(&payload).map_err(|_| TokenError::Malformed)?;
    if !claims.sub.ends_with(&path(issuer)) {
        return Err(StatusListError::Subject(claims.sub));
    }
    if let Some(expired) = claims.exp.filter(|exp| *exp <= at) {
        return Err(StatusListError::Expired(expired));
    }
    let Wire { bits, lst } = claims.status_list;
    let bytes = inflated(&lst).filter(|_| [1, 2, 4, 8].contains(&bits)).ok_or(TokenError::Malformed)?;
    let terms =
        Terms { subject: claims.sub, issued_at: claims.iat, expires_at: claims.exp, ttl_seconds: claims.ttl };
    Ok(StatusList { terms, bits, bytes })
}

/// The bytes behind `lst`: canonical base64url, one whole zlib stream, and nothing after it.
fn inflated(lst: &str) -> Option<Vec<u8>> {
    let compressed = URL_SAFE_NO_PAD.decode(lst).ok()?;
    let mut bytes = Vec::new();
    let mut decoder = ZlibDecoder::new(&*compressed).take(LIST_LENGTH_MAX + 1);
    decoder.read_to_end(&mut bytes).ok()?;
    let whole = decoder.into_inner().total_in() == compressed.len() as u64;
    (whole && bytes.len() as u64 <= LIST_LENGTH_MAX).then_some(bytes)
}

impl StatusList {
    /// The value stored for a badge, whatever it means; none where the list does not reach so far.
    pub fn value(&self, index: u64) -> Option<u8> {
        let per_byte = 8 / u64::from(self.bits);
        let byte = self.bytes.get(usize::try_from(index / per_byte).ok()?)?;
        let shift = index % per_byte * u64::from(self.bits);
        // In sixteen bits, for eight of them may be meant.
        let mask = (1_u16 << self.bits) - 1;
        Some((u16::from(*byte) >> shift & mask) as u8)
    }

    /// What the list says of a badge; none where it does not reach so far or uses a word that is not known here, and
    /// then nobody can tell what the badge is worth.
    pub fn status(&self, index: u64) -> Option<Status> {
        Status::of(self.value(index)?)
    }
}
