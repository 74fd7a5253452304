//! Running sums: worked sums, and run lengths against published tables, computed and simulated.

use sellion_planning::cusum::{Reading, Run, Setup, Side, run};
use sellion_planning::run_length::{alarm_rate, one_sided, siegmund, two_sided};

use crate::support::Chance;

fn setup(k: f64, h: f64) -> Setup {
    Setup::new(k, h).expect("a setup")
}

fn sums(setup: Setup, values: &[f64]) -> Run {
    run(setup, &values.iter().copied().map(Reading::from).collect::<Vec<_>>())
}

/// Within half of the last digit that is printed, and `more` of the value for the rounding of old computers.
fn agrees(computed: Option<f64>, printed: f64, digits: i32, more: f64) -> bool {
    let half = 0.5 * 10_f64.powi(-digits);
    computed.is_some_and(|computed| (computed - printed).abs() <= half + more * printed)
}

#[test]
fn the_sums_are_those_of_hand_arithmetic() {
    let done = sums(setup(0.5, 4.0), &[1.0, 0.25, -3.0, 2.5, 2.5, 1.0, 0.0]);
    let high: Vec<_> = done.points.iter().map(|point| point.high).collect();
    let low: Vec<_> = done.points.iter().map(|point| point.low).collect();
    assert_eq!(high, [0.5, 0.25, 0.0, 2.0, 4.0, 4.5, 0.0]);
    assert_eq!(low, [0.0, 0.0, 2.5, 0.0, 0.0, 0.0, 0.0]);
    // A sum that only reaches h does not signal; after a signal both begin at zero.
    let [signal] = done.signals.as_slice() else { panic!("{:?}", done.signals) };
    assert_eq!((signal.side, signal.from, signal.at), (Side::High, 3, 5));
    assert!((signal.shift - (0.5 + 4.5 / 3.0)).abs() < 1e-12);
}

#[test]
fn a_low_signal_is_the_mirror_of_a_high_one() {
    let values = [0.3, 1.2, 2.0, -0.4, 3.1, 2.2, 0.9, 4.0, 5.5, -1.0];
    let mirrored: Vec<_> = values.iter().map(|value| -value).collect();
    let (up, down) = (sums(setup(0.5, 4.0), &values), sums(setup(0.5, 4.0), &mirrored));
    assert!(!up.signals.is_empty());
    for (high, low) in up.signals.iter().zip(&down.signals) {
        assert_eq!((high.side, low.side), (Side::High, Side::Low));
        assert_eq!((high.from, high.at, high.shift), (low.from, low.at, low.shift));
    }
    assert_eq!(up.signals.len(), down.signals.len());
}

#[test]
fn what_is_no_number_changes_nothing_and_an_allowance_is_taken_off() {
    let odd = sums(Setup::default(), &[2.0, f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 2.0]);
    assert_eq!(odd.points.last().map(|point| point.high), Some(3.0));
    let allowed = Reading { value: 2.0, allowance_high: 1.0, allowance_low: 9.0 };
    assert_eq!(run(Setup::default(), &[allowed, allowed]).points[1].high, 1.0);
    // A negative allowance would make alarms out of nothing.
    let wrong = Reading { value: 2.0, allowance_high: -5.0, allowance_low: -5.0 };
    assert_eq!(run(Setup::default(), &[wrong]).points[0].high, 1.5);
    assert_eq!(run(Setup::default(), &[]), Run::default());
}

