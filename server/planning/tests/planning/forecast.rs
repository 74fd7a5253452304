//! The forecast against hand arithmetic: needs, what runs out where and when, lots, expiries and orders.

use chrono::{DateTime, TimeDelta, Utc};
use sellion_planning::forecast::{
    Assumptions, Bottle, CurrentFill, FacepieceStock, Forecast, Place, PlannedDay, StationWork, Trust,
    WhyUnusable, Work, forecast,
};
use sellion_rules::supplies::{Agent, Solution};

use crate::support::id;

pub(crate) fn morning() -> DateTime<Utc> {
    DateTime::from_timestamp(1_795_000_000, 0).expect("a moment")
}

pub(crate) fn hours(hours: i64) -> DateTime<Utc> {
    morning() + TimeDelta::hours(hours)
}

pub(crate) fn bottle(number: u32, solution: Solution, on_hand_ul: i64) -> Bottle {
    Bottle {
        bottle: id(number),
        label: format!("B{number}"),
        lot: id(1000 + number),
        lot_number: format!("L{number}"),
        agent: Agent::Saccharin,
        solution,
        on_hand_ul,
        usable_until: hours(1000 + i64::from(number)),
        opened: true,
        opened_life_seconds: None,
        stopped: false,
        place: Place { id: id(500), name: "Storeroom".to_owned(), station: false },
    }
}

pub(crate) fn station(number: u32, per_hour: f64) -> StationWork {
    StationWork {
        station: id(number),
        name: format!("Station {number}"),
        agent: Agent::Saccharin,
        attempts_per_hour: Some(per_hour),
        screenings_per_hour: Some(per_hour),
        fills: Vec::new(),
    }
}

pub(crate) fn work(heads: u32, stations: Vec<StationWork>) -> Work {
    let main_agent = Agent::Saccharin;
    Work { from: morning(), closing: hours(8), heads, booked: false, main_agent, stations }
}

/// Round numbers: 100 squeezes of 5 microlitres in every attempt, fills of 1 ml used up, nobody fails or drops out.
pub(crate) fn round() -> Assumptions {
    Assumptions {
        share_level_10: 1.0,
        share_level_20: 0.0,
        share_level_30: 0.0,
        test_squeezes_level_10: 100.0,
        not_tasted_share: 0.0,
        no_show_share: 0.0,
        fail_share: 0.0,
        void_share: 0.0,
        thrown_test_ul: 0.0,
        thrown_screening_ul: 0.0,
        facepieces_per_head: 1.0,
        ..Assumptions::default()
    }
}

fn told(work: &Work, bottles: &[Bottle], assumptions: &Assumptions) -> Forecast {
    forecast(work, bottles, &[], (assumptions, None), morning()).expect("a forecast")
}

fn test_supply(told: &Forecast) -> &sellion_planning::forecast::SupplyOutlook {
    told.supplies.iter().find(|supply| supply.solution == Solution::Test).expect("test solution")
}

/// Fact 3.47, 29 CFR 1910.134 App. A I.B.3(b)(7), (9): 10 + 13 x 5 = 75 squeezes in 7 minutes, 150 and 225 at the
/// other levels; the mix of levels is from memory: 0.80 x 75 + 0.15 x 150 + 0.05 x 225 = 93.75, and 12.5 to screen.
#[test]
fn mean_squeezes_are_those_of_the_mix_of_levels() {
    let assumptions = Assumptions::default();
    assert!((assumptions.test_squeezes() - 93.75).abs() < 1e-9);
    assert!((assumptions.screening_squeezes() - 12.5).abs() < 1e-9);
}

/// Common practice, no source: 95 ml of test solution for 100 tests and 30 ml of screening solution.
#[test]
fn bottles_for_a_hundred_tests_are_those_of_the_trade() {
    for (ml, test, screening) in [(50.0, 2, 1), (30.0, 4, 1), (55.0, 2, 1), (100.0, 1, 1), (15.0, 7, 2)] {
        let size = ml * 1000.0;
        let assumptions =
            Assumptions { bottle_test_ul: size, bottle_screening_ul: size, ..Assumptions::default() };
        assert_eq!(assumptions.bottles_per_100(Solution::Test), test, "{ml}");
        assert_eq!(assumptions.bottles_per_100(Solution::Screening), screening, "{ml}");
    }
}

