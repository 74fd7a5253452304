//! Testing: doses on their grid with tolerances, exercises in order and at full length, and what ends a run early.

use sellion_rules::Code;
use sellion_rules::attempt::{AttemptEventKind as Kind, Outcome, Phase, VerdictReason};
use sellion_rules::level::Level;
use sellion_rules::ruleset::UnsureReading;
use sellion_rules::supplies::Agent;

use crate::support::{FIRST, Run, number, second, setup, time};

const REDOSE: Kind = Kind::DoseGiven { squeezes: 5 };

fn start(number: u8) -> Kind {
    Kind::ExerciseStarted { number }
}

fn end(number: u8) -> Kind {
    Kind::ExerciseEnded { number }
}

/// 29 CFR 1910.134 App. A I.B.3(b)(9) and I.B.4(b)(9): half of 10, 20 or 30 (facts 10.14, 10.15 and 10.17).
#[test]
fn fact_3_47_and_3_66_later_doses_are_half_the_first() {
    for (level, half) in [(Level::Ten, 5), (Level::Twenty, 10), (Level::Thirty, 15)] {
        let mut run = Run::ready(setup(Agent::DenatoniumBenzoate, level));
        run.ok(FIRST, Kind::DoseGiven { squeezes: level.squeezes() });
        let refusal = run.refused(FIRST + 30, Kind::DoseGiven { squeezes: level.squeezes() });
        assert_eq!(refusal.code, Code::WrongDose);
        assert_eq!(number(&refusal, "expected_squeezes"), half);
        let next = run.state.summary().next_dose.expect("a dose");
        assert_eq!((next.number, i64::from(next.squeezes), next.due_at), (1, half, Some(second(FIRST + 30))));
        run.ok(FIRST + 30, Kind::DoseGiven { squeezes: next.squeezes });
    }
}

/// The interval is 29 CFR 1910.134 App. A I.B.3(b)(9); the tolerances of 5 and 10 s are common practice, no source.
#[test]
fn fact_3_47_every_thirty_seconds_within_the_tolerances() {
    for (offset, accepted) in [(24, false), (25, true), (30, true), (40, true)] {
        let mut run = Run::testing();
        if accepted {
            run.ok(FIRST + offset, REDOSE);
            assert_eq!(run.state.phase(), Phase::Testing);
        } else {
            let refusal = run.refused(FIRST + offset, REDOSE);
            assert_eq!(refusal.code, Code::DoseTooEarly);
            assert_eq!(number(&refusal, "seconds_remaining"), 6);
            assert_eq!(time(&refusal, "due_at"), second(FIRST + 30));
        }
    }
    let mut run = Run::testing();
    run.ok(FIRST + 41, REDOSE);
    let verdict = run.verdict();
    assert_eq!((verdict.outcome, verdict.reason), (Outcome::Void, VerdictReason::DoseMissed));
    assert_eq!((verdict.at, verdict.ended_at), (second(FIRST + 40), second(FIRST + 41)));
    assert_eq!(verdict.second, Some(40));
}

#[test]
fn a_late_dose_does_not_push_the_next_one_back() {
    let mut run = Run::testing();
    run.ok(FIRST + 40, REDOSE);
    let next = run.state.summary().next_dose.expect("a dose");
    assert_eq!(next.due_at, Some(second(FIRST + 60)));
    assert_eq!(next.earliest_at, Some(second(FIRST + 55)));
    assert_eq!(next.latest_at, Some(second(FIRST + 70)));
    assert_eq!(run.refused(FIRST + 54, REDOSE).code, Code::DoseTooEarly);
    run.ok(FIRST + 55, REDOSE);
}

/// Whatever event tells that a dose is overdue voids the run, also one that would have been refused.
#[test]
fn any_event_after_a_missed_dose_voids_the_run() {
    let kinds = [
        start(1),
        start(4),
        end(1),
        REDOSE,
        Kind::DoseGiven { squeezes: 99 },
        Kind::NebulizerChecked { clear: true },
        Kind::AskedAgain { tasted: false, comfortable: true },
        Kind::Signed,
        Kind::Adjusted,
        Kind::Hooded { taste_gone: true },
    ];
    for kind in kinds {
        let mut run = Run::testing();
        run.ok(FIRST + 41, kind);
        assert_eq!(run.verdict().reason, VerdictReason::DoseMissed, "{kind:?}");
    }
}

/// 29 CFR 1910.134 App. A I.B.3(b)(10): tasted at any time is a fail, also when a dose was missed before.
#[test]
fn fact_3_48_a_taste_outranks_a_missed_dose_and_so_does_unwell() {
    let mut run = Run::testing();
    run.ok(FIRST + 300, Kind::Tasted);
    assert_eq!((run.verdict().outcome, run.verdict().reason), (Outcome::Fail, VerdictReason::Tasted));
    let mut run = Run::testing();
    run.ok(FIRST + 300, Kind::AskedAgain { tasted: true, comfortable: true });
    assert_eq!(run.verdict().outcome, Outcome::Fail);
    let mut run = Run::testing();
    run.ok(FIRST + 300, Kind::Unwell);
    assert_eq!(run.verdict().outcome, Outcome::Stopped);
}

