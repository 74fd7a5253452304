//! The ladder beyond taste: odour after a fail, one re-don, measuring after a referral, and what a measured fail bars.

use chrono::NaiveDate;
use sellion_rules::Code;
use sellion_rules::attempt::{Outcome, VerdictReason};
use sellion_rules::clearance::{
    AttemptResult, ClearanceReason, ClearanceState, PersonRespiratorFacts, clearance,
};
use sellion_rules::ladder::{
    AttemptFact, LadderKind, NextStep, ScreeningFact, VisitFacts, may_measure, may_start_attempt,
    may_start_screening, next_step,
};
use sellion_rules::method::Method;
use sellion_rules::permission::{Decision, PermissionFact};
use sellion_rules::respirator::AirSupply;
use sellion_rules::ruleset::MeasuredFail;
use sellion_rules::screening::ScreeningOutcome;
use sellion_rules::supplies::Agent;

use crate::support::{code, id, rules, second, time};

const ODOUR: Agent = Agent::IsoamylAcetate;

fn day() -> NaiveDate {
    NaiveDate::from_ymd_opt(2027, 3, 8).expect("a day")
}

fn permission() -> PermissionFact {
    PermissionFact {
        id: id(900),
        decision: Decision::Permitted,
        valid_from: day() - chrono::TimeDelta::days(60),
        valid_until: None,
        happened_at: second(-86_400),
        recorded_at: second(-86_400),
    }
}

fn visit() -> VisitFacts {
    VisitFacts {
        on: day(),
        permissions: vec![permission()],
        hair_at_seal: false,
        last_intake_at: None,
        to_be_measured: false,
        screenings: Vec::new(),
        attempts: Vec::new(),
    }
}

fn smelled(number: u128, from: i64, outcome: ScreeningOutcome) -> ScreeningFact {
    ScreeningFact {
        id: id(number),
        agent: ODOUR,
        started_at: second(from),
        outcome: Some(outcome),
        level: None,
        ended_at: Some(second(from + 60)),
        on: day(),
    }
}

fn tested(number: u128, respirator: u128, method: Method, from: i64, outcome: Outcome) -> AttemptFact {
    let reason = if outcome == Outcome::Fail { VerdictReason::Noticed } else { VerdictReason::Completed };
    AttemptFact {
        id: id(number),
        respirator: id(respirator),
        method,
        started_at: second(from),
        outcome: Some(outcome),
        reason: Some(reason),
        ended_at: Some(second(from + 600)),
    }
}

/// 29 CFR 1910.134 App. A I.B.2(a)(10): the wrong jar at first, and this test is not done.
#[test]
fn fact_3_13_the_wrong_jar_at_first_closes_the_odour() {
    let mut visit = visit();
    visit.screenings.push(smelled(1, 0, ScreeningOutcome::NotNoticed));
    let again = may_start_screening(&visit, &rules(), ODOUR, second(86_000));
    assert_eq!(code(again), Code::AgentClosedToday);
    let NextStep::Screen { agent, .. } = next_step(&visit, &rules(), Agent::Saccharin, second(100)) else {
        panic!("the tastes are still open");
    };
    assert_eq!(agent, Agent::Saccharin);
}

/// App. A I.B.2(b)(8): after a fail a nose that notices nothing is tired, and rests for about 5 minutes.
#[test]
fn fact_3_19_after_a_fail_a_tired_nose_rests_five_minutes() {
    let rules = rules();
    let mut visit = visit();
    visit.screenings.push(smelled(1, 0, ScreeningOutcome::Noticed));
    visit.attempts.push(tested(2, 7, Method::IsoamylAcetate, 100, Outcome::Fail));
    let fail_over = 700 + i64::from(rules.ladder.wait_after_fail_seconds);
    visit.screenings.push(smelled(3, fail_over, ScreeningOutcome::NotNoticed));
    let rested = fail_over + 60 + 300;
    let early = may_start_screening(&visit, &rules, ODOUR, second(rested - 1)).expect_err("a refusal");
    assert_eq!((early.code, time(&early, "earliest_start")), (Code::WaitAfterFail, second(rested)));
    assert_eq!(may_start_screening(&visit, &rules, ODOUR, second(rested)), Ok(()));
    visit.screenings.push(smelled(4, rested, ScreeningOutcome::Noticed));
    let at = second(rested + 100);
    assert_eq!(code(may_start_attempt(&visit, &rules, id(7), at)), Code::DifferentRespiratorRequired);
    let basis = may_start_attempt(&visit, &rules, id(8), at).expect("another respirator");
    assert_eq!((basis.screening, basis.agent, basis.level), (id(4), ODOUR, None));
}

/// Who is being measured is measured again after a fail, and not sent to taste; who smelled is asked to smell again.
#[test]
fn the_next_step_stays_with_the_kind_of_test() {
    let ours = rules();
    let mut measured = visit();
    measured.attempts.push(tested(1, 7, Method::AmbientAerosol, 0, Outcome::Fail));
    let next = next_step(&measured, &ours, Agent::Saccharin, second(700));
    assert!(matches!(next, NextStep::Measure { .. }), "{next:?}");
    let mut smelling = visit();
    smelling.screenings.push(smelled(1, 0, ScreeningOutcome::Noticed));
    smelling.attempts.push(tested(2, 7, Method::IsoamylAcetate, 100, Outcome::Fail));
    let next = next_step(&smelling, &ours, Agent::Saccharin, second(9_000));
    assert!(matches!(next, NextStep::Screen { agent: Agent::IsoamylAcetate, .. }), "fact 3.19: {next:?}");
}

