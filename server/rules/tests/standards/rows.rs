//! Worked rows that restate the verified text or are computed from its formula.

use sellion_rules::Code;
use sellion_rules::attempt::{AttemptEventKind as Kind, Outcome, VerdictReason};
use sellion_rules::clearance::required_fit_factor;
use sellion_rules::dates::{DueReading, Interval, due_on};
use sellion_rules::eligibility::{Way, Worn, may_test};
use sellion_rules::fit_factor::{Reading, fit};
use sellion_rules::level::Level;
use sellion_rules::method::Method;
use sellion_rules::respirator::{AirSupply, Facepiece};
use sellion_rules::screening::ScreeningOutcome;
use sellion_rules::supplies::{Agent, Solution};

use crate::Fact;
use crate::sets::{ended, fails, overall, quantity, recipe};
use crate::support::{FIRST, Run, rules, second, setup};
use crate::tasted::{fill_of_age, screened};

const HALF: Facepiece = Facepiece::HalfMask;
const FULL: Facepiece = Facepiece::FullFacepiece;
const FFR: Facepiece = Facepiece::FilteringFacepiece;
const AMBIENT: Method = Method::AmbientAerosol;
const MODIFIED: Method = Method::ModifiedAmbientAerosolFiltering;
const REDON: Method = Method::ControlledNegativePressureRedon;

/// The overall value, cut off after three decimals, and whether it fails.
fn row(method: Method, facepiece: Facepiece, factors: &[&str], shown: &str, fail: bool) {
    assert_eq!(overall(method, facepiece, factors), shown);
    assert_eq!(fails(method, facepiece, factors), fail);
}

fn level(at: u8, expected: Level) {
    assert_eq!(screened(Agent::Saccharin, Some(at)).level, Some(expected));
}

fn intake(minutes: i64) -> Option<Code> {
    let mut setup = setup(Agent::Saccharin, Level::Ten);
    setup.last_intake_at = (minutes > 0).then(|| second(FIRST - 60 * minutes));
    let mut run = Run::ready(setup);
    let dose = run.event(FIRST, Kind::DoseGiven { squeezes: 10 });
    run.state.apply(&dose).err().map(|refusal| refusal.code)
}

fn due(tested: &str) -> String {
    let interval = Interval { months: 12, strict_days: 365 };
    due_on(tested.parse().unwrap(), interval, DueReading::Earlier).to_string()
}