/// 29 CFR 1910.134 App. A I.A.14(a) and (b) (facts 2.20, 2.21, 2.25 and 3.46).
#[test]
fn fact_2_20_exercises_run_in_order_for_a_full_minute() {
    let mut run = Run::testing();
    let refusal = run.refused(FIRST, start(2));
    assert_eq!((refusal.code, number(&refusal, "expected_exercise")), (Code::ExerciseOutOfOrder, 1));
    assert_eq!(run.refused(FIRST, end(1)).code, Code::ExerciseOutOfOrder, "none is running");
    run.ok(FIRST + 2, start(1));
    assert_eq!(run.refused(FIRST + 3, start(2)).code, Code::ExerciseOutOfOrder, "one is running");
    assert_eq!(run.refused(FIRST + 3, end(2)).code, Code::ExerciseOutOfOrder, "another is running");
    run.ok(FIRST + 30, REDOSE);
    run.ok(FIRST + 60, REDOSE);
    let refusal = run.refused(FIRST + 61, end(1));
    assert_eq!((refusal.code, number(&refusal, "seconds_remaining")), (Code::ExerciseTooShort, 1));
    run.ok(FIRST + 62, end(1));
    assert_eq!(run.state.summary().next_exercise, Some(2));
    assert_eq!(run.refused(FIRST + 62, start(1)).code, Code::ExerciseOutOfOrder, "not the same again");
}

/// 29 CFR 1910.134 App. A I.A.14(b): no adjustment once the exercises begin (fact 2.24, fact 10.20). Interruption, hood
/// and respirator off are common practice, no source.
#[test]
fn fact_2_24_a_disturbed_run_is_void() {
    let disturbances = [
        (Kind::Adjusted, VerdictReason::Adjusted),
        (Kind::Interrupted, VerdictReason::Interrupted),
        (Kind::HoodOff, VerdictReason::HoodOff),
        (Kind::Doffed, VerdictReason::Doffed),
    ];
    for (kind, reason) in disturbances {
        let mut run = Run::testing();
        run.exercises(0, 2, 5);
        run.ok(FIRST + 120, start(3));
        run.ok(FIRST + 137, kind);
        let verdict = run.verdict();
        assert_eq!((verdict.outcome, verdict.reason), (Outcome::Void, reason));
        assert_eq!((verdict.exercise, verdict.second), (Some(3), Some(137)));
    }
}

/// 29 CFR 1910.134 App. A I.B.3(b)(10) and I.B.4(b)(10) (facts 3.48 and 3.67, fact 10.19).
#[test]
fn fact_3_48_and_3_67_tasted_at_any_moment_is_a_fail() {
    for agent in Agent::TASTES {
        let mut run = Run::ready(setup(*agent, Level::Ten));
        run.ok(FIRST, Kind::DoseGiven { squeezes: 10 });
        run.exercises(0, 4, 5);
        run.ok(FIRST + 240, start(5));
        run.ok(FIRST + 255, Kind::Tasted);
        let verdict = run.verdict();
        assert_eq!((verdict.outcome, verdict.exercise, verdict.second), (Outcome::Fail, Some(5), Some(255)));
    }
    let mut run = Run::testing();
    run.ok(FIRST, Kind::Tasted);
    assert_eq!(
        (run.verdict().outcome, run.verdict().second),
        (Outcome::Fail, Some(0)),
        "with the first dose"
    );
}

/// Common practice, no source: what "not sure" counts as is a value of the rule set, and its word is kept.
#[test]
fn unsure_counts_as_the_rule_set_says() {
    for (reading, outcome) in [(UnsureReading::Tasted, Outcome::Fail), (UnsureReading::Void, Outcome::Void)] {
        let mut with_reading = setup(Agent::Saccharin, Level::Ten);
        with_reading.rules.unsure_counts_as = reading;
        let mut run = Run::ready(with_reading);
        run.ok(FIRST, Kind::DoseGiven { squeezes: 10 });
        run.ok(FIRST + 10, Kind::Unsure);
        assert_eq!((run.verdict().outcome, run.verdict().reason), (outcome, VerdictReason::Unsure));
    }
}

#[test]
fn a_clogged_nebulizer_found_on_the_way_voids_the_run() {
    let mut run = Run::testing();
    run.ok(FIRST + 5, Kind::NebulizerChecked { clear: true });
    run.ok(FIRST + 10, Kind::NebulizerChecked { clear: false });
    assert_eq!(run.verdict().reason, VerdictReason::NebulizerClogged);
}

#[test]
fn fitting_events_are_refused_under_the_hood() {
    let mut run = Run::testing();
    for kind in [Kind::Donned { by_wearer: true, fresh: false }, Kind::Hooded { taste_gone: true }] {
        assert_eq!(run.refused(FIRST + 1, kind).code, Code::EventNotNow, "{kind:?}");
    }
    assert_eq!(run.refused(FIRST + 1, Kind::Signed).code, Code::ClosingIncomplete);
    let asked = Kind::AskedAgain { tasted: false, comfortable: true };
    assert_eq!(run.refused(FIRST + 1, asked).code, Code::EventNotNow);
}
