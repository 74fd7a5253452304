//! Making a pack from what the server knows.

use std::collections::BTreeMap;

use aws_lc_rs::digest::{SHA256, digest};
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use chrono::{DateTime, Utc};
use sellion_rules::clearance::ClearanceState;
use sellion_rules::policy::PolicyVersion;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use uuid::Uuid;

use super::{BadgeColumns, PackError, PackRespirator, TYP, columns::deflate};
use crate::jws;
use crate::keys::{KeyRing, SigningKey};

/// How the clearance stands of the person who has the badge with this index.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Clearance {
    /// The badge's index in the status list.
    pub index: usize,
    /// The place of the respirator in the draft's list.
    pub respirator: usize,
    /// Cleared or held; any other state clears nobody and is left out.
    pub state: ClearanceState,
    /// Since when it holds.
    pub valid_from: DateTime<Utc>,
    /// The first moment at which it no longer holds.
    pub valid_until: DateTime<Utc>,
}

/// What a pack is made of.
#[derive(Debug)]
pub struct Draft<'a> {
    /// The site's short name, as on its badges.
    pub issuer: String,
    /// The gate.
    pub gate: Uuid,
    /// What people call it.
    pub gate_name: String,
    /// The site's time zone, by its IANA name.
    pub zone: String,
    /// The server's clock just before all this was read.
    pub issued_at: DateTime<Utc>,
    /// The keys that are accepted.
    pub keys: &'a KeyRing,
    /// The signed status list of the site.
    pub status_list: String,
    /// The version of the policy that is in force, and those to come.
    pub policies: Vec<PolicyVersion>,
    /// The respirators that these accept.
    pub respirators: Vec<PackRespirator>,
    /// Every badge of the site.
    pub badges: &'a BadgeColumns,
    /// Clearances for those respirators that hold, are held or will be.
    pub clearances: Vec<Clearance>,
    /// After how many days a badge that nobody hands over opens no gate; none where the site lets it in.
    pub unclaimed_after_days: Option<u32>,
}

/// A signed pack.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Made {
    /// The compact JWS.
    pub text: String,
    /// The digest of what it says, the same for every pack that says the same.
    pub content: String,
}

/// The state of a clearance and its span in microseconds since 1970; no first moment where it is over already.
pub(super) type Span = (ClearanceState, Option<i64>, i64);

/// The payload, as it is signed.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Claims {
    pub(super) iss: String,
    pub(super) sub: Uuid,
    pub(super) iat: i64,
    pub(super) content: String,
    pub(super) gate: String,
    pub(super) zone: String,
    pub(super) jwks: Value,
    pub(super) status_list: String,
    pub(super) policies: Vec<PolicyVersion>,
    pub(super) respirators: Vec<PackRespirator>,
    pub(super) badges: BadgeColumns,
    pub(super) spans: Vec<Span>,
    /// One column for each respirator: the number of the span, from 1, in `span_bytes` bytes, high first; 0 for none.
    pub(super) clearances: Vec<String>,
    pub(super) span_bytes: usize,
    /// For badges that are younger than the pack.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) unclaimed_after_days: Option<u32>,
}

impl Draft<'_> {
    /// Signs the pack. A status list that says the same in other words (signed at another moment) is no other content:
    /// `statuses` is what it says.
    ///
    /// # Errors
    /// [`PackError::Sign`] if the crypto library cannot sign.
    pub fn sign(self, statuses: &[u8], key: &SigningKey) -> Result<Made, PackError> {
        let (spans, span_bytes, clearances) = self.spans();
        let mut claims = Claims {
            iss: self.issuer,
            sub: self.gate,
            iat: 0,
            content: String::new(),
            gate: self.gate_name,
            zone: self.zone,
            jwks: self.keys.to_jwks(),
            status_list: URL_SAFE_NO_PAD.encode(digest(&SHA256, statuses)),
            policies: self.policies,
            respirators: self.respirators,
            badges: self.badges.clone(),
            spans,
            clearances,
            span_bytes,
            unclaimed_after_days: self.unclaimed_after_days,
        };
        let bytes = serde_json::to_vec(&claims).map_err(|_| PackError::Sign)?;
        claims.content = URL_SAFE_NO_PAD.encode(digest(&SHA256, &bytes));
        claims.iat = self.issued_at.timestamp();
        claims.status_list = self.status_list;
        let bytes = serde_json::to_vec(&claims).map_err(|_| PackError::Sign)?;
        let text = jws::sign(Some(TYP), &bytes, key).ok_or(PackError::Sign)?;
        Ok(Made { text, content: claims.content })
    }

    /// The different spans, and for each respirator the column of their numbers.
    fn spans(&self) -> (Vec<Span>, usize, Vec<String>) {
        let counted = |clearance: &&Clearance| {
            clearance.state != ClearanceState::NotCleared
                && clearance.index < self.badges.count()
                && clearance.respirator < self.respirators.len()
                && clearance.valid_until > self.issued_at
        };
        let kept: Vec<&Clearance> = self.clearances.iter().filter(counted).collect();
        // Ordered, so that the same knowledge makes the same bytes.
        let mut numbers: BTreeMap<(bool, Option<i64>, i64), usize> = BTreeMap::new();
        for clearance in &kept {
            numbers.insert(self.key(clearance), 0);
        }
        for (number, place) in (1..).zip(numbers.values_mut()) {
            *place = number;
        }
        let width = if numbers.len() < usize::from(u16::MAX) { 2 } else { 4 };
        let mut columns = vec![vec![0; self.badges.count() * width]; self.respirators.len()];
        for clearance in kept {
            let number = numbers[&self.key(clearance)].to_be_bytes();
            let place = &mut columns[clearance.respirator][clearance.index * width..][..width];
            place.copy_from_slice(&number[number.len() - width..]);
        }
        let state = |held| if held { ClearanceState::Held } else { ClearanceState::Cleared };
        let spans = numbers.into_keys().map(|(held, from, until)| (state(held), from, until)).collect();
        (spans, width, columns.iter().map(|column| deflate(column)).collect())
    }

    /// Since when something holds matters only where that is still to come: a gate answers for the time after.
    fn key(&self, clearance: &Clearance) -> (bool, Option<i64>, i64) {
        let from = clearance.valid_from;
        let from = (from > self.issued_at).then(|| from.timestamp_micros());
        (clearance.state == ClearanceState::Held, from, clearance.valid_until.timestamp_micros())
    }
}
