//! Fit factors against the published formula.
//!
//! The regulation prints no example with numbers. The rows named `fact_10_...` are computed from its formula,
//! 29 CFR 1910.134 App. A I.C.2(b)(8)(iii)(D) and I.C.7(d), and from the pass levels of I.C.2(b)(9).

use sellion_rules::Code;
use sellion_rules::fit_factor::{
    Basis, Fit, Quantity, Reading, check_complete, drift_over, drift_percent, fit, implausible,
    outside_concentrations, peak_over,
};
use sellion_rules::ruleset::{Exercise, FitReading};

/// Pass levels of I.C.2(b)(9): half mask, full facepiece.
const HALF: u32 = 100;
const FULL: u32 = 500;

fn number(text: &str) -> Quantity {
    text.parse().expect("a decimal number")
}

fn factor(text: &str) -> Reading {
    Reading::FitFactor { fit_factor: number(text) }
}

fn inside(text: &str) -> Reading {
    Reading::Inside { inside: number(text) }
}

fn continuous(outside: &str, inside: &str) -> Reading {
    Reading::Continuous { outside: number(outside), inside: number(inside) }
}

/// Numbered from 1, one measurement each.
fn numbered(readings: impl IntoIterator<Item = Reading>) -> Vec<(u8, Reading)> {
    (1..).zip(readings).collect()
}

/// The fit of factors that an instrument has computed, separated by spaces.
fn fit_of(factors: &str) -> Fit {
    fit(&numbered(factors.split(' ').map(factor)), None, None).expect("a fit")
}

fn passes(fit: &Fit, level: u32) -> bool {
    fit.passes(FitReading::Overall, level)
}

#[test]
fn fact_10_1_one_exercise_below_the_level_does_not_fail_the_overall_factor() {
    // I.C.3(b)(1): the overall fit factor decides. Where every exercise has to pass, the same test fails (HSE 282/28).
    let fit = fit_of("200 200 50 200 200 200 200");
    assert_eq!(fit.overall.as_decimal(3), "140.000");
    assert!(passes(&fit, HALF));
    assert!(!fit.passes(FitReading::EveryExercise, HALF));
    assert!(fit.passes(FitReading::EveryExercise, 50));
}

#[test]
fn fact_10_2_one_great_leak_fails_where_an_arithmetic_mean_would_pass() {
    let fit = fit_of("1000 1000 1000 1000 1000 1000 10");
    assert_eq!(fit.overall.as_decimal(4), "66.0377");
    assert!(!passes(&fit, HALF));
}

#[test]
fn fact_10_3_the_level_itself_passes() {
    let fit = fit_of("100 100 100 100 100 100 100");
    assert_eq!(fit.overall.as_decimal(3), "100.000");
    assert!(passes(&fit, HALF));
    assert!(!fit.overall.at_least(HALF + 1) && !fit.overall.exceeds(HALF));
}

#[test]
fn fact_10_4_nothing_is_rounded_before_the_comparison() {
    let fit = fit_of("100 100 100 100 100 100 99.9");
    assert_eq!(fit.overall.as_decimal(4), "99.9857");
    assert!(!passes(&fit, HALF));
    assert_eq!(fit.overall.to_string(), "99.9", "never shown as the level it missed");
}

#[test]
fn fact_10_5_a_full_facepiece_passes_at_500() {
    let fit = fit_of("1200 900 700 450 600 350 1000");
    assert_eq!(fit.overall.as_decimal(3), "629.550");
    assert!(passes(&fit, FULL));
}

#[test]
fn fact_10_6_the_overall_factor_is_one_over_the_mean_penetration() {
    let fit = fit_of("120 80 150 100");
    assert_eq!(fit.overall.as_decimal(3), "106.666", "106.666..., cut off; its penetration is 0.009375");
    assert!((1.0 / fit.overall.to_f64() - 0.009_375).abs() < 1e-15);
    assert!(passes(&fit, HALF));
}

