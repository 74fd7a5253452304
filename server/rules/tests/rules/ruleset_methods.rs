//! Every method of 29 CFR 1910.134 Appendix A in the embedded rule set, number by number.

use chrono::NaiveDate;
use sellion_rules::Code;
use sellion_rules::method::Method;
use sellion_rules::respirator::Facepiece;
use sellion_rules::ruleset::{AttemptRules, FitReading, MeasuringRules, Recipe, RuleScalar, RuleSet};
use sellion_rules::supplies::{Agent, Solution};

use crate::support::NAME;

fn rules() -> RuleSet {
    RuleSet::find(NAME, "2019-09-26.2").expect("embedded and usable")
}

fn attempt(method: Method, facepiece: Facepiece) -> AttemptRules {
    rules().method(method).expect("an accepted method").attempt(facepiece).clone()
}

fn measuring(method: Method, facepiece: Facepiece) -> MeasuringRules {
    attempt(method, facepiece).measuring.expect("a method that measures")
}

/// Key, seconds, measurements and seconds of measuring of each exercise.
fn exercises(method: Method) -> Vec<(String, u32, u8, u32)> {
    let exercises = attempt(method, Facepiece::HalfMask).exercises.into_iter();
    exercises.map(|of| (of.key, of.seconds, of.measurements, of.measuring_seconds)).collect()
}

fn expected(rows: &[(&str, u32, u8, u32)]) -> Vec<(String, u32, u8, u32)> {
    rows.iter().map(|(key, seconds, count, each)| ((*key).to_owned(), *seconds, *count, *each)).collect()
}

/// 29 CFR 1910.134(f)(5): the protocols of Appendix A and no others (fact 1.24); smoke only where a site wants it.
#[test]
fn fact_1_24_every_protocol_of_the_appendix_is_there() {
    let rules = rules();
    for method in Method::ALL {
        let accepted = rules.method(*method);
        assert_eq!(accepted.is_ok(), *method != Method::IrritantSmoke, "{method}");
    }
    assert_eq!(rules.agents, [Agent::Saccharin, Agent::DenatoniumBenzoate, Agent::IsoamylAcetate]);
}

/// Fact 3.83: advice against irritant smoke is why it is off; App. A I.B.5 accepts it.
#[test]
fn fact_3_83_irritant_smoke_is_off_with_the_reason() {
    let refusal = rules().method(Method::IrritantSmoke).expect_err("off by default");
    assert_eq!(refusal.code, Code::TestMethodNotAllowed);
    assert_eq!(refusal.detail, "The rule set us-29cfr1910-134 2019-09-26.2 does not accept irritant smoke.");
    let source = format!("{:?}", refusal.facts["source"]);
    assert!(source.contains("NIOSH") && source.contains("switches it on by name and date"), "{source}");
}

/// App. A I.B.2(b)(6) and (8).
#[test]
fn facts_3_17_and_3_19_isoamyl_acetate_settles_and_the_nose_rests() {
    let attempt = attempt(Method::IsoamylAcetate, Facepiece::HalfMask);
    assert_eq!(attempt.odour.expect("odour").settle_seconds, 120);
    assert_eq!(attempt.no_intake_seconds, 0, "I.B.2 asks for no such wait");
    assert_eq!(attempt.exercises.len(), 7);
    assert!(attempt.doses.is_none() && attempt.measuring.is_none());
    assert_eq!(rules().ladder.wait_after_failed_odour_seconds, 300);
}

/// App. A I.B.5(c)(3): once around and two passes more.
#[test]
fn fact_3_79_smoke_goes_around_three_times() {
    let rules = rules();
    let passes = rules.values().iter().find(|value| value.key == "irritant_smoke.perimeter_passes");
    assert_eq!(passes.expect("listed").value, RuleScalar::Number(3));
}

