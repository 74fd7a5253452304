//! The day: what a station can do, where a visit stands, and what keeps a checked-in person from being tested.

use chrono::{DateTime, NaiveDate, Utc};

use crate::dates::seconds_after;
use crate::permission::{self, PermissionFact};
use crate::ruleset::RuleSet;
use crate::text_enum::text_enum;

text_enum! {
    /// What a station can do.
    pub enum StationPart {
        /// Check people in.
        CheckIn = "check_in",
        /// Screen for what the wearer notices.
        Screening = "screening",
        /// Test respirators by what the wearer notices.
        Testing = "testing",
        /// Measure fit factors.
        Measuring = "measuring",
        /// Print and hand out badges.
        Badges = "badges",
    }
}

text_enum! {
    /// Where a visit stands.
    pub enum VisitStep {
        /// Waits for, or is in, a screening.
        Screening = "screening",
        /// Waits for, or is in, an attempt.
        Testing = "testing",
        /// Waits for, or is in, an attempt that measures the fit factor.
        Measuring = "measuring",
        /// Was referred to another kind of test.
        Referred = "referred",
        /// Has passed.
        Done = "done",
    }
}

impl VisitStep {
    /// The part a station must have to take a visit at this step; none when no station is waited for.
    pub const fn part(self) -> Option<StationPart> {
        match self {
            Self::Screening => Some(StationPart::Screening),
            Self::Testing => Some(StationPart::Testing),
            Self::Measuring => Some(StationPart::Measuring),
            Self::Referred | Self::Done => None,
        }
    }
}

text_enum! {
    /// What keeps a checked-in person from being called. They keep their place meanwhile.
    pub enum Hold {
        /// No decision in force permits this person to wear a respirator.
        PermissionMissing = "permission_missing",
        /// A run was stopped because the person was unwell, and no decision is newer than that.
        StoppedNeedsClinician = "stopped_needs_clinician",
        /// Hair crosses the sealing surface (29 CFR 1910.134 App. A I.A.9).
        HairAtSeal = "hair_at_seal",
        /// The person does not feel well.
        NotWell = "not_well",
        /// The person has left.
        PersonLeft = "person_left",
    }
}

text_enum! {
    /// What the check-in desk tells the person.
    pub enum VisitVerdict {
        /// May be called at once.
        Ready = "ready",
        /// May be called from a later moment on.
        ReadyAt = "ready_at",
        /// May not be called until something changes.
        OnHold = "on_hold",
    }
}

text_enum! {
    /// Why a called person goes back into the queue.
    pub enum ReturnReason {
        /// Was called and did not come.
        NotThere = "not_there",
        /// Anything else.
        Other = "other",
    }
}

/// Seconds until somebody who did not come is called again (common practice, no source).
pub const RETURN_WAIT_SECONDS: u32 = 300;

/// What decides whether a checked-in person may be called.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HoldFacts {
    /// The local day of the visit.
    pub on: NaiveDate,
    /// Every decision about the person.
    pub permissions: Vec<PermissionFact>,
    /// The end of the newest run of the visit that was stopped because the person was unwell.
    pub stopped_at: Option<DateTime<Utc>>,
    /// Whether hair was seen at the sealing surface, by the newest answers.
    pub hair_at_seal: bool,
    /// Whether the person feels well, by the newest answers.
    pub feels_well: bool,
    /// The person's last day, when they have one.
    pub left_on: Option<NaiveDate>,
}

/// Everything that keeps the person from being called, in the order in which a desk settles it.
pub fn holds(facts: &HoldFacts) -> Vec<Hold> {
    let in_force = permission::in_force(&facts.permissions, facts.on);
    let outlived = |stopped_at| in_force.is_some_and(|permission| permission.happened_at <= stopped_at);
    let found = [
        (in_force.is_none(), Hold::PermissionMissing),
        (facts.stopped_at.is_some_and(outlived), Hold::StoppedNeedsClinician),
        (facts.hair_at_seal, Hold::HairAtSeal),
        (!facts.feels_well, Hold::NotWell),
        (facts.left_on.is_some_and(|last_day| last_day < facts.on), Hold::PersonLeft),
    ];
    found.into_iter().filter_map(|(holds, hold)| holds.then_some(hold)).collect()
}

/// The earliest moment a person may be called: the wait they are in, and the time after the last food, drink other
/// than plain water, smoke or gum (29 CFR 1910.134 App. A I.B.3(b)(1) and I.B.4(b)(1)).
pub fn ready_at(
    not_before: DateTime<Utc>,
    last_intake_at: Option<DateTime<Utc>>,
    rules: &RuleSet,
) -> DateTime<Utc> {
    let wait_seconds = rules.screening.no_intake_seconds;
    last_intake_at.map_or(not_before, |intake| seconds_after(intake, wait_seconds).max(not_before))
}

/// What to tell a person at `at`.
pub fn verdict(holds: &[Hold], ready_at: DateTime<Utc>, at: DateTime<Utc>) -> VisitVerdict {
    match holds {
        [] if ready_at <= at => VisitVerdict::Ready,
        [] => VisitVerdict::ReadyAt,
        _ => VisitVerdict::OnHold,
    }
}