#[test]
fn fact_10_7_two_exercises_below_the_level_may_still_pass() {
    let fit = fit_of("200 67 150 90");
    assert_eq!(fit.overall.as_decimal(4), "106.0919", "106.09192..., cut off");
    assert!(passes(&fit, HALF) && !fit.passes(FitReading::EveryExercise, HALF));
}

#[test]
fn fact_10_8_five_exercises_of_the_redonning_protocol() {
    // I.C.7(d): 4000 / 7.
    let fit = fit_of("500 1000 2000 250 800");
    assert_eq!(fit.overall.as_decimal(6), "571.428571");
    assert!(passes(&fit, FULL));
}

#[test]
fn fact_10_9_the_grimace_is_left_out() {
    // I.C.2(b)(8)(i): each exercise except the grimace. With it the factor would be 69.964 and fail.
    let scored = fit_of("210 180 160 150 120 90 200");
    assert_eq!(scored.overall.as_decimal(3), "146.816");
    assert!(passes(&scored, HALF));
    let with_grimace = fit_of("210 180 160 150 120 15 90 200");
    assert_eq!(with_grimace.overall.as_decimal(4), "69.9635", "69.96356..., cut off");
    assert!(!passes(&with_grimace, HALF));
}

#[test]
fn fact_10_10_particles_of_the_room_before_and_after_the_test() {
    let readings = numbered(["26", "52", "40", "65"].map(inside));
    let fit = fit(&readings, Some(number("5000")), Some(number("5400"))).expect("a fit");
    let factors: Vec<_> = fit.exercises.iter().map(|exercise| exercise.fit_factor.to_string()).collect();
    assert_eq!(factors, ["200.0", "100.0", "130.0", "80.0"]);
    // The same as the mean outside over the mean inside: 5200 / 45.75.
    assert_eq!(fit.overall.as_decimal(3), "113.661");
    assert!(passes(&fit, HALF));
}

#[test]
fn fact_10_13_one_formula_serves_every_protocol() {
    // I.C.2 and I.C.7 print the formula; I.C.3 to I.C.6 only ask for an overall fit factor, and get the same one.
    let counted = fit(&numbered(["26", "52"].map(inside)), Some(number("5200")), Some(number("5200")));
    let computed = fit_of("200 100");
    assert_eq!(counted.expect("a fit").overall, computed.overall);
}

#[test]
fn fact_4_17_an_exercise_factor_is_outside_over_inside() {
    // I.C.2(b)(8)(i).
    let fit = fit(&[(3, continuous("5200.5", "26.0025"))], None, None).expect("a fit");
    assert_eq!((fit.basis, fit.overall.to_string().as_str()), (Basis::Continuous, "200.0"));
    assert_eq!(fit.exercises[0].exercise, 3);
}

#[test]
fn fact_4_18_three_ways_of_averaging_the_concentration_outside() {
    // I.C.2(b)(8)(ii): before and after the test, before and after each exercise, or a true average.
    let around = fit(&[(1, inside("30"))], Some(number("5000")), Some(number("7000")));
    let each = Reading::Each { before: number("5000"), after: number("7000"), inside: number("30") };
    let each = fit(&[(1, each)], None, None);
    let true_average = fit(&[(1, continuous("6000", "30"))], None, None);
    for fit in [around, each, true_average] {
        assert_eq!(fit.expect("a fit").overall.to_string(), "200.0");
    }
    // Where each reading has its own, those around the test serve the drift alone.
    let own = fit(&[(1, continuous("6000", "30"))], Some(number("1")), Some(number("1")));
    assert_eq!(own.expect("a fit").overall.to_string(), "200.0");
}

/// The exercises of A.14(a) in a quantitative test: the sixth is the grimace.
fn standard_exercises() -> Vec<Exercise> {
    let exercise = |number: u8| Exercise {
        number,
        key: format!("exercise_{number}"),
        seconds: if number == 6 { 15 } else { 60 },
        alternative: None,
        measurements: u8::from(number != 6),
        measuring_seconds: 0,
        breaths: None,
        sampling: None,
    };
    (1..=8).map(exercise).collect()
}