/// Computed from common practice: 600 booked people give about 680 attempts, 650 ml of test solution and 210 ml of
/// screening solution in two days at 6 stations.
#[test]
fn two_days_for_six_hundred_people_take_what_the_trade_says() {
    let day = PlannedDay {
        starts_at: morning(),
        hours: 12.0,
        heads: 300,
        main_agent: Agent::Saccharin,
        stations: (1..=6)
            .map(|number| (id(number), format!("Station {number}"), Agent::Saccharin))
            .chain([(id(6), "Station 6".to_owned(), Agent::DenatoniumBenzoate)])
            .collect(),
    };
    let work = Work::planned(&day, &Assumptions::default());
    let told = told(&work, &[], &Assumptions::default());
    assert!((2.0 * told.attempts - 680.0).abs() < 0.02 * 680.0, "{}", told.attempts);
    let used = |solution| Assumptions::default().used_share(solution);
    for (solution, said) in [(Solution::Test, 650.0), (Solution::Screening, 210.0)] {
        let of_it = || told.supplies.iter().filter(|supply| supply.solution == solution);
        let ml = 2.0 * of_it().map(|supply| supply.sprayed_ul).sum::<f64>() / used(solution) / 1000.0;
        // The screening of those who do not taste, and their second one, is 4 % that the trade's figure leaves out.
        assert!((ml - said).abs() < 0.05 * said, "{solution}: {ml}");
        // Fills are whole: at most one of 1 ml more for each of 7 pairs of station and agent on each of two days.
        let whole = 2.0 * of_it().map(|supply| supply.need_ul).sum::<f64>() / 1000.0;
        assert!(whole >= ml && whole <= ml + 14.0, "{solution}: {whole} for {ml}");
    }
    let finished = told.finished_at.expect("an end");
    assert!((finished - hours(12)).num_seconds().abs() <= 1, "{finished}");
    // With nothing on hand all of it is missing, from the first fill on, and two lots are wanted of each.
    assert!(told.supplies.iter().all(|supply| supply.minutes_to_empty == Some(0) && supply.wants_second_lot));
    assert_eq!(told.supplies.len(), 4);
}

/// Computed from the fail shares: about 615 attempts at 8 %, 670 at 15 % and 755 at 25 % of 558 people, without voids.
#[test]
fn attempts_follow_the_fail_share() {
    for (fail_share, expected) in [(0.08, 615.0), (0.15, 670.0), (0.25, 755.0)] {
        let assumptions = Assumptions { fail_share, void_share: 0.0, ..Assumptions::default() };
        let attempts = 558.0 * assumptions.attempts_per_head();
        assert!((attempts / expected - 1.0_f64).abs() < 0.02, "{fail_share}: {attempts}");
    }
}

#[test]
fn a_station_runs_out_first_and_the_site_later_by_hand_arithmetic() {
    // 4 attempts of 500 microlitres an hour: a fill of 1 ml lasts half an hour. 16 people take 8 ml in 4 hours.
    let mut own = bottle(1, Solution::Test, 2_000);
    own.place = Place { id: id(7), name: "Station 7".to_owned(), station: true };
    let told = told(&work(16, vec![station(7, 4.0)]), &[own, bottle(2, Solution::Test, 3_000)], &round());
    assert_eq!(told.finished_at, Some(hours(4)));
    let test = test_supply(&told);
    assert_eq!((test.need_ul, test.need_bottles, test.on_hand_ul), (8000.0, 1, 5000));
    assert_eq!((test.drawn_ul, test.shortage_ul, test.reserve_left_ul), (5000, 3000, 0));
    // Its own two fills last an hour, those of the storeroom an hour and a half more.
    assert_eq!(
        (test.minutes_to_empty, test.empty_at),
        (Some(150), Some(morning() + TimeDelta::minutes(150)))
    );
    let at_station = told.stations.iter().find(|at| at.solution == Solution::Test).expect("the station");
    assert_eq!((at_station.minutes_to_own_empty, at_station.refill_at), (Some(60), Some(morning())));
    assert_eq!(at_station.site_empty_at, test.empty_at);
    // 8 ml and 30 % are 10.4 ml, of which 5 are there.
    assert_eq!((test.order_ul, test.order_bottles), (5_400, 1));
}

