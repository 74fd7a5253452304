//! Measured fit factors: order, seconds, peaks, drift, lost breaths, and equality at the pass level.

use sellion_rules::Code;
use sellion_rules::attempt::{
    AttemptEventKind as Kind, AttemptSetup, Missing, Outcome, SealCheckResult, VerdictReason,
};
use sellion_rules::fit_factor::{Quantity, Reading};
use sellion_rules::method::Method;
use sellion_rules::respirator::Facepiece;
use sellion_rules::ruleset::FitReading;

use crate::support::{Run, number, setup_for, setup_of};

const ASKED: Kind = Kind::AskedAgain { tasted: false, comfortable: true };

/// The beginning of the measuring in every run told here.
const BEGIN: i64 = 400;

fn quantity(text: &str) -> Quantity {
    text.parse().expect("a quantity")
}

fn factor(text: &str) -> Reading {
    Reading::FitFactor { fit_factor: quantity(text) }
}

fn fitted(setup: AttemptSetup) -> Run {
    let mut run = Run::new(setup);
    run.ok(60, Kind::Donned { by_wearer: true, fresh: false });
    run.ok(90, Kind::SealChecked { result: SealCheckResult::Ok });
    run
}

fn started(setup: AttemptSetup) -> Run {
    let peak_percent = setup.rules.measuring.as_ref().and_then(|rules| rules.peak_percent_max);
    let peak_percent = peak_percent.map(|_| quantity("0.5"));
    let mut run = fitted(setup);
    run.ok(BEGIN, Kind::MeasuringStarted { before: None, peak_percent });
    run
}

fn measured(exercise: u8, reading: Reading) -> Kind {
    Kind::Measured { exercise, reading, typed_first: None, peak_percent: None }
}

/// Every scored exercise in order, each at the first moment it may have ended, then the end of the measuring.
fn play(run: &mut Run, readings: &[Reading]) {
    let peaks = run.state.setup().rules.measuring.as_ref().expect("measuring").peak_percent_max.is_some();
    for reading in readings {
        let next = run.state.summary().next_measurement.expect("one more measurement");
        let at = (next.earliest_at - crate::support::zero()).num_seconds();
        run.ok(
            at,
            Kind::Measured {
                exercise: next.exercise,
                reading: *reading,
                typed_first: None,
                peak_percent: peaks.then(|| quantity("0.5")),
            },
        );
    }
    let seconds = i64::from(run.state.setup().rules.exercise_seconds());
    run.ok(BEGIN + seconds, Kind::MeasuringEnded { after: None });
}

fn ended(run: &Run) -> (Outcome, VerdictReason) {
    (run.verdict().outcome, run.verdict().reason)
}

fn result(setup: AttemptSetup, factors: &[&str]) -> Outcome {
    let mut run = started(setup);
    play(&mut run, &factors.iter().map(|text| factor(text)).collect::<Vec<_>>());
    if run.state.verdict().is_some() {
        return run.verdict().outcome;
    }
    let end = BEGIN + i64::from(run.state.setup().rules.exercise_seconds());
    run.ok(end + 5, ASKED);
    run.ok(end + 7, Kind::ModificationRemoved);
    run.ok(end + 9, Kind::Signed);
    run.verdict().outcome
}

/// 29 CFR 1910.134(f)(7); App. A I.C.2(b)(9), I.C.3, I.C.6, I.C.7 (facts 1.26, 1.27, 4.23, 4.26, 4.44, 4.58).
#[test]
fn facts_1_26_1_27_4_58_and_10_27_the_level_itself_passes() {
    for method in Method::ALL.iter().copied().filter(|method| method.is_quantitative()) {
        let count = |setup: &AttemptSetup| -> usize {
            setup.rules.exercises.iter().map(|exercise| usize::from(exercise.measurements)).sum()
        };
        for (facepiece, level, below) in
            [(Facepiece::HalfMask, "100", "99.9"), (Facepiece::FullFacepiece, "500", "499.9")]
        {
            let setup = || setup_for(method, facepiece);
            let mut factors = vec![level; count(&setup())];
            assert_eq!(result(setup(), &factors), Outcome::Pass, "{method}: {level}");
            factors[0] = below;
            assert_eq!(result(setup(), &factors), Outcome::Fail, "{method}: {below} in one exercise");
        }
    }
}

