//! The taste screening: levels by sets of ten, what ends it, and the order of its events.

use proptest::prelude::*;
use sellion_rules::Code;
use sellion_rules::level::Level;
use sellion_rules::screening::{
    ScreeningEvent, ScreeningEventKind as Kind, ScreeningOutcome, ScreeningReason, ScreeningSetup,
    ScreeningState, replay,
};
use sellion_rules::sequence::Applied;
use sellion_rules::supplies::Agent;

use crate::support::{number, rules, second};

fn screening(agent: Agent) -> ScreeningState {
    ScreeningState::new(ScreeningSetup::new(&rules(), agent, None))
}

fn event(state: &ScreeningState, at: i64, kind: Kind) -> ScreeningEvent {
    ScreeningEvent { seq: state.next_seq(), happened_at: second(at), kind }
}

fn ok(state: &mut ScreeningState, at: i64, kind: Kind) {
    let event = event(state, at, kind);
    assert_eq!(state.apply(&event), Ok(Applied::New), "{kind:?}");
}

fn refused(state: &mut ScreeningState, at: i64, kind: Kind) -> sellion_rules::Refusal {
    let before = state.clone();
    let event = event(state, at, kind);
    let refusal = state.apply(&event).expect_err("a refusal");
    assert_eq!(*state, before);
    refusal
}

fn tasted(squeezes: u8) -> Kind {
    Kind::SetDone { tasted: true, squeezes }
}

const NOT_TASTED: Kind = Kind::SetDone { tasted: false, squeezes: 10 };

/// 29 CFR 1910.134 App. A I.B.3(a)(7)-(11) and I.B.4(a)(6)-(11) (facts 10.14 to 10.18): the set decides, not the count.
#[test]
fn fact_3_30_to_3_34_and_3_59_levels_by_sets_of_ten() {
    let table = [
        (1, Some((Level::Ten, 5))),
        (3, Some((Level::Ten, 5))),
        (4, Some((Level::Ten, 5))),
        (10, Some((Level::Ten, 5))),
        (11, Some((Level::Twenty, 10))),
        (20, Some((Level::Twenty, 10))),
        (21, Some((Level::Thirty, 15))),
        (30, Some((Level::Thirty, 15))),
        (31, None),
    ];
    for agent in Agent::TASTES {
        for (tasted_at, expected) in table {
            let mut state = screening(*agent);
            ok(&mut state, 0, Kind::Explained);
            let mut given = 0_u8;
            while state.verdict().is_none() {
                let in_set = tasted_at - given;
                ok(&mut state, 10, if in_set <= 10 { tasted(in_set) } else { NOT_TASTED });
                given += in_set.min(10);
            }
            let verdict = state.verdict().expect("a verdict");
            match expected {
                Some((level, half)) => {
                    assert_eq!((verdict.outcome, verdict.level), (ScreeningOutcome::Level, Some(level)));
                    assert_eq!(verdict.squeezes, tasted_at, "the exact count is kept too (fact 3.33)");
                    assert_eq!((level.squeezes() % 10, level.redose_squeezes(50)), (0, half));
                }
                None => {
                    assert_eq!((verdict.outcome, verdict.level), (ScreeningOutcome::NotTasted, None));
                    assert_eq!((verdict.squeezes, state.sets_done()), (30, 3), "there is no fourth set");
                }
            }
        }
    }
}

/// 29 CFR 1910.134 App. A I.B.3, opening words.
#[test]
fn fact_3_23_the_procedure_is_explained_first() {
    let mut state = screening(Agent::Saccharin);
    assert_eq!(refused(&mut state, 0, NOT_TASTED).code, Code::ExplainFirst);
    ok(&mut state, 1, Kind::Explained);
    ok(&mut state, 20, NOT_TASTED);
}

/// 29 CFR 1910.134 App. A I.B.3(b)(1), as the screening is part of the same procedure.
#[test]
fn fact_3_39_no_set_within_fifteen_minutes_of_a_meal() {
    let mut state = ScreeningState::new(ScreeningSetup::new(&rules(), Agent::Saccharin, Some(second(-600))));
    ok(&mut state, 0, Kind::Explained);
    let refusal = refused(&mut state, 10, NOT_TASTED);
    assert_eq!((refusal.code, number(&refusal, "seconds_remaining")), (Code::IntakeTooRecent, 290));
    ok(&mut state, 300, NOT_TASTED);
}

