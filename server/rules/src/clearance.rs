//! Clearance: what follows from attempts, permission, dates and lot stops. Computed, never typed.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::attempt::Outcome;
use crate::permission::PermissionFact;
use crate::ruleset::RuleSet;
use crate::text_enum::text_enum;

text_enum! {
    /// Whether a person is cleared for one respirator.
    pub enum ClearanceState {
        /// Cleared.
        Cleared = "cleared",
        /// The result it would stand on is in doubt.
        Held = "held",
        /// Not cleared.
        NotCleared = "not_cleared",
    }
}

text_enum! {
    /// Why a person is not cleared, or only held.
    pub enum ClearanceReason {
        /// No attempt that counts.
        NeverTested = "never_tested",
        /// The newest attempt that counts is a fail.
        NewestIsFail = "newest_is_fail",
        /// The due day has passed.
        Overdue = "overdue",
        /// No permission is in force.
        NoPermission = "no_permission",
        /// The pass was made with a lot that is stopped.
        LotStopped = "lot_stopped",
        /// The person has left.
        PersonInactive = "person_inactive",
        /// A taste test cannot clear this respirator for its use.
        MethodNotAllowed = "method_not_allowed",
    }
}

/// A stop of a lot that an attempt stands on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LotStopFact {
    /// When the stop was stored.
    pub recorded_at: DateTime<Utc>,
    /// When its release was stored, if it was released.
    pub released_recorded_at: Option<DateTime<Utc>>,
}

/// One ended attempt of the person on the respirator.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AttemptResult {
    /// The attempt.
    pub id: Uuid,
    /// How it ended.
    pub outcome: Outcome,
    /// The first dose, whose local day is the day of the test; none when it ended before one.
    pub testing_started_at: Option<DateTime<Utc>>,
    /// When it ended.
    pub ended_at: DateTime<Utc>,
    /// When its end was stored.
    pub recorded_at: DateTime<Utc>,
    /// When a correction took it away, if one did.
    pub corrected_recorded_at: Option<DateTime<Utc>>,
    /// Stops of the lots of its fills.
    pub lot_stops: Vec<LotStopFact>,
}

/// The person's last day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LeavingFact {
    /// The last day the person belongs to the site.
    pub last_day: NaiveDate,
    /// When that was stored.
    pub recorded_at: DateTime<Utc>,
}

/// Everything that bears on one person and one respirator.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PersonRespiratorFacts {
    /// Ended attempts of this person on this very make, model, style and size.
    pub attempts: Vec<AttemptResult>,
    /// Every decision about the person.
    pub permissions: Vec<PermissionFact>,
    /// When the person leaves, if that is known.
    pub leaving: Option<LeavingFact>,
    /// The fit factor this respirator's use asks for; 100 for a half facepiece.
    pub required_fit_factor: u32,
}

/// What follows.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Clearance {
    /// Cleared, held or not.
    pub state: ClearanceState,
    /// The attempt it stands on: the pass, the doubtful pass, or the fail that ended it.
    pub basis_attempt: Option<Uuid>,
    /// The local day of that attempt.
    pub tested_on: Option<NaiveDate>,
    /// The last covered day, by the rule set's reading.
    pub due_on: Option<NaiveDate>,
    /// The last covered day by the calendar.
    pub due_anniversary: Option<NaiveDate>,
    /// The last covered day by counting days.
    pub due_strict: Option<NaiveDate>,
    /// Since when it holds.
    pub valid_from: Option<DateTime<Utc>>,
    /// The first moment at which it no longer holds: due day, permission or leaving, whichever ends first.
    pub valid_until: Option<DateTime<Utc>>,
    /// Why not, when it is not `cleared`; in a fixed order.
    pub reasons: Vec<ClearanceReason>,
}

/// The clearance at the moment `at`, as known at the moment `known_at`.
pub fn clearance(
    facts: &PersonRespiratorFacts,
    rules: &RuleSet,
    tz: Tz,
    at: DateTime<Utc>,
    known_at: DateTime<Utc>,
) -> Clearance {
    let _ = (facts, rules, tz, at, known_at);
    Clearance {
        state: ClearanceState::NotCleared,
        basis_attempt: None,
        tested_on: None,
        due_on: None,
        due_anniversary: None,
        due_strict: None,
        valid_from: None,
        valid_until: None,
        reasons: vec![ClearanceReason::NeverTested],
    }
}
