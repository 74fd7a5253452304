//! The word of the server that a pack still says what is known: so that a pack in which nothing changed need not be
//! sent again to stay young.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::PackError;
use crate::jws;
use crate::keys::{KeyRing, SigningKey};

/// The kind of document, in its header.
pub const CURRENT_TYP: &str = "sellion-gate-pack-current+jwt";

/// That the pack with this content was current at a gate at a moment. Signed like the pack.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Current {
    /// The gate.
    #[serde(rename = "sub")]
    pub gate: Uuid,
    /// The digest of what the pack says.
    pub content: String,
    /// The server's clock then; whole seconds.
    #[serde(rename = "iat", with = "chrono::serde::ts_seconds")]
    pub at: DateTime<Utc>,
}

impl Current {
    /// The signed text.
    ///
    /// # Errors
    /// [`PackError::Sign`] if the crypto library cannot sign.
    pub fn sign(&self, key: &SigningKey) -> Result<String, PackError> {
        let bytes = serde_json::to_vec(self).map_err(|_| PackError::Sign)?;
        jws::sign(Some(CURRENT_TYP), &bytes, key).ok_or(PackError::Sign)
    }

    /// What a signed text says.
    ///
    /// # Errors
    /// [`PackError`] if it is none of ours or was altered.
    pub fn open(ring: &KeyRing, text: &str) -> Result<Self, PackError> {
        let bytes = jws::open(ring, Some(CURRENT_TYP), text)?;
        serde_json::from_slice(&bytes).map_err(|_| PackError::Content("a confirmation"))
    }
}
