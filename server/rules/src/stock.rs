//! Stock: which of several may be taken first.

use chrono::NaiveDate;

use crate::refusal::{Code, Refusal};
use crate::text_enum::text_enum;

text_enum! {
    /// How something changed its place.
    pub enum PlaceMovement {
        /// It came from the supplier.
        Receive = "receive",
        /// From a storeroom to a station or a filling point.
        Issue = "issue",
        /// From one of these to another.
        HandOver = "hand_over",
        /// From a storeroom to another, or found where nobody had said it was.
        Move = "move",
        /// From a station or a filling point back to a storeroom.
        Return = "return",
    }
}

text_enum! {
    /// What happened to what is in a bottle, other than filling a nebulizer.
    pub enum BottleMovement {
        /// Thrown away.
        Discard = "discard",
        /// Spilled.
        Spill = "spill",
        /// Taken to make another solution.
        Prepare = "prepare",
        /// Measured: what is in it from here on.
        Count = "count",
    }
}

text_enum! {
    /// What happened to pieces of a lot.
    pub enum PieceMovement {
        /// They came from the supplier.
        Receive = "receive",
        /// They went from one place to another.
        Move = "move",
        /// They were used up.
        Use = "use",
        /// They were thrown away.
        Discard = "discard",
        /// Counted: what is there from here on.
        Count = "count",
    }
}

/// What a way is called that leads from a place of use, a storeroom or an unknown place to a place of use or a
/// storeroom. Places of use are stations and filling points.
pub const fn way(from_is_in_use: Option<bool>, to_is_in_use: bool) -> PlaceMovement {
    match (from_is_in_use, to_is_in_use) {
        (Some(false), true) => PlaceMovement::Issue,
        (Some(true), true) => PlaceMovement::HandOver,
        (Some(true), false) => PlaceMovement::Return,
        (Some(false) | None, _) => PlaceMovement::Move,
    }
}

/// Where the books have a bottle.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BottlePlace<'p> {
    /// The name of the place.
    pub name: &'p str,
    /// Whether it is the station that fills.
    pub here: bool,
    /// Whether nebulizers of any station are filled there.
    pub filling_point: bool,
}

/// A nebulizer is filled from a bottle that stands at the station or at a filling point; otherwise a bottle would
/// leave the storeroom past whoever ends first, and a station without a second name (common practice, no source).
pub fn at_hand(label: &str, place: Option<&BottlePlace<'_>>) -> Result<(), Refusal> {
    let sentence = match place {
        Some(place) if place.here || place.filling_point => return Ok(()),
        Some(place) => {
            format!(
                "By the books {label} is at {}: issue it or hand it over to this station first.",
                place.name
            )
        }
        None => format!("Nobody has said yet where {label} is: record that it is at this station first."),
    };
    let refusal = Refusal::new(Code::BottleElsewhere, sentence).field("bottle_id");
    Err(match place {
        Some(place) => refusal.fact("place", place.name),
        None => refusal,
    })
}

/// Something that could be issued: a bottle, or pieces of a lot at one place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Candidate {
    /// What is written on it: a bottle's label or a lot's number.
    pub label: String,
    /// Its last day; none where it has none.
    pub expires_on: Option<NaiveDate>,
}

impl Candidate {
    /// What comes first when sorting: the earliest last day, and what has none at the end.
    pub fn order(&self) -> (NaiveDate, &str) {
        (self.expires_on.unwrap_or(NaiveDate::MAX), self.label.as_str())
    }
}

/// First expired, first out: stock with the earliest expiry is issued before identical stock with a later one (World
/// Health Organization, good storage and distribution practices, glossary). An exception needs a reason.
///
/// `others` lie at the same place and may be used.
pub fn first_expired_first(
    taken: &Candidate,
    others: &[Candidate],
    reason: Option<&str>,
) -> Result<(), Refusal> {
    let Some(first) = others.iter().min_by_key(|other| other.order()) else { return Ok(()) };
    let last_day = |candidate: &Candidate| candidate.expires_on.unwrap_or(NaiveDate::MAX);
    if last_day(first) >= last_day(taken) || reason.is_some() {
        return Ok(());
    }
    let sentence = format!(
        "{} ends first, on {}: take it, or give a reason for this one.",
        first.label,
        last_day(first)
    );
    let refusal = Refusal::new(Code::FirstExpiredFirst, sentence).field("reason");
    Err(refusal.fact("proposed", first.label.as_str()).fact("last_day", last_day(first).to_string()))
}