/// A nebulizer is filled from one bottle: three rests of 0.9 ml are no fill of 1 ml, and no lot to fall back on.
#[test]
fn bottles_too_empty_for_a_fill_give_none() {
    let rests = [1, 2, 3].map(|number| bottle(number, Solution::Test, 900));
    let empty = told(&work(2, vec![station(7, 4.0)]), &rests, &round());
    let test = test_supply(&empty);
    assert_eq!((test.on_hand_ul, test.drawn_ul, test.reserve_left_ul, test.rests_ul), (2_700, 0, 0, 2_700));
    assert_eq!((test.shortage_ul, test.minutes_to_empty), (1_000, Some(0)));
    assert_eq!((test.wants_second_lot, test.spare_lot), (true, None));
    // 1 ml and 30 %: the rests cover none of it.
    assert_eq!(test.order_ul, 1_300);
    let mut bottles = rests.to_vec();
    bottles.push(bottle(4, Solution::Test, 2_500));
    let filled = told(&work(2, vec![station(7, 4.0)]), &bottles, &round());
    let test = test_supply(&filled);
    assert_eq!((test.drawn_ul, test.reserve_left_ul, test.rests_ul), (1_000, 1_000, 3_200));
    assert_eq!((test.shortage_ul, test.wants_second_lot), (0, true));
}

#[test]
fn what_a_nebulizer_still_holds_comes_first() {
    let mut at = station(7, 4.0);
    let fill = CurrentFill {
        agent: Agent::Saccharin,
        solution: Solution::Test,
        left_ul: 500,
        usable_until: hours(3),
    };
    at.fills = vec![fill];
    let first = told(&work(16, vec![at.clone()]), &[bottle(1, Solution::Test, 50_000)], &round());
    assert_eq!(first.stations.last().and_then(|at| at.refill_at), Some(morning() + TimeDelta::minutes(15)));
    // Of 8 ml half a millilitre is there: 7.5 ml are 8 fills.
    assert_eq!(test_supply(&first).need_ul, 8000.0);
    // A fill that goes out of date after six minutes gives six minutes.
    at.fills = vec![CurrentFill { usable_until: morning() + TimeDelta::minutes(6), ..fill }];
    let second = told(&work(16, vec![at.clone()]), &[], &round());
    assert_eq!(second.stations.last().and_then(|at| at.refill_at), Some(morning() + TimeDelta::minutes(6)));
    at.fills = vec![CurrentFill { usable_until: morning() - TimeDelta::minutes(6), ..fill }];
    let third = told(&work(16, vec![at]), &[], &round());
    assert_eq!(third.stations.last().and_then(|at| at.refill_at), Some(morning()));
}

/// 29 CFR 1910.134 App. A I.B.3(a)(14), fact 3.38: refilled at least every four hours, however little was sprayed.
#[test]
fn a_slow_station_refills_by_the_clock() {
    // One attempt of half a millilitre every five hours: a fill would last ten hours and lives for four. 20 hours: 5.
    let told = told(&work(4, vec![station(7, 0.2)]), &[bottle(1, Solution::Test, 50_000)], &round());
    let test = test_supply(&told);
    assert_eq!((test.sprayed_ul, test.need_ul, test.drawn_ul), (2000.0, 5000.0, 5000));
}