/// App. A I.B.2(b)(9), I.B.5(c)(8): what was not noticed without the respirator has to be screened again.
#[test]
fn a_run_that_proved_nothing_asks_for_a_new_screening() {
    let ours = rules();
    let mut visit = visit();
    visit.screenings.push(smelled(1, 0, ScreeningOutcome::Noticed));
    let unproven = AttemptFact {
        reason: Some(VerdictReason::AgentNotProven),
        ..tested(2, 7, Method::IsoamylAcetate, 100, Outcome::Void)
    };
    visit.attempts.push(unproven);
    assert_eq!(code(may_start_attempt(&visit, &ours, id(7), second(800))), Code::NewScreeningRequired);
    visit.screenings.push(smelled(3, 800, ScreeningOutcome::Noticed));
    assert!(
        may_start_attempt(&visit, &ours, id(7), second(900)).is_ok(),
        "the same respirator: nothing failed"
    );
}

/// An odour asks for no wait after eating; a taste does (I.B.3(b)(1), and its absence in I.B.2).
#[test]
fn nothing_but_a_taste_waits_for_the_last_meal() {
    let mut visit = visit();
    visit.last_intake_at = Some(second(0));
    assert_eq!(may_start_screening(&visit, &rules(), ODOUR, second(60)), Ok(()));
    assert_eq!(
        code(may_start_screening(&visit, &rules(), Agent::Saccharin, second(60))),
        Code::IntakeTooRecent
    );
}

/// A site may allow the same respirator once more after a first fail; the second fail bars it.
#[test]
fn one_redon_allows_the_same_respirator_once_more() {
    let mut lenient = rules();
    lenient.ladder.kind = LadderKind::OneRedon;
    let mut visit = visit();
    visit.screenings.push(smelled(1, 0, ScreeningOutcome::Noticed));
    visit.attempts.push(tested(2, 7, Method::IsoamylAcetate, 100, Outcome::Fail));
    visit.screenings.push(smelled(3, 2_000, ScreeningOutcome::Noticed));
    assert!(may_start_attempt(&visit, &lenient, id(7), second(2_100)).is_ok());
    assert_eq!(
        code(may_start_attempt(&visit, &rules(), id(7), second(2_100))),
        Code::DifferentRespiratorRequired
    );
    visit.attempts.push(tested(4, 7, Method::IsoamylAcetate, 2_100, Outcome::Fail));
    visit.screenings.push(smelled(5, 4_000, ScreeningOutcome::Noticed));
    let third = may_start_attempt(&visit, &lenient, id(7), second(4_100));
    assert_eq!(code(third), Code::DifferentRespiratorRequired);
}

/// A referral leads on to the instrument; a measured fail bars a respirator only where the rule set says so.
#[test]
fn measuring_after_a_referral() {
    let ours = rules();
    let mut visit = visit();
    visit.attempts.push(tested(1, 7, Method::AmbientAerosol, 0, Outcome::Fail));
    visit.to_be_measured = true;
    let NextStep::Measure { methods, excluded_respirators } =
        next_step(&visit, &ours, Agent::Saccharin, second(700))
    else {
        panic!("measuring comes next");
    };
    assert!(methods.iter().all(|method| method.is_quantitative()) && methods.len() == 6, "{methods:?}");
    assert!(excluded_respirators.is_empty());
    // App. A I.C.2(b)(7): refitted and tested again, without a wait.
    assert_eq!(may_measure(&visit, &ours, Method::AmbientAerosol, id(7)), Ok(()));
    let mut strict = ours.clone();
    strict.ladder.quantitative_after_fail = MeasuredFail::AnotherRespirator;
    let barred = may_measure(&visit, &strict, Method::AmbientAerosol, id(7));
    assert_eq!(code(barred), Code::DifferentRespiratorRequired);
    visit.hair_at_seal = true;
    assert_eq!(code(may_measure(&visit, &ours, Method::AmbientAerosol, id(8))), Code::HairAtSeal);
    assert_eq!(next_step(&visit, &ours, Agent::Saccharin, second(700)), NextStep::Shave);
    visit.permissions.clear();
    assert_eq!(code(may_measure(&visit, &ours, Method::AmbientAerosol, id(8))), Code::PermissionMissing);
}

/// 29 CFR 1910.134(f)(6) and (7): for a use that asks for 500 a measured pass clears, a taste pass does not.
#[test]
fn facts_1_25_and_1_27_only_a_method_that_suffices_clears() {
    let result = |method| AttemptResult {
        id: id(1),
        method,
        outcome: Outcome::Pass,
        testing_started_at: Some(second(0)),
        ended_at: second(600),
        recorded_at: second(600),
        corrected_recorded_at: None,
        stops: Vec::new(),
    };
    let state = |method, supply, protection_factor| {
        let facts = PersonRespiratorFacts {
            attempts: vec![result(method)],
            permissions: vec![permission()],
            leaving: None,
            supply,
            protection_factor,
        };
        let found = clearance(&facts, &rules(), chrono_tz::UTC, second(1_000), second(1_000));
        (found.state, found.reasons)
    };
    let own_breath = AirSupply::AirPurifying;
    let not_allowed = (ClearanceState::NotCleared, vec![ClearanceReason::MethodNotAllowed]);
    assert_eq!(state(Method::Saccharin, own_breath, 50), not_allowed);
    assert_eq!(state(Method::AmbientAerosol, own_breath, 50).0, ClearanceState::Cleared);
    assert_eq!(
        state(Method::Saccharin, AirSupply::Powered, 1_000).0,
        ClearanceState::Cleared,
        "fact 1.28: (f)(8)"
    );
    assert_eq!(state(Method::Saccharin, own_breath, 10).0, ClearanceState::Cleared);
}
