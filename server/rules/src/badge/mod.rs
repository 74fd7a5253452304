//! Badges: how much one carries, what one says against what holds, and the short lists of what can become of one.

mod content;
mod desk;

use chrono::{DateTime, SubsecRound, TimeDelta, Utc};

pub use content::{BadgeLine, BadgeNeed, Content, need};
pub use desk::{DeskFacts, DeskWord, desk_word};

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

text_enum! {
    /// How a badge was spoiled in printing.
    pub enum MisprintCause {
        /// The print is smeared or pale.
        Smeared = "smeared",
        /// It was cut beside the marks.
        CutWrong = "cut_wrong",
        /// It was printed on the wrong card or paper.
        WrongStock = "wrong_stock",
        /// It was printed beside its place: print a proof sheet.
        Misaligned = "misaligned",
        /// Something else.
        Other = "other",
    }
}

text_enum! {
    /// Why a badge is made in place of another one.
    pub enum ReprintReason {
        /// Its person cannot find the old one.
        Lost = "lost",
        /// The old one cannot be read any more.
        Damaged = "damaged",
        /// Its person has another name now.
        NameChanged = "name_changed",
        /// The old one was spoiled in printing.
        Misprint = "misprint",
    }
}

text_enum! {
    /// What becomes of a badge that somebody found.
    pub enum FoundBadges {
        /// It is held until its person has it again.
        Hold = "hold",
        /// It ends, and its person gets another one.
        End = "end",
    }
}

impl FoundBadges {
    /// Where the site has not decided: a hold can be taken back. Common practice, no source.
    pub const DEFAULT: Self = Self::Hold;
}

/// What whoever found a badge is told, whatever becomes of it: nothing of it is theirs to know.
pub const FOUND_INSTRUCTION: &str =
    "Thank you. Keep the badge until the badge desk has it, and hand it to nobody else.";

text_enum! {
    /// Why somebody who was ready got no badge in a batch after all.
    pub enum LeftOut {
        /// Cleared for nothing any more.
        NotCleared = "not_cleared",
        /// The badge they have is under review.
        UnderReview = "under_review",
        /// They have a badge that says what holds.
        HasBadge = "has_badge",
        /// No font at hand has a letter of the name.
        NoGlyph = "no_glyph",
        /// Something went wrong in the server.
        Fault = "fault",
    }
}

impl LeftOut {
    /// What to do about it.
    pub const fn instruction(self) -> &'static str {
        match self {
            Self::NotCleared => "Not cleared for anything now: ask the coordinator, and print nothing.",
            Self::UnderReview => "Their badge is under review: release that hold first, or end the badge.",
            Self::HasBadge => "They have a badge that says what holds now: nothing to do.",
            Self::NoGlyph => "No font here has a letter of the name: give the server a font that has.",
            Self::Fault => "Something went wrong in the server: make this badge by itself.",
        }
    }
}

/// Days after which a badge that was not handed over counts as unclaimed, where the site has not decided. Common
/// practice, no source.
pub const UNCLAIMED_AFTER_DAYS: u32 = 7;

/// From when on a badge counts as unclaimed if nobody hands it over: days of 24 hours from when it was made, in whole
/// seconds, because a gate alone knows that moment no better.
pub fn unclaimed_from(made_at: DateTime<Utc>, after_days: u32) -> DateTime<Utc> {
    made_at.trunc_subsecs(0) + TimeDelta::days(after_days.into())
}
