//! What the badge desk is told when it reads a badge that is about to be handed over.

use super::Content;
use crate::gate::BadgeStatus;
use crate::text_enum::text_enum;

text_enum! {
    /// What a badge is at the desk.
    pub enum DeskWord {
        /// Right as it is: give it to its person.
        HandOver = "hand_over",
        /// It is held, or what it says is being looked into.
        HoldBack = "hold_back",
        /// Something has changed since it was made, and there is something to print.
        PrintAgain = "print_again",
        /// Its person is cleared for nothing any more.
        NotCleared = "not_cleared",
        /// Its person has it already.
        HandedOver = "handed_over",
        /// It has ended, was replaced, or its last day is over.
        Ended = "ended",
        /// It belongs to somebody else than the person at the desk.
        AnotherPerson = "another_person",
        /// No badge of this site.
        NotOurs = "not_ours",
    }
}

impl DeskWord {
    /// What to do, in plain words.
    pub const fn instruction(self) -> &'static str {
        match self {
            Self::HandOver => "Match name and face, hand the badge over, and say so here.",
            Self::HoldBack => "Keep this badge here: it is held. Ask the coordinator.",
            Self::PrintAgain => {
                "Do not hand this badge over: something has changed since it was made. Print it again and destroy this one."
            }
            Self::NotCleared => {
                "Do not hand this badge over: its person is cleared for nothing now. Ask the coordinator."
            }
            Self::HandedOver => {
                "This badge was handed over before: match name and face, and give it back to its person."
            }
            Self::Ended => "This badge no longer counts: destroy it.",
            Self::AnotherPerson => {
                "This is another person's badge: do not hand it over. Look for the right one."
            }
            Self::NotOurs => {
                "Not readable, or none of our badges: type the serial, or print the badge again."
            }
        }
    }
}

/// What is known of a badge of this site.
#[derive(Debug, Clone)]
pub struct DeskFacts {
    /// Its stored status.
    pub status: BadgeStatus,
    /// Whether its last day is over.
    pub expired: bool,
    /// Whether a clearance that stands on it is being looked into.
    pub in_doubt: bool,
    /// Whether it was handed over.
    pub handed_over: bool,
    /// Whether somebody else than its person is at the desk.
    pub another_person: bool,
    /// What stands on it.
    pub printed: Content,
    /// What would stand on a badge made now.
    pub now: Content,
}

/// What a badge is at the desk. What can never be mended comes first, then what may be wrong, then what was done.
pub fn desk_word(facts: &DeskFacts) -> DeskWord {
    let over = matches!(facts.status, BadgeStatus::Ended | BadgeStatus::Replaced) || facts.expired;
    let is_true = facts.printed.is_true(&facts.now);
    if over {
        DeskWord::Ended
    } else if facts.another_person {
        DeskWord::AnotherPerson
    } else if facts.status == BadgeStatus::Held || (facts.in_doubt && !is_true) {
        DeskWord::HoldBack
    } else if facts.now.lines.is_empty() {
        DeskWord::NotCleared
    } else if !is_true {
        DeskWord::PrintAgain
    } else if facts.handed_over {
        DeskWord::HandedOver
    } else {
        DeskWord::HandOver
    }
}