/// App. A I.A.14(a) and (b) with I.C.2(b)(8): eight exercises, the grimace of 15 seconds never scored.
#[test]
fn facts_2_26_and_2_27_eight_exercises_seven_of_them_scored() {
    let listed = expected(&[
        ("normal_breathing", 60, 1, 0),
        ("deep_breathing", 60, 1, 0),
        ("head_side_to_side", 60, 1, 0),
        ("head_up_and_down", 60, 1, 0),
        ("talking", 60, 1, 0),
        ("grimace", 15, 0, 0),
        ("bending_over", 60, 1, 0),
        ("normal_breathing", 60, 1, 0),
    ]);
    for method in [Method::GeneratedAerosol, Method::AmbientAerosol] {
        assert_eq!(exercises(method), listed, "{method}");
        let attempt = attempt(method, Facepiece::FullFacepiece);
        assert_eq!(attempt.exercise_seconds(), 435);
        assert_eq!(attempt.exercises.iter().filter(|exercise| exercise.measurements > 0).count(), 7);
        let bending = &attempt.exercises[6];
        assert_eq!(bending.alternative.as_deref(), Some("jogging_in_place"), "fact 2.22");
        assert_eq!(attempt.no_intake_seconds, 0, "nothing is tasted");
    }
}

/// App. A Tables.
#[test]
fn facts_4_41_and_4_42_the_fast_protocols_take_149_seconds() {
    for (method, second) in [
        (Method::ModifiedAmbientAerosolElastomeric, "jogging_in_place"),
        (Method::ModifiedAmbientAerosolFiltering, "talking"),
    ] {
        let listed = expected(&[
            ("bending_over", 50, 1, 0),
            (second, 30, 1, 0),
            ("head_side_to_side", 30, 1, 0),
            ("head_up_and_down", 39, 1, 0),
        ]);
        assert_eq!(exercises(method), listed);
        let attempt = attempt(method, Facepiece::HalfMask);
        assert_eq!(attempt.exercise_seconds(), 149);
        let breaths: Vec<_> = attempt.exercises.iter().map(|exercise| exercise.breaths.as_deref()).collect();
        let extreme = Some("inhale 2 times at each extreme");
        assert_eq!(breaths, [Some("inhale 2 times at the bottom"), None, extreme, extreme]);
        let sampling: Vec<_> =
            attempt.exercises.iter().filter_map(|exercise| exercise.sampling.as_deref()).collect();
        let expected =
            ["20 s outside, then 30 s inside", "30 s inside", "30 s inside", "30 s inside, then 9 s outside"];
        assert_eq!(sampling, expected);
    }
}

/// App. A I.C.6(b).
#[test]
fn fact_4_51_negative_pressure_has_nine_measurements() {
    let method = Method::ControlledNegativePressure;
    let listed = expected(&[
        ("normal_breathing", 60, 1, 10),
        ("deep_breathing", 60, 1, 10),
        ("head_side_to_side", 60, 2, 20),
        ("head_up_and_down", 60, 2, 20),
        ("talking", 60, 1, 10),
        ("grimace", 15, 0, 0),
        ("bending_over", 60, 1, 10),
        ("redon_normal_breathing", 60, 1, 10),
    ]);
    assert_eq!(exercises(method), listed);
    let attempt = attempt(method, Facepiece::HalfMask);
    assert_eq!(attempt.exercises.iter().map(|exercise| exercise.measurements).sum::<u8>(), 9);
    assert_eq!(attempt.exercise_seconds(), 435 + 90);
}

/// App. A Table A-3.
#[test]
fn fact_4_57_redonning_has_three_exercises_and_two_redonnings() {
    let method = Method::ControlledNegativePressureRedon;
    let listed = expected(&[
        ("facing_forward", 30, 1, 10),
        ("bending_over", 30, 1, 10),
        ("head_shaking", 3, 1, 10),
        ("redon", 0, 1, 10),
        ("redon", 0, 1, 10),
    ]);
    assert_eq!(exercises(method), listed);
}

/// 29 CFR 1910.134(f)(7) and App. A I.C.2(b)(9), I.C.3, I.C.4(a), I.C.5(a), I.C.6, I.C.7(a).
#[test]
fn facts_1_26_1_27_and_4_58_pass_levels_by_facepiece() {
    for method in Method::ALL.iter().copied().filter(|method| method.is_quantitative()) {
        for facepiece in [Facepiece::HalfMask, Facepiece::QuarterMask, Facepiece::FilteringFacepiece] {
            assert_eq!(measuring(method, facepiece).pass_level, 100, "{method}");
        }
        let full = measuring(method, Facepiece::FullFacepiece);
        assert_eq!((full.pass_level, full.reading), (500, FitReading::Overall), "{method}, fact 4.33");
        assert_eq!(full.plausible_fit_factor_max, 200_000, "common practice, no source");
    }
}

