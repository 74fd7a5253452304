//! Closing: the standard run passes, what is still due, the last question, the look, the signature, and after the end.

use sellion_rules::Code;
use sellion_rules::attempt::{
    AttemptEventKind as Kind, Missing, Outcome, Phase, SealCheckResult, VerdictReason, replay,
};
use sellion_rules::level::Level;
use sellion_rules::sequence::Applied;
use sellion_rules::supplies::Agent;

use crate::support::{FIRST, Run, number, second, setup};

const END: i64 = FIRST + 420;
const ASKED: Kind = Kind::AskedAgain { tasted: false, comfortable: true };
const CLEAR: Kind = Kind::NebulizerChecked { clear: true };
const CLOGGED: Kind = Kind::NebulizerChecked { clear: false };

fn closing() -> Run {
    Run::closing(setup(Agent::Saccharin, Level::Ten))
}

fn squeezes(run: &Run) -> Vec<u32> {
    let doses = run.state.events().iter().filter_map(|event| match event.kind {
        Kind::DoseGiven { squeezes } => Some(u32::from(squeezes)),
        _ => None,
    });
    doses.collect()
}

/// 29 CFR 1910.134 App. A I.A.14 and I.B.3(b), I.B.4(b): a clean run of 420 s with 13 later doses and 75, 150 or 225
/// squeezes in all (facts 2.25, 3.84 and 3.85).
#[test]
fn fact_3_85_the_standard_run_passes_with_75_150_and_225_squeezes() {
    for agent in Agent::TASTES {
        for (level, total) in [(Level::Ten, 75), (Level::Twenty, 150), (Level::Thirty, 225)] {
            let mut run = Run::closing(setup(*agent, level));
            assert_eq!(run.state.summary().next_dose, None, "none is due at the very end");
            run.ok(END + 5, ASKED);
            run.ok(END + 8, CLEAR);
            run.ok(END + 12, Kind::Signed);
            let verdict = run.verdict();
            assert_eq!((verdict.outcome, verdict.reason), (Outcome::Pass, VerdictReason::Completed));
            assert_eq!(verdict.started_testing_at, Some(second(FIRST)));
            assert_eq!(run.state.signed_at(), Some(second(END + 12)));
            let doses = squeezes(&run);
            assert_eq!((doses.len(), doses.iter().sum::<u32>()), (14, total), "{agent} {level:?}");
        }
    }
}

/// A run whose exercises end 3 s late has a dose due at second 420, which is still to be given.
fn ends_three_seconds_late() -> Run {
    let mut run = Run::testing();
    for number in 1..=7_u8 {
        let begin = FIRST + 3 + 60 * i64::from(number - 1);
        run.ok(begin, Kind::ExerciseStarted { number });
        run.ok(begin + 27, Kind::DoseGiven { squeezes: 5 });
        if number < 7 {
            run.ok(begin + 57, Kind::DoseGiven { squeezes: 5 });
        }
        run.ok(begin + 60, Kind::ExerciseEnded { number });
    }
    run
}

/// The rule gives the interval and no count (fact 3.85): a dose that falls due before the exercises end is needed.
#[test]
fn a_dose_due_before_the_end_is_given_before_anything_else() {
    let mut run = ends_three_seconds_late();
    assert_eq!(run.state.summary().missing.first(), Some(&Missing::Dose));
    let refusal = run.refused(END + 4, ASKED);
    assert_eq!((refusal.code, number(&refusal, "seconds_remaining")), (Code::DoseDue, 6));
    assert_eq!(run.refused(END + 4, CLEAR).code, Code::DoseDue);
    assert_eq!(run.refused(END + 4, Kind::Signed).code, Code::ClosingIncomplete);
    run.ok(END + 6, Kind::DoseGiven { squeezes: 5 });
    assert_eq!(run.refused(END + 7, Kind::DoseGiven { squeezes: 5 }).code, Code::EventNotNow);
    run.ok(END + 7, ASKED);
    run.ok(END + 8, CLEAR);
    run.ok(END + 9, Kind::Signed);
    assert_eq!(run.verdict().outcome, Outcome::Pass);
    assert_eq!(squeezes(&run).iter().sum::<u32>(), 80, "fact 3.85: 80 with the dose at second 420");
}

