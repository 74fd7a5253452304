//! From what a gate read to a serial: by the processor alone, without the database.

use sellion_badge::{
    Read, Serial, TokenError,
    reading::{genuine, not_ours},
};
use sellion_rules::gate::NotOurs;
use sellion_store::{StoreError, scan::Reading};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use chrono::{DateTime, Utc};

use crate::state::State;

/// SHA-256 of what was read.
pub(super) fn digest(read: &Read) -> [u8; 32] {
    Sha256::digest(read.text().as_bytes()).into()
}

/// What was read, checked against the keys of the site.
pub(crate) async fn check(
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
    let digest = digest(read);
    let mut ring = state.keys.ring(&state.store, site_id).await?;
    if let Some(serial) = state.known_codes.serial(site_id, &digest, &ring.names) {
        return Ok(Reading::Serial(serial.compact()));
    }
    let mut checked = genuine(&ring.keys, text, at);
    if checked == Err(TokenError::UnknownKey) {
        ring = state.keys.newer_ring(&state.store, site_id).await?;
        checked = genuine(&ring.keys, text, at);
    }
    // A tenth of a millisecond: short enough to be done where it is asked.
    match checked {
        Ok(claims) => {
            state.known_codes.remember(site_id, digest, claims.serial, ring.names);
            Ok(Reading::Serial(claims.serial.compact()))
        }
        Err(error) => Ok(Reading::NotOurs(not_ours(&error))),
    }
}
