//! Odour and smoke: what comes before the exercises, what fails, and the proof afterwards.

use sellion_rules::Code;
use sellion_rules::attempt::{
    AttemptEventKind as Kind, AttemptSetup, Missing, Outcome, SealCheckResult, VerdictReason, plan,
};
use sellion_rules::method::Method;

use crate::support::{Run, number, setup_of};

const ASKED: Kind = Kind::AskedAgain { tasted: false, comfortable: true };

/// The beginning of the testing in every run told here.
const BEGIN: i64 = 400;

fn fitted(setup: AttemptSetup) -> Run {
    let mut run = Run::new(setup);
    run.ok(60, Kind::Donned { by_wearer: true, fresh: false });
    run.ok(90, Kind::SealChecked { result: SealCheckResult::Ok });
    run
}

/// Seven exercises of a minute, one after the other, from this second on; the second of their end.
fn exercises(run: &mut Run, from: i64) -> i64 {
    for number in 1..=7 {
        let begin = from + 60 * i64::from(number - 1);
        run.ok(begin, Kind::ExerciseStarted { number });
        run.ok(begin + 60, Kind::ExerciseEnded { number });
    }
    from + 420
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

fn ended(run: &Run) -> (Outcome, VerdictReason) {
    (run.verdict().outcome, run.verdict().reason)
}

/// 29 CFR 1910.134 App. A I.B.2(b)(6).
#[test]
fn fact_3_17_two_minutes_in_the_chamber_before_the_exercises() {
    let mut run = in_chamber();
    let refusal = run.refused(BEGIN + 119, Kind::ExerciseStarted { number: 1 });
    assert_eq!((refusal.code, number(&refusal, "seconds_remaining")), (Code::NotReady, 1));
    run.ok(BEGIN + 120, Kind::ExerciseStarted { number: 1 });
}

/// App. A I.B.2(b)(7): banana odour at any time is a fail.
#[test]
fn fact_3_18_odour_noticed_at_any_moment_is_a_fail() {
    for second in [BEGIN + 1, BEGIN + 150, BEGIN + 500] {
        let mut run = in_chamber();
        if second >= BEGIN + 150 {
            run.ok(BEGIN + 120, Kind::ExerciseStarted { number: 1 });
        }
        run.ok(second, Kind::Noticed);
        assert_eq!(ended(&run), (Outcome::Fail, VerdictReason::Noticed));
    }
}

/// App. A I.B.2(b)(9): after the exercises the wearer breaks the seal, and has to notice the odour.
#[test]
fn fact_3_20_a_pass_needs_the_broken_seal_to_be_noticed() {
    let mut run = in_chamber();
    let end = exercises(&mut run, BEGIN + 120);
    run.ok(end + 5, ASKED);
    assert_eq!(run.state.summary().missing, [Missing::Proof, Missing::Signature]);
    assert_eq!(run.refused(end + 6, Kind::Signed).code, Code::ClosingIncomplete);
    let mut dull = in_chamber();
    exercises(&mut dull, BEGIN + 120);
    run.ok(end + 8, Kind::SealBroken { noticed: true });
    run.ok(end + 10, Kind::Signed);
    assert_eq!(ended(&run), (Outcome::Pass, VerdictReason::Completed));
    dull.ok(end + 8, Kind::SealBroken { noticed: false });
    assert_eq!(ended(&dull), (Outcome::Void, VerdictReason::AgentNotProven));
}

/// App. A I.B.5(c)(3): once around, then two more passes, before the exercises.
#[test]
fn fact_3_79_three_passes_around_the_facepiece_come_first() {
    let mut run = fitted(setup_of(Method::IrritantSmoke));
    assert_eq!(run.refused(BEGIN, Kind::PerimeterPassed { number: 2 }).code, Code::EventNotNow);
    run.ok(BEGIN, Kind::PerimeterPassed { number: 1 });
    assert_eq!(run.refused(BEGIN + 1, Kind::ExerciseStarted { number: 1 }).code, Code::ExerciseOutOfOrder);
    run.ok(BEGIN + 2, Kind::PerimeterPassed { number: 2 });
    run.ok(BEGIN + 3, Kind::PerimeterPassed { number: 3 });
    assert_eq!(run.refused(BEGIN + 4, Kind::PerimeterPassed { number: 4 }).code, Code::EventNotNow);
    run.ok(BEGIN + 4, Kind::ExerciseStarted { number: 1 });
}

/// App. A I.B.5(c)(6).
#[test]
fn fact_3_81_smoke_noticed_at_any_moment_is_a_fail() {
    let mut run = after_passes();
    run.ok(BEGIN + 10, Kind::ExerciseStarted { number: 1 });
    run.ok(BEGIN + 20, Kind::Noticed);
    assert_eq!(ended(&run), (Outcome::Fail, VerdictReason::Noticed));
}

/// App. A I.B.5(c)(7) and (8): the same tube, the respirator off; no response voids the run (row 10.25).
#[test]
fn facts_3_82_and_10_25_no_response_afterwards_is_void() {
    for (noticed, expected) in [
        (true, (Outcome::Pass, VerdictReason::Completed)),
        (false, (Outcome::Void, VerdictReason::AgentNotProven)),
    ] {
        let mut run = after_passes();
        let end = exercises(&mut run, BEGIN + 10);
        let early = run.refused(end + 1, Kind::SensitivityChecked { noticed });
        assert_eq!(early.code, Code::EventNotNow, "the wearer is asked before the respirator comes off");
        run.ok(end + 2, ASKED);
        run.ok(end + 3, Kind::Doffed);
        run.ok(end + 20, Kind::SensitivityChecked { noticed });
        if noticed {
            run.ok(end + 25, Kind::Signed);
        }
        assert_eq!(ended(&run), expected);
    }
}

/// App. A I.A.14(b): adjusting voids every kind of test.
#[test]
fn fact_2_24_an_adjusted_respirator_voids_the_run() {
    for mut run in [in_chamber(), after_passes()] {
        run.ok(BEGIN + 200, Kind::Adjusted);
        assert_eq!(ended(&run), (Outcome::Void, VerdictReason::Adjusted));
    }
}

#[test]
fn what_belongs_to_another_method_is_refused() {
    let foreign = [
        Kind::Tasted,
        Kind::DoseGiven { squeezes: 10 },
        Kind::BreathHoldLost,
        Kind::MeasuringEnded { after: None },
        Kind::SensitivityChecked { noticed: true },
    ];
    for kind in foreign {
        let mut run = in_chamber();
        assert_eq!(run.refused(BEGIN + 5, kind).code, Code::EventNotNow, "{kind:?}");
    }
    let mut fitting = fitted(setup_of(Method::IrritantSmoke));
    for kind in [Kind::ChamberEntered, Kind::DoseGiven { squeezes: 10 }, Kind::Hooded { taste_gone: true }] {
        assert_eq!(fitting.refused(BEGIN, kind).code, Code::EventNotNow, "{kind:?}");
    }
}

/// App. A I.B.2(b)(10), I.B.5(a)(3)-(5): what the tester has to be warned of (facts 3.21 and 3.72 to 3.76).
#[test]
fn facts_3_21_and_3_72_to_3_76_the_plan_shows_the_cautions() {
    let said = |method| plan(&setup_of(method)).cautions.join(" ");
    assert!(said(Method::IsoamylAcetate).contains("bag that seals"));
    let smoke = said(Method::IrritantSmoke);
    for words in ["eyes shut", "Never under a hood", "Air the room", "least that is noticed"] {
        assert!(smoke.contains(words), "{words}: {smoke}");
    }
}
