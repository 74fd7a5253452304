//! 29 CFR 1910.134 App. A I.C: the protocols that measure.

use sellion_rules::Code;
use sellion_rules::attempt::{
    AttemptEventKind as Kind, Missing, Outcome, SealCheckResult, VerdictReason, plan,
};
use sellion_rules::eligibility::{Way, Worn, may_test};
use sellion_rules::fit_factor::{Reading, fit};
use sellion_rules::method::Method;
use sellion_rules::respirator::{AirSupply, Facepiece};
use sellion_rules::ruleset::RuleScalar;

use crate::Fact;
use crate::sets::{
    BEGIN, ended, exercises, fails, fitted, is, keys, measured, overall, quantity, says, seconds, value,
};
use crate::support::{Run, rules, setup_for, setup_of};

const HALF: Facepiece = Facepiece::HalfMask;
const FULL: Facepiece = Facepiece::FullFacepiece;
const AEROSOL: Method = Method::GeneratedAerosol;
const AMBIENT: Method = Method::AmbientAerosol;
const ELASTOMERIC: Method = Method::ModifiedAmbientAerosolElastomeric;
const FILTERING: Method = Method::ModifiedAmbientAerosolFiltering;
const PRESSURE: Method = Method::ControlledNegativePressure;
const REDON: Method = Method::ControlledNegativePressureRedon;

fn note(key: &str, expected: &str) {
    let value = value(&format!("notes.{key}"));
    assert_eq!(value.value, RuleScalar::Text(expected.to_owned()), "{key}");
    assert!(value.source.contains("I.C."), "{key}: {}", value.source);
}

fn suits(method: Method, facepiece: Facepiece, filter: &str) -> bool {
    let worn = Worn { facepiece, supply: AirSupply::AirPurifying, protection_factor: 10, filter };
    let way = Way { method, negative_pressure_mode: false, fitted_filter: None };
    may_test(&worn, &way, &rules()).is_ok()
}

fn levels(method: Method, count: usize) {
    for (facepiece, level, below) in [(HALF, "100", "99.999"), (FULL, "500", "499.999")] {
        assert!(!fails(method, facepiece, &vec![level; count]), "{method}: {level}");
        assert!(fails(method, facepiece, &vec![below; count]), "{method}: {below}");
    }
}

fn cautions(method: Method) -> String {
    plan(&setup_of(method)).cautions.join(" ")
}

fn peaks(facepiece: Facepiece, at_limit: &str, over: &str) {
    let start = |peak| Kind::MeasuringStarted { before: None, peak_percent: Some(quantity(peak)) };
    let mut run = fitted(setup_for(AEROSOL, facepiece));
    run.ok(BEGIN, start(at_limit));
    assert!(run.state.verdict().is_none());
    let mut run = fitted(setup_for(AEROSOL, facepiece));
    run.ok(BEGIN, start(over));
    assert_eq!(ended(&run), (Outcome::Fail, VerdictReason::PeakTooHigh));
}

fn drift(after: &str) -> bool {
    let mut run = fitted(setup_of(AEROSOL));
    let peak_percent = Some(quantity("0.5"));
    run.ok(BEGIN, Kind::MeasuringStarted { before: Some(quantity("1000")), peak_percent });
    while let Some(next) = run.state.summary().next_measurement {
        let reading = Reading::Inside { inside: quantity("4") };
        let at = (next.earliest_at - crate::support::zero()).num_seconds();
        run.ok(at, Kind::Measured { exercise: next.exercise, reading, typed_first: None, peak_percent });
    }
    run.ok(BEGIN + 435, Kind::MeasuringEnded { after: Some(quantity(after)) });
    run.state.verdict().is_none()
}

fn disturbed(method: Method) {
    let mut run = fitted(setup_of(method));
    let peak_percent = (method == AEROSOL).then(|| quantity("0.5"));
    run.ok(BEGIN, Kind::MeasuringStarted { before: None, peak_percent });
    run.ok(BEGIN + 5, Kind::Adjusted);
    assert_eq!(ended(&run), (Outcome::Void, VerdictReason::Adjusted));
    let mut alone = Run::new(setup_of(method));
    assert_eq!(
        alone.refused(60, Kind::Donned { by_wearer: false, fresh: false }).code,
        Code::MustBeDonnedByWearer
    );
}