#[test]
fn a_setup_out_of_bounds_is_refused_also_when_it_travels() {
    for (k, h) in [(-0.1, 5.0), (3.1, 5.0), (0.5, 0.9), (0.5, 20.1), (f64::NAN, 5.0), (0.5, f64::INFINITY)] {
        assert!(Setup::new(k, h).is_err(), "{k} {h}");
    }
    let read = |text: &str| serde_json::from_str::<Setup>(text);
    assert_eq!(read(r#"{"reference":0.5,"decision":5}"#).expect("a setup"), Setup::default());
    assert!(read(r#"{"reference":0.5,"decision":500}"#).is_err());
    assert!(read(r#"{"reference":0.5}"#).is_err());
}

/// J. M. Lucas and R. B. Crosier, Technometrics 1982;24:199-205, Table 1, two-sided, without a head start: k = 0.5,
/// h = 4; as the documentation of the R package spc quotes it.
const H4: [(f64, f64, i32); 11] = [
    (0.0, 168.0, 0),
    (0.25, 74.2, 1),
    (0.5, 26.6, 1),
    (0.75, 13.3, 1),
    (1.0, 8.38, 2),
    (1.5, 4.75, 2),
    (2.0, 3.34, 2),
    (2.5, 2.62, 2),
    (3.0, 2.19, 2),
    (4.0, 1.71, 2),
    (5.0, 1.31, 2),
];

/// The same for h = 5, as reprinted with the above in D. C. Montgomery, Introduction to Statistical Quality Control,
/// table of run lengths of the tabular CUSUM. From memory; the simulation below does not depend on it.
const H5: [(f64, f64, i32); 11] = [
    (0.0, 465.0, 0),
    (0.25, 139.0, 0),
    (0.5, 38.0, 1),
    (0.75, 17.0, 1),
    (1.0, 10.4, 1),
    (1.5, 5.75, 2),
    (2.0, 4.01, 2),
    (2.5, 3.11, 2),
    (3.0, 2.57, 2),
    (4.0, 2.01, 2),
    (5.0, 1.69, 2),
];

#[test]
fn run_lengths_are_those_of_the_published_tables() {
    for (h, table) in [(4.0, H4), (5.0, H5)] {
        for (shift, printed, digits) in table {
            let computed = two_sided(setup(0.5, h), shift);
            assert!(agrees(computed, printed, digits, 0.003), "h {h}, shift {shift}: {computed:?}");
            assert_eq!(computed, two_sided(setup(0.5, h), -shift));
        }
    }
}

/// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3: 336 and 930 for one side at no shift. From
/// memory.
#[test]
fn one_side_alone_runs_twice_as_long() {
    for (h, printed) in [(4.0, 336.0), (5.0, 930.0)] {
        let computed = one_sided(setup(0.5, h), 0.0);
        assert!(agrees(computed, printed, 0, 0.002), "{h}: {computed:?}");
    }
}

#[test]
fn run_lengths_are_those_of_three_more_authors() {
    // All as quoted in the documentation of the R package spc.
    // K.-H. Waldmann, Technometrics 1986;28:61-67, Tables 1, 3 and 5.
    for (shift, printed, digits) in [(-0.5, 1963.0, 0), (0.0, 117.4, 1), (0.5, 17.35, 2)] {
        let computed = one_sided(setup(0.5, 3.0), shift);
        assert!(agrees(computed, printed, digits, 0.002), "{shift}: {computed:?}");
    }
    // The same, Table 6, two-sided.
    assert!(agrees(two_sided(setup(0.6, 3.0), -0.2), 65.4, 1, 0.002));
    // L. C. Vance, J Qual Technol 1986;18:189-193, Table 1, with k = 0 and h = 10.
    for (shift, printed) in [
        (-0.25, 2071.51),
        (-0.125, 400.28),
        (0.0, 124.66),
        (0.125, 59.30),
        (0.25, 36.71),
        (0.5, 20.37),
        (0.75, 14.06),
        (1.0, 10.75),
    ] {
        let computed = one_sided(setup(0.0, 10.0), shift);
        assert!(agrees(computed, printed, 2, 0.001), "{shift}: {computed:?}");
    }
    // SAS/QC User's Guide, 1999, as quoted with the others: k = 0.25, h = 8, a shift of 2.5, one-sided and two-sided.
    assert!(agrees(one_sided(setup(0.25, 8.0), 2.5), 4.150_083_622_5, 10, 1e-4));
    assert!(agrees(two_sided(setup(0.25, 8.0), 2.5), 4.150_082_671_5, 10, 1e-4));
}

#[test]
fn the_closed_form_is_near() {
    for (h, shift, within) in [(4.0, 0.0, 0.03), (5.0, 0.0, 0.03), (5.0, 0.5, 0.03), (5.0, 1.0, 0.05)] {
        let (chain, closed) =
            (one_sided(setup(0.5, h), shift).expect("a length"), siegmund(setup(0.5, h), shift));
        assert!((closed / chain - 1.0).abs() < within, "{h} {shift}: {closed} and {chain}");
    }
}

/// The mean of many simulated runs, with its standard error.
fn simulated(setup: Setup, shift: f64, runs: u32) -> (f64, f64) {
    let mut chance = Chance::new(20_261_125);
    let (mut sum, mut squares) = (0.0, 0.0);
    for _ in 0..runs {
        let (mut high, mut low, mut length) = (0.0_f64, 0.0_f64, 0.0_f64);
        while high <= setup.decision() && low <= setup.decision() {
            let value = chance.normal() + shift;
            high = (high + value - setup.reference()).max(0.0);
            low = (low - value - setup.reference()).max(0.0);
            length += 1.0;
        }
        sum += length;
        squares += length * length;
    }
    let mean = sum / f64::from(runs);
    (mean, ((squares / f64::from(runs) - mean * mean) / f64::from(runs)).sqrt())
}

#[test]
fn simulated_run_lengths_are_the_computed_ones() {
    for (h, shift) in [(4.0, 0.0), (4.0, 1.0), (4.0, 5.0), (5.0, 0.0), (5.0, 0.5), (5.0, 2.0)] {
        let (mean, error) = simulated(setup(0.5, h), shift, 8_000);
        let computed = two_sided(setup(0.5, h), shift).expect("a length");
        assert!((mean - computed).abs() < 4.0 * error, "h {h}, shift {shift}: {mean} and {computed}");
    }
}

#[test]
fn the_sums_alarm_as_often_as_they_promise() {
    let promise = alarm_rate(Setup::default());
    let mut chance = Chance::new(7);
    let values: Vec<_> = (0..200_000).map(|_| chance.normal()).collect();
    let alarms = sums(Setup::default(), &values).signals.len() as f64;
    let expected = promise.false_alarms_expected(200_000);
    // The number of alarms spreads about like a Poisson number: four of its standard deviations.
    assert!((alarms - expected).abs() < 4.0 * expected.sqrt(), "{alarms} and {expected}");
    assert!(promise.values_to_notice_two_sigma < promise.values_to_notice_one_sigma);
}

#[test]
fn the_ends_of_the_bounds_are_answered_too() {
    assert_eq!(two_sided(setup(3.0, 20.0), 0.0), None, "never, as far as anyone can tell");
    assert_eq!(alarm_rate(setup(3.0, 20.0)).false_alarms_expected(u32::MAX), 0.0);
    assert_eq!(
        (one_sided(Setup::default(), f64::NAN), two_sided(Setup::default(), f64::INFINITY)),
        (None, None)
    );
    let quick = two_sided(setup(0.0, 1.0), 50.0).expect("a length");
    assert!((quick - 1.0).abs() < 1e-6, "{quick}");
    for k in [0.0, 0.25, 1.0, 3.0] {
        for h in [1.0, 5.0, 20.0] {
            let (still, moved) = (two_sided(setup(k, h), 0.0), two_sided(setup(k, h), 4.0));
            let moved = moved.expect("a length");
            assert!(still.is_none_or(|still| still >= moved), "k {k}, h {h}: {still:?}, {moved}");
        }
    }
}