/// The rows of overall fit factors through the whole machine: the verdict of each protocol.
#[test]
fn facts_10_1_to_10_9_verdicts() {
    let half = [
        ("10.1", &["200", "200", "50", "200", "200", "200", "200"][..], Outcome::Pass),
        ("10.2", &["1000", "1000", "1000", "1000", "1000", "1000", "10"], Outcome::Fail),
        ("10.3", &["100", "100", "100", "100", "100", "100", "100"], Outcome::Pass),
        ("10.4", &["100", "100", "100", "100", "100", "100", "99.9"], Outcome::Fail),
        ("10.9", &["210", "180", "160", "150", "120", "90", "200"], Outcome::Pass),
    ];
    for (row, factors, outcome) in half {
        assert_eq!(result(setup_of(Method::AmbientAerosol), factors), outcome, "row {row}");
    }
    let full = setup_for(Method::AmbientAerosol, Facepiece::FullFacepiece);
    assert_eq!(result(full, &["1200", "900", "700", "450", "600", "350", "1000"]), Outcome::Pass, "row 10.5");
    let quick = || setup_for(Method::ModifiedAmbientAerosolFiltering, Facepiece::FilteringFacepiece);
    assert_eq!(result(quick(), &["120", "80", "150", "100"]), Outcome::Pass, "row 10.6");
    assert_eq!(result(quick(), &["200", "67", "150", "90"]), Outcome::Pass, "row 10.7");
    let redon = setup_for(Method::ControlledNegativePressureRedon, Facepiece::FullFacepiece);
    assert_eq!(result(redon, &["500", "1000", "2000", "250", "800"]), Outcome::Pass, "row 10.8");
}

/// HSE guidance: every exercise has to pass, not the overall value alone (fact 5.13, read in a summary).
#[test]
fn fact_5_13_a_rule_set_may_ask_for_every_exercise() {
    let mut strict = setup_of(Method::AmbientAerosol);
    strict.rules.measuring.as_mut().expect("measuring").reading = FitReading::EveryExercise;
    assert_eq!(result(strict, &["200", "200", "50", "200", "200", "200", "200"]), Outcome::Fail);
}

/// App. A I.A.14(a)(6) and footnotes of I.C: the grimace takes its time and is never scored (facts 2.26, 2.27, 4.22).
#[test]
fn facts_2_26_2_27_4_21_and_4_22_the_grimace_takes_time_and_no_part() {
    let run = started(setup_of(Method::AmbientAerosol));
    let rules = &run.state.setup().rules;
    assert_eq!((rules.exercises.len(), rules.exercise_seconds()), (8, 435));
    let scored: u32 = rules.exercises.iter().map(|exercise| u32::from(exercise.measurements)).sum();
    assert_eq!(scored, 7);
    let mut told = started(setup_of(Method::AmbientAerosol));
    for exercise in 1..=5 {
        told.ok(BEGIN + 60 * i64::from(exercise), measured(exercise, factor("200")));
    }
    let next = told.state.summary().next_measurement.expect("bending over");
    assert_eq!(next.exercise, 7);
    let grimace = told.refused(BEGIN + 315, measured(6, factor("15")));
    assert_eq!((grimace.code, number(&grimace, "expected_exercise")), (Code::ExerciseOutOfOrder, 7));
    let early = told.refused(BEGIN + 374, measured(7, factor("200")));
    assert_eq!((early.code, number(&early, "seconds_remaining")), (Code::ExerciseTooShort, 1));
    told.ok(BEGIN + 375, measured(7, factor("200")));
}

/// App. A Tables: four exercises, 149 seconds (facts 4.38, 4.41, 4.42).
#[test]
fn facts_4_38_4_41_and_4_42_the_modified_protocols() {
    for (method, second) in [
        (Method::ModifiedAmbientAerosolElastomeric, "jogging_in_place"),
        (Method::ModifiedAmbientAerosolFiltering, "talking"),
    ] {
        let rules = setup_of(method).rules;
        let keys: Vec<_> = rules.exercises.iter().map(|exercise| exercise.key.as_str()).collect();
        assert_eq!(keys, ["bending_over", second, "head_side_to_side", "head_up_and_down"]);
        let seconds: Vec<_> = rules.exercises.iter().map(|exercise| exercise.seconds).collect();
        assert_eq!((seconds, rules.exercise_seconds()), (vec![50, 30, 30, 39], 149));
    }
}

/// App. A I.C.6(b): nine measurements while the breath is held, two of them for each movement of the head (fact 4.51).
#[test]
fn fact_4_51_nine_measurements_with_held_breath() {
    let rules = setup_of(Method::ControlledNegativePressure).rules;
    let measurements: Vec<_> = rules.exercises.iter().map(|exercise| exercise.measurements).collect();
    assert_eq!(measurements, [1, 1, 2, 2, 1, 0, 1, 1]);
    let seconds: u32 = rules.exercises.iter().map(|exercise| exercise.seconds).sum();
    let held: u32 = rules.exercises.iter().map(|exercise| exercise.measuring_seconds).sum();
    assert_eq!((seconds, held), (435, 90));
    assert_eq!(rules.measuring.expect("measuring").breath_hold_seconds, Some(10), "fact 4.48");
}

