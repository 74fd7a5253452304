//! The played-through day as it is told: by solution, by station, by bottle.

use chrono::{DateTime, Utc};
use sellion_rules::supplies::{Agent, Solution};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::assumptions::{Assumptions, bottles};
use super::demand::{Demand, Stream};
use super::stock::{Played, usable};
use super::{Bottle, Place, Work};

/// One lot of one solution that may be used.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct LotStock {
    /// The lot.
    pub lot: Uuid,
    /// Its number.
    pub lot_number: String,
    /// What is on hand of it, in microlitres.
    pub on_hand_ul: u64,
    /// When the last of its bottles goes out of use.
    pub usable_until: DateTime<Utc>,
}

/// One solution of one agent over the whole site.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct SupplyOutlook {
    /// The agent.
    pub agent: Agent,
    /// The solution.
    pub solution: Solution,
    /// What will be sprayed, in microlitres.
    pub sprayed_ul: f64,
    /// What has to be filled for that, with what is thrown away, in microlitres; without safety.
    pub need_ul: f64,
    /// New bottles that hold the need.
    pub need_bottles: u64,
    /// What may be used now, in microlitres.
    pub on_hand_ul: u64,
    /// What the stations take of it, in microlitres.
    pub drawn_ul: u64,
    /// What they cannot get, in microlitres.
    pub shortage_ul: u64,
    /// When the site has none left for a station that wants to fill; none where it lasts.
    pub empty_at: Option<DateTime<Utc>>,
    /// The same in whole minutes from the start.
    pub minutes_to_empty: Option<i64>,
    /// What may still be used when the work is done, in microlitres: whole fills.
    pub reserve_left_ul: u64,
    /// What is left then in bottles too empty for a whole fill, in microlitres.
    pub rests_ul: u64,
    /// What goes out of date during the work, in microlitres.
    pub lost_ul: u64,
    /// What to order, so that the need and its safety are covered, in microlitres.
    pub order_ul: u64,
    /// The same in new bottles.
    pub order_bottles: u64,
    /// Lots that may be used, the one that expires first being the first.
    pub lots: Vec<LotStock>,
    /// Whether it is needed and less than two lots still give a whole fill: one recall ends the day.
    pub wants_second_lot: bool,
    /// The lot kept for the case that the first one is stopped: the one that lasts longest.
    pub spare_lot: Option<Uuid>,
    /// Whether it is needed and no station works with it.
    pub no_station: bool,
}

/// One solution at one station.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct StationOutlook {
    /// The station.
    pub station: Uuid,
    /// Its name.
    pub name: String,
    /// The agent.
    pub agent: Agent,
    /// The solution.
    pub solution: Solution,
    /// When its work ends at this speed.
    pub ends_at: DateTime<Utc>,
    /// When its present fill has to be replaced; none where it lasts.
    pub refill_at: Option<DateTime<Utc>>,
    /// When the bottles at the station give no more fill and somebody has to bring one; none where they last.
    pub own_empty_at: Option<DateTime<Utc>>,
    /// The same in whole minutes from the start.
    pub minutes_to_own_empty: Option<i64>,
    /// When no bottle of the site gives it a fill; none where they last.
    pub site_empty_at: Option<DateTime<Utc>>,
    /// What it takes from bottles, in microlitres.
    pub drawn_ul: u64,
    /// What it cannot get, in microlitres.
    pub shortage_ul: u64,
}

/// A bottle that goes out of date with something in it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ExpiringBottle {
    /// The bottle.
    pub bottle: Uuid,
    /// What it is called on its label.
    pub label: String,
    /// Its lot.
    pub lot: Uuid,
    /// Its agent.
    pub agent: Agent,
    /// Its solution.
    pub solution: Solution,
    /// Where it stands.
    pub place: Place,
    /// What is in it then, in microlitres.
    pub ul: u64,
    /// When.
    pub at: DateTime<Utc>,
}

