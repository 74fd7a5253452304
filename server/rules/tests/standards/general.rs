//! 29 CFR 1910.134 App. A I.A: what holds for every method.

use sellion_rules::Code;
use sellion_rules::attempt::{
    AttemptEventKind as Kind, Missing, Outcome, SealCheckResult, StepKind, VerdictReason, plan,
};
use sellion_rules::ladder::may_give_first_dose;
use sellion_rules::level::Level;
use sellion_rules::method::Method;
use sellion_rules::supplies::Agent;

use crate::Fact;
use crate::sets::{BEGIN, ended, exercises, fitted, is, keys, seconds};
use crate::support::{Run, rules, second, setup, setup_of};

fn step(kind: StepKind) -> sellion_rules::attempt::PlanStep {
    plan(&setup_of(Method::Saccharin)).steps.into_iter().find(|step| step.kind == kind).unwrap()
}

fn leaking() -> Run {
    let mut run = Run::new(setup_of(Method::AmbientAerosol));
    for second in [60, 70, 80] {
        run.ok(second, Kind::Donned { by_wearer: true, fresh: false });
        run.ok(second + 2, Kind::SealChecked { result: SealCheckResult::Failed });
        if run.state.verdict().is_none() {
            run.ok(second + 4, Kind::Doffed);
        }
    }
    run
}

fn uncomfortable() -> Run {
    let mut run = Run::closing(setup(Agent::Saccharin, Level::Ten));
    run.ok(BEGIN + 430, Kind::AskedAgain { tasted: false, comfortable: false });
    run
}

