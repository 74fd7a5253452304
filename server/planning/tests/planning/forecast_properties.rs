//! What holds for every forecast, whatever is on hand and whoever comes.

use chrono::TimeDelta;
use proptest::prelude::*;
use sellion_planning::forecast::{
    Assumptions, Bottle, CurrentFill, Forecast, Place, PlannedDay, StationWork, Work, forecast,
};
use sellion_rules::supplies::{Agent, Solution};

use crate::forecast::{bottle, hours, morning, round, station, work};
use crate::support::id;

fn agents() -> impl Strategy<Value = Agent> {
    prop_oneof![3 => Just(Agent::Saccharin), 1 => Just(Agent::DenatoniumBenzoate)]
}

fn solutions() -> impl Strategy<Value = Solution> {
    prop_oneof![Just(Solution::Test), Just(Solution::Screening)]
}

fn bottles() -> impl Strategy<Value = Vec<Bottle>> {
    let one = (
        (agents(), solutions(), -500..60_000_i64, 0..1_000_u32),
        (any::<bool>(), proptest::option::of(0..20_000_u32), prop::bool::weighted(0.1), 1..6_u32),
    );
    proptest::collection::vec(one, 0..12).prop_map(|all| {
        let bottles = (1..).zip(all).map(|(number, ((agent, solution, ul, minutes), rest))| {
            let (opened, opened_life_seconds, stopped, place) = rest;
            Bottle {
                agent,
                lot: id(1000 + number % 3),
                usable_until: morning() + TimeDelta::minutes(i64::from(minutes)),
                opened,
                opened_life_seconds,
                stopped,
                place: Place { id: id(place), name: "a place".to_owned(), station: place < 5 },
                ..bottle(number, solution, ul)
            }
        });
        bottles.collect()
    })
}

fn stations() -> impl Strategy<Value = Vec<StationWork>> {
    let fill = (agents(), solutions(), 0..1_000_u32, -60..300_i64);
    let one = (agents(), proptest::option::of(0.0..12.0), proptest::option::of(fill));
    proptest::collection::vec(one, 0..6).prop_map(|all| {
        let stations = (1..).zip(all).map(|(number, (agent, per_hour, fill))| StationWork {
            agent,
            attempts_per_hour: per_hour,
            screenings_per_hour: per_hour,
            fills: fill
                .into_iter()
                .map(|(agent, solution, left_ul, minutes)| CurrentFill {
                    agent,
                    solution,
                    left_ul,
                    usable_until: morning() + TimeDelta::minutes(minutes),
                })
                .collect(),
            ..station(number, 0.0)
        });
        stations.collect()
    })
}

fn told(work: &Work, bottles: &[Bottle], assumptions: &Assumptions) -> Forecast {
    forecast(work, bottles, &[], (assumptions, None), hours(20)).expect("a forecast")
}

fn on_hand(bottles: &[Bottle], agent: Agent, solution: Solution) -> u64 {
    let usable = bottles.iter().filter(|bottle| !bottle.stopped && bottle.usable_until > morning());
    let of_it = usable.filter(|bottle| bottle.agent == agent && bottle.solution == solution);
    of_it.map(|bottle| u64::try_from(bottle.on_hand_ul).unwrap_or(0)).sum()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn every_microlitre_is_used_lost_or_left(
        heads in 0..300_u32, stations in stations(), bottles in bottles(), plain in any::<bool>(),
    ) {
        let assumptions = if plain { round() } else { Assumptions::default() };
        let told = told(&work(heads, stations.clone()), &bottles, &assumptions);
        for supply in &told.supplies {
            let there = on_hand(&bottles, supply.agent, supply.solution);
            prop_assert_eq!(supply.on_hand_ul, there);
            prop_assert_eq!(supply.drawn_ul + supply.lost_ul + supply.reserve_left_ul + supply.rests_ul, there);
            prop_assert_eq!((supply.drawn_ul + supply.reserve_left_ul) % (assumptions.fill_ul as u64), 0);
            prop_assert!(supply.sprayed_ul >= 0.0 && supply.need_ul >= 0.0);
            prop_assert_eq!(supply.empty_at.is_some(), supply.shortage_ul > 0 && !supply.no_station);
            if supply.no_station {
                continue;
            }
            // Whatever is sprayed was in a nebulizer, came from a bottle, or was missing.
            let fills = stations.iter().filter(|at| at.agent == supply.agent).flat_map(|at| &at.fills);
            let held: f64 = fills
                .filter(|fill| fill.agent == supply.agent && fill.solution == supply.solution)
                .map(|fill| f64::from(fill.left_ul))
                .sum();
            let filled = held + (supply.drawn_ul + supply.shortage_ul) as f64;
            prop_assert!(filled * assumptions.used_share(supply.solution) >= supply.sprayed_ul - 0.01);
            let at_stations: u64 = told
                .stations
                .iter()
                .filter(|at| at.agent == supply.agent && at.solution == supply.solution)
                .map(|at| at.drawn_ul)
                .sum();
            prop_assert_eq!(at_stations, supply.drawn_ul);
        }
        for left in &told.expires_unused {
            prop_assert!(left.ul > 0 && left.at > morning());
        }
    }

    #[test]
    fn more_people_never_need_less(
        heads in 0..300_u32, more in 0..100_u32, stations in stations(), planned in any::<bool>(),
    ) {
        let assumptions = Assumptions::default();
        let need = |heads| {
            let work = if planned {
                let named = |at: &StationWork| (at.station, at.name.clone(), at.agent);
                let day = PlannedDay {
                    starts_at: morning(),
                    hours: 9.5,
                    heads,
                    main_agent: Agent::Saccharin,
                    stations: stations.iter().map(named).collect(),
                };
                Work::planned(&day, &assumptions)
            } else {
                work(heads, stations.clone())
            };
            let told = told(&work, &[], &assumptions);
            // In a fixed order, and zero where nothing is told.
            [Agent::Saccharin, Agent::DenatoniumBenzoate].map(|agent| {
                [Solution::Test, Solution::Screening].map(|solution| {
                    let mut of_it = told.supplies.iter();
                    let supply = of_it.find(|supply| supply.agent == agent && supply.solution == solution);
                    supply.map_or((0.0, 0), |supply| (supply.need_ul, supply.order_ul))
                })
            })
        };
        for (few, many) in need(heads).iter().flatten().zip(need(heads + more).iter().flatten()) {
            prop_assert!(many.0 >= few.0 && many.1 >= few.1, "{:?} {:?}", few, many);
        }
    }
}