#[test]
fn facts_4_19_and_4_21_seven_exercises_are_scored_and_the_grimace_is_not() {
    // I.C.2(b)(8)(i)-(iii).
    let exercises = standard_exercises();
    let mut readings: Vec<_> = [1, 2, 3, 4, 5, 7, 8].map(|number| (number, factor("150"))).to_vec();
    assert_eq!(check_complete(&exercises, &readings), Ok(()));
    assert_eq!(fit(&readings, None, None).expect("a fit").measurements.len(), 7);

    readings.push((6, factor("15")));
    let refusal = check_complete(&exercises, &readings).expect_err("the grimace");
    assert_eq!((refusal.code, refusal.field.as_deref()), (Code::InvalidValue, Some("measurements")));
    assert_eq!(refusal.facts["exercise"], 6_u8.into());

    readings.pop();
    readings.pop();
    let refusal = check_complete(&exercises, &readings).expect_err("the last one is missing");
    assert_eq!(refusal.facts["exercise"], 8_u8.into());
    readings.extend([(8, factor("150")), (9, factor("150"))]);
    let refusal = check_complete(&exercises, &readings).expect_err("no such exercise");
    assert_eq!(refusal.facts["exercise"], 9_u8.into());
}

#[test]
fn facts_4_20_and_4_56_the_overall_factor_is_the_harmonic_mean() {
    // I.C.2(b)(8)(iii)(D): to penetrations, their mean, and back. I.C.7(d): N over the sum of reciprocals.
    let penetrations = [0.004, 0.002, 0.001, 0.005, 0.008];
    let fit = fit_of("250 500 1000 200 125");
    let mean = penetrations.iter().sum::<f64>() / 5.0;
    assert!((fit.overall.to_f64() - 1.0 / mean).abs() < 1e-9);
    assert_eq!(fit.overall.to_string(), "250.0");
}

#[test]
fn an_exercise_of_two_measurements_has_their_harmonic_mean_and_both_count() {
    // I.C.6(b): head turned to the left and to the right, one measurement each.
    let fit = fit(&[(1, factor("200")), (3, factor("100")), (3, factor("300"))], None, None).expect("a fit");
    let exercises: Vec<_> =
        fit.exercises.iter().map(|one| (one.exercise, one.fit_factor.as_decimal(0))).collect();
    assert_eq!(exercises, [(1, "200".to_owned()), (3, "150".to_owned())]);
    assert_eq!(fit.measurements.len(), 3);
    assert_eq!(fit.overall.as_decimal(3), "163.636", "3 / (1/200 + 1/100 + 1/300) = 1800 / 11");
}

#[test]
fn fact_4_11_nothing_inside_is_refused_and_the_limit_of_detection_asked_for() {
    // I.C.2(a)(13).
    let zero_inside = [
        continuous("5000", "0"),
        inside("0.000"),
        Reading::Each { before: number("1"), after: number("1"), inside: Quantity::ZERO },
    ];
    for reading in zero_inside {
        let refusal = fit(&[(4, reading)], Some(number("1")), Some(number("1"))).expect_err("zero");
        assert_eq!((refusal.code, refusal.field.as_deref()), (Code::InvalidValue, Some("inside")));
        assert_eq!(refusal.facts["exercise"], 4_u8.into());
        assert!(refusal.detail.contains("can detect"), "{}", refusal.detail);
    }
}

#[test]
fn other_zeros_and_missing_concentrations_are_named() {
    let (one, zero) = (Some(number("1")), Some(Quantity::ZERO));
    let each =
        |before, after| Reading::Each { before: number(before), after: number(after), inside: number("1") };
    let table = [
        (factor("0"), one, one, "fit_factor"),
        (continuous("0", "1"), one, one, "outside"),
        (each("0", "1"), one, one, "before"),
        (each("1", "0"), one, one, "after"),
        (inside("1"), None, one, "before"),
        (inside("1"), one, None, "after"),
        (inside("1"), zero, one, "before"),
        (inside("1"), one, zero, "after"),
    ];
    for (reading, before, after, field) in table {
        let refusal = fit(&[(1, reading)], before, after).expect_err(field);
        assert_eq!((refusal.code, refusal.field.as_deref()), (Code::InvalidValue, Some(field)));
    }
}