/// App. A I.C.2(a)(8), (b)(4) and (7); I.C.6(b) and Table A-3.
#[test]
fn facts_4_8_4_14_4_16_and_4_48_limits_of_the_methods_that_have_them() {
    let limits = |method, facepiece| {
        let of = measuring(method, facepiece);
        (of.peak_percent_max, of.chamber_drift_percent_max, of.breath_hold_seconds)
    };
    assert_eq!(limits(Method::GeneratedAerosol, Facepiece::HalfMask), (Some(5), Some(10), None));
    assert_eq!(limits(Method::GeneratedAerosol, Facepiece::FullFacepiece), (Some(1), Some(10), None));
    assert_eq!(limits(Method::AmbientAerosol, Facepiece::FullFacepiece), (None, None, None));
    for method in [Method::ControlledNegativePressure, Method::ControlledNegativePressureRedon] {
        assert_eq!(limits(method, Facepiece::HalfMask), (None, None, Some(10)));
    }
}

fn recipes(agent: Agent, solution: Solution) -> Vec<Recipe> {
    let of = |recipe: &Recipe| recipe.agent == agent && recipe.solution == solution;
    rules().recipes.into_iter().filter(of).collect()
}

fn amounts(recipe: &Recipe) -> Vec<(&str, &str)> {
    recipe.ingredients.iter().map(|of| (of.amount.as_str(), of.unit.as_str())).collect()
}

/// App. A I.B.2(a)(3) and (5), with row 10.30: a stock made 8 days ago has expired.
#[test]
fn facts_3_6_3_8_and_10_30_isoamyl_acetate_solutions_expire() {
    let stock = &recipes(Agent::IsoamylAcetate, Solution::Stock)[0];
    assert_eq!(amounts(stock), [("1", "ml"), ("800", "ml")]);
    let day = |day| NaiveDate::from_ymd_opt(2027, 3, day).expect("a day");
    assert_eq!(stock.life_days, Some(7));
    assert_eq!(stock.last_day(day(1)), Some(day(7)), "made on a Monday, the last day is the Sunday");
    assert!(stock.last_day(day(1)) < Some(day(9)));
    let odour = &recipes(Agent::IsoamylAcetate, Solution::Screening)[0];
    assert_eq!(amounts(odour), [("0.4", "ml"), ("500", "ml")]);
    assert_eq!(odour.last_day(day(1)), Some(day(1)), "one day only");
}

/// App. A I.B.3(a)(5), (b)(5) and I.B.4(a)(5), (b)(5); row 10.53: per 200 ml for denatonium.
#[test]
fn facts_3_28_3_43_3_58_3_64_and_10_53_recipes_of_the_taste_solutions() {
    let screening = &recipes(Agent::Saccharin, Solution::Screening)[0];
    assert_eq!(amounts(screening), [("0.83", "g"), ("100", "ml")]);
    assert!(screening.instructions.contains("1 ml of the test solution in 100 ml"), "the other way");
    assert_eq!(amounts(&recipes(Agent::Saccharin, Solution::Test)[0]), [("83", "g"), ("100", "ml")]);
    let weak = &recipes(Agent::DenatoniumBenzoate, Solution::Screening)[0];
    assert_eq!(amounts(weak), [("13.5", "mg"), ("100", "ml")]);
    let strong = &recipes(Agent::DenatoniumBenzoate, Solution::Test)[0];
    assert_eq!(amounts(strong), [("337.5", "mg"), ("200", "ml")]);
    for recipe in rules().recipes.iter().filter(|recipe| recipe.agent.is_tasted()) {
        assert_eq!(recipe.life_days, None, "fact 3.51: the text sets no shelf life");
    }
}

/// Equipment is listed with its source: App. A I.B.3(a)(1)-(2), I.B.5(b)(1) and (c)(3), I.C.2(a)(6), I.C.6(a)(1)-(2).
#[test]
fn facts_3_24_3_75_3_79_4_7_4_45_and_4_46_equipment_is_listed() {
    let rules = rules();
    let note = |name: &str| {
        let key = format!("notes.{name}");
        rules.values().iter().find(|value| value.key == key).expect(name).value.to_string()
    };
    assert_eq!(
        (note("hood_diameter"), note("hood_height"), note("hood_hole")),
        ("12".into(), "14".into(), "0.75".into())
    );
    assert_eq!((note("smoke_flow"), note("smoke_first_distance")), ("200".into(), "12".into()));
    assert_eq!((note("probe_depth"), note("test_pressure")), ("0.25".into(), "15.0".into()));
    assert_eq!(note("inspiratory_flow"), "53.8");
}