pub(crate) const FACTS: &[Fact] = &[
    ("2.2", "I.A.2", || assert!(step(StepKind::Don).instruction.contains("mirror"))),
    ("2.5", "I.A.5", || is("wear_seconds", 300, "5 minutes")),
    ("2.7", "I.A.6", || assert_eq!(ended(&uncomfortable()), (Outcome::Void, VerdictReason::NotComfortable))),
    ("2.9", "I.A.8", || {
        let mut run = Run::new(setup_of(Method::IsoamylAcetate));
        run.ok(60, Kind::Donned { by_wearer: true, fresh: false });
        assert_eq!(run.refused(BEGIN, Kind::ChamberEntered).code, Code::SealCheckMissing);
    }),
    ("2.10", "I.A.8", || {
        assert_eq!(ended(&leaking()), (Outcome::Void, VerdictReason::SealCheckFailed));
        assert!(VerdictReason::SealCheckFailed.asks_for_another_respirator());
    }),
    ("2.11", "I.A.9", || {
        let facts = sellion_rules::ladder::FirstDoseFacts {
            on: second(0).date_naive(),
            permissions: vec![permitted()],
            hair_at_seal: true,
            feels_well: true,
            last_intake_at: None,
        };
        assert_eq!(may_give_first_dose(&facts, &rules(), second(0)).unwrap_err().code, Code::HairAtSeal);
    }),
    ("2.13", "I.A.10", || {
        for method in [Method::Saccharin, Method::IsoamylAcetate, Method::AmbientAerosol] {
            let mut run = fitted(setup_of(method));
            run.ok(200, Kind::Unwell);
            assert_eq!(ended(&run), (Outcome::Stopped, VerdictReason::Unwell));
        }
    }),
    ("2.14", "I.A.11", || assert!(uncomfortable().verdict().reason.asks_for_another_respirator())),
    ("2.15", "I.A.12", || {
        for method in Method::ALL.iter().filter(|method| **method != Method::IrritantSmoke) {
            let first = plan(&setup_of(*method)).steps.into_iter().next().unwrap();
            assert_eq!(first.kind, StepKind::Explain, "{method}");
            assert!(first.say.is_some_and(|words| !words.is_empty()), "{method}");
        }
    }),
    ("2.16", "I.A.12", || {
        let mut run = fitted(setup_of(Method::IsoamylAcetate));
        assert_eq!(run.refused(359, Kind::ChamberEntered).code, Code::WearTimeShort);
        run.ok(360, Kind::ChamberEntered);
    }),
    ("2.18", "I.A.13", || assert!(step(StepKind::Don).instruction.contains("else is worn at work"))),
    ("2.19", "I.A.14(a)", || {
        let lists = |methods: &[Method]| methods.iter().map(|method| keys(*method)).collect::<Vec<_>>();
        let listed = lists(&[
            Method::Saccharin,
            Method::DenatoniumBenzoate,
            Method::IsoamylAcetate,
            Method::IrritantSmoke,
        ]);
        assert!(listed.windows(2).all(|pair| pair[0] == pair[1]));
        assert_eq!(keys(Method::GeneratedAerosol), keys(Method::AmbientAerosol));
        for own in [
            Method::ModifiedAmbientAerosolElastomeric,
            Method::ModifiedAmbientAerosolFiltering,
            Method::ControlledNegativePressure,
            Method::ControlledNegativePressureRedon,
        ] {
            assert!(
                keys(own) != keys(Method::Saccharin) && keys(own) != keys(Method::AmbientAerosol),
                "{own}"
            );
        }
    }),
    ("2.20", "I.A.14(b)", || {
        assert_eq!(seconds(Method::AmbientAerosol), [60, 60, 60, 60, 60, 15, 60, 60]);
        assert_eq!(seconds(Method::Saccharin), [60; 7]);
    }),
    ("2.21", "I.A.14(a)(6)", || {
        let has = |method| keys(method).iter().any(|key| key == "grimace");
        assert!(has(Method::AmbientAerosol) && !has(Method::Saccharin) && !has(Method::IrritantSmoke));
    }),
    ("2.22", "I.A.14(a)(7)", || {
        for method in [Method::Saccharin, Method::AmbientAerosol] {
            let mut list = exercises(method);
            list.retain(|exercise| exercise.alternative.is_some());
            assert_eq!(list.len(), 1);
            assert_eq!(
                (list[0].key.as_str(), list[0].alternative.as_deref()),
                ("bending_over", Some("jogging_in_place"))
            );
        }
    }),
    ("2.23", "I.A.14(b)", || {
        let run = Run::closing(setup(Agent::Saccharin, Level::Ten));
        assert!(run.state.summary().missing.contains(&Missing::AskedAgain));
    }),
    ("2.24", "I.A.14(b)", || {
        let mut run = Run::testing();
        run.ok(BEGIN + 20, Kind::Adjusted);
        assert_eq!(ended(&run), (Outcome::Void, VerdictReason::Adjusted));
    }),
    ("2.25", "computed from I.A.14", || {
        let list = exercises(Method::Saccharin);
        assert_eq!((list.len(), list.iter().map(|exercise| exercise.seconds).sum::<u32>()), (7, 420));
    }),
    ("2.26", "computed from I.A.14", || {
        let list = exercises(Method::GeneratedAerosol);
        assert_eq!((list.len(), list.iter().map(|exercise| exercise.seconds).sum::<u32>()), (8, 435));
    }),
    ("2.27", "I.C.2(b)(8)", || {
        let scored: u32 =
            exercises(Method::GeneratedAerosol).iter().map(|exercise| u32::from(exercise.measurements)).sum();
        assert_eq!(scored, 7);
    }),
    ("2.28", "74 FR 30250", || {
        for method in [Method::Saccharin, Method::DenatoniumBenzoate] {
            assert!(
                exercises(method).iter().all(|exercise| exercise.seconds == 60),
                "no 15-second variant: {method}"
            );
        }
    }),
];

pub(crate) fn permitted() -> sellion_rules::permission::PermissionFact {
    sellion_rules::permission::PermissionFact {
        id: crate::support::id(900),
        decision: sellion_rules::permission::Decision::Permitted,
        valid_from: "2027-01-01".parse().unwrap(),
        valid_until: None,
        happened_at: second(-86_400),
        recorded_at: second(-86_400),
    }
}
