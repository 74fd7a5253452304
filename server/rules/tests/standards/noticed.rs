//! 29 CFR 1910.134 App. A I.B.2 and I.B.5: isoamyl acetate and irritant smoke.

use sellion_rules::Code;
use sellion_rules::attempt::{AttemptEventKind as Kind, Outcome, StepKind, VerdictReason, plan};
use sellion_rules::eligibility::{Way, Worn, may_test};
use sellion_rules::method::Method;
use sellion_rules::respirator::{AirSupply, Facepiece};
use sellion_rules::ruleset::RuleScalar;
use sellion_rules::screening::{
    ScreeningEvent, ScreeningEventKind as Screened, ScreeningOutcome, ScreeningSetup, ScreeningState,
};
use sellion_rules::supplies::{Agent, Solution};

use crate::Fact;
use crate::sets::{ASKED, BEGIN, amounts, ended, fitted, is, keys, recipe, value};
use crate::support::{Run, rules, rules_with_smoke, second, setup_of};

const ODOUR: Agent = Agent::IsoamylAcetate;
const SMOKE: Agent = Agent::IrritantSmoke;

fn note(key: &str, expected: &str) {
    let value = value(&format!("notes.{key}"));
    let text = match value.value {
        RuleScalar::Number(number) => number.to_string(),
        RuleScalar::Text(text) => text,
        RuleScalar::Flag(flag) => flag.to_string(),
    };
    assert_eq!(text, expected, "{key}");
    assert!(value.source.contains("App. A I.B."), "{key}: {}", value.source);
}

fn screened(agent: Agent, kind: Screened) -> ScreeningOutcome {
    let mut state = ScreeningState::new(ScreeningSetup::new(&rules_with_smoke(), agent, None));
    for (seq, kind) in [(1, Screened::Explained), (2, kind)] {
        state.apply(&ScreeningEvent { seq, happened_at: second(i64::from(seq)), kind }).unwrap();
    }
    state.verdict().unwrap().outcome
}

fn in_chamber() -> Run {
    let mut run = fitted(setup_of(Method::IsoamylAcetate));
    run.ok(BEGIN, Kind::ChamberEntered);
    run
}

fn after_passes() -> Run {
    let mut run = fitted(setup_of(Method::IrritantSmoke));
    for number in 1..=3 {
        run.ok(BEGIN + i64::from(number), Kind::PerimeterPassed { number });
    }
    run
}

fn exercised(mut run: Run, from: i64) -> Run {
    for number in 1..=7 {
        run.ok(from + 60 * i64::from(number - 1), Kind::ExerciseStarted { number });
        run.ok(from + 60 * i64::from(number), Kind::ExerciseEnded { number });
    }
    run.ok(from + 425, ASKED);
    run
}

fn words(method: Method) -> String {
    let plan = plan(&setup_of(method));
    let steps = plan.steps.iter().flat_map(|step| [Some(step.instruction.clone()), step.say.clone()]);
    steps.flatten().chain(plan.cautions).collect::<Vec<_>>().join(" ")
}

fn suits(method: Method, facepiece: Facepiece, filter: &str) -> bool {
    let worn = Worn { facepiece, supply: AirSupply::AirPurifying, protection_factor: 10, filter };
    let way = Way { method, negative_pressure_mode: false, fitted_filter: None };
    may_test(&worn, &way, &rules_with_smoke()).is_ok()
}