/// App. A I.C.6(c)(1).
#[test]
fn fact_4_52_a_lost_breath_begins_the_test_again() {
    let mut run = started(setup_of(Method::ControlledNegativePressureRedon));
    run.ok(BEGIN + 40, measured(1, factor("900")));
    run.ok(BEGIN + 75, Kind::BreathHoldLost);
    let summary = run.state.summary();
    assert_eq!(summary.next_measurement.expect("one").exercise, 1);
    let fit = summary.fit.expect("a fit so far");
    assert_eq!((fit.restarts, fit.exercises.len()), (1, 0));
    assert_eq!(run.refused(BEGIN + 80, measured(1, factor("900"))).code, Code::ExerciseTooShort);
    run.ok(BEGIN + 115, measured(1, factor("900")));
    let mut counting = started(setup_of(Method::AmbientAerosol));
    assert_eq!(counting.refused(BEGIN + 5, Kind::BreathHoldLost).code, Code::EventNotNow);
}

/// App. A Table A-3: taking it off and putting it on again is part of the test, by the wearer and there only.
#[test]
fn fact_4_54_redonning_is_an_exercise_and_no_disturbance() {
    let redon = || started(setup_of(Method::ControlledNegativePressureRedon));
    let mut run = redon();
    for (exercise, at) in [(1, 40), (2, 80), (3, 93)] {
        run.ok(BEGIN + at, measured(exercise, factor("900")));
    }
    run.ok(BEGIN + 95, Kind::Doffed);
    assert_eq!(
        run.refused(BEGIN + 99, Kind::Donned { by_wearer: false, fresh: false }).code,
        Code::MustBeDonnedByWearer
    );
    run.ok(BEGIN + 100, Kind::Donned { by_wearer: true, fresh: false });
    run.ok(BEGIN + 115, measured(4, factor("900")));
    run.ok(BEGIN + 116, Kind::Doffed);
    run.ok(BEGIN + 120, Kind::Donned { by_wearer: true, fresh: false });
    run.ok(BEGIN + 135, measured(5, factor("900")));
    run.ok(BEGIN + 136, Kind::MeasuringEnded { after: None });
    let asked = Kind::AskedAgain { tasted: true, comfortable: true };
    assert_eq!(run.refused(BEGIN + 140, asked).field.as_deref(), Some("tasted"), "nothing is tasted here");
    let mut early = redon();
    early.ok(BEGIN + 5, Kind::Doffed);
    assert_eq!(ended(&early), (Outcome::Void, VerdictReason::Doffed));
}

/// App. A I.C.2(b)(4) and (7): 5 percent for half masks, 1 percent for full facepieces; the limit itself is not over it.
#[test]
fn facts_4_14_and_4_16_a_peak_over_the_limit_ends_the_test() {
    for (facepiece, limit, over) in
        [(Facepiece::HalfMask, "5", "5.01"), (Facepiece::FullFacepiece, "1", "1.01")]
    {
        let setup = || setup_for(Method::GeneratedAerosol, facepiece);
        let start =
            |peak: Option<&str>| Kind::MeasuringStarted { before: None, peak_percent: peak.map(quantity) };
        let mut run = fitted(setup());
        let untold = run.refused(BEGIN, start(None));
        assert_eq!((untold.code, untold.field.as_deref()), (Code::InvalidValue, Some("peak_percent")));
        run.ok(BEGIN, start(Some(limit)));
        let told = |peak| Kind::Measured {
            exercise: 1,
            reading: factor("600"),
            typed_first: None,
            peak_percent: Some(quantity(peak)),
        };
        run.ok(BEGIN + 60, told(limit));
        assert!(run.state.verdict().is_none());
        let mut leaking = fitted(setup());
        leaking.ok(BEGIN, start(Some(over)));
        assert_eq!(ended(&leaking), (Outcome::Fail, VerdictReason::PeakTooHigh));
        let mut later = started(setup());
        later.ok(BEGIN + 60, told(over));
        assert_eq!(ended(&later), (Outcome::Fail, VerdictReason::PeakTooHigh));
    }
}

/// App. A I.C.2(a)(8): constant within 10 percent; and I.C.2(b)(8)(ii): before and after the test.
#[test]
fn facts_4_8_and_4_18_the_chamber_stays_within_ten_percent() {
    for (after, outcome) in [("1100", None), ("1101", Some((Outcome::Void, VerdictReason::ChamberUnstable)))]
    {
        let mut run = fitted(setup_of(Method::GeneratedAerosol));
        let before = Some(quantity("1000"));
        run.ok(BEGIN, Kind::MeasuringStarted { before, peak_percent: Some(quantity("0.5")) });
        let mut at = BEGIN;
        for exercise in [1, 2, 3, 4, 5, 7, 8] {
            at += if exercise == 7 { 75 } else { 60 };
            run.ok(
                at,
                Kind::Measured {
                    exercise,
                    reading: Reading::Inside { inside: quantity("4") },
                    typed_first: None,
                    peak_percent: Some(quantity("0.5")),
                },
            );
        }
        run.ok(at, Kind::MeasuringEnded { after: Some(quantity(after)) });
        assert_eq!(run.state.verdict().map(|verdict| (verdict.outcome, verdict.reason)), outcome);
    }
}

