//! What the people still to come need: squeezes, and from them fills, at each station.

use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::supplies::{Agent, Solution};
use uuid::Uuid;

use super::assumptions::Assumptions;
use super::{CurrentFill, Work};

/// Squeezes one gives to somebody who does not taste: all three sets.
const NOT_TASTED_SQUEEZES: f64 = 30.0;

/// A hair under a whole fill is a whole fill: binary arithmetic misses the last digit.
const HAIR: f64 = 1e-9;

/// The longest stretch that is played through, in hours. Whatever takes longer needs another day, not a forecast.
const HOURS_MAX: f64 = 7.0 * 24.0;

/// People, attempts and squeezes to come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Demand {
    /// People who will be seen.
    pub(super) people: f64,
    /// Attempts of all agents; as many screenings, since a retest repeats the whole procedure.
    pub(super) attempts: f64,
}

impl Demand {
    pub(super) fn of(work: &Work, assumptions: &Assumptions) -> Self {
        let coming = if work.booked { 1.0 - assumptions.no_show_share } else { 1.0 };
        let people = f64::from(work.heads) * coming;
        Self { people, attempts: people * assumptions.attempts_per_head() }
    }

    /// Attempts with the agent.
    pub(super) fn attempts_with(self, work: &Work, assumptions: &Assumptions, agent: Agent) -> f64 {
        let share = if agent == work.main_agent {
            1.0 - assumptions.not_tasted_share
        } else if Some(agent) == work.main_agent.other_taste() {
            assumptions.not_tasted_share
        } else {
            0.0
        };
        self.attempts * share
    }

    /// Runs in which the solution is sprayed: attempts, or screenings, of which everybody has one of the main agent.
    fn runs(self, work: &Work, assumptions: &Assumptions, agent: Agent, solution: Solution) -> f64 {
        if solution == Solution::Screening && agent == work.main_agent {
            self.attempts
        } else {
            self.attempts_with(work, assumptions, agent)
        }
    }

    /// Microlitres to be sprayed.
    pub(super) fn sprayed_ul(
        self,
        work: &Work,
        assumptions: &Assumptions,
        agent: Agent,
        solution: Solution,
    ) -> f64 {
        let tasted = self.attempts_with(work, assumptions, agent);
        let squeezes = match solution {
            Solution::Test => tasted * assumptions.test_squeezes(),
            Solution::Screening | Solution::Stock => {
                let not_tasted = self.runs(work, assumptions, agent, solution) - tasted;
                tasted * assumptions.screening_squeezes() + not_tasted * NOT_TASTED_SQUEEZES
            }
        };
        squeezes * assumptions.squeeze_ul
    }
}

/// One solution at one station: how fast it is sprayed and how much of it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stream {
    pub(super) station: Uuid,
    pub(super) name: String,
    pub(super) agent: Agent,
    pub(super) solution: Solution,
    /// Microlitres an hour.
    pub(super) rate: f64,
    /// Microlitres still to be sprayed here.
    pub(super) sprayed_ul: f64,
    /// When the work here ends.
    pub(super) ends_at: DateTime<Utc>,
    pub(super) fill: Option<CurrentFill>,
}

/// The streams of one agent and solution, in proportion to how fast each station works; none where no station does.
pub(super) fn streams(
    work: &Work,
    assumptions: &Assumptions,
    agent: Agent,
    solution: Solution,
) -> Vec<Stream> {
    let demand = Demand::of(work, assumptions);
    let runs = demand.runs(work, assumptions, agent, solution);
    let sprayed = demand.sprayed_ul(work, assumptions, agent, solution);
    let stations = work.stations.iter().filter(|station| station.agent == agent);
    let speeds: Vec<_> = stations
        .map(|station| match solution {
            Solution::Test => {
                (station, station.attempts_per_hour.unwrap_or(assumptions.attempts_per_station_hour))
            }
            Solution::Screening | Solution::Stock => {
                (station, station.screenings_per_hour.unwrap_or(assumptions.screenings_per_station_hour))
            }
        })
        .filter(|(_, speed)| *speed > 0.0)
        .collect();
    let together: f64 = speeds.iter().map(|(_, speed)| speed).sum();
    if together <= 0.0 {
        return Vec::new();
    }
    let hours = (runs / together).min(HOURS_MAX);
    let of_station = |speed: f64| sprayed * speed / together;
    let stream = speeds.into_iter().map(|(station, speed)| Stream {
        station: station.station,
        name: station.name.clone(),
        agent,
        solution,
        rate: if hours > 0.0 { of_station(speed) / hours } else { 0.0 },
        sprayed_ul: of_station(speed),
        ends_at: hours_after(work.from, hours),
        fill: station.fills.iter().copied().find(|fill| fill.agent == agent && fill.solution == solution),
    });
    stream.collect()
}

impl Stream {
    /// What the present fill still gives, in microlitres sprayed, before it is empty or too old.
    pub(super) fn present_fill_gives(&self, from: DateTime<Utc>, assumptions: &Assumptions) -> f64 {
        let Some(fill) = self.fill else { return 0.0 };
        let usable = f64::from(fill.left_ul) * assumptions.used_share(self.solution);
        let in_time = self.rate * hours_between(from, fill.usable_until);
        usable.min(in_time).min(self.sprayed_ul)
    }

    /// What is sprayed of one whole fill before it is empty or too old, in microlitres.
    pub(super) fn one_fill_gives(&self, assumptions: &Assumptions) -> f64 {
        let usable = assumptions.fill_ul * assumptions.used_share(self.solution);
        usable.min(self.rate * assumptions.fill_life_seconds / 3600.0)
    }

    /// What has to be filled here until the end, in microlitres, in whole fills.
    pub(super) fn need_ul(&self, from: DateTime<Utc>, assumptions: &Assumptions) -> f64 {
        let left = self.sprayed_ul - self.present_fill_gives(from, assumptions);
        let one = self.one_fill_gives(assumptions);
        if left <= HAIR || one <= 0.0 {
            return 0.0;
        }
        (left / one - HAIR).ceil().max(0.0) * assumptions.fill_ul
    }
}

/// `at` and `hours` more, or the last moment there is.
pub(super) fn hours_after(at: DateTime<Utc>, hours: f64) -> DateTime<Utc> {
    let microseconds = (hours * 3_600_000_000.0) as i64;
    at.checked_add_signed(TimeDelta::microseconds(microseconds)).unwrap_or(DateTime::<Utc>::MAX_UTC)
}

/// Hours from the one to the other; 0 where it has passed.
pub(super) fn hours_between(from: DateTime<Utc>, to: DateTime<Utc>) -> f64 {
    let microseconds = to.signed_duration_since(from).num_microseconds().unwrap_or(i64::MAX).max(0);
    microseconds as f64 / 3_600_000_000.0
}