#[test]
fn the_bottle_that_expires_first_is_used_first_and_the_rest_is_told() {
    let mut early = bottle(1, Solution::Test, 3_000);
    early.usable_until = hours(2);
    let mut soon = bottle(2, Solution::Test, 9_000);
    soon.usable_until = hours(1);
    let late = bottle(3, Solution::Test, 50_000);
    let told = told(&work(16, vec![station(7, 4.0)]), &[late, early, soon], &round());
    // Fills at 0:00 and 0:30 from the second, at 1:00 and 1:30 from the first, four more from the third.
    let expiring: Vec<_> = told.expires_unused.iter().map(|left| (left.bottle, left.ul, left.at)).collect();
    assert_eq!(expiring, [(id(2), 7_000, hours(1)), (id(1), 1_000, hours(2))]);
    let test = test_supply(&told);
    assert_eq!((test.drawn_ul, test.lost_ul, test.reserve_left_ul), (8_000, 8_000, 46_000));
    assert_eq!((test.shortage_ul, test.order_ul, test.minutes_to_empty), (0, 0, None));
}

#[test]
fn an_opened_bottle_lives_no_longer_than_its_opened_life() {
    let mut fresh = bottle(1, Solution::Test, 50_000);
    (fresh.opened, fresh.opened_life_seconds) = (false, Some(3600));
    let told = told(&work(16, vec![station(7, 4.0)]), &[fresh], &round());
    let test = test_supply(&told);
    assert_eq!((test.drawn_ul, test.lost_ul, test.shortage_ul), (2_000, 48_000, 6_000));
    assert_eq!(told.expires_unused.len(), 1);
}

#[test]
fn stopped_expired_and_negative_bottles_are_named_and_not_used() {
    let mut stopped = bottle(1, Solution::Test, 5_000);
    stopped.stopped = true;
    let mut expired = bottle(2, Solution::Test, 5_000);
    expired.usable_until = morning();
    let negative = bottle(3, Solution::Test, -400);
    let told = told(&work(4, vec![station(7, 4.0)]), &[stopped, expired, negative], &round());
    let unusable: Vec<_> =
        told.unusable.iter().map(|bottle| (bottle.bottle, bottle.ul, bottle.why)).collect();
    assert_eq!(
        unusable,
        [
            (id(1), 5_000, WhyUnusable::Stopped),
            (id(2), 5_000, WhyUnusable::Expired),
            (id(3), -400, WhyUnusable::Negative),
        ]
    );
    let test = test_supply(&told);
    assert_eq!((test.on_hand_ul, test.drawn_ul, test.shortage_ul), (0, 0, 2_000));
}

#[test]
fn one_lot_is_a_warning_and_the_longest_lasting_is_the_spare() {
    let mut twin = bottle(2, Solution::Test, 1_000);
    twin.lot = id(1001);
    let day = work(4, vec![station(7, 4.0)]);
    let one = told(&day, &[bottle(1, Solution::Test, 9_000), twin.clone()], &round());
    let test = test_supply(&one);
    assert_eq!((test.wants_second_lot, test.spare_lot, test.lots.len()), (true, None, 1));
    assert_eq!(test.lots[0].on_hand_ul, 10_000);
    let two =
        told(&day, &[bottle(5, Solution::Test, 9_000), bottle(1, Solution::Test, 9_000), twin], &round());
    let test = test_supply(&two);
    assert_eq!((test.wants_second_lot, test.spare_lot), (false, Some(id(1005))));
}

#[test]
fn nobody_to_come_needs_nothing() {
    let told =
        told(&work(0, vec![station(7, 4.0)]), &[bottle(1, Solution::Test, 9_000)], &Assumptions::default());
    let test = test_supply(&told);
    assert_eq!((test.need_ul, test.drawn_ul, test.order_ul, test.wants_second_lot), (0.0, 0, 0, false));
    assert_eq!((told.finished_at, told.stations.iter().all(|at| at.refill_at.is_none())), (None, true));
}

#[test]
fn an_agent_without_a_station_is_said() {
    // A tenth do not taste saccharin, and no station works with denatonium benzoate: 4 of 40 people.
    let assumptions = Assumptions { not_tasted_share: 0.1, ..round() };
    let told = told(&work(40, vec![station(7, 4.0)]), &[], &assumptions);
    let other: Vec<_> =
        told.supplies.iter().filter(|supply| supply.agent == Agent::DenatoniumBenzoate).collect();
    assert!(other.iter().all(|supply| supply.no_station && supply.wants_second_lot));
    assert_eq!((other[1].sprayed_ul.round(), other[1].shortage_ul), (2000.0, 2000));
}

