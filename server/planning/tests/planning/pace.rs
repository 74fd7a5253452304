//! How long the rest of a day takes.

use proptest::prelude::*;
use sellion_planning::pace::time_left;

#[test]
fn the_rest_takes_as_long_as_the_pace_says() {
    // By hand: 12 in an hour are one in five minutes; 30 of them take two and a half hours.
    let left = time_left(30, 12, 3600.0).expect("a pace");
    assert_eq!(left.likely_seconds, 9000.0);
    assert!(left.soonest_seconds < 9000.0 && left.latest_seconds > 9000.0);
    assert_eq!(time_left(0, 12, 3600.0).expect("a pace").latest_seconds, 0.0, "nobody is left");
}

#[test]
fn without_a_pace_nothing_is_told() {
    assert_eq!(time_left(30, 0, 3600.0), None);
    for over in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(time_left(30, 12, over), None);
    }
}

/// The limits solve the score equation of a Poisson mean, (n - m)^2 = z^2 m (C. R. Rao, Proc Camb Phil Soc
/// 1948;44:50-57), with z the 90 % point of the standard normal distribution, 1.2816 in any printed table.
#[test]
fn the_limits_solve_the_score_equation() {
    for seen in [1_u32, 5, 20, 100] {
        let left = time_left(1, u64::from(seen), 1.0).expect("a pace");
        for mean in [1.0 / left.soonest_seconds, 1.0 / left.latest_seconds] {
            let score = (f64::from(seen) - mean).powi(2) / mean;
            assert!((score.sqrt() - 1.2816).abs() < 5e-5, "{seen}: {mean}");
        }
    }
}

/// Of many hours with a known pace, about 80 in 100 have it between their limits: the share is added up exactly over the
/// Poisson distribution.
#[test]
fn eight_hours_in_ten_hold_the_true_pace() {
    for mean in [8.0_f64, 15.0, 30.0, 60.0] {
        let (mut chance, mut held) = ((-mean).exp(), 0.0);
        for seen in 1_u32..400 {
            chance *= mean / f64::from(seen);
            let left = time_left(1, u64::from(seen), 1.0).expect("a pace");
            if (1.0 / left.latest_seconds..=1.0 / left.soonest_seconds).contains(&mean) {
                held += chance;
            }
        }
        assert!((0.75..=0.86).contains(&held), "{mean} an hour: {held}");
    }
}

proptest! {
    #[test]
    fn more_people_take_longer_and_more_of_them_finished_are_quicker(
        left in 0_u64..10_000, finished in 1_u64..10_000, over in 1.0_f64..100_000.0,
    ) {
        let told = time_left(left, finished, over).expect("a pace");
        prop_assert!(told.soonest_seconds <= told.likely_seconds && told.likely_seconds <= told.latest_seconds);
        prop_assert!(told.latest_seconds.is_finite() && told.soonest_seconds >= 0.0);
        let more = time_left(left + 1, finished, over).expect("a pace");
        prop_assert!(more.likely_seconds > told.likely_seconds);
        let quicker = time_left(left + 1, finished + 1, over).expect("a pace");
        prop_assert!(quicker.likely_seconds < more.likely_seconds);
    }
}