fn comfort(method: Method, count: usize) {
    let mut run = measured(method, HALF, &vec!["200"; count]);
    assert!(run.state.summary().missing.contains(&Missing::AskedAgain));
    run.ok(BEGIN + 700, Kind::AskedAgain { tasted: false, comfortable: false });
    assert_eq!(ended(&run), (Outcome::Void, VerdictReason::NotComfortable));
}

fn order(method: Method) {
    let mut run = fitted(setup_of(method));
    run.ok(BEGIN, Kind::MeasuringStarted { before: None, peak_percent: None });
    let reading = Reading::FitFactor { fit_factor: quantity("200") };
    let second = Kind::Measured { exercise: 2, reading, typed_first: None, peak_percent: None };
    assert_eq!(run.refused(BEGIN + 400, second).code, Code::ExerciseOutOfOrder);
}

fn table(method: Method, second: &str, breaths: [Option<&str>; 4]) {
    assert_eq!(keys(method), ["bending_over", second, "head_side_to_side", "head_up_and_down"]);
    assert_eq!(seconds(method), [50, 30, 30, 39]);
    let list = exercises(method);
    let found: Vec<_> = list.iter().map(|exercise| exercise.breaths.as_deref()).collect();
    assert_eq!(found, breaths);
    let sampled: Vec<_> = list.iter().map(|exercise| exercise.sampling.clone().unwrap()).collect();
    assert_eq!(
        sampled,
        ["20 s outside, then 30 s inside", "30 s inside", "30 s inside", "30 s inside, then 9 s outside"]
    );
}

const TWICE: Option<&str> = Some("inhale 2 times at each extreme");
const BREATHS: [Option<&str>; 4] = [Some("inhale 2 times at the bottom"), None, TWICE, TWICE];