/// Row 10.10: ambient 5000 before and 5400 after; mask 26, 52, 40, 65.
#[test]
fn fact_10_10_concentrations_before_and_after_the_test() {
    let mut run = fitted(setup_for(Method::ModifiedAmbientAerosolFiltering, Facepiece::FilteringFacepiece));
    run.ok(BEGIN, Kind::MeasuringStarted { before: Some(quantity("5000")), peak_percent: None });
    for (exercise, at, inside) in [(1, 50, "26"), (2, 80, "52"), (3, 110, "40"), (4, 149, "65")] {
        run.ok(BEGIN + at, measured(exercise, Reading::Inside { inside: quantity(inside) }));
    }
    run.ok(BEGIN + 149, Kind::MeasuringEnded { after: Some(quantity("5400")) });
    let fit = run.state.fit().expect("a fit");
    let factors: Vec<_> = fit.exercises.iter().map(|exercise| exercise.fit_factor.as_str()).collect();
    assert_eq!(factors, ["200", "100", "130", "80"]);
    assert!(fit.overall.expect("overall").starts_with("113.66"), "row 10.10");
}

/// Common practice, no source: a value that can hardly be is read off again, and both entries are kept.
#[test]
fn implausible_values_are_asked_for_a_second_time_and_both_are_kept() {
    for hardly in ["0.5", "9000000"] {
        let mut run = started(setup_of(Method::AmbientAerosol));
        let refusal = run.refused(BEGIN + 60, measured(1, factor(hardly)));
        assert_eq!(refusal.code, Code::ImplausibleValue);
        let again = Kind::Measured {
            exercise: 1,
            reading: factor("210"),
            typed_first: Some(factor(hardly)),
            peak_percent: None,
        };
        run.ok(BEGIN + 61, again);
        assert_eq!(run.state.events().last().expect("an event").kind, again);
    }
}

#[test]
fn readings_of_one_test_are_of_one_kind_and_complete() {
    let mut run = started(setup_of(Method::AmbientAerosol));
    let inside = measured(1, Reading::Inside { inside: quantity("5") });
    assert_eq!(run.refused(BEGIN + 60, inside).field.as_deref(), Some("reading"), "nothing outside is known");
    run.ok(BEGIN + 60, measured(1, factor("200")));
    let other = Reading::Continuous { outside: quantity("5000"), inside: quantity("20") };
    assert_eq!(run.refused(BEGIN + 120, measured(2, other)).field.as_deref(), Some("reading"));
    let incomplete = run.refused(BEGIN + 500, Kind::MeasuringEnded { after: None });
    assert_eq!(number(&incomplete, "expected_exercise"), 2);
}

/// 29 CFR 1910.134(f)(8)(iii): what was changed for the test is undone before the respirator goes back to work.
#[test]
fn fact_1_31_a_pass_needs_the_modification_to_be_undone() {
    let mut run = started(setup_of(Method::ModifiedAmbientAerosolElastomeric));
    play(&mut run, &[factor("200"); 4]);
    run.ok(BEGIN + 160, ASKED);
    assert_eq!(run.state.summary().missing, [Missing::ModificationRemoved, Missing::Signature]);
    assert_eq!(run.refused(BEGIN + 161, Kind::Signed).code, Code::ClosingIncomplete);
    run.ok(BEGIN + 162, Kind::ModificationRemoved);
    run.ok(BEGIN + 163, Kind::Signed);
    assert_eq!(run.verdict().outcome, Outcome::Pass);
}

/// App. A I.A.14(b), I.C.2(b)(6), I.C.6(a)(6) (facts 2.24, 4.15 and 4.49), and I.A.10 for who is unwell.
#[test]
fn facts_2_24_4_15_and_4_49_disturbed_or_unwell() {
    for (kind, expected) in [
        (Kind::Adjusted, (Outcome::Void, VerdictReason::Adjusted)),
        (Kind::Interrupted, (Outcome::Void, VerdictReason::Interrupted)),
        (Kind::Unwell, (Outcome::Stopped, VerdictReason::Unwell)),
    ] {
        let mut run = started(setup_of(Method::AmbientAerosol));
        run.ok(BEGIN + 30, kind);
        assert_eq!(ended(&run), expected);
    }
    let mut run = started(setup_of(Method::AmbientAerosol));
    assert_eq!(run.refused(BEGIN + 5, Kind::Tasted).code, Code::EventNotNow, "nothing is tasted here");
}
