//! Whom a gate will turn away at a moment ahead, and what would change that for each.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::{
    clearance::{Clearance, ClearanceReason, ClearanceState},
    gate::GatePolicy,
};

/// One person's clearances at a moment, by respirator.
pub type Clearances = [(Uuid, Clearance)];

/// What a moment ahead brings for one person at one gate.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Outlook {
    /// Whether the person may go in now.
    pub enters_now: bool,
    /// Whether the person may go in then, as things stand.
    pub enters_then: bool,
    /// Respirators the person is cleared for then, which the gate does not accept: another gate may.
    pub cleared_for: Vec<Uuid>,
    /// Accepted respirators that a passed test would help with: those passed before, then those never tried, then those
    /// failed last; in each the preferred one first.
    pub retest_on: Vec<Uuid>,
    /// Whether a clinician's permission is missing then: without it no test is conducted.
    pub needs_permission: bool,
}

/// What the moment brings. Whoever carries no badge in force is turned away by that, and is not told here.
pub fn outlook(now: (Option<&GatePolicy>, &Clearances), then: (Option<&GatePolicy>, &Clearances)) -> Outlook {
    let (policy, clearances) = then;
    let enters_then = enters(policy, clearances);
    let accepted = policy.map(|policy| policy.accepted_respirators.as_slice()).unwrap_or_default();
    let cleared = |(_, clearance): &&(Uuid, Clearance)| clearance.state == ClearanceState::Cleared;
    let not_accepted = |(respirator, _): &&(Uuid, Clearance)| !accepted.contains(respirator);
    let outlook = Outlook {
        enters_now: enters(now.0, now.1),
        enters_then,
        cleared_for: Vec::new(),
        retest_on: Vec::new(),
        needs_permission: false,
    };
    if enters_then {
        return outlook;
    }
    let mut retest_on = accepted.to_vec();
    retest_on.sort_by_key(|respirator| rank(*respirator, clearances));
    let no_permission =
        |(_, clearance): &(Uuid, Clearance)| clearance.reasons.contains(&ClearanceReason::NoPermission);
    Outlook {
        cleared_for: clearances.iter().filter(cleared).filter(not_accepted).map(|(id, _)| *id).collect(),
        retest_on,
        needs_permission: clearances.iter().any(no_permission),
        ..outlook
    }
}

fn enters(policy: Option<&GatePolicy>, clearances: &Clearances) -> bool {
    let Some(policy) = policy else { return false };
    policy.none_needed
        || clearances.iter().any(|(respirator, clearance)| {
            clearance.state == ClearanceState::Cleared && policy.accepted_respirators.contains(respirator)
        })
}

/// A face that a respirator fitted once is the likeliest to pass on it again; one that it did not fit, the least.
fn rank(respirator: Uuid, clearances: &Clearances) -> u8 {
    let found = clearances.iter().find(|(id, _)| *id == respirator);
    match found {
        None => 1,
        Some((_, clearance)) if clearance.reasons.contains(&ClearanceReason::NeverTested) => 1,
        Some((_, clearance)) if clearance.reasons.contains(&ClearanceReason::NewestIsFail) => 2,
        Some(_) => 0,
    }
}