#[test]
fn a_test_has_measurements_of_one_kind_and_not_too_many() {
    assert_eq!(fit(&[], None, None).expect_err("none").field.as_deref(), Some("measurements"));
    let many = vec![(1, factor("100")); 101];
    assert_eq!(fit(&many, None, None).expect_err("many").field.as_deref(), Some("measurements"));
    assert!(fit(&many[..100], None, None).is_ok());
    let mixed = [(1, factor("100")), (2, continuous("100", "1"))];
    let refusal = fit(&mixed, None, None).expect_err("two kinds");
    assert_eq!((refusal.field.as_deref(), &refusal.facts["exercise"]), (Some("basis"), &2_u8.into()));
}

#[test]
fn fact_4_8_the_concentration_outside_varies_by_10_percent_at_most() {
    // I.C.2(a)(8). Of the lowest concentration, so that it holds of the first, the mean and the last too.
    let of = |numbers: &[&str]| numbers.iter().map(|text| number(text)).collect::<Vec<_>>();
    assert_eq!(drift_percent(&of(&["100", "110"])).expect("percent").to_string(), "10.0");
    assert!(!drift_over(&of(&["100", "110"]), 10) && !drift_over(&of(&["110", "100"]), 10));
    assert!(drift_over(&of(&["100", "110.000000001"]), 10));
    assert!(drift_over(&of(&["100", "105", "94", "100"]), 10), "in between counts");
    assert!(drift_over(&of(&["100", "0"]), 10) && drift_percent(&of(&["100", "0"])).is_none());
    assert!(!drift_over(&of(&["100"]), 0) && drift_percent(&of(&["100"])).is_none() && !drift_over(&[], 0));

    let each = Reading::Each { before: number("2"), after: number("3"), inside: number("1") };
    let readings = [(1, each), (2, continuous("4", "1")), (3, inside("9")), (4, factor("9"))];
    let all = outside_concentrations(&readings, Some(number("1")), Some(number("5")));
    assert_eq!(all, of(&["1", "2", "3", "4", "5"]));
}

#[test]
fn facts_4_14_and_4_16_a_peak_may_reach_its_limit_and_not_exceed_it() {
    // I.C.2(b)(4) and (7): 5 percent for half masks, 1 percent for full facepieces.
    for limit in [5, 1] {
        assert!(!peak_over(Quantity::from(limit), limit));
        assert!(peak_over(number(&format!("{limit}.000000001")), limit));
    }
    assert!(!peak_over(number("4.9"), 5) && peak_over(number("1.5"), 1));
}

#[test]
fn readings_that_cannot_be_meant_are_told() {
    // Common practice, no source.
    let max = 200_000;
    assert_eq!(implausible(continuous("5000", "26"), None, max), None);
    assert!(implausible(continuous("26", "5000"), None, max).expect("mixed up").contains("mixed up"));
    assert!(implausible(continuous("26", "26"), None, max).is_some(), "as much inside as outside");
    assert!(implausible(factor("0.9"), None, max).expect("below 1").contains("0.90"));
    assert_eq!(implausible(factor("200000"), None, max), None, "the highest that is taken");
    assert!(implausible(factor("200000.1"), None, max).expect("above").contains("200000"));
    assert_eq!(implausible(inside("30"), None, max), None, "nothing is known of outside yet");
    assert!(implausible(inside("30"), Some(number("20")), max).is_some());
    assert_eq!(implausible(inside("0"), Some(number("20")), max), None, "that is refused, not doubted");

    let fit = fit(&numbered(["30", "6000", "30"].map(inside)), Some(number("5000")), Some(number("5000")));
    let doubts = fit.expect("a fit").implausible(max);
    assert_eq!(doubts.iter().map(|(place, _)| *place).collect::<Vec<_>>(), [1]);
}
