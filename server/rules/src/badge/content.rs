//! What a badge says, beside what it would say if it were made now.

use chrono::NaiveDate;
use uuid::Uuid;

use crate::text_enum::text_enum;

/// One respirator of a badge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct BadgeLine {
    /// The respirator.
    pub respirator_id: Uuid,
    /// The last day covered.
    pub due_on: NaiveDate,
}

/// What stands on a badge, or would stand on one made now.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Content {
    /// The name as printed; none where nobody kept it.
    pub name: Option<String>,
    /// The respirators.
    pub lines: Vec<BadgeLine>,
}

impl Content {
    /// Whether all that is said here holds, when `now` is what would be printed.
    pub fn is_true(&self, now: &Self) -> bool {
        let covers = |line: &BadgeLine| {
            let same = now.lines.iter().find(|held| held.respirator_id == line.respirator_id);
            same.is_some_and(|held| held.due_on >= line.due_on)
        };
        self.same_name(now) && self.lines.iter().all(covers)
    }

    /// A name that nobody kept is taken for the present one.
    fn same_name(&self, now: &Self) -> bool {
        self.name.is_none() || now.name.is_none() || self.name == now.name
    }

    fn says_all(&self, now: &Self) -> bool {
        now.lines.iter().all(|line| self.lines.contains(line))
    }
}

text_enum! {
    /// Why somebody needs a badge.
    pub enum BadgeNeed {
        /// They have none that counts.
        NoBadge = "no_badge",
        /// Theirs has another name on it.
        NameChanged = "name_changed",
        /// Theirs says what no longer holds.
        NoLongerTrue = "no_longer_true",
        /// They are cleared for more, or for longer, than theirs says.
        MoreToSay = "more_to_say",
    }
}

/// Why a badge is needed; none where the one that counts says what holds, or where there is nothing to print.
pub fn need(has: Option<&Content>, now: &Content) -> Option<BadgeNeed> {
    if now.lines.is_empty() {
        return None;
    }
    match has {
        None => Some(BadgeNeed::NoBadge),
        Some(has) if !has.same_name(now) => Some(BadgeNeed::NameChanged),
        Some(has) if !has.is_true(now) => Some(BadgeNeed::NoLongerTrue),
        Some(has) if !has.says_all(now) => Some(BadgeNeed::MoreToSay),
        Some(_) => None,
    }
}