#[test]
fn facepieces_follow_the_measured_shares() {
    let stock = |number, on_hand, used| FacepieceStock {
        respirator: id(number),
        name: format!("Ostrel cup {number}"),
        on_hand,
        used,
    };
    let day = work(100, vec![station(7, 10.0)]);
    let stocks = [stock(1, 60, 30), stock(2, 10, 10), stock(3, -2, 0)];
    let told = forecast(&day, &[], &stocks, (&round(), None), morning()).expect("a forecast");
    let needs: Vec<_> =
        told.facepieces.iter().map(|piece| (piece.need, piece.shortage, piece.order)).collect();
    // 100 people in 10 hours: 75 and 25. With 30 % more 97.5 and 32.5.
    assert_eq!(needs, [(75, 15, 38), (25, 15, 23), (0, 0, 0)]);
    assert_eq!(told.facepieces[0].empty_at, Some(hours(8)));
    assert_eq!(told.facepieces[1].empty_at, Some(hours(4)));
    let unmeasured = forecast(&day, &[], &[stock(1, 0, 0), stock(2, 0, 0)], (&round(), None), morning());
    let pieces = unmeasured.expect("a forecast").facepieces;
    assert!(
        pieces.iter().all(|piece| !piece.measured && piece.need == 50 && piece.empty_at == Some(morning()))
    );
}

#[test]
fn assumptions_travel_with_their_sources_and_may_be_replaced_one_by_one() {
    let set: Assumptions = serde_json::from_str(r#"{"squeeze_ul": 4.2}"#).expect("assumptions");
    assert_eq!(set, Assumptions { squeeze_ul: 4.2, ..Assumptions::default() });
    assert!(serde_json::from_str::<Assumptions>(r#"{"squeeze": 4.2}"#).is_err());
    let told = told(&work(1, vec![station(7, 4.0)]), &[], &set);
    let fields = serde_json::to_value(set).expect("json");
    let shown: Vec<_> = told.assumptions.iter().map(|shown| shown.name.to_owned()).collect();
    let mut names: Vec<_> = fields.as_object().expect("an object").keys().cloned().collect();
    let mut sorted = shown.clone();
    names.sort();
    sorted.sort();
    assert_eq!(sorted, names, "every assumption is shown");
    for shown in &told.assumptions {
        assert!(!shown.source.is_empty() && !shown.unit.is_empty(), "{}", shown.name);
        assert_eq!(shown.trust == Trust::SetHere, shown.name == "squeeze_ul");
    }
}

#[test]
fn what_cannot_be_meant_is_refused_with_its_field() {
    let refused = |assumptions: Assumptions, work: &Work| {
        let refusal = forecast(work, &[], &[], (&assumptions, None), morning()).expect_err("a refusal");
        refusal.field.expect("a field")
    };
    let day = work(10, vec![station(7, 4.0)]);
    let usual = Assumptions::default;
    assert_eq!(refused(Assumptions { fail_share: 1.5, ..usual() }, &day), "fail_share");
    assert_eq!(refused(Assumptions { squeeze_ul: f64::NAN, ..usual() }, &day), "squeeze_ul");
    assert_eq!(refused(Assumptions { thrown_test_ul: 1000.0, ..usual() }, &day), "thrown_test_ul");
    assert_eq!(refused(Assumptions { thrown_screening_ul: 990.0, ..usual() }, &day), "thrown_screening_ul");
    let nobody = Assumptions { share_level_10: 0.0, share_level_20: 0.0, share_level_30: 0.0, ..usual() };
    assert_eq!(refused(nobody, &day), "share_level_10");
    assert_eq!(refused(usual(), &work(100_001, vec![])), "heads");
    assert_eq!(refused(usual(), &work(100_000, vec![station(7, 1000.0)])), "heads");
    assert_eq!(refused(usual(), &work(1, vec![station(7, f64::NAN)])), "stations");
    assert_eq!(refused(usual(), &Work { main_agent: Agent::IrritantSmoke, ..day }), "main_agent");
}
