//! Facepieces of each respirator against those that will be used, by the shares measured so far.

use chrono::{DateTime, Utc};
use serde::Serialize;
use uuid::Uuid;

use super::assumptions::Assumptions;
use super::demand::{hours_after, hours_between};

/// Facepieces of one respirator, which is one size of one model.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FacepieceStock {
    /// The respirator.
    pub respirator: Uuid,
    /// Its name with its size, as people say it.
    pub name: String,
    /// How many there are; negative where more were given out than received.
    pub on_hand: i64,
    /// How many were used at this site so far, which gives the shares.
    pub used: u32,
}

/// What will be used of one respirator.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct FacepieceOutlook {
    /// The respirator.
    pub respirator: Uuid,
    /// Its name with its size.
    pub name: String,
    /// Its share of all that will be used.
    pub share: f64,
    /// Whether the share is measured; else all are taken alike.
    pub measured: bool,
    /// How many will be used.
    pub need: u64,
    /// How many there are; negative where the book is wrong.
    pub on_hand: i64,
    /// How many are missing.
    pub shortage: u64,
    /// When the last one is used, when people come evenly; none where they last.
    pub empty_at: Option<DateTime<Utc>>,
    /// How many to order, so that the need and its safety are covered.
    pub order: u64,
}

/// The outlook for every respirator, in the order given.
pub(super) fn outlook(
    stocks: &[FacepieceStock],
    people: f64,
    assumptions: &Assumptions,
    (from, until): (DateTime<Utc>, DateTime<Utc>),
) -> Vec<FacepieceOutlook> {
    let used: f64 = stocks.iter().map(|stock| f64::from(stock.used)).sum();
    let alike = 1.0 / stocks.len().max(1) as f64;
    let one = |stock: &FacepieceStock| {
        let measured = used > 0.0;
        let share = if measured { f64::from(stock.used) / used } else { alike };
        let wanted = people * assumptions.facepieces_per_head * share;
        // A hair over a whole number is the whole number: binary arithmetic misses the last digit.
        let whole = |number: f64| (number - 1e-9).ceil().max(0.0) as u64;
        let need = whole(wanted);
        let on_hand = u64::try_from(stock.on_hand).unwrap_or(0);
        let lasts = hours_between(from, until) * on_hand as f64 / wanted;
        FacepieceOutlook {
            respirator: stock.respirator,
            name: stock.name.clone(),
            share,
            measured,
            need,
            on_hand: stock.on_hand,
            shortage: need.saturating_sub(on_hand),
            empty_at: (need > on_hand).then(|| hours_after(from, lasts)),
            order: whole(wanted * (1.0 + assumptions.safety_share)).saturating_sub(on_hand),
        }
    };
    stocks.iter().map(one).collect()
}