#[test]
fn a_set_has_ten_squeezes() {
    let mut state = screening(Agent::Saccharin);
    ok(&mut state, 0, Kind::Explained);
    for squeezes in [0, 11, 255] {
        assert_eq!(refused(&mut state, 5, tasted(squeezes)).code, Code::InvalidValue);
    }
    for squeezes in [0, 9, 11] {
        let short = Kind::SetDone { tasted: false, squeezes };
        assert_eq!(refused(&mut state, 5, short).code, Code::InvalidValue);
    }
}

#[test]
fn a_disturbed_screening_counts_for_nothing() {
    let ends = [
        (Kind::Interrupted, ScreeningOutcome::Void, ScreeningReason::Interrupted),
        (Kind::NebulizerChecked { clear: false }, ScreeningOutcome::Void, ScreeningReason::NebulizerClogged),
        (Kind::Unwell, ScreeningOutcome::Stopped, ScreeningReason::Unwell),
    ];
    for (kind, outcome, reason) in ends {
        let mut state = screening(Agent::DenatoniumBenzoate);
        ok(&mut state, 0, Kind::Explained);
        ok(&mut state, 5, Kind::NebulizerChecked { clear: true });
        ok(&mut state, 20, NOT_TASTED);
        ok(&mut state, 25, kind);
        let verdict = state.verdict().expect("a verdict");
        assert_eq!((verdict.outcome, verdict.reason, verdict.level), (outcome, reason, None));
        assert_eq!(refused(&mut state, 30, tasted(3)).code, Code::ScreeningEnded);
    }
}

#[test]
fn numbers_and_times_go_forward_and_repeats_are_harmless() {
    let mut state = screening(Agent::Saccharin);
    let explained = event(&state, 0, Kind::Explained);
    ok(&mut state, 0, Kind::Explained);
    assert_eq!(state.apply(&explained), Ok(Applied::Repeat));
    let other = ScreeningEvent { kind: Kind::Interrupted, ..explained.clone() };
    assert_eq!(state.apply(&other).expect_err("other content").code, Code::EventConflict);
    let gap = ScreeningEvent { seq: 3, happened_at: second(5), kind: NOT_TASTED };
    let refusal = state.apply(&gap).expect_err("a gap");
    assert_eq!((refusal.code, number(&refusal, "expected_seq")), (Code::EventOutOfOrder, 2));
    assert_eq!(refused(&mut state, -1, NOT_TASTED).code, Code::EventBeforePrevious);
}

fn any_kind() -> impl Strategy<Value = Kind> {
    prop_oneof![
        3 => Just(Kind::Explained),
        8 => (any::<bool>(), prop_oneof![3 => Just(10_u8), 1 => any::<u8>()])
            .prop_map(|(tasted, squeezes)| Kind::SetDone { tasted, squeezes }),
        1 => any::<bool>().prop_map(|clear| Kind::NebulizerChecked { clear }),
        1 => Just(Kind::Interrupted),
        1 => Just(Kind::Unwell),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_events_replay_to_the_same_state(kinds in proptest::collection::vec(any_kind(), 0..12)) {
        let mut state = screening(Agent::Saccharin);
        for (at, kind) in (0..).zip(kinds) {
            let before = state.clone();
            let event = event(&state, at, kind);
            if state.apply(&event).is_err() {
                prop_assert_eq!(&state, &before);
            }
            if before.verdict().is_some() {
                prop_assert_eq!(&state, &before, "nothing is taken after the end");
            }
        }
        let setup = ScreeningSetup::new(&rules(), Agent::Saccharin, None);
        prop_assert_eq!(replay(setup, state.events()), Ok(state.clone()));
        let sets = state.events().iter().filter(|event| matches!(event.kind, Kind::SetDone { .. })).count();
        prop_assert!(sets <= 3);
        if let Some(verdict) = state.verdict() {
            prop_assert_eq!(verdict.level.is_some(), verdict.outcome == ScreeningOutcome::Level);
            if let Some(level) = verdict.level {
                prop_assert!(verdict.squeezes <= level.squeezes() && verdict.squeezes > level.squeezes() - 10);
            }
        }
    }
}
