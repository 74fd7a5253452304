//! A pack that was opened: its signature was right, and its columns wait to be asked.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use sellion_rules::clearance::ClearanceState;
use sellion_rules::gate::{ClearanceFact, GatePolicy};
use sellion_rules::policy::{Listed, PolicyVersion, in_force};
use uuid::Uuid;

use super::columns::{BADGES_MAX, Column, Opened};
use super::make::Claims;
use super::{PackError, PackRespirator, TYP};
use crate::jws;
use crate::keys::KeyRing;

/// The longest text that is looked at: a pack of four million badges is shorter.
const TEXT_MAX: usize = 256 << 20;
/// Respirators of one gate at most.
const RESPIRATORS_MAX: usize = 1_000;

/// A genuine pack.
#[derive(Debug)]
pub struct Pack {
    pub(super) claims: Claims,
    pub(super) ring: KeyRing,
    pub(super) zone: Tz,
    pub(super) columns: Opened,
    listed: Vec<Listed>,
    clearances: Vec<Column>,
}

impl Pack {
    /// Opens a pack whose signature a key of `ring` made.
    ///
    /// # Errors
    /// [`PackError`] if it is none, was altered, is cut short, or is signed with a key that is not accepted.
    pub fn open(ring: &KeyRing, text: &str) -> Result<Self, PackError> {
        if text.len() > TEXT_MAX {
            return Err(PackError::Content("more than any pack holds, which"));
        }
        let bytes = jws::open(ring, Some(TYP), text)?;
        let claims: Claims = serde_json::from_slice(&bytes).map_err(|_| PackError::Content("claims"))?;
        let bounded = claims.badges.count() <= BADGES_MAX
            && claims.respirators.len() <= RESPIRATORS_MAX
            && claims.clearances.len() == claims.respirators.len()
            && matches!(claims.span_bytes, 2 | 4)
            && DateTime::from_timestamp(claims.iat, 0).is_some();
        if !bounded {
            return Err(PackError::Content("columns"));
        }
        let zone = claims.zone.parse().map_err(|_| PackError::Content("a time zone"))?;
        let ring = KeyRing::from_jwks(&claims.jwks.to_string())?;
        let clearances = claims.clearances.iter().map(|_| Column::default()).collect();
        let listed = claims.respirators.iter().map(|respirator| respirator.listed.clone()).collect();
        let columns = Opened::default();
        Ok(Self { claims, ring, zone, columns, listed, clearances })
    }

    /// The gate it is for.
    pub fn gate(&self) -> Uuid {
        self.claims.sub
    }

    /// What people call the gate.
    pub fn gate_name(&self) -> &str {
        &self.claims.gate
    }

    /// The server's clock when it was made.
    pub fn issued_at(&self) -> DateTime<Utc> {
        DateTime::from_timestamp(self.claims.iat, 0).unwrap_or_default()
    }

    /// The digest of what it says.
    pub fn content(&self) -> &str {
        &self.claims.content
    }

    /// The keys it trusts from here on.
    pub fn keys(&self) -> &KeyRing {
        &self.ring
    }

    /// How many badges it knows.
    pub fn badges(&self) -> usize {
        self.claims.badges.count()
    }

    /// The version of the policy that is in force at a moment.
    pub fn version(&self, at: DateTime<Utc>) -> Option<&PolicyVersion> {
        in_force(&self.claims.policies, at)
    }

    /// What the policy in force comes to at a moment.
    pub fn policy(&self, at: DateTime<Utc>) -> Option<GatePolicy> {
        self.version(at)?.at(at, &self.listed)
    }

    /// The version that comes next after a moment, when one is known.
    pub fn coming(&self, at: DateTime<Utc>) -> Option<&PolicyVersion> {
        let next = self.claims.policies.iter().filter(|version| version.effective_from > at);
        let next = next.map(|version| version.effective_from).min()?;
        in_force(&self.claims.policies, next)
    }

    /// The respirators that its policies accept.
    pub fn respirators(&self) -> &[PackRespirator] {
        &self.claims.respirators
    }

    /// The words for a respirator.
    pub fn respirator(&self, id: Uuid) -> Option<&PackRespirator> {
        self.claims.respirators.iter().find(|respirator| respirator.listed.respirator == id)
    }

    /// What is known about the clearances of the badge with this index, for the respirators of a policy.
    pub(super) fn clearances(
        &self,
        index: usize,
        policy: Option<&GatePolicy>,
    ) -> Result<Vec<ClearanceFact>, PackError> {
        let mut found = Vec::new();
        for id in policy.iter().flat_map(|policy| &policy.accepted_respirators) {
            let place = self.listed.iter().position(|listed| listed.respirator == *id);
            let place = place.ok_or(PackError::Content("a respirator"))?;
            found.extend(self.clearance(index, place, *id)?);
        }
        Ok(found)
    }

    fn clearance(&self, index: usize, place: usize, id: Uuid) -> Result<Option<ClearanceFact>, PackError> {
        let width = self.claims.span_bytes;
        let text = &self.claims.clearances[place];
        let column = self.clearances[place].deflated(text, self.claims.badges.count() * width)?;
        let bytes = column.get(index * width..(index + 1) * width).unwrap_or_default();
        let number = bytes.iter().fold(0, |number, byte| number << 8 | usize::from(*byte));
        let Some(span) = number.checked_sub(1) else { return Ok(None) };
        let (state, from, until) = *self.claims.spans.get(span).ok_or(PackError::Content("a span"))?;
        let moment = DateTime::from_timestamp_micros;
        Ok(Some(ClearanceFact {
            respirator: id,
            state,
            valid_from: Some(from.map_or(DateTime::<Utc>::MIN_UTC, |from| moment(from).unwrap_or_default())),
            valid_until: moment(until).filter(|_| state != ClearanceState::NotCleared),
        }))
    }
}
