//! The answer at a gate: one of four words and what to do, from what is known and how old that knowledge is.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::clearance::ClearanceState;
use crate::text_enum::text_enum;

text_enum! {
    /// The only words a gate says.
    pub enum Answer {
        /// The person may go in with a respirator used here.
        Enter = "enter",
        /// The person has no clearance for the respirators used here.
        NotCleared = "not_cleared",
        /// Nobody can tell just now: knowledge is missing, too old, or in doubt.
        CannotConfirm = "cannot_confirm",
        /// The code is not ours, was altered, or its badge has ended.
        NotValid = "not_valid",
    }
}

text_enum! {
    /// Why the answer was given. Kept for those entitled; never shown at the gate.
    pub enum ScanReason {
        /// A clearance for an accepted respirator holds.
        Ok = "ok",
        /// The gate needs no respirator just now.
        PolicyNeedsNone = "policy_needs_none",
        /// What was read is no badge code.
        CodeUnreadable = "code_unreadable",
        /// The code looks like a badge but its signature does not hold.
        WrongSignature = "wrong_signature",
        /// The code or serial belongs to no badge that is known.
        UnknownBadge = "unknown_badge",
        /// The badge was ended.
        BadgeEnded = "badge_ended",
        /// A newer badge replaced it.
        BadgeReplaced = "badge_replaced",
        /// The badge ran out.
        BadgeExpired = "badge_expired",
        /// The badge is held while something is being looked into.
        BadgeHeld = "badge_held",
        /// The badge was not handed to its person in time, and the site lets nobody in with such a one.
        BadgeUnclaimed = "badge_unclaimed",
        /// No clearance for a respirator accepted here.
        PersonNotCleared = "person_not_cleared",
        /// The only clearance for a respirator accepted here is held.
        ClearanceHeld = "clearance_held",
        /// The gate's knowledge is older than its policy allows.
        KnowledgeTooOld = "knowledge_too_old",
        /// The gate's clock cannot be relied on.
        ClockInDoubt = "clock_in_doubt",
        /// The gate has no policy in force.
        NoPolicy = "no_policy",
    }
}

text_enum! {
    /// What the status of a badge is.
    pub enum BadgeStatus {
        /// It may be used.
        Valid = "valid",
        /// It was ended for good.
        Ended = "ended",
        /// It is held while something is being looked into.
        Held = "held",
        /// It was not handed to its person in time, and the site lets nobody in with such a one.
        Unclaimed = "unclaimed",
        /// A newer badge took its place.
        Replaced = "replaced",
    }
}

text_enum! {
    /// Why a scanned text is no badge of this site.
    pub enum NotOurs {
        /// What was read is no badge code.
        CodeUnreadable = "code_unreadable",
        /// The signature does not hold, or the key is not one of this site.
        WrongSignature = "wrong_signature",
        /// No such badge was ever issued here.
        UnknownBadge = "unknown_badge",
    }
}

/// What is known about the scanned badge.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BadgeFacts {
    /// Not one of this site's badges.
    NotOurs(NotOurs),
    /// One of this site's badges.
    Known {
        /// Its stored status.
        status: BadgeStatus,
        /// The moment from which it no longer holds.
        expires_at: DateTime<Utc>,
    },
}

/// What is known about the person's clearance for one respirator.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ClearanceFact {
    /// The respirator.
    pub respirator: Uuid,
    /// The state of the clearance.
    pub state: ClearanceState,
    /// Since when it holds; none where there is nothing to hold.
    pub valid_from: Option<DateTime<Utc>>,
    /// The first moment at which it no longer holds.
    pub valid_until: Option<DateTime<Utc>>,
}

impl ClearanceFact {
    fn holds(&self, at: DateTime<Utc>) -> bool {
        self.state == ClearanceState::Cleared && self.in_date(at)
    }

    fn is_held(&self, at: DateTime<Utc>) -> bool {
        self.state == ClearanceState::Held && self.in_date(at)
    }

    fn in_date(&self, at: DateTime<Utc>) -> bool {
        self.valid_from.is_some_and(|from| from <= at) && self.valid_until.is_some_and(|until| at < until)
    }
}

