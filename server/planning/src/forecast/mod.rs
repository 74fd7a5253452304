//! What runs out, where and when; what expires before it is used; what to order: for the rest of a day or for a planned
//! one.
//!
//! Only what is sprayed under a hood is forecast: saccharin and denatonium benzoate. A forecast is one stretch of
//! working hours; several days are asked for one by one.

mod assumptions;
mod demand;
mod facepieces;
mod outlook;
mod stock;

use chrono::{DateTime, Utc};
use sellion_rules::supplies::{Agent, Solution};
use sellion_rules::{Code, Refusal};
use serde::Serialize;
use uuid::Uuid;

pub use assumptions::{AssumptionShown, Assumptions, MeasuredSqueeze, SQUEEZE, Trust};
pub use facepieces::{FacepieceOutlook, FacepieceStock};
pub use outlook::{ExpiringBottle, LotStock, StationOutlook, SupplyOutlook, UnusableBottle, WhyUnusable};

use demand::{Demand, hours_after};

/// People at most; far above any site, and far below what arithmetic could not carry.
const HEADS_MAX: u32 = 100_000;

/// Where a bottle stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Place {
    /// The station or storeroom.
    pub id: Uuid,
    /// Its name.
    pub name: String,
    /// Whether it is a station, whose bottles the others take last.
    pub station: bool,
}

/// One bottle.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bottle {
    /// The bottle.
    pub bottle: Uuid,
    /// What it is called on its label.
    pub label: String,
    /// Its lot.
    pub lot: Uuid,
    /// The number of its lot.
    pub lot_number: String,
    /// Its agent.
    pub agent: Agent,
    /// Its solution.
    pub solution: Solution,
    /// What is in it by its book, in microlitres; negative where more was taken out than put in.
    pub on_hand_ul: i64,
    /// The first moment at which it may no longer be used, as things stand.
    pub usable_until: DateTime<Utc>,
    /// Whether it is open.
    pub opened: bool,
    /// How long it may be used once it is opened, in seconds, where that is limited.
    pub opened_life_seconds: Option<u32>,
    /// Whether its lot is stopped.
    pub stopped: bool,
    /// Where it stands.
    pub place: Place,
}

/// What a nebulizer holds now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CurrentFill {
    /// The agent in it.
    pub agent: Agent,
    /// The solution in it.
    pub solution: Solution,
    /// What is left of it by the squeezes given, in microlitres.
    pub left_ul: u32,
    /// The first moment at which it may no longer be used.
    pub usable_until: DateTime<Utc>,
}

/// A station that works with one agent. A station that works with both is named twice.
#[derive(Debug, Clone, PartialEq)]
pub struct StationWork {
    /// The station.
    pub station: Uuid,
    /// Its name.
    pub name: String,
    /// The agent.
    pub agent: Agent,
    /// Attempts in one hour as measured; none to take the assumption, 0 where it does none.
    pub attempts_per_hour: Option<f64>,
    /// Screenings in one hour as measured; none to take the assumption, 0 where it does none.
    pub screenings_per_hour: Option<f64>,
    /// What its nebulizers hold now.
    pub fills: Vec<CurrentFill>,
}

/// The work to come.
#[derive(Debug, Clone, PartialEq)]
pub struct Work {
    /// When it begins, or goes on.
    pub from: DateTime<Utc>,
    /// When the day closes.
    pub closing: DateTime<Utc>,
    /// People still to come.
    pub heads: u32,
    /// Whether they are only booked, so that some will not come.
    pub booked: bool,
    /// The agent everybody is screened with first; the other one is for those who do not taste it.
    pub main_agent: Agent,
    /// The stations.
    pub stations: Vec<StationWork>,
}

/// A planned day: people, hours and stations, and no fills yet.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedDay {
    /// When it begins.
    pub starts_at: DateTime<Utc>,
    /// Working hours.
    pub hours: f64,
    /// People booked.
    pub heads: u32,
    /// The agent everybody is screened with first.
    pub main_agent: Agent,
    /// The stations: id, name and agent, each as in [`StationWork`].
    pub stations: Vec<(Uuid, String, Agent)>,
}