#[test]
fn a_dose_due_before_the_end_and_never_given_voids_the_run() {
    let mut run = ends_three_seconds_late();
    run.ok(END + 11, ASKED);
    assert_eq!((run.verdict().reason, run.verdict().at), (VerdictReason::DoseMissed, second(END + 10)));
}

/// 29 CFR 1910.134 App. A I.B.3(b)(12) (fact 3.50, fact 10.22); for denatonium benzoate the text is silent (fact 3.68)
/// and the rule set takes the cautious reading.
#[test]
fn fact_3_50_and_3_68_a_clogged_nebulizer_at_the_end_is_no_pass() {
    for agent in Agent::TASTES {
        let mut run = Run::closing(setup(*agent, Level::Ten));
        run.ok(END + 5, ASKED);
        run.ok(END + 8, CLOGGED);
        assert_eq!(
            (run.verdict().outcome, run.verdict().reason),
            (Outcome::Void, VerdictReason::NebulizerClogged)
        );
    }
}

/// Fact 3.68: a rule set may leave the clog without effect for an agent; the look itself is still needed.
#[test]
fn fact_3_68_where_the_rule_set_lets_a_clog_stand() {
    let mut lenient = setup(Agent::DenatoniumBenzoate, Level::Ten);
    lenient.rules.doses.as_mut().expect("doses").clog_voids_denatonium_benzoate = false;
    let mut run = Run::closing(lenient);
    run.ok(END + 5, ASKED);
    assert_eq!(run.refused(END + 6, Kind::Signed).code, Code::ClosingIncomplete);
    run.ok(END + 8, CLOGGED);
    run.ok(END + 9, Kind::Signed);
    assert_eq!(run.verdict().outcome, Outcome::Pass);
}

#[test]
fn a_pass_needs_the_question_the_look_and_the_signature() {
    let mut run = closing();
    assert_eq!(
        run.state.summary().missing,
        [Missing::AskedAgain, Missing::NebulizerChecked, Missing::Signature]
    );
    let refusal = run.refused(END + 1, Kind::Signed);
    assert_eq!(refusal.code, Code::ClosingIncomplete);
    assert_eq!(serde_json::to_value(&refusal).expect("json")["missing"], "asked_again,nebulizer_checked");
    run.ok(END + 2, CLEAR);
    assert_eq!(run.refused(END + 3, Kind::Signed).code, Code::ClosingIncomplete);
    run.ok(END + 4, ASKED);
    assert_eq!(run.state.phase(), Phase::Closing);
    run.ok(END + 5, Kind::Signed);
    assert_eq!(run.state.phase(), Phase::Ended);
    assert_eq!(run.state.summary().missing, []);
}

/// The look in the middle of a run says nothing about its end (29 CFR 1910.134 App. A I.B.3(b)(12): at the end).
#[test]
fn fact_3_50_a_look_on_the_way_does_not_stand_for_the_one_at_the_end() {
    let mut run = Run::testing();
    run.ok(FIRST, CLEAR);
    run.exercises(0, 7, 5);
    run.ok(END + 1, ASKED);
    assert_eq!(run.refused(END + 2, Kind::Signed).code, Code::ClosingIncomplete);
}

/// 29 CFR 1910.134 App. A I.A.14(b) (fact 2.23).
#[test]
fn fact_2_23_uncomfortable_at_the_end_is_no_pass() {
    let mut run = closing();
    run.ok(END + 5, Kind::AskedAgain { tasted: false, comfortable: false });
    assert_eq!((run.verdict().outcome, run.verdict().reason), (Outcome::Void, VerdictReason::NotComfortable));
}

/// 29 CFR 1910.134 App. A I.B.3(b)(10) (fact 3.48): until the signature.
#[test]
fn fact_3_48_a_taste_named_at_the_end_is_a_fail() {
    let before_asking: [&[Kind]; 3] = [&[], &[ASKED], &[ASKED, CLEAR]];
    let says_so = [Kind::Tasted, Kind::Unsure, Kind::AskedAgain { tasted: true, comfortable: true }];
    for steps in before_asking {
        for kind in says_so {
            let mut run = closing();
            for step in steps {
                run.ok(END + 5, *step);
            }
            run.ok(END + 6, kind);
            assert_eq!(run.verdict().outcome, Outcome::Fail, "{kind:?} after {steps:?}");
            assert_eq!((run.verdict().exercise, run.verdict().second), (None, Some(426)));
        }
    }
}

