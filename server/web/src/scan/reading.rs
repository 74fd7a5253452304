//! From what a gate read to a serial: by the processor alone, without the database.

use sellion_badge::{Serial, TokenError, code, token};
use sellion_rules::gate::NotOurs;
use sellion_store::{StoreError, scan::Reading};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use chrono::{DateTime, Utc};

use crate::{keys::Ring, state::State};

/// What was sent: the text of a code, or a serial that somebody typed.
#[derive(Debug, Clone)]
pub(super) enum Read {
    Code(String),
    Typed(String),
}

impl Read {
    /// SHA-256 of what was read.
    pub(super) fn digest(&self) -> [u8; 32] {
        let (Self::Code(text) | Self::Typed(text)) = self;
        Sha256::digest(text.as_bytes()).into()
    }
}

/// What was read, checked against the keys of the site.
pub(super) async fn check(
    state: &State,
    site_id: Uuid,
    read: &Read,
    at: DateTime<Utc>,
) -> Result<Reading, StoreError> {
    let text = match read {
        Read::Code(text) => text,
        Read::Typed(text) => {
            return Ok(Serial::parse(text).map_or(Reading::NotOurs(NotOurs::CodeUnreadable), |serial| {
                Reading::Serial(serial.compact())
            }));
        }
    };
    let digest = read.digest();
    let mut ring = state.keys.ring(&state.store, site_id).await?;
    if let Some(serial) = state.known_codes.serial(site_id, &digest, &ring.names) {
        return Ok(Reading::Serial(serial.compact()));
    }
    let Ok(jwt) = code::unpack(text) else {
        return Ok(Reading::NotOurs(NotOurs::CodeUnreadable));
    };
    let mut verified = verify(&ring, &jwt, at);
    if verified == Err(TokenError::UnknownKey) {
        ring = state.keys.newer_ring(&state.store, site_id).await?;
        verified = verify(&ring, &jwt, at);
    }
    match verified {
        Ok(serial) => {
            state.known_codes.remember(site_id, digest, serial, ring.names);
            Ok(Reading::Serial(serial.compact()))
        }
        Err(TokenError::Malformed) => Ok(Reading::NotOurs(NotOurs::CodeUnreadable)),
        Err(_) => Ok(Reading::NotOurs(NotOurs::WrongSignature)),
    }
}

/// A tenth of a millisecond: short enough to be done where it is asked.
fn verify(ring: &Ring, jwt: &str, at: DateTime<Utc>) -> Result<Serial, TokenError> {
    match token::verify(&ring.keys, jwt, at) {
        Ok(claims) => Ok(claims.serial),
        // Genuine, and over: the stored badge says the same, and the rules have a word for it.
        Err(TokenError::Expired(claims)) => Ok(claims.serial),
        Err(error) => Err(error),
    }
}