/// Why a bottle cannot be used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum WhyUnusable {
    /// Its lot is stopped.
    Stopped,
    /// It is out of date.
    Expired,
    /// More was taken out than put in: count it.
    Negative,
}

/// A bottle that cannot be used.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct UnusableBottle {
    /// The bottle.
    pub bottle: Uuid,
    /// What it is called on its label.
    pub label: String,
    /// Its lot.
    pub lot: Uuid,
    /// Where it stands.
    pub place: Place,
    /// What is in it by its book, in microlitres.
    pub ul: i64,
    /// Why.
    pub why: WhyUnusable,
}

/// Everything the outlook is told from.
pub(super) struct Scene<'a> {
    pub(super) work: &'a Work,
    pub(super) bottles: &'a [Bottle],
    pub(super) streams: &'a [Stream],
    pub(super) played: &'a Played<'a>,
    pub(super) assumptions: &'a Assumptions,
    /// When the work is done.
    pub(super) end: DateTime<Utc>,
}

impl Scene<'_> {
    /// The outlook of one solution; none where it is neither needed nor there.
    pub(super) fn supply(&self, agent: Agent, solution: Solution) -> Option<SupplyOutlook> {
        let sprayed_ul =
            Demand::of(self.work, self.assumptions).sprayed_ul(self.work, self.assumptions, agent, solution);
        let mine = || {
            let all = self.streams.iter().zip(&self.played.ran);
            all.filter(|(stream, _)| stream.agent == agent && stream.solution == solution)
        };
        let no_station = sprayed_ul > 0.0 && mine().next().is_none();
        let need_ul: f64 = if no_station {
            sprayed_ul / self.assumptions.used_share(solution)
        } else {
            mine().map(|(stream, _)| stream.need_ul(self.work.from, self.assumptions)).sum()
        };
        let lots = self.lots(agent, solution);
        if sprayed_ul <= 0.0 && lots.is_empty() {
            return None;
        }
        let on_hand_ul = lots.iter().map(|lot| lot.on_hand_ul).fold(0, u64::saturating_add);
        let drawn_ul = mine().map(|(_, ran)| ran.drawn_ul).fold(0, u64::saturating_add);
        let fill_ul = self.assumptions.fill_ul as u64;
        let (reserve_left_ul, rests_ul) = self.played.left_ul((agent, solution), self.end, fill_ul);
        let lost_ul = on_hand_ul.saturating_sub(drawn_ul).saturating_sub(reserve_left_ul + rests_ul);
        let shortage = mine().map(|(_, ran)| ran.shortage_ul).fold(0, u64::saturating_add);
        let empty_at = mine().filter_map(|(_, ran)| ran.site_empty_at).min();
        let wanted = (need_ul * (1.0 + self.assumptions.safety_share)).ceil() as u64;
        let order_ul = wanted.saturating_sub(on_hand_ul - lost_ul - rests_ul);
        let bottle_ul = self.assumptions.bottle_ul(solution);
        let giving: Vec<Uuid> =
            lots.iter().map(|lot| lot.lot).filter(|lot| self.gives_a_fill(*lot, fill_ul)).collect();
        Some(SupplyOutlook {
            agent,
            solution,
            sprayed_ul,
            need_ul,
            need_bottles: bottles(need_ul, bottle_ul),
            on_hand_ul,
            drawn_ul,
            shortage_ul: if no_station {
                (need_ul.ceil() as u64).saturating_sub(on_hand_ul)
            } else {
                shortage
            },
            empty_at,
            minutes_to_empty: empty_at.map(|at| self.minutes(at)),
            reserve_left_ul,
            rests_ul,
            lost_ul,
            order_ul,
            order_bottles: bottles(order_ul as f64, bottle_ul),
            wants_second_lot: need_ul > 0.0 && giving.len() < 2,
            spare_lot: giving.get(1..).and_then(<[Uuid]>::last).copied(),
            lots,
            no_station,
        })
    }

    /// Whether a bottle of the lot still holds a whole fill: rests do not stand in for a lot that is stopped.
    fn gives_a_fill(&self, lot: Uuid, fill_ul: u64) -> bool {
        let mut usable = self.bottles.iter().filter(|bottle| usable(bottle, self.work.from));
        usable.any(|bottle| bottle.lot == lot && u64::try_from(bottle.on_hand_ul).unwrap_or(0) >= fill_ul)
    }

    fn lots(&self, agent: Agent, solution: Solution) -> Vec<LotStock> {
        let mut lots: Vec<LotStock> = Vec::new();
        let usable = self.bottles.iter().filter(|bottle| usable(bottle, self.work.from));
        for bottle in usable.filter(|bottle| bottle.agent == agent && bottle.solution == solution) {
            let ul = u64::try_from(bottle.on_hand_ul).unwrap_or(0);
            if let Some(lot) = lots.iter_mut().find(|lot| lot.lot == bottle.lot) {
                lot.on_hand_ul = lot.on_hand_ul.saturating_add(ul);
                lot.usable_until = lot.usable_until.max(bottle.usable_until);
            } else {
                lots.push(LotStock {
                    lot: bottle.lot,
                    lot_number: bottle.lot_number.clone(),
                    on_hand_ul: ul,
                    usable_until: bottle.usable_until,
                });
            }
        }
        lots.sort_by_key(|lot| (lot.usable_until, lot.lot));
        lots
    }

    pub(super) fn stations(&self) -> Vec<StationOutlook> {
        let all = self.streams.iter().zip(&self.played.ran);
        let one = |(stream, ran): (&Stream, &super::stock::Ran)| StationOutlook {
            station: stream.station,
            name: stream.name.clone(),
            agent: stream.agent,
            solution: stream.solution,
            ends_at: stream.ends_at,
            refill_at: ran.refill_at,
            own_empty_at: ran.own_empty_at,
            minutes_to_own_empty: ran.own_empty_at.map(|at| self.minutes(at)),
            site_empty_at: ran.site_empty_at,
            drawn_ul: ran.drawn_ul,
            shortage_ul: ran.shortage_ul,
        };
        all.map(one).collect()
    }

    /// The bottles with something in them that go out of date up to `horizon`, by time.
    pub(super) fn expires_unused(&self, horizon: DateTime<Utc>) -> Vec<ExpiringBottle> {
        let left = self.played.bottles.iter().filter(|used| used.left_ul > 0 && used.until <= horizon);
        let mut expiring: Vec<_> = left
            .map(|used| ExpiringBottle {
                bottle: used.bottle.bottle,
                label: used.bottle.label.clone(),
                lot: used.bottle.lot,
                agent: used.bottle.agent,
                solution: used.bottle.solution,
                place: used.bottle.place.clone(),
                ul: used.left_ul,
                at: used.until,
            })
            .collect();
        expiring.sort_by_key(|bottle| (bottle.at, bottle.bottle));
        expiring
    }

    pub(super) fn unusable(&self) -> Vec<UnusableBottle> {
        let why = |bottle: &Bottle| {
            if bottle.on_hand_ul < 0 {
                Some(WhyUnusable::Negative)
            } else if bottle.on_hand_ul == 0 {
                None
            } else if bottle.stopped {
                Some(WhyUnusable::Stopped)
            } else {
                (bottle.usable_until <= self.work.from).then_some(WhyUnusable::Expired)
            }
        };
        let unusable = self.bottles.iter().filter_map(|bottle| {
            Some(UnusableBottle {
                why: why(bottle)?,
                bottle: bottle.bottle,
                label: bottle.label.clone(),
                lot: bottle.lot,
                place: bottle.place.clone(),
                ul: bottle.on_hand_ul,
            })
        });
        unusable.collect()
    }

    fn minutes(&self, at: DateTime<Utc>) -> i64 {
        at.signed_duration_since(self.work.from).num_minutes()
    }
}