/// What a gate accepts, as in force at the moment of the scan.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct GatePolicy {
    /// Respirators used here, the preferred one first.
    pub accepted_respirators: Vec<Uuid>,
    /// Whether no respirator is needed here just now.
    pub none_needed: bool,
    /// The greatest age of knowledge, in seconds, on which the gate may still say "enter".
    pub max_knowledge_age_seconds: u32,
    /// What to do when nobody can tell, in the site's own words.
    pub fallback: String,
}

/// The answer, what to do, and what stays behind the desk.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct GateDecision {
    /// The word.
    pub answer: Answer,
    /// What to do, in plain words that give no reason away.
    pub instruction: String,
    /// Why; not for the gate.
    pub reason: ScanReason,
    /// The accepted respirator the person is cleared for, when the answer rests on one.
    pub respirator: Option<Uuid>,
}

/// The answer for one scan.
///
/// The order matters. A code that is not ours, or a badge that has ended, is `not_valid` however old the knowledge
/// is, since neither heals with time. Without a policy, or with knowledge older than it allows, nothing else is
/// claimed. A gate that needs no respirator lets in whoever carries a badge that is not over. A held badge or a held
/// clearance means that a result is in doubt, not that the person failed, so the honest word is `cannot_confirm`; so it
/// is for a badge that nobody handed over, which says nothing of its person.
pub fn answer(
    badge: &BadgeFacts,
    clearances: &[ClearanceFact],
    policy: Option<&GatePolicy>,
    knowledge_age_seconds: u64,
    at: DateTime<Utc>,
) -> GateDecision {
    let (reason, respirator) = match verdict(badge, clearances, policy, knowledge_age_seconds, at) {
        Ok(respirator) => (ScanReason::Ok, Some(respirator)),
        Err(reason) => (reason, None),
    };
    let fallback = policy.map_or("", |policy| &policy.fallback);
    GateDecision { answer: reason.answer(), instruction: reason.instruction(fallback), reason, respirator }
}

fn verdict(
    badge: &BadgeFacts,
    clearances: &[ClearanceFact],
    policy: Option<&GatePolicy>,
    knowledge_age_seconds: u64,
    at: DateTime<Utc>,
) -> Result<Uuid, ScanReason> {
    let doubt = badge_not_over(badge, at)?;
    let policy = policy.ok_or(ScanReason::NoPolicy)?;
    if knowledge_age_seconds > u64::from(policy.max_knowledge_age_seconds) {
        return Err(ScanReason::KnowledgeTooOld);
    }
    if policy.none_needed {
        return Err(ScanReason::PolicyNeedsNone);
    }
    if let Some(reason) = doubt {
        return Err(reason);
    }
    // In the order of the policy, so that the preferred respirator is the one named.
    let accepted = || {
        let wanted = policy.accepted_respirators.iter();
        wanted.flat_map(|id| clearances.iter().filter(move |fact| fact.respirator == *id))
    };
    if let Some(matched) = accepted().find(|fact| fact.holds(at)) {
        return Ok(matched.respirator);
    }
    let in_doubt = accepted().any(|fact| fact.is_held(at));
    Err(if in_doubt { ScanReason::ClearanceHeld } else { ScanReason::PersonNotCleared })
}

/// The answer of a gate that cannot rely on its clock: what is no badge of ours, or was ended, is known without one.
pub fn answer_without_time(badge: &BadgeFacts, policy: Option<&GatePolicy>) -> GateDecision {
    let never_over = match *badge {
        BadgeFacts::Known { status, .. } => {
            BadgeFacts::Known { status, expires_at: DateTime::<Utc>::MAX_UTC }
        }
        not_ours => not_ours,
    };
    let reason =
        badge_not_over(&never_over, DateTime::<Utc>::MIN_UTC).err().unwrap_or(ScanReason::ClockInDoubt);
    let fallback = policy.map_or("", |policy| &policy.fallback);
    GateDecision {
        answer: reason.answer(),
        instruction: reason.instruction(fallback),
        reason,
        respirator: None,
    }
}