#[test]
fn hood_and_respirator_stay_on_until_the_wearer_was_asked() {
    for kind in [Kind::HoodOff, Kind::Doffed, Kind::Adjusted, Kind::Interrupted] {
        let mut run = closing();
        run.ok(END + 2, kind);
        assert_eq!(run.verdict().outcome, Outcome::Void, "{kind:?}");
        let mut run = closing();
        run.ok(END + 1, ASKED);
        run.ok(END + 2, kind);
        run.ok(END + 3, CLEAR);
        run.ok(END + 4, Kind::Signed);
        assert_eq!(run.verdict().outcome, Outcome::Pass, "{kind:?} after the question");
    }
}

#[test]
fn after_the_end_only_one_signature_is_taken() {
    for ending in [Kind::Tasted, Kind::Adjusted, Kind::Unwell] {
        let mut run = Run::testing();
        run.ok(FIRST + 5, ending);
        let verdict = run.verdict();
        let afterwards =
            [ASKED, CLEAR, Kind::Tasted, Kind::Unwell, Kind::Adjusted, Kind::DoseGiven { squeezes: 5 }];
        for kind in afterwards {
            assert_eq!(run.refused(FIRST + 6, kind).code, Code::AttemptEnded, "{kind:?} after {ending:?}");
        }
        run.ok(FIRST + 7, Kind::Signed);
        assert_eq!(run.refused(FIRST + 8, Kind::Signed).code, Code::AttemptEnded);
        assert_eq!((run.verdict(), run.state.signed_at()), (verdict, Some(second(FIRST + 7))));
    }
    let mut run = closing();
    run.ok(END + 1, ASKED);
    run.ok(END + 2, CLEAR);
    run.ok(END + 3, Kind::Signed);
    assert_eq!(run.refused(END + 4, Kind::Signed).code, Code::AttemptEnded, "a pass is signed already");
}

#[test]
fn events_come_in_order_and_a_repeat_is_harmless() {
    let mut run = Run::testing();
    let log = run.state.events().to_vec();
    for event in &log {
        assert_eq!(run.state.apply(event), Ok(Applied::Repeat));
    }
    assert_eq!(run.state.events(), log);

    let mut gap = run.event(FIRST + 30, Kind::DoseGiven { squeezes: 5 });
    gap.seq += 1;
    let refusal = run.state.apply(&gap).expect_err("a gap");
    assert_eq!((refusal.code, number(&refusal, "expected_seq")), (Code::EventOutOfOrder, 5));

    let mut other = log[1].clone();
    other.kind = Kind::SealChecked { result: SealCheckResult::Failed };
    let refusal = run.state.apply(&other).expect_err("other content");
    assert_eq!((refusal.code, number(&refusal, "expected_seq")), (Code::EventConflict, 5));
    let mut zero = log[0].clone();
    zero.seq = 0;
    assert_eq!(run.state.apply(&zero).expect_err("no such number").code, Code::EventConflict);

    let back = run.event(FIRST - 1, Kind::Tasted);
    assert_eq!(run.state.apply(&back).expect_err("back in time").code, Code::EventBeforePrevious);
}

#[test]
fn replay_gives_the_same_state_or_names_the_event_it_cannot_take() {
    let mut run = closing();
    run.ok(END + 1, ASKED);
    run.ok(END + 2, CLEAR);
    run.ok(END + 3, Kind::Signed);
    let mut events = run.state.events().to_vec();
    assert_eq!(replay(run.state.setup().clone(), &events), Ok(run.state.clone()));
    events.remove(9);
    let (index, refusal) = replay(run.state.setup().clone(), &events).expect_err("a gap");
    assert_eq!((index, refusal.code), (9, Code::EventOutOfOrder));
}