pub(crate) const FACTS: &[Fact] = &[
    ("10.1", "I.C.2(b)(8)(iii)(D)", || {
        row(AMBIENT, HALF, &["200", "200", "50", "200", "200", "200", "200"], "140", false)
    }),
    ("10.2", "I.C.2(b)(8)(iii)(D)", || {
        row(AMBIENT, HALF, &["1000", "1000", "1000", "1000", "1000", "1000", "10"], "66.037", true);
    }),
    ("10.3", "(f)(7)", || row(AMBIENT, HALF, &["100"; 7], "100", false)),
    ("10.4", "(f)(7)", || {
        row(AMBIENT, HALF, &["100", "100", "100", "100", "100", "100", "99.9"], "99.985", true)
    }),
    ("10.5", "(f)(7)", || {
        row(AMBIENT, FULL, &["1200", "900", "700", "450", "600", "350", "1000"], "629.55", false)
    }),
    ("10.6", "Table A-2", || row(MODIFIED, FFR, &["120", "80", "150", "100"], "106.666", false)),
    ("10.7", "Table A-2", || row(MODIFIED, FFR, &["200", "67", "150", "90"], "106.091", false)),
    ("10.8", "I.C.7(d)", || row(REDON, FULL, &["500", "1000", "2000", "250", "800"], "571.428", false)),
    ("10.9", "I.C.2(b)(8)(i)", || {
        row(AMBIENT, HALF, &["210", "180", "160", "150", "120", "90", "200"], "146.816", false)
    }),
    ("10.10", "I.C.2(b)(8)(ii)", || {
        let inside = |text| Reading::Inside { inside: quantity(text) };
        let readings = [(1, inside("26")), (2, inside("52")), (3, inside("40")), (4, inside("65"))];
        let found = fit(&readings, Some(quantity("5000")), Some(quantity("5400"))).unwrap();
        let each: Vec<_> = found.exercises.iter().map(|exercise| exercise.fit_factor.as_decimal(0)).collect();
        assert_eq!(each, ["200", "100", "130", "80"]);
        assert_eq!(found.overall.as_decimal(3), "113.661");
    }),
    ("10.11", "computed", || {
        // 7 / (6/100 + 1/99.9), worked by hand as a fraction: 69930 / 699.4 lies below 100.
        assert!(
            69_930.0 / 699.4 < 100.0
                && fails(AMBIENT, HALF, &["100", "100", "100", "100", "100", "100", "99.9"])
        );
    }),
    ("10.13", "I.C.2, I.C.3, I.C.6, I.C.7", || {
        for (key, paragraph) in
            [("generated_aerosol", "I.C.2(b)(8)(iii)(D)"), ("ambient_aerosol", "formula of I.C.2")]
        {
            assert!(crate::sets::value(&format!("{key}.reading")).source.contains(paragraph), "{key}");
        }
    }),
    ("10.14", "I.B.3(a)(7), (b)(7), (b)(9)", || level(3, Level::Ten)),
    ("10.15", "I.B.3(a)(8)", || level(11, Level::Twenty)),
    ("10.16", "I.B.3(a)(8)", || level(20, Level::Twenty)),
    ("10.17", "I.B.3(a)(9)", || level(21, Level::Thirty)),
    ("10.18", "I.B.3(a)(11), I.B.4(a)(11)", || {
        assert_eq!(screened(Agent::DenatoniumBenzoate, None).outcome, ScreeningOutcome::NotTasted);
    }),
    ("10.19", "I.B.3(b)(10)", || {
        let mut run = Run::testing();
        run.exercises(0, 4, 5);
        run.ok(FIRST + 240, Kind::ExerciseStarted { number: 5 });
        run.ok(FIRST + 250, Kind::Tasted);
        assert_eq!((ended(&run), run.verdict().exercise), ((Outcome::Fail, VerdictReason::Tasted), Some(5)));
    }),
    ("10.20", "I.A.14(b)", || {
        let mut run = Run::testing();
        run.exercises(0, 2, 5);
        run.ok(FIRST + 120, Kind::ExerciseStarted { number: 3 });
        run.ok(FIRST + 125, Kind::Adjusted);
        assert_eq!(ended(&run), (Outcome::Void, VerdictReason::Adjusted));
    }),
    ("10.22", "I.B.3(b)(12)", || {
        let mut run = Run::closing(setup(Agent::Saccharin, Level::Ten));
        run.ok(FIRST + 430, Kind::NebulizerChecked { clear: false });
        assert_eq!(ended(&run), (Outcome::Void, VerdictReason::NebulizerClogged));
    }),
    ("10.23", "I.B.3(b)(1)", || assert_eq!((intake(10), intake(15)), (Some(Code::IntakeTooRecent), None))),
    ("10.24", "I.B.3(b)(1)", || assert_eq!(intake(0), None, "plain water is no intake")),
    ("10.26", "(f)(6), (f)(7)", || {
        let worn =
            Worn { facepiece: FULL, supply: AirSupply::AirPurifying, protection_factor: 50, filter: "P100" };
        let way = |method| Way { method, negative_pressure_mode: false, fitted_filter: None };
        assert_eq!(
            may_test(&worn, &way(Method::Saccharin), &rules()).unwrap_err().code,
            Code::TestMethodNotAllowed
        );
        assert!(may_test(&worn, &way(AMBIENT), &rules()).is_ok());
        assert_eq!(required_fit_factor(50), 500);
    }),
    ("10.27", "(f)(7)", || assert!(!fails(AMBIENT, HALF, &["100.0"; 7]))),
    ("10.29", "I.B.3(a)(14)", || assert_eq!(fill_of_age(4 * 3600 + 60), Err(Code::FillTooOld))),
    ("10.30", "I.B.2(a)(3)", || {
        let last =
            recipe(Agent::IsoamylAcetate, Solution::Stock).last_day("2026-03-02".parse().unwrap()).unwrap();
        assert!(last < "2026-03-10".parse().unwrap(), "made eight days before: expired");
    }),
    ("10.31", "(f)(2), a choice", || assert_eq!(due("2025-03-10"), "2026-03-10")),
    ("10.32", "(f)(2), a choice", || assert_eq!(due("2028-02-29"), "2029-02-28")),
];
