//! Entries under somebody's name: help is never delayed by a program, and somebody looks at each afterwards.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;

use crate::{dates::local_date, policy::PolicyVersion, text_enum::text_enum};

text_enum! {
    /// Why somebody was let in under a lead's name: what was going on, and nothing about anybody's health.
    pub enum LeadEntryReason {
        /// A team was called to an emergency.
        EmergencyCall = "emergency_call",
        /// The gate could not confirm.
        CannotConfirm = "cannot_confirm",
        /// Nobody else could have come in time.
        NobodyElse = "nobody_else",
        /// Something had to be mended at once.
        UrgentRepair = "urgent_repair",
        /// Something else that could not wait.
        OtherUrgent = "other_urgent",
    }
}

text_enum! {
    /// What the gate's policy says of the name that was given.
    pub enum LeadStanding {
        /// It is one of the names in the list, or any name will do.
        Provided = "provided",
        /// The policy has a list, and this name is not in it.
        NotListed = "not_listed",
        /// The policy lets nobody in under a name, or there is no policy.
        NotProvided = "not_provided",
    }
}

/// What the gate does once the entry is kept.
pub const INSTRUCTION: &str = "Let the person in. The lead named here decides and answers for it.";

/// What the policy in force says of a name. Never a reason to keep anybody waiting: the entry is kept all the same.
pub fn lead_standing(lead: &str, policy: Option<&PolicyVersion>) -> LeadStanding {
    let Some(leads) = policy.and_then(|policy| policy.leads.as_ref()) else {
        return LeadStanding::NotProvided;
    };
    let named = |listed: &String| listed.to_lowercase() == lead.to_lowercase();
    if leads.is_empty() || leads.iter().any(named) { LeadStanding::Provided } else { LeadStanding::NotListed }
}

/// The day by whose end somebody should have looked at an entry: the next one where it happened.
pub fn review_due_on(happened_at: DateTime<Utc>, zone: Tz) -> NaiveDate {
    let day = local_date(happened_at, zone);
    day.succ_opt().unwrap_or(day)
}
