//! Badges: how much one carries, and the short lists of why one is held and why it is let go again.

use crate::text_enum::text_enum;

/// Most respirators on one badge: more would not fit a card, nor a code that a gate's camera reads.
pub const RESPIRATORS_MAX: usize = 4;

text_enum! {
    /// Why a badge is held: gates cannot confirm it until every hold is released.
    pub enum HoldReason {
        /// Its person cannot find it just now.
        LostReported = "lost_reported",
        /// Somebody found it and its person is not known to have it back.
        FoundReported = "found_reported",
        /// What it says has changed since it was printed.
        ChangeSincePrinting = "change_since_printing",
        /// A result it stands on is being looked into; no new badge is issued meanwhile.
        UnderReview = "under_review",
        /// Something else.
        Other = "other",
    }
}

text_enum! {
    /// Why a hold ends.
    pub enum HoldReleaseReason {
        /// Its person has it.
        BackWithPerson = "back_with_person",
        /// It was looked into, and the badge is right.
        Checked = "checked",
        /// It should not have been held.
        Mistake = "mistake",
        /// Something else.
        Other = "other",
    }
}
