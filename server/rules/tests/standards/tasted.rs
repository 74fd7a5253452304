//! 29 CFR 1910.134 App. A I.B.3 and I.B.4: the taste protocols.

use sellion_rules::Code;
use sellion_rules::attempt::{AttemptEventKind as Kind, Outcome, VerdictReason, plan};
use sellion_rules::eligibility::{Way, Worn, may_test};
use sellion_rules::level::Level;
use sellion_rules::method::Method;
use sellion_rules::printed_expiry::PrintedExpiry;
use sellion_rules::respirator::{AirSupply, Facepiece};
use sellion_rules::ruleset::{RuleScalar, RuleStatus};
use sellion_rules::screening::{
    ScreeningEvent, ScreeningEventKind as Screened, ScreeningOutcome, ScreeningSetup, ScreeningState,
    ScreeningVerdict,
};
use sellion_rules::supplies::{Agent, BottleFacts, FillFacts, Solution, fill_required, fill_usable};

use crate::Fact;
use crate::sets::{ASKED, amounts, ended, is, keys, recipe, status, value};
use crate::support::{FIRST, Run, code, rules, second, setup};

const BITTER: Agent = Agent::DenatoniumBenzoate;
const SWEET: Agent = Agent::Saccharin;
const TEST: Solution = Solution::Test;
const WEAK: Solution = Solution::Screening;

/// The screening of somebody who first tastes at this squeeze, or never.
pub(crate) fn screened(agent: Agent, at: Option<u8>) -> ScreeningVerdict {
    let mut state = ScreeningState::new(ScreeningSetup::new(&rules(), agent, None));
    let tell = |state: &mut ScreeningState, kind| {
        let seq = state.next_seq();
        state.apply(&ScreeningEvent { seq, happened_at: second(i64::from(seq)), kind }).unwrap();
    };
    tell(&mut state, Screened::Explained);
    for set in 0..3_u8 {
        let here = at.filter(|squeeze| *squeeze <= (set + 1) * 10).map(|squeeze| squeeze - set * 10);
        tell(&mut state, Screened::SetDone { tasted: here.is_some(), squeezes: here.unwrap_or(10) });
        if state.verdict().is_some() {
            break;
        }
    }
    state.verdict().unwrap()
}

fn level(agent: Agent, at: u8) -> Level {
    screened(agent, Some(at)).level.unwrap()
}

fn levels(agent: Agent) {
    for (at, expected) in [
        (1, Level::Ten),
        (10, Level::Ten),
        (11, Level::Twenty),
        (20, Level::Twenty),
        (21, Level::Thirty),
        (30, Level::Thirty),
    ] {
        assert_eq!(level(agent, at), expected, "squeeze {at}");
    }
    assert_eq!(screened(agent, None).outcome, ScreeningOutcome::NotTasted);
}

fn doses(agent: Agent) {
    for (level, first, later) in [(Level::Ten, 10, 5), (Level::Twenty, 20, 10), (Level::Thirty, 30, 15)] {
        let doses = plan(&setup(agent, level)).doses.unwrap();
        assert_eq!((doses.first_dose, doses.redose, doses.redose_interval_seconds), (first, later, 30));
    }
}

fn tasted_fails(agent: Agent) {
    let mut run = Run::ready(setup(agent, Level::Ten));
    run.ok(FIRST, Kind::DoseGiven { squeezes: 10 });
    run.ok(FIRST + 20, Kind::Tasted);
    assert_eq!(ended(&run), (Outcome::Fail, VerdictReason::Tasted));
}

fn clogged(agent: Agent) -> (Outcome, VerdictReason) {
    let mut run = Run::closing(setup(agent, Level::Ten));
    run.ok(FIRST + 425, ASKED);
    run.ok(FIRST + 430, Kind::NebulizerChecked { clear: false });
    ended(&run)
}

/// A fill of this age in seconds at the moment of use.
pub(crate) fn fill_of_age(seconds: i64) -> Result<(), Code> {
    let fill = FillFacts {
        agent: SWEET,
        solution: TEST,
        filled_at: second(0),
        discarded_at: None,
        bottle: BottleFacts {
            printed_expiry: "2099-12".parse::<PrintedExpiry>().unwrap(),
            opened_on: Some(second(0).date_naive()),
            opened_life_days: None,
            stopped: false,
        },
        below: Vec::new(),
    };
    let life = rules().supplies.fill_life_seconds;
    fill_usable(&fill, life, second(seconds), chrono_tz::UTC).map(drop).map_err(|refusal| refusal.code)
}

fn wrong_strength(agent: Agent) {
    let fill = FillFacts {
        agent,
        solution: WEAK,
        filled_at: second(0),
        discarded_at: None,
        bottle: BottleFacts {
            printed_expiry: "2099-12".parse::<PrintedExpiry>().unwrap(),
            opened_on: Some(second(0).date_naive()),
            opened_life_days: None,
            stopped: false,
        },
        below: Vec::new(),
    };
    let found = fill_required(Some(&fill), agent, TEST, 14_400, second(60), chrono_tz::UTC);
    assert_eq!(found.unwrap_err().code, Code::FillWrongSolution);
}

