//! Random event sequences: never a panic, replay always equal, never a pass that breaks a rule, never a second verdict.

use chrono::{DateTime, TimeDelta, Utc};
use proptest::prelude::*;
use sellion_rules::attempt::{AttemptEvent, AttemptSetup, Outcome, State, replay};
use sellion_rules::sequence::Applied;

use crate::attempt_random::{Told, any_kind, any_setup, any_slip, careful, careless, case, slip, told};
use crate::checker::broken;
use crate::support::zero;

fn event(seq: u32, told: Told) -> AttemptEvent {
    AttemptEvent { seq, happened_at: zero() + TimeDelta::milliseconds(told.0), kind: told.1 }
}

/// Offers each event under the number the machine asks for, and checks after each what must always hold.
fn offer(setup: &AttemptSetup, run: &[Told]) -> Result<State, TestCaseError> {
    let mut state = State::new(setup.clone());
    for told in run {
        let event = event(state.next_seq(), *told);
        let before = state.clone();
        match state.apply(&event) {
            Ok(applied) => prop_assert_eq!(applied, Applied::New),
            Err(_) => prop_assert_eq!(&state, &before, "a refusal changes nothing"),
        }
        if let Some(verdict) = before.verdict() {
            prop_assert_eq!(state.verdict(), Some(verdict), "a verdict is final");
        }
        let summary = state.summary();
        prop_assert_eq!(summary.verdict.is_some(), summary.missing.is_empty());
    }
    Ok(state)
}

fn holds(state: &State) -> Result<(), TestCaseError> {
    let again = replay(state.setup().clone(), state.events());
    prop_assert_eq!(again.as_ref(), Ok(state), "replay equals the run itself");
    for (index, event) in state.events().iter().enumerate() {
        let mut same = state.clone();
        prop_assert_eq!(same.apply(event), Ok(Applied::Repeat), "event {} again", index);
        prop_assert_eq!(&same, state);
        // What was decided by then is what the whole run says.
        let part =
            replay(state.setup().clone(), &state.events()[..=index]).expect("a part of an accepted run");
        if let Some(verdict) = part.verdict() {
            prop_assert_eq!(state.verdict(), Some(verdict));
        }
    }
    if state.verdict().is_some_and(|verdict| verdict.outcome == Outcome::Pass) {
        let conditions = broken(&case(state.setup()), state.events());
        prop_assert!(conditions.is_empty(), "a pass that breaks a rule: {:?}", conditions);
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever keeps every condition passes: nothing is refused on the way.
    #[test]
    fn a_careful_run_passes(setup in any_setup(true), timing in careful()) {
        let state = offer(&setup, &told(setup.level.expect("a level"), &timing))?;
        prop_assert_eq!(state.verdict().map(|verdict| verdict.outcome), Some(Outcome::Pass));
        holds(&state)?;
    }

    /// Around every limit, machine and judge agree in both directions: a run taken whole passes only if the judge
    /// finds nothing, and a run in which the judge finds nothing passes.
    #[test]
    fn at_the_limits_machine_and_judge_agree(setup in any_setup(false), timing in careless()) {
        let run = told(setup.level.expect("a level"), &timing);
        let state = offer(&setup, &run)?;
        holds(&state)?;
        let whole: Vec<_> = (1..).zip(&run).map(|(seq, told)| event(seq, *told)).collect();
        let honest = broken(&case(&setup), &whole).is_empty();
        let taken = replay(setup, &whole).ok().and_then(|state| state.verdict());
        prop_assert_eq!(taken.is_some_and(|verdict| verdict.outcome == Outcome::Pass), honest);
    }

    /// Runs with slips in them.
    #[test]
    fn slips_never_make_a_pass_that_breaks_a_rule(
        setup in any_setup(false),
        timing in careful(),
        slips in proptest::collection::vec(any_slip(), 0..4),
    ) {
        let mut run = told(setup.level.expect("a level"), &timing);
        for one in &slips {
            slip(&mut run, one);
        }
        let state = offer(&setup, &run)?;
        holds(&state)?;
    }

    /// Noise without any plan.
    #[test]
    fn noise_never_passes_and_never_panics(
        setup in any_setup(false),
        run in proptest::collection::vec((0..600_000_i64, any_kind()), 0..80),
    ) {
        let mut run = run;
        run.sort_by_key(|told| told.0);
        let state = offer(&setup, &run)?;
        holds(&state)?;
        prop_assert!(state.verdict().is_none_or(|verdict| verdict.outcome != Outcome::Pass));
    }

    /// Any number, any moment there is, any setup value: an answer or a refusal.
    #[test]
    fn no_input_panics(
        setup in any_setup(false),
        values in any::<[u32; 5]>(),
        events in proptest::collection::vec((any::<u32>(), any::<i64>(), any_kind()), 0..40),
    ) {
        let mut setup = setup;
        setup.rules.wear_seconds = values[0];
        if let Some(doses) = &mut setup.rules.doses {
            doses.redose_interval_seconds = values[1];
            doses.dose_early_tolerance_seconds = values[2];
            doses.dose_late_tolerance_seconds = values[3];
        }
        setup.rules.exercises.truncate(usize::try_from(values[4] % 8).unwrap_or(0));
        setup.last_intake_at = setup.last_intake_at.map(|_| DateTime::<Utc>::MAX_UTC);
        let _ = sellion_rules::attempt::plan(&setup);
        let mut state = State::new(setup);
        for (seq, millis, kind) in events {
            let happened_at = DateTime::from_timestamp_millis(millis).unwrap_or(DateTime::<Utc>::MAX_UTC);
            let seq = if seq % 2 == 0 { state.next_seq() } else { seq };
            let _ = state.apply(&AttemptEvent { seq, happened_at, kind });
            let _ = state.summary();
        }
    }
}