pub(crate) const FACTS: &[Fact] = &[
    ("4.1", "I.C.1", || assert!(cautions(AMBIENT).contains("checked and in calibration"))),
    ("4.2", "I.C.2(a)(1)", || note("aerosol_agents", "corn oil, PEG 400, DEHS, sodium chloride")),
    ("4.4", "I.C.2(a)(3)", || {
        assert!(suits(AEROSOL, HALF, "P100") && suits(AEROSOL, HALF, "HEPA") && !suits(AEROSOL, HALF, "N95"));
    }),
    ("4.5", "I.C.2(a)(4)", || note("aerosol_sensitivity", "2000")),
    ("4.6", "I.C.2(a)(5)", || assert!(cautions(AEROSOL).contains("below its exposure limit"))),
    ("4.7", "I.C.2(a)(6)", || note("probe_depth", "0.25")),
    ("4.8", "I.C.2(a)(8)", || {
        is("generated_aerosol.chamber_drift_percent", 10, "I.C.2(a)(8)");
        assert!(drift("1100") && !drift("1101"));
    }),
    ("4.10", "I.C.2(a)(12)", || note("aerosol_humidity", "50")),
    ("4.11", "I.C.2(a)(13)", || {
        let nothing_inside = Reading::Continuous { outside: quantity("5000"), inside: quantity("0") };
        assert!(fit(&[(1, nothing_inside)], None, None).is_err(), "the instrument's limit is asked for");
    }),
    ("4.14", "I.C.2(b)(4)", || peaks(HALF, "5", "5.001")),
    ("4.15", "I.C.2(b)(6)", || disturbed(AEROSOL)),
    ("4.16", "I.C.2(b)(7)", || peaks(FULL, "1", "1.001")),
    ("4.17", "I.C.2(b)(8)(i)", || {
        let each =
            Reading::Each { before: quantity("4000"), after: quantity("6000"), inside: quantity("25") };
        assert_eq!(fit(&[(1, each)], None, None).unwrap().overall.as_decimal(0), "200");
    }),
    ("4.18", "I.C.2(b)(8)(ii)", || {
        let whole = Reading::Inside { inside: quantity("25") };
        let (before, after) = (Some(quantity("4000")), Some(quantity("6000")));
        assert_eq!(fit(&[(1, whole)], before, after).unwrap().overall.as_decimal(0), "200");
        let continuous = Reading::Continuous { outside: quantity("5000"), inside: quantity("25") };
        assert_eq!(fit(&[(1, continuous)], None, None).unwrap().overall.as_decimal(0), "200");
    }),
    ("4.20", "I.C.2(b)(8)(iii)(D)", || {
        assert_eq!(overall(AEROSOL, HALF, &["200", "200", "50", "200", "200", "200", "200"]), "140");
    }),
    ("4.21", "I.C.2(b)(8)(i)-(ii)", || {
        assert_eq!(exercises(AEROSOL).iter().filter(|exercise| exercise.measurements > 0).count(), 7);
    }),
    ("4.22", "74 FR 3526, footnote 1", || {
        let grimace = exercises(AMBIENT).into_iter().find(|exercise| exercise.key == "grimace").unwrap();
        assert_eq!(grimace.measurements, 0);
    }),
    ("4.23", "I.C.2(b)(9)", || levels(AEROSOL, 7)),
    ("4.25", "I.C.3", || {
        let way = Way { method: AMBIENT, negative_pressure_mode: false, fitted_filter: None };
        assert!(way.modifies(), "a probe or an adapter");
    }),
    ("4.26", "I.C.3", || levels(AMBIENT, 7)),
    ("4.27", "I.C.3(a)(1)", || {
        for filter in ["N100", "N99", "N95", "P100"] {
            assert!(suits(AMBIENT, HALF, filter), "{filter}");
        }
        assert!(!suits(AMBIENT, HALF, "OV"));
    }),
    ("4.28", "I.C.3(a)(2)", || {
        let mut run = fitted(setup_of(AMBIENT));
        let start = Kind::MeasuringStarted { before: None, peak_percent: None };
        assert_eq!(run.refused(359, start).code, Code::WearTimeShort);
        run.ok(360, start);
    }),
    ("4.30", "I.C.3(a)(4)", || {
        let mut run = Run::new(setup_of(AMBIENT));
        run.ok(60, Kind::Donned { by_wearer: true, fresh: false });
        run.ok(62, Kind::SealChecked { result: SealCheckResult::Failed });
        assert_eq!(run.refused(64, Kind::SealChecked { result: SealCheckResult::Ok }).code, Code::RedonFirst);
    }),
    ("4.31", "I.C.3(a)(6)", || says("ambient_aerosol.exercises", "quantitative", "I.A.14")),
    ("4.32", "I.C.3(a)(7)", || comfort(AMBIENT, 7)),
    ("4.33", "I.C.3(b)(1)", || {
        says("ambient_aerosol.reading", "overall", "I.C.3(b)(1)");
        assert!(!fails(AMBIENT, HALF, &["200", "200", "50", "200", "200", "200", "200"]));
    }),
    ("4.34", "I.C.3(b)(2)", || assert_eq!(plan(&setup_of(AMBIENT)).measuring.unwrap().pass_level, 100)),
    ("4.36", "84 FR 50739", || assert!(rules().version.starts_with("2019-09-26"))),
    ("4.37", "I.C.4(a), I.C.5(a)", || {
        levels(ELASTOMERIC, 4);
        levels(FILTERING, 4);
    }),
    ("4.38", "I.C.4(b), I.C.5(b)", || {
        order(ELASTOMERIC);
        order(FILTERING);
        table(ELASTOMERIC, "jogging_in_place", BREATHS);
        table(FILTERING, "talking", BREATHS);
    }),
    ("4.39", "Tables A-1 and A-2, footnote 2", || {
        assert_eq!(exercises(ELASTOMERIC)[1].breaths, None, "no breath is asked for while jogging");
    }),
    ("4.40", "Table A-2", || {
        let talking = plan(&setup_of(FILTERING)).exercises[1].clone();
        assert!(
            talking.say.contains("Read the text aloud") && talking.say.contains("count down"),
            "{}",
            talking.say
        );
    }),
    ("4.41", "computed from the tables", || {
        for method in [ELASTOMERIC, FILTERING] {
            assert_eq!(setup_of(method).rules.exercise_seconds(), 149);
        }
    }),
    ("4.42", "Tables A-1 and A-2", || {
        let has = |method, key: &str| keys(method).iter().any(|found| found == key);
        assert!(has(ELASTOMERIC, "jogging_in_place") && !has(ELASTOMERIC, "talking"));
        assert!(has(FILTERING, "talking") && !has(FILTERING, "jogging_in_place"));
        for key in ["grimace", "normal_breathing", "deep_breathing"] {
            assert!(!has(ELASTOMERIC, key) && !has(FILTERING, key), "{key}");
        }
    }),
    ("4.43", "peer-reviewed comparison: about 7.2 and 2.5 minutes", || {
        let minutes = |method| f64::from(setup_of(method).rules.exercise_seconds()) / 60.0;
        assert!((minutes(AMBIENT) - 7.2).abs() < 0.1 && (minutes(FILTERING) - 2.5).abs() < 0.1);
    }),
    ("4.44", "I.C.6", || levels(PRESSURE, 9)),
    ("4.45", "I.C.6(a)(1)", || note("test_pressure", "15.0")),
    ("4.46", "I.C.6(a)(2)", || note("inspiratory_flow", "53.8")),
    ("4.46a", "computed", || assert!((15.0_f64 / 25.4 - 0.5906).abs() < 5e-5)),
    ("4.47", "I.C.6", || note("measurement_time", "5")),
    ("4.48", "I.C.6(a)(5)", || is("controlled_negative_pressure.breath_hold_seconds", 10, "I.C.6(a)(5)")),
    ("4.49", "I.C.6(a)(6)", || disturbed(PRESSURE)),
    ("4.50", "I.C.6(a)(4)", || {
        assert!(
            !suits(PRESSURE, Facepiece::FilteringFacepiece, "N95"),
            "no manifold in place of the facepiece itself"
        );
        let words: String =
            plan(&setup_of(PRESSURE)).steps.into_iter().map(|step| step.instruction).collect();
        assert!(words.contains("manifold in the place of the filter"));
    }),
    ("4.51", "computed from I.C.6(b)", || {
        let list = exercises(PRESSURE);
        assert_eq!(
            list.iter().map(|exercise| exercise.measurements).collect::<Vec<_>>(),
            [1, 1, 2, 2, 1, 0, 1, 1]
        );
        assert_eq!(seconds(PRESSURE), [60, 60, 60, 60, 60, 15, 60, 60]);
        assert_eq!(list.iter().map(|exercise| exercise.measuring_seconds).sum::<u32>(), 90);
    }),
    ("4.52", "I.C.6(c)(1)", || {
        let mut run = fitted(setup_of(PRESSURE));
        run.ok(BEGIN, Kind::MeasuringStarted { before: None, peak_percent: None });
        let reading = Reading::FitFactor { fit_factor: quantity("200") };
        run.ok(BEGIN + 70, Kind::Measured { exercise: 1, reading, typed_first: None, peak_percent: None });
        run.ok(BEGIN + 90, Kind::BreathHoldLost);
        let next = run.state.summary().next_measurement.unwrap();
        assert_eq!((next.exercise, next.number), (1, 1));
    }),
    ("4.54", "I.C.7(a)", || {
        assert_eq!(keys(REDON), ["facing_forward", "bending_over", "head_shaking", "redon", "redon"]);
        assert_eq!(seconds(REDON), [30, 30, 3, 0, 0], "Table A-3");
        assert!(
            exercises(REDON)
                .iter()
                .all(|exercise| (exercise.measurements, exercise.measuring_seconds) == (1, 10))
        );
        order(REDON);
    }),
    ("4.55", "I.C.7(c)", || comfort(REDON, 5)),
    ("4.56", "I.C.7(d)", || {
        assert_eq!(overall(REDON, FULL, &["500", "1000", "2000", "250", "800"]), "571.428")
    }),
    ("4.57", "Table A-3; 69 FR 46986", || assert_eq!(exercises(REDON).len(), 5)),
    ("4.58", "I.C.2(b)(7), (9), I.C.3, I.C.6", || {
        levels(REDON, 5);
        is("generated_aerosol.peak_percent_half_facepiece", 5, "I.C.2(b)(4)");
        is("generated_aerosol.peak_percent_full_facepiece", 1, "I.C.2(b)(4)");
    }),
    ("4.59", "App. A Part II", || {
        assert_eq!(Method::ALL.len(), 10, "I.B.2 to I.B.5 and I.C.2 to I.C.7, and nothing else");
        assert!("taste_of_our_own".parse::<Method>().is_err());
    }),
];