/// What a badge that is ours and not over has against it.
fn badge_not_over(badge: &BadgeFacts, at: DateTime<Utc>) -> Result<Option<ScanReason>, ScanReason> {
    match *badge {
        BadgeFacts::NotOurs(NotOurs::CodeUnreadable) => Err(ScanReason::CodeUnreadable),
        BadgeFacts::NotOurs(NotOurs::WrongSignature) => Err(ScanReason::WrongSignature),
        BadgeFacts::NotOurs(NotOurs::UnknownBadge) => Err(ScanReason::UnknownBadge),
        BadgeFacts::Known { status: BadgeStatus::Ended, .. } => Err(ScanReason::BadgeEnded),
        BadgeFacts::Known { status: BadgeStatus::Replaced, .. } => Err(ScanReason::BadgeReplaced),
        BadgeFacts::Known { expires_at, .. } if expires_at <= at => Err(ScanReason::BadgeExpired),
        BadgeFacts::Known { status: BadgeStatus::Held, .. } => Ok(Some(ScanReason::BadgeHeld)),
        BadgeFacts::Known { status: BadgeStatus::Unclaimed, .. } => Ok(Some(ScanReason::BadgeUnclaimed)),
        BadgeFacts::Known { status: BadgeStatus::Valid, .. } => Ok(None),
    }
}

/// What the guard is asked first where the same badge was read elsewhere a moment ago. It says nothing about anybody:
/// a clock, a lent badge and a copied one look alike.
pub const CHECK_NAME: &str =
    "Check the name: compare name and face, and ask for another card with the name on it.";

/// An instruction that asks for the name first.
pub fn with_name_check(instruction: &str) -> String {
    format!("{CHECK_NAME} {instruction}")
}

impl ScanReason {
    /// The word a gate says for this reason.
    pub const fn answer(self) -> Answer {
        match self {
            Self::Ok | Self::PolicyNeedsNone => Answer::Enter,
            Self::PersonNotCleared => Answer::NotCleared,
            Self::BadgeHeld
            | Self::BadgeUnclaimed
            | Self::ClearanceHeld
            | Self::KnowledgeTooOld
            | Self::ClockInDoubt
            | Self::NoPolicy => Answer::CannotConfirm,
            Self::CodeUnreadable
            | Self::WrongSignature
            | Self::UnknownBadge
            | Self::BadgeEnded
            | Self::BadgeReplaced
            | Self::BadgeExpired => Answer::NotValid,
        }
    }

    /// What the person at the gate is asked to do, with the gate's written fallback where nobody can tell. Reasons that
    /// must not be told apart share a sentence.
    pub fn instruction(self, fallback: &str) -> String {
        let sentence = self.sentence();
        if self.answer() == Answer::CannotConfirm && !fallback.is_empty() {
            return format!("{sentence} Written fallback of this gate: {fallback}");
        }
        sentence.to_owned()
    }

    const fn sentence(self) -> &'static str {
        match self {
            Self::Ok => "Match name and face, check the respirator in use here, let the person in.",
            Self::PolicyNeedsNone => {
                "No respirator is needed here now. Match name and face, let the person in."
            }
            Self::PersonNotCleared => {
                "Do not let the person in with the respirator used here. Ask them to contact occupational health."
            }
            Self::BadgeHeld | Self::BadgeUnclaimed | Self::ClearanceHeld => {
                "Cannot confirm just now. Ask the person to contact occupational health; call the lead if it is urgent."
            }
            Self::KnowledgeTooOld => {
                "Cannot confirm: what this gate knows is too old. Follow the written fallback."
            }
            Self::ClockInDoubt => {
                "Cannot confirm: this gate's clock may be wrong. Check the time and confirm it."
            }
            Self::NoPolicy => "No rule for this gate: call the lead.",
            Self::CodeUnreadable => "Not a badge code. Scan again or type the serial, and check the name.",
            Self::WrongSignature | Self::UnknownBadge => {
                "Not one of our badges: check the name and call the lead."
            }
            Self::BadgeEnded | Self::BadgeReplaced | Self::BadgeExpired => {
                "This badge no longer counts. Check the name and ask the person for their present badge."
            }
        }
    }
}
