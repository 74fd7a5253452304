//! Bottles used up one by one, the one that expires first being the first, while the stations work.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use chrono::{DateTime, Utc};
use sellion_rules::dates::seconds_after;
use sellion_rules::supplies::{Agent, Solution};
use sellion_rules::{Code, Refusal};
use uuid::Uuid;

use super::Bottle;
use super::assumptions::Assumptions;
use super::demand::{Stream, hours_after, hours_between};

/// Fills that are played through at most; a day of a large hospital has some thousand.
const FILLS_MAX: usize = 50_000;

/// Less than this is nothing: binary arithmetic misses the last digit.
const NOTHING: f64 = 1e-6;

/// A bottle while it is used up.
#[derive(Debug, Clone)]
pub(super) struct Used<'a> {
    pub(super) bottle: &'a Bottle,
    pub(super) left_ul: u64,
    pub(super) until: DateTime<Utc>,
    opened: bool,
}

/// What happened to one stream.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Ran {
    /// When the present fill has to be replaced; none where it lasts to the end.
    pub(super) refill_at: Option<DateTime<Utc>>,
    /// When the bottles at the station no longer gave a fill.
    pub(super) own_empty_at: Option<DateTime<Utc>>,
    /// When no bottle of the site gave one.
    pub(super) site_empty_at: Option<DateTime<Utc>>,
    /// Filled from bottles, in microlitres.
    pub(super) drawn_ul: u64,
    /// What could not be filled, in microlitres.
    pub(super) shortage_ul: u64,
}

/// Everything after the work is done.
pub(super) struct Played<'a> {
    pub(super) bottles: Vec<Used<'a>>,
    /// One for each stream, in their order.
    pub(super) ran: Vec<Ran>,
}

/// Where a bottle stands, from the point of view of one station.
#[derive(PartialEq, Eq, PartialOrd, Ord, Clone, Copy)]
enum Reach {
    Own,
    Storeroom,
    OtherStation,
}

/// Whether the bottle may be used at `at` at all.
pub(super) fn usable(bottle: &Bottle, at: DateTime<Utc>) -> bool {
    !bottle.stopped && bottle.on_hand_ul > 0 && bottle.usable_until > at
}

/// Plays all streams through until their work is done, fill by fill, in the order of time.
///
/// What cannot be filled is counted and taken as filled, so that the rest of the day is told all the same.
///
/// # Errors
/// `invalid_value` where that would be more than 50,000 fills.
pub(super) fn play<'a>(
    bottles: &'a [Bottle],
    streams: &[Stream],
    assumptions: &Assumptions,
    from: DateTime<Utc>,
) -> Result<Played<'a>, Refusal> {
    let start = |bottle: &'a Bottle| Used {
        bottle,
        left_ul: u64::try_from(bottle.on_hand_ul).unwrap_or(0),
        until: bottle.usable_until,
        opened: bottle.opened,
    };
    let bottles = bottles.iter().filter(|bottle| usable(bottle, from)).map(start).collect();
    let mut played = Played { bottles, ran: vec![Ran::default(); streams.len()] };
    let mut left: Vec<f64> = streams.iter().map(|stream| stream.sprayed_ul).collect();
    let mut next = BinaryHeap::new();
    for (place, (stream, left)) in streams.iter().zip(&mut left).enumerate() {
        let sprayed = stream.present_fill_gives(from, assumptions);
        *left -= sprayed;
        if *left > NOTHING && stream.rate > 0.0 {
            next.push(Reverse((hours_after(from, sprayed / stream.rate), place)));
        }
    }
    let mut fills = 0;
    while let Some(Reverse((at, place))) = next.pop() {
        fills += 1;
        if fills > FILLS_MAX {
            let detail = "That is more work than one forecast can play through: look at heads and volumes.";
            return Err(Refusal::new(Code::InvalidValue, detail).field("heads"));
        }
        let (Some(stream), Some(left)) = (streams.get(place), left.get_mut(place)) else { continue };
        let (filled_ul, until) = played.fill(stream, place, at, assumptions);
        let usable = filled_ul as f64 * assumptions.used_share(stream.solution);
        let life = hours_between(at, until).min(assumptions.fill_life_seconds / 3600.0);
        let sprayed = usable.min(stream.rate * life);
        *left -= sprayed;
        if *left > NOTHING {
            next.push(Reverse((hours_after(at, sprayed / stream.rate), place)));
        }
    }
    Ok(played)
}

impl Played<'_> {
    /// Fills the stream's nebulizer: how much, and until when its bottle may be used.
    fn fill(
        &mut self,
        stream: &Stream,
        place: usize,
        at: DateTime<Utc>,
        assumptions: &Assumptions,
    ) -> (u64, DateTime<Utc>) {
        let wanted = assumptions.fill_ul as u64;
        let Some(ran) = self.ran.get_mut(place) else { return (wanted, DateTime::<Utc>::MAX_UTC) };
        ran.refill_at = ran.refill_at.or(Some(at));
        let candidates = self
            .bottles
            .iter_mut()
            .filter(|used| used.bottle.agent == stream.agent && used.bottle.solution == stream.solution)
            // A rest that is no whole fill is thrown away: nobody fills from two bottles at once.
            .filter(|used| used.left_ul >= wanted && hours_between(at, used.until) > 0.0);
        let best = candidates
            .map(|used| (reach(used.bottle, stream.station), used))
            .min_by_key(|(reach, used)| (*reach, used.until, !used.opened, used.bottle.bottle));
        let own = best.as_ref().is_some_and(|(reach, _)| *reach == Reach::Own);
        if !own {
            ran.own_empty_at = ran.own_empty_at.or(Some(at));
        }
        let Some((_, used)) = best else {
            ran.site_empty_at = ran.site_empty_at.or(Some(at));
            ran.shortage_ul = ran.shortage_ul.saturating_add(wanted);
            return (wanted, DateTime::<Utc>::MAX_UTC);
        };
        used.left_ul -= wanted;
        ran.drawn_ul = ran.drawn_ul.saturating_add(wanted);
        if !used.opened {
            used.opened = true;
            if let Some(life) = used.bottle.opened_life_seconds {
                used.until = used.until.min(seconds_after(at, life));
            }
        }
        (wanted, used.until)
    }

    /// What is left of the agent's solution at `at`, in microlitres: in whole fills of `fill_ul`, and in rests that give
    /// none.
    pub(super) fn left_ul(
        &self,
        (agent, solution): (Agent, Solution),
        at: DateTime<Utc>,
        fill_ul: u64,
    ) -> (u64, u64) {
        let bottles = self.bottles.iter();
        let of_it = bottles.filter(|used| used.bottle.agent == agent && used.bottle.solution == solution);
        let lasting = of_it.filter(|used| used.until > at).map(|used| used.left_ul);
        lasting.fold((0, 0), |(whole, rests): (u64, u64), left| {
            let rest = left.checked_rem(fill_ul).unwrap_or(0);
            (whole.saturating_add(left - rest), rests.saturating_add(rest))
        })
    }
}

fn reach(bottle: &Bottle, station: Uuid) -> Reach {
    if bottle.place.id == station {
        Reach::Own
    } else if bottle.place.station {
        Reach::OtherStation
    } else {
        Reach::Storeroom
    }
}