pub(crate) const FACTS: &[Fact] = &[
    ("3.3", "I.B.2(b)(2)", || {
        assert!(suits(Method::IsoamylAcetate, Facepiece::HalfMask, "P100/OV"));
        assert!(!suits(Method::IsoamylAcetate, Facepiece::HalfMask, "P100"));
    }),
    ("3.4", "I.B.2(a)(1)", || note("odour_jars", "3")),
    ("3.5", "I.B.2(a)(2)", || {
        assert!(recipe(ODOUR, Solution::Stock).ingredients[1].of.contains("about 25 C"))
    }),
    ("3.6", "I.B.2(a)(3)", || {
        assert_eq!(amounts(ODOUR, Solution::Stock), [1.0, 800.0]);
        assert!(recipe(ODOUR, Solution::Stock).instructions.contains("30 seconds"));
        assert_eq!(recipe(ODOUR, Solution::Stock).life_days, Some(7));
    }),
    ("3.8", "I.B.2(a)(5)", || {
        assert_eq!(amounts(ODOUR, Solution::Screening), [0.4, 500.0]);
        assert_eq!(recipe(ODOUR, Solution::Screening).life_days, Some(1));
    }),
    ("3.9", "I.B.2(a)(6)", || note("odour_blank", "500")),
    ("3.11", "I.B.2(a)(8)", || note("odour_jar_shake", "2")),
    ("3.13", "I.B.2(a)(10), (11)", || {
        assert_eq!(screened(ODOUR, Screened::JarChosen { right: false }), ScreeningOutcome::NotNoticed);
        assert_eq!(screened(ODOUR, Screened::JarChosen { right: true }), ScreeningOutcome::Noticed);
    }),
    ("3.14", "I.B.2(b)(1)", || {
        note("odour_chamber", "55");
        note("odour_chamber_headroom", "6");
    }),
    ("3.16", "I.B.2(b)(5)", || {
        note("odour_towel", "6 x 5");
        note("odour_towel_dose", "0.75");
    }),
    ("3.17", "I.B.2(b)(6)", || {
        is("isoamyl_acetate.settle_seconds", 120, "I.B.2(b)(6)");
        assert_eq!(
            in_chamber().refused(BEGIN + 119, Kind::ExerciseStarted { number: 1 }).code,
            Code::NotReady
        );
    }),
    ("3.18", "I.B.2(b)(7)", || {
        let mut run = in_chamber();
        run.ok(BEGIN + 5, Kind::Noticed);
        assert_eq!(ended(&run), (Outcome::Fail, VerdictReason::Noticed));
    }),
    ("3.19", "I.B.2(b)(8)", || is("isoamyl_acetate.wait_after_failed_screening_seconds", 300, "I.B.2(b)(8)")),
    ("3.20", "I.B.2(b)(9)", || {
        let mut run = exercised(in_chamber(), BEGIN + 120);
        assert_eq!(run.refused(BEGIN + 560, Kind::Signed).code, Code::ClosingIncomplete);
        run.ok(BEGIN + 561, Kind::SealBroken { noticed: true });
        run.ok(BEGIN + 562, Kind::Signed);
        assert_eq!(run.verdict().outcome, Outcome::Pass);
    }),
    ("3.21", "I.B.2(b)(10)", || assert!(words(Method::IsoamylAcetate).contains("bag that seals"))),
    ("3.22", "computed from the recipes", || {
        let (stock, odour) = (amounts(ODOUR, Solution::Stock), amounts(ODOUR, Solution::Screening));
        let dilution = stock[0] / stock[1] * odour[0] / odour[1];
        assert!((dilution - 1.0e-6).abs() < 1e-15, "{dilution}");
    }),
    ("3.70", "I.B.5(a)(1)", || {
        assert!(suits(Method::IrritantSmoke, Facepiece::HalfMask, "P100"));
        assert!(suits(Method::IrritantSmoke, Facepiece::HalfMask, "HEPA"));
        assert!(!suits(Method::IrritantSmoke, Facepiece::FilteringFacepiece, "N95"));
    }),
    ("3.72", "I.B.5(a)(3)", || assert!(words(Method::IrritantSmoke).contains("Never under a hood"))),
    ("3.73", "I.B.5(a)(4)", || assert!(words(Method::IrritantSmoke).contains("least that is noticed"))),
    ("3.74", "I.B.5(a)(5)", || assert!(words(Method::IrritantSmoke).contains("Air the room"))),
    ("3.75", "I.B.5(b)(1)", || note("smoke_flow", "200")),
    ("3.76", "I.B.5(b)(2), (c)(2)", || assert!(words(Method::IrritantSmoke).contains("eyes shut"))),
    ("3.77", "I.B.5(b)(3)", || {
        assert_eq!(screened(SMOKE, Screened::SmokeTried { noticed: true }), ScreeningOutcome::Noticed);
        assert_eq!(screened(SMOKE, Screened::SmokeTried { noticed: false }), ScreeningOutcome::NotNoticed);
        assert!(rules().method(Method::IrritantSmoke).is_err(), "off until a site switches it on");
    }),
    ("3.78", "I.B.5(c)(1)", || {
        let mut run = Run::new(setup_of(Method::IrritantSmoke));
        assert_eq!(
            run.refused(60, Kind::Donned { by_wearer: false, fresh: false }).code,
            Code::MustBeDonnedByWearer
        );
        run.ok(61, Kind::Donned { by_wearer: true, fresh: false });
        assert_eq!(run.refused(BEGIN, Kind::PerimeterPassed { number: 1 }).code, Code::SealCheckMissing);
    }),
    ("3.79", "I.B.5(c)(3)", || {
        is("irritant_smoke.perimeter_passes", 3, "I.B.5(c)(3)");
        note("smoke_first_distance", "12");
        note("smoke_last_distance", "6");
    }),
    ("3.80", "I.B.5(c)(5)", || {
        assert_eq!(
            keys(Method::IsoamylAcetate),
            setup_of(Method::IrritantSmoke).rules.exercises.iter().map(|e| e.key.clone()).collect::<Vec<_>>()
        );
        let steps = plan(&setup_of(Method::IrritantSmoke)).steps;
        let exercises = steps.iter().find(|step| step.kind == StepKind::Exercises).unwrap();
        assert!(exercises.instruction.contains("6 inches) all the time"), "{}", exercises.instruction);
    }),
    ("3.81", "I.B.5(c)(6)", || {
        let mut run = after_passes();
        run.ok(BEGIN + 9, Kind::Noticed);
        assert_eq!(ended(&run), (Outcome::Fail, VerdictReason::Noticed));
    }),
    ("3.82", "I.B.5(c)(7), (8)", || {
        let mut run = exercised(after_passes(), BEGIN + 10);
        run.ok(BEGIN + 450, Kind::SensitivityChecked { noticed: false });
        assert_eq!(ended(&run), (Outcome::Void, VerdictReason::AgentNotProven));
    }),
];