fn with_filter(method: Method, filter: &str) -> bool {
    let worn = Worn {
        facepiece: Facepiece::HalfMask,
        supply: AirSupply::AirPurifying,
        protection_factor: 10,
        filter,
    };
    let way = Way { method, negative_pressure_mode: false, fitted_filter: None };
    may_test(&worn, &way, &rules()).is_ok()
}

fn intake(agent: Agent, minutes: i64) -> Result<(), Code> {
    let mut setup = setup(agent, Level::Ten);
    setup.last_intake_at = Some(second(FIRST - 60 * minutes));
    let mut run = Run::ready(setup);
    let dose = run.event(FIRST, Kind::DoseGiven { squeezes: 10 });
    run.state.apply(&dose).map(drop).map_err(|refusal| refusal.code)
}

pub(crate) const FACTS: &[Fact] = &[
    ("3.23", "I.B.3", || {
        let mut state = ScreeningState::new(ScreeningSetup::new(&rules(), SWEET, None));
        let kind = Screened::SetDone { tasted: true, squeezes: 3 };
        assert_eq!(
            code(state.apply(&ScreeningEvent { seq: 1, happened_at: second(0), kind })),
            Code::ExplainFirst
        );
    }),
    ("3.24", "I.B.3(a)(1)", || {
        for (key, inches) in [("notes.hood_diameter", "12"), ("notes.hood_height", "14")] {
            assert_eq!(value(key).value, RuleScalar::Text(inches.to_owned()));
        }
    }),
    ("3.25", "I.B.3(a)(2)", || {
        assert_eq!(value("notes.hood_hole").value, RuleScalar::Text("0.75".to_owned()))
    }),
    ("3.27", "I.B.3(a)(4)", || assert_ne!(WEAK.name(), TEST.name())),
    ("3.28", "I.B.3(a)(5)", || {
        assert_eq!(amounts(SWEET, WEAK), [0.83, 100.0]);
        assert!(recipe(SWEET, WEAK).instructions.contains("1 ml of the test solution in 100 ml"));
    }),
    ("3.30", "I.B.3(a)(7)", || assert_eq!(level(SWEET, 3), Level::Ten)),
    ("3.31", "I.B.3(a)(8)", || assert_eq!(level(SWEET, 14), Level::Twenty)),
    ("3.32", "I.B.3(a)(9)", || assert_eq!(level(SWEET, 25), Level::Thirty)),
    ("3.33", "I.B.3(a)(10)", || assert_eq!(screened(SWEET, Some(14)).squeezes, 14)),
    ("3.34", "I.B.3(a)(11)", || assert_eq!(screened(SWEET, None).outcome, ScreeningOutcome::NotTasted)),
    ("3.35", "I.B.3(a) note", || {
        let mut state = ScreeningState::new(ScreeningSetup::new(&rules(), SWEET, Some(second(0))));
        state.apply(&ScreeningEvent { seq: 1, happened_at: second(1), kind: Screened::Explained }).unwrap();
        let kind = Screened::SetDone { tasted: true, squeezes: 3 };
        assert_eq!(
            code(state.apply(&ScreeningEvent { seq: 2, happened_at: second(60), kind })),
            Code::IntakeTooRecent
        );
    }),
    ("3.37", "I.B.3(a)(13)", || {
        assert_eq!(value("notes.nebulizer_fill").value, RuleScalar::Text("1".to_owned()))
    }),
    ("3.38", "I.B.3(a)(14)", || {
        is("fill_life_seconds", 4 * 3600, "I.B.3(a)(14)");
        assert_eq!(fill_of_age(4 * 3600 - 1), Ok(()));
        assert_eq!(fill_of_age(4 * 3600), Err(Code::FillTooOld));
    }),
    ("3.39", "I.B.3(b)(1)", || {
        is("no_intake_seconds", 900, "I.B.3(b)(1)");
        assert_eq!((intake(SWEET, 14), intake(SWEET, 15)), (Err(Code::IntakeTooRecent), Ok(())));
    }),
    ("3.41", "I.B.3(b)(3)", || {
        assert!(with_filter(Method::Saccharin, "N95") && !with_filter(Method::Saccharin, "OV"))
    }),
    ("3.42", "I.B.3(b)(4)", || wrong_strength(SWEET)),
    ("3.43", "I.B.3(b)(5)", || assert_eq!(amounts(SWEET, TEST), [83.0, 100.0])),
    ("3.44", "I.B.3(b)(6)", || {
        let steps = plan(&setup(SWEET, Level::Ten)).steps;
        assert!(
            steps
                .iter()
                .any(|step| step.say.as_deref().is_some_and(|say| say.contains("slightly open mouth")))
        );
    }),
    ("3.45", "I.B.3(b)(7)", || {
        doses(SWEET);
        let mut run = Run::ready(setup(SWEET, Level::Ten));
        assert_eq!(run.refused(FIRST, Kind::DoseGiven { squeezes: 9 }).code, Code::WrongDose);
    }),
    ("3.46", "I.B.3(b)(8)", || assert_eq!(keys(Method::Saccharin).len(), 7)),
    ("3.47", "I.B.3(b)(9)", || {
        is("redose_interval_seconds", 30, "I.B.3(b)(9)");
        is("redose_percent", 50, "I.B.3(b)(9)");
    }),
    ("3.48", "I.B.3(b)(10)", || tasted_fails(SWEET)),
    ("3.49", "I.B.3(b)(11)", || {
        assert_eq!(value("ladder").value, RuleScalar::Text("strict".to_owned()));
        assert_eq!(status("ladder"), RuleStatus::Verified);
    }),
    ("3.50", "I.B.3(b)(12)", || assert_eq!(clogged(SWEET), (Outcome::Void, VerdictReason::NebulizerClogged))),
    ("3.51", "I.B.3, absence in text", || {
        assert_eq!((recipe(SWEET, TEST).life_days, recipe(SWEET, WEAK).life_days), (None, None));
        assert_eq!(rules().supplies.opened_life_days, None);
    }),
    ("3.52", "I.B.3 and I.B.4, absence in text", || {
        assert_eq!(status("wait_after_fail_seconds"), RuleStatus::CommonPractice);
    }),
    ("3.54", "computed from the recipes", || {
        assert!((amounts(SWEET, TEST)[0] / amounts(SWEET, WEAK)[0] - 100.0).abs() < 1e-9);
    }),
    ("3.56", "I.B.4(a)(1) and (2)", || {
        for key in ["notes.hood_diameter", "notes.hood_height", "notes.hood_hole"] {
            assert!(value(key).source.contains("I.B.4(a)"), "{key}");
        }
    }),
    ("3.57", "I.B.4(a)(3)", || {
        let say = plan(&setup(BITTER, Level::Ten)).steps[0].say.clone().unwrap();
        assert!(say.contains("bitter"), "{say}");
    }),
    ("3.58", "I.B.4(a)(5)", || {
        assert_eq!(amounts(BITTER, WEAK), [13.5, 100.0]);
        assert!(recipe(BITTER, WEAK).ingredients[1].of.contains("5 percent sodium chloride"));
    }),
    ("3.59", "I.B.4(a)(6)-(11)", || levels(BITTER)),
    ("3.60", "I.B.4(a)(13), (14)", || assert!(value("fill_life_seconds").source.contains("I.B.4(a)(14)"))),
    ("3.61", "I.B.4(b)(1)", || {
        assert_eq!((intake(BITTER, 14), intake(BITTER, 15)), (Err(Code::IntakeTooRecent), Ok(())));
    }),
    ("3.62", "I.B.4(b)(3)", || {
        for filter in ["N95", "R99", "P100", "FFP2", "HEPA"] {
            assert!(with_filter(Method::DenatoniumBenzoate, filter), "{filter}");
        }
    }),
    ("3.63", "I.B.4(b)(4)", || wrong_strength(BITTER)),
    ("3.64", "I.B.4(b)(5)", || assert_eq!(amounts(BITTER, TEST), [337.5, 200.0], "200 ml, not 100")),
    ("3.65", "I.B.4(b)(7)", || doses(BITTER)),
    ("3.66", "I.B.4(b)(9)", || doses(BITTER)),
    ("3.67", "I.B.4(b)(10), (11)", || tasted_fails(BITTER)),
    ("3.68", "I.B.4(b), absence in text", || {
        assert_eq!(status("denatonium_benzoate.clog_voids"), RuleStatus::CommonPractice);
        assert_eq!(clogged(BITTER), (Outcome::Void, VerdictReason::NebulizerClogged));
    }),
    ("3.69", "computed from the recipes", || {
        let strength = |solution| amounts(BITTER, solution)[0] / amounts(BITTER, solution)[1];
        assert!((strength(WEAK) - 0.135).abs() < 1e-12 && (strength(TEST) - 1.6875).abs() < 1e-12);
        assert!((strength(TEST) / strength(WEAK) - 12.5).abs() < 1e-9);
    }),
    ("3.84", "the decision table", || {
        levels(SWEET);
        doses(SWEET);
    }),
    ("3.85", "computed from I.A.14 and I.B.3(b)(9)", || {
        for (level, total) in [(Level::Ten, 75), (Level::Twenty, 150), (Level::Thirty, 225)] {
            let doses = plan(&setup(SWEET, level)).doses.unwrap();
            assert_eq!((doses.expected_redoses, doses.expected_squeezes), (13, total));
        }
    }),
];
