//! The signed badge: an ES256 JWT with few and short claims, since every byte makes the printed code denser.
//!
//! Header: `{"alg":"ES256","kid":"…"}` and nothing else. A badge has no `typ`; every other kind of token an
//! issuer signs must have one, so none of them passes for a badge. Payload:
//!
//! | claim | holds |
//! |---|---|
//! | `iss` | issuer, 1 to 64 characters |
//! | `jti` | badge serial, ten characters |
//! | `iat` | issued, seconds since 1970-01-01T00:00:00Z |
//! | `exp` | ends, the same; not accepted on or after it (RFC 7519 section 4.1.4) |
//! | `sti` | index of the badge in its issuer's status list |
//! | `rsp` | respirators cleared, one to four: pairs of short code and due date as the number yyyymmdd |
//!
//! A payload with any other claim is refused.
//! No staff number, birth date or medical word is in it, and there is no claim to put one in.

use chrono::serde::ts_seconds;
use chrono::{DateTime, Datelike as _, NaiveDate, Utc};
use sellion_rules::badge::RESPIRATORS_MAX;
use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error as _};

use crate::jws;
use crate::keys::{KeyRing, SigningKey};
use crate::serial::Serial;

const ISSUER_LENGTH_MAX: usize = 64;
const RESPIRATOR_CODE_LENGTH_MAX: usize = 22;
/// Longest token that is looked at: above the longest that [`crate::code::pack`] accepts.
const JWT_LENGTH_MAX: usize = 1024;
/// The year in which numeric dates end here: a badge of a later one is a mistake.
const YEAR_MAX: i32 = 9999;

/// What a badge says, signed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BadgeClaims {
    /// Who issued the badge: the site's short name or address, 1 to 64 characters.
    #[serde(rename = "iss")]
    pub issuer: String,
    /// The badge's serial.
    #[serde(rename = "jti")]
    pub serial: Serial,
    /// When it was issued; whole seconds.
    #[serde(rename = "iat", with = "ts_seconds")]
    pub issued_at: DateTime<Utc>,
    /// From when on it is not accepted; whole seconds.
    #[serde(rename = "exp", with = "ts_seconds")]
    pub expires_at: DateTime<Utc>,
    /// Its place in the issuer's status list.
    #[serde(rename = "sti")]
    pub status_index: u64,
    /// The respirators the person was cleared for when it was issued, one to [`RESPIRATORS_MAX`].
    #[serde(rename = "rsp")]
    pub respirators: Vec<ClearedRespirator>,
}

/// One respirator on a badge. In JSON the pair `["code", yyyymmdd]`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ClearedRespirator {
    /// The site's short code of make, model, style and size: 1 to 22 of `A-Z a-z 0-9 - _`.
    pub code: String,
    /// The last day the clearance covers.
    pub due_on: NaiveDate,
}

/// Why a token was refused, or could not be made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TokenError {
    /// Not a compact JWS in canonical base64url, or its header or claims are not those of its kind.
    #[error("this is not a token of the expected kind")]
    Malformed,
    /// Its header names another algorithm than ES256.
    #[error("the token is not signed with ES256")]
    WrongAlgorithm,
    /// Its key is not in the ring.
    #[error("the token is signed with an unknown key")]
    UnknownKey,
    /// The signature does not fit: altered, or signed by another key under our key's name.
    #[error("the signature of the token is not right")]
    BadSignature,
    /// Genuine, but the moment of the check is at or after its end.
    #[error("the badge ended at {}", .0.expires_at)]
    Expired(Box<BadgeClaims>),
    /// Claims that may not be issued; says which.
    #[error("a badge cannot be issued: {0}")]
    Claims(&'static str),
    /// The crypto library could not sign.
    #[error("the badge could not be signed")]
    Sign,
}

/// Signs a badge.
///
/// # Errors
/// [`TokenError::Claims`] if a claim breaks its limits, [`TokenError::Sign`] if signing fails.
pub fn sign(claims: &BadgeClaims, key: &SigningKey) -> Result<String, TokenError> {
    check(claims).map_err(TokenError::Claims)?;
    let payload = serde_json::to_vec(claims).map_err(|_| TokenError::Sign)?;
    jws::sign(None, &payload, key).ok_or(TokenError::Sign)
}

/// Verifies a token at the moment `at`. Whether the badge was ended or held, and what its respirators are
/// worth at a gate, is asked elsewhere.
///
/// # Errors
/// [`TokenError`]; [`TokenError::Expired`] carries the genuine claims.
pub fn verify(ring: &KeyRing, jwt: &str, at: DateTime<Utc>) -> Result<BadgeClaims, TokenError> {
    if jwt.len() > JWT_LENGTH_MAX {
        return Err(TokenError::Malformed);
    }
    let payload = jws::open(ring, None, jwt)?;
    let claims: BadgeClaims = serde_json::from_slice(&payload).map_err(|_| TokenError::Malformed)?;
    check(&claims).map_err(|_| TokenError::Malformed)?;
    if claims.expires_at <= at {
        return Err(TokenError::Expired(Box::new(claims)));
    }
    Ok(claims)
}

/// The limits of the claims, the same for issuing and accepting.
fn check(claims: &BadgeClaims) -> Result<(), &'static str> {
    let issuer_length = claims.issuer.chars().count();
    if !(1..=ISSUER_LENGTH_MAX).contains(&issuer_length) {
        return Err("the issuer has 1 to 64 characters");
    }
    if claims.expires_at <= claims.issued_at {
        return Err("it would end before it is issued");
    }
    if claims.issued_at.timestamp() < 0 || claims.expires_at.year() > YEAR_MAX {
        return Err("its times lie between the years 1970 and 9999");
    }
    if !(1..=RESPIRATORS_MAX).contains(&claims.respirators.len()) {
        return Err("a badge carries 1 to 4 respirators");
    }
    if claims.respirators.iter().any(|respirator| !is_respirator_code(&respirator.code)) {
        return Err("a respirator code has 1 to 22 letters, digits, - or _");
    }
    Ok(())
}

fn is_respirator_code(code: &str) -> bool {
    (1..=RESPIRATOR_CODE_LENGTH_MAX).contains(&code.len())
        && code.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-' || byte == b'_')
}

impl Serialize for ClearedRespirator {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let date = self.due_on;
        let number = i64::from(date.year()) * 10_000 + i64::from(date.month() * 100 + date.day());
        (&self.code, number).serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for ClearedRespirator {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let (code, number): (String, u32) = Deserialize::deserialize(deserializer)?;
        let year = i32::try_from(number / 10_000).map_err(D::Error::custom)?;
        let due_on = NaiveDate::from_ymd_opt(year, number / 100 % 100, number % 100)
            .ok_or_else(|| D::Error::custom("a due date is a day of the calendar as yyyymmdd"))?;
        Ok(Self { code, due_on })
    }
}