impl Work {
    /// The work of a planned day, spread evenly over its hours and over the stations of each agent.
    pub fn planned(day: &PlannedDay, assumptions: &Assumptions) -> Self {
        let hours = if day.hours.is_finite() { day.hours.clamp(0.25, 24.0) } else { 24.0 };
        let mut work = Self {
            from: day.starts_at,
            closing: hours_after(day.starts_at, hours),
            heads: day.heads,
            booked: true,
            main_agent: day.main_agent,
            stations: Vec::new(),
        };
        let demand = Demand::of(&work, assumptions);
        for (station, name, agent) in &day.stations {
            let sharing = day.stations.iter().filter(|(_, _, other)| other == agent).count() as f64;
            let spread = |runs: f64| Some(runs / hours / sharing);
            let attempts = demand.attempts_with(&work, assumptions, *agent);
            let screenings = if *agent == day.main_agent { demand.attempts } else { attempts };
            work.stations.push(StationWork {
                station: *station,
                name: name.clone(),
                agent: *agent,
                attempts_per_hour: spread(attempts),
                screenings_per_hour: spread(screenings),
                fills: Vec::new(),
            });
        }
        work
    }

    fn check(&self) -> Result<(), Refusal> {
        if self.heads > HEADS_MAX {
            let detail = format!("A forecast is for {HEADS_MAX} people at most.");
            return Err(Refusal::new(Code::InvalidValue, detail).field("heads"));
        }
        let speeds =
            self.stations.iter().flat_map(|station| [station.attempts_per_hour, station.screenings_per_hour]);
        for speed in speeds.flatten() {
            if !(speed.is_finite() && speed >= 0.0) {
                let detail = "How many in an hour is a number from zero on.";
                return Err(Refusal::new(Code::InvalidValue, detail).field("stations"));
            }
        }
        if !self.main_agent.is_tasted() {
            let detail = "A forecast is for saccharin or denatonium benzoate.";
            return Err(Refusal::new(Code::InvalidValue, detail).field("main_agent"));
        }
        Ok(())
    }
}

/// The whole outlook.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Forecast {
    /// When the work begins.
    pub from: DateTime<Utc>,
    /// When the day closes.
    pub closing: DateTime<Utc>,
    /// When the work is done at this speed; none where no station does it.
    pub finished_at: Option<DateTime<Utc>>,
    /// People who will be seen.
    pub people: f64,
    /// Attempts they will need.
    pub attempts: f64,
    /// Both solutions of both agents that are needed or on hand, in that order.
    pub supplies: Vec<SupplyOutlook>,
    /// Each solution at each station.
    pub stations: Vec<StationOutlook>,
    /// Bottles that go out of date with something in them before the horizon.
    pub expires_unused: Vec<ExpiringBottle>,
    /// Bottles that cannot be used now, and why.
    pub unusable: Vec<UnusableBottle>,
    /// Facepieces of each respirator.
    pub facepieces: Vec<FacepieceOutlook>,
    /// What was taken for granted.
    pub assumptions: Vec<AssumptionShown>,
}

/// The outlook for `work` with what is on hand, the `assumptions` and what of them was `measured`; what expires unused is told up to `horizon`, or up to the end of the
/// work where that is later.
///
/// # Errors
/// `invalid_value` with its field where an assumption or the work cannot be meant.
pub fn forecast(
    work: &Work,
    bottles: &[Bottle],
    facepieces: &[FacepieceStock],
    (assumptions, measured): (&Assumptions, Option<&MeasuredSqueeze>),
    horizon: DateTime<Utc>,
) -> Result<Forecast, Refusal> {
    assumptions.check()?;
    work.check()?;
    let kinds =
        Agent::TASTES.iter().flat_map(|agent| [(*agent, Solution::Screening), (*agent, Solution::Test)]);
    let streams: Vec<_> = kinds
        .clone()
        .flat_map(|(agent, solution)| demand::streams(work, assumptions, agent, solution))
        .collect();
    let played = stock::play(bottles, &streams, assumptions, work.from)?;
    let busy = streams.iter().filter(|stream| stream.sprayed_ul > 0.0);
    let finished_at = busy.map(|stream| stream.ends_at).max();
    let end = finished_at.unwrap_or(work.from);
    let demand = Demand::of(work, assumptions);
    let scene = outlook::Scene { work, bottles, streams: &streams, played: &played, assumptions, end };
    Ok(Forecast {
        from: work.from,
        closing: work.closing,
        finished_at,
        people: demand.people,
        attempts: demand.attempts,
        supplies: kinds.filter_map(|(agent, solution)| scene.supply(agent, solution)).collect(),
        stations: scene.stations(),
        expires_unused: scene.expires_unused(horizon.max(end)),
        unusable: scene.unusable(),
        facepieces: facepieces::outlook(
            facepieces,
            demand.people,
            assumptions,
            (work.from, end.max(work.closing)),
        ),
        assumptions: assumptions.shown(measured),
    })
}
