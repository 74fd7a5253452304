//! The retest ladder: what follows a fail, a void, an untasted agent, a stopped run; and that advice is never refused.

use chrono::{DateTime, NaiveDate, Utc};
use proptest::prelude::*;
use sellion_rules::Code;
use sellion_rules::attempt::{Outcome, VerdictReason};
use sellion_rules::ladder::{
    AttemptFact, NextStep, ReferralReason, ScreeningFact, VisitFacts, may_start_attempt, may_start_screening,
    next_step,
};
use sellion_rules::level::Level;
use sellion_rules::method::Method;
use sellion_rules::permission::{Decision, PermissionFact};
use sellion_rules::screening::ScreeningOutcome;
use sellion_rules::supplies::Agent;

use crate::support::{code, id, rules, second, time};

const SWEET: Agent = Agent::Saccharin;
const BITTER: Agent = Agent::DenatoniumBenzoate;

fn permitted(decided_at: i64) -> PermissionFact {
    PermissionFact {
        id: id(900),
        decision: Decision::Permitted,
        valid_from: NaiveDate::from_ymd_opt(2027, 1, 1).expect("a day"),
        valid_until: None,
        happened_at: second(decided_at),
        recorded_at: second(decided_at),
    }
}

fn visit() -> VisitFacts {
    VisitFacts {
        on: NaiveDate::from_ymd_opt(2027, 3, 8).expect("a day"),
        permissions: vec![permitted(-86_400)],
        hair_at_seal: false,
        last_intake_at: None,
        to_be_measured: false,
        screenings: Vec::new(),
        attempts: Vec::new(),
    }
}

fn screened(number: u128, agent: Agent, from: i64, outcome: ScreeningOutcome) -> ScreeningFact {
    ScreeningFact {
        id: id(number),
        agent,
        started_at: second(from),
        outcome: Some(outcome),
        level: (outcome == ScreeningOutcome::Level).then_some(Level::Twenty),
        ended_at: Some(second(from + 60)),
        on: NaiveDate::from_ymd_opt(2027, 3, 8).expect("a day"),
    }
}

fn tested(number: u128, respirator: u128, from: i64, outcome: Outcome) -> AttemptFact {
    AttemptFact {
        id: id(number),
        respirator: id(respirator),
        method: Method::Saccharin,
        started_at: second(from),
        outcome: Some(outcome),
        reason: None,
        ended_at: Some(second(from + 900)),
    }
}

fn next(visit: &VisitFacts, now: i64) -> NextStep {
    next_step(visit, &rules(), SWEET, second(now))
}

fn attempt(visit: &VisitFacts, respirator: u128, at: i64) -> Result<u128, Code> {
    let basis = may_start_attempt(visit, &rules(), id(respirator), second(at));
    basis.map(|basis| basis.screening.as_u128()).map_err(|refusal| refusal.code)
}

fn screening(visit: &VisitFacts, agent: Agent, at: i64) -> Result<(), Code> {
    may_start_screening(visit, &rules(), agent, second(at)).map_err(|refusal| refusal.code)
}

#[test]
fn screen_then_test_then_done() {
    let mut visit = visit();
    assert_eq!(next(&visit, 0), NextStep::Screen { agent: SWEET, not_before: None });
    assert_eq!(attempt(&visit, 50, 0), Err(Code::NewScreeningRequired), "fact 3.45: a dose needs a level");
    visit.screenings.push(screened(1, SWEET, 0, ScreeningOutcome::Level));
    assert_eq!(attempt(&visit, 50, 59), Err(Code::NewScreeningRequired), "it had not ended yet");
    assert_eq!(attempt(&visit, 50, 60), Ok(1));
    let step = next(&visit, 60);
    let NextStep::Attempt { screening, level, agent, excluded_respirators, not_before } = step else {
        panic!("{step:?}")
    };
    assert_eq!((screening, level, agent, not_before), (id(1), Some(Level::Twenty), SWEET, None));
    assert!(excluded_respirators.is_empty());
    visit.attempts.push(tested(2, 50, 100, Outcome::Pass));
    assert_eq!(next(&visit, 1100), NextStep::Done { attempt: id(2) });
    assert_eq!(attempt(&visit, 51, 1100), Ok(1), "a second respirator may be tested on the same screening");
}

/// 29 CFR 1910.134 App. A I.B.3(b)(11) and I.B.4(b)(11) (facts 3.49 and 3.67, fact 10.19); the wait is common practice,
/// no source (fact 3.52).
#[test]
fn fact_3_49_after_a_fail_another_respirator_and_a_new_screening() {
    let mut visit = visit();
    visit.screenings.push(screened(1, SWEET, 0, ScreeningOutcome::Level));
    visit.attempts.push(tested(2, 50, 100, Outcome::Fail));
    // The fail ended at second 1000; the wait ends at 1900.
    assert_eq!(next(&visit, 1001), NextStep::Screen { agent: SWEET, not_before: Some(second(1900)) });
    assert_eq!(attempt(&visit, 50, 2000), Err(Code::DifferentRespiratorRequired));
    assert_eq!(attempt(&visit, 51, 1899), Err(Code::WaitAfterFail));
    assert_eq!(attempt(&visit, 51, 1900), Err(Code::NewScreeningRequired));
    assert_eq!(screening(&visit, SWEET, 1899), Err(Code::WaitAfterFail));
    let refusal = may_start_screening(&visit, &rules(), SWEET, second(1000)).expect_err("too early");
    assert_eq!(time(&refusal, "earliest_start"), second(1900));
    assert_eq!(screening(&visit, SWEET, 1900), Ok(()));
    visit.screenings.push(screened(3, SWEET, 1900, ScreeningOutcome::Level));
    assert_eq!(attempt(&visit, 50, 2000), Err(Code::DifferentRespiratorRequired), "not the one that failed");
    assert_eq!(attempt(&visit, 51, 2000), Ok(3));
    let step = next(&visit, 2000);
    assert!(
        matches!(step, NextStep::Attempt { ref excluded_respirators, .. } if *excluded_respirators == [id(50)])
    );
}

/// Common practice, no source: after the third fail of a day the person is referred.
#[test]
fn after_the_third_fail_refer() {
    let mut visit = visit();
    for (number, from) in [(1, 0), (2, 4000), (3, 8000)] {
        assert_ne!(next(&visit, from), NextStep::Refer { reason: ReferralReason::LadderUsedUp });
        visit.screenings.push(screened(10 + number, SWEET, from, ScreeningOutcome::Level));
        visit.attempts.push(tested(20 + number, 50 + number, from + 100, Outcome::Fail));
    }
    assert_eq!(next(&visit, 20_000), NextStep::Refer { reason: ReferralReason::LadderUsedUp });
    assert_eq!(attempt(&visit, 59, 20_000), Err(Code::ReferredToday));
    assert_eq!(screening(&visit, SWEET, 20_000), Err(Code::ReferredToday));
    assert_eq!(screening(&visit, BITTER, 20_000), Err(Code::ReferredToday));
}

/// 29 CFR 1910.134 App. A I.B.3(a)(11) and I.B.4(a)(11) (facts 3.34 and 3.59, fact 10.18); the wait between agents is
/// common practice, no source.
#[test]
fn fact_3_34_an_agent_not_tasted_is_closed_today() {
    let mut visit = visit();
    visit.screenings.push(screened(1, SWEET, 0, ScreeningOutcome::NotTasted));
    assert_eq!(screening(&visit, SWEET, 5000), Err(Code::AgentClosedToday));
    assert_eq!(attempt(&visit, 50, 5000), Err(Code::NewScreeningRequired));
    assert_eq!(next(&visit, 100), NextStep::Screen { agent: BITTER, not_before: Some(second(960)) });
    assert_eq!(screening(&visit, BITTER, 959), Err(Code::AgentSwitchWait));
    assert_eq!(screening(&visit, BITTER, 960), Ok(()));
    visit.screenings.push(screened(2, BITTER, 960, ScreeningOutcome::NotTasted));
    assert_eq!(next(&visit, 5000), NextStep::Refer { reason: ReferralReason::CannotTaste });
    for agent in Agent::TASTES {
        assert_eq!(screening(&visit, *agent, 5000), Err(Code::AgentClosedToday));
    }
}

#[test]
fn a_level_found_earlier_does_not_outlive_a_closed_agent() {
    let mut visit = visit();
    visit.screenings.push(screened(1, SWEET, 0, ScreeningOutcome::Level));
    visit.screenings.push(screened(2, SWEET, 500, ScreeningOutcome::NotTasted));
    assert_eq!(attempt(&visit, 50, 5000), Err(Code::NewScreeningRequired));
}

/// 29 CFR 1910.134 App. A I.A.14(b) (fact 2.24): a void run is repeated; it is no fail.
#[test]
fn fact_2_24_after_a_void_the_same_respirator_and_screening_again() {
    let mut visit = visit();
    visit.screenings.push(screened(1, SWEET, 0, ScreeningOutcome::Level));
    for number in 2..8 {
        visit.attempts.push(tested(number, 50, 100, Outcome::Void));
    }
    assert_eq!(attempt(&visit, 50, 1000), Ok(1));
    assert!(matches!(next(&visit, 1000), NextStep::Attempt { ref excluded_respirators, .. }
        if excluded_respirators.is_empty()));
}

/// 29 CFR 1910.134 App. A I.A.8 (fact 2.10), I.A.11 (fact 2.14) and I.A.14(b): another respirator, and neither a wait
/// nor a new screening.
#[test]
fn fact_2_14_what_cannot_be_worn_is_not_tried_again() {
    for reason in [VerdictReason::NotComfortable, VerdictReason::SealCheckFailed] {
        let mut visit = visit();
        visit.screenings.push(screened(1, SWEET, 0, ScreeningOutcome::Level));
        visit.attempts.push(AttemptFact { reason: Some(reason), ..tested(2, 50, 100, Outcome::Void) });
        assert_eq!(attempt(&visit, 50, 1000), Err(Code::DifferentRespiratorRequired), "{reason}");
        assert_eq!(attempt(&visit, 51, 1000), Ok(1), "{reason}");
        let step = next(&visit, 1000);
        let NextStep::Attempt { excluded_respirators, not_before, .. } = step else { panic!("{step:?}") };
        assert_eq!((excluded_respirators, not_before), (vec![id(50)], None));
    }
}

/// 29 CFR 1910.134 App. A I.B.3(b)(6): a dose needs a level; ours: one found on the same day.
#[test]
fn a_level_of_another_day_does_not_count() {
    let mut visit = visit();
    visit.screenings.push(screened(1, SWEET, 0, ScreeningOutcome::Level));
    visit.on = NaiveDate::from_ymd_opt(2027, 3, 9).expect("a day");
    assert_eq!(attempt(&visit, 50, 86_400), Err(Code::NewScreeningRequired));
    assert_eq!(next(&visit, 86_400), NextStep::Screen { agent: SWEET, not_before: None });
}

#[test]
fn a_void_screening_is_done_again() {
    let mut visit = visit();
    visit.screenings.push(screened(1, SWEET, 0, ScreeningOutcome::Void));
    assert_eq!(attempt(&visit, 50, 1000), Err(Code::NewScreeningRequired));
    assert_eq!(screening(&visit, SWEET, 1000), Ok(()));
}

/// 29 CFR 1910.134 App. A I.A.10 (fact 2.13).
#[test]
fn fact_2_13_a_stopped_run_waits_for_a_newer_permission() {
    let mut visit = visit();
    visit.screenings.push(screened(1, SWEET, 0, ScreeningOutcome::Level));
    visit.attempts.push(tested(2, 50, 100, Outcome::Stopped));
    assert_eq!(next(&visit, 2000), NextStep::SeeClinician);
    assert_eq!(attempt(&visit, 50, 2000), Err(Code::StoppedNeedsClinician));
    assert_eq!(screening(&visit, SWEET, 2000), Err(Code::StoppedNeedsClinician));
    visit.permissions.push(permitted(1000));
    assert_eq!(
        attempt(&visit, 50, 2000),
        Err(Code::StoppedNeedsClinician),
        "decided in the instant of the stop"
    );
    visit.permissions.push(permitted(1500));
    assert_eq!(attempt(&visit, 50, 2000), Ok(1));

    let mut visit = self::visit();
    visit.screenings.push(screened(1, SWEET, 0, ScreeningOutcome::Stopped));
    assert_eq!(screening(&visit, SWEET, 2000), Err(Code::StoppedNeedsClinician));
}

/// 29 CFR 1910.134(e)(1) (fact 1.6).
#[test]
fn fact_1_6_no_test_without_permission() {
    let mut visit = visit();
    visit.permissions.clear();
    assert_eq!(screening(&visit, SWEET, 0), Err(Code::PermissionMissing));
    assert_eq!(attempt(&visit, 50, 0), Err(Code::PermissionMissing));
    assert_eq!(next(&visit, 0), NextStep::SeeClinician);
    for decision in [Decision::NotNow, Decision::Unknown] {
        visit.permissions = vec![permitted(-200), PermissionFact { decision, ..permitted(-100) }];
        assert_eq!(screening(&visit, SWEET, 0), Err(Code::PermissionMissing), "{decision}");
    }
    visit.permissions = vec![PermissionFact { decision: Decision::PermittedWithLimits, ..permitted(-100) }];
    assert_eq!(screening(&visit, SWEET, 0), Ok(()));
}

/// 29 CFR 1910.134 App. A I.A.9 (fact 2.11, fact 10.21): not conducted, which is no fail.
#[test]
fn fact_2_11_no_attempt_with_hair_at_the_seal() {
    let mut visit = visit();
    visit.hair_at_seal = true;
    visit.screenings.push(screened(1, SWEET, 0, ScreeningOutcome::Level));
    assert_eq!(attempt(&visit, 50, 1000), Err(Code::HairAtSeal));
    assert_eq!(next(&visit, 1000), NextStep::Shave);
}

/// 29 CFR 1910.134 App. A I.B.3(b)(1) (fact 3.39, fact 10.23).
#[test]
fn fact_3_39_gum_ten_minutes_ago_waits_for_the_fifteenth() {
    let mut visit = visit();
    visit.last_intake_at = Some(second(-600));
    let refusal = may_start_screening(&visit, &rules(), SWEET, second(0)).expect_err("too soon");
    assert_eq!((refusal.code, time(&refusal, "earliest_start")), (Code::IntakeTooRecent, second(300)));
    assert_eq!(next(&visit, 0), NextStep::Screen { agent: SWEET, not_before: Some(second(300)) });
    assert_eq!(screening(&visit, SWEET, 300), Ok(()));
}

#[test]
fn one_run_at_a_time() {
    let mut visit = visit();
    visit.screenings.push(screened(1, SWEET, 0, ScreeningOutcome::Level));
    visit.attempts.push(AttemptFact { outcome: None, ended_at: None, ..tested(2, 50, 100, Outcome::Pass) });
    assert_eq!(next(&visit, 200), NextStep::FinishAttempt { attempt: id(2) });
    assert_eq!(attempt(&visit, 51, 200), Err(Code::AttemptOpen));
    assert_eq!(screening(&visit, SWEET, 200), Err(Code::AttemptOpen));
    visit.attempts.clear();
    visit.screenings[0] = ScreeningFact { outcome: None, level: None, ended_at: None, ..visit.screenings[0] };
    assert_eq!(next(&visit, 200), NextStep::FinishScreening { screening: id(1) });
    assert_eq!(code(may_start_attempt(&visit, &rules(), id(51), second(200))), Code::ScreeningOpen);
}

fn any_visit() -> impl Strategy<Value = VisitFacts> {
    let agent = prop_oneof![Just(SWEET), Just(BITTER)];
    let screening_end = prop_oneof![
        4 => Just(ScreeningOutcome::Level),
        1 => Just(ScreeningOutcome::NotTasted),
        1 => Just(ScreeningOutcome::Void),
    ];
    let attempt_end =
        prop_oneof![2 => Just(Outcome::Fail), 2 => Just(Outcome::Void), 1 => Just(Outcome::Pass)];
    let screenings = proptest::collection::vec((agent, 0..20_000_i64, screening_end), 0..5);
    let attempts = proptest::collection::vec((0..4_u128, 0..20_000_i64, attempt_end), 0..5);
    let intake = proptest::option::of(-2_000..20_000_i64);
    (screenings, attempts, intake).prop_map(|(screenings, attempts, intake)| {
        let mut visit = visit();
        visit.last_intake_at = intake.map(second);
        visit.screenings =
            (1..).zip(screenings).map(|(n, (agent, from, end))| screened(n, agent, from, end)).collect();
        visit.attempts =
            (100..).zip(attempts).map(|(n, (worn, from, end))| tested(n, 50 + worn, from, end)).collect();
        visit
    })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// What is advised is allowed at the moment it is advised for, and not a second before.
    #[test]
    fn advice_is_never_refused(visit in any_visit(), later in 0..3_000_i64) {
        // Advice is asked for after everything that is known has happened.
        let ends = visit.screenings.iter().map(|fact| fact.ended_at);
        let last = ends.chain(visit.attempts.iter().map(|fact| fact.ended_at)).flatten().max();
        let now = last.unwrap_or(second(0)) + chrono::TimeDelta::seconds(later);
        let rules = rules();
        let moment = |not_before: Option<DateTime<Utc>>| not_before.unwrap_or(now);
        match next_step(&visit, &rules, SWEET, now) {
            NextStep::Screen { agent, not_before } => {
                prop_assert_eq!(may_start_screening(&visit, &rules, agent, moment(not_before)), Ok(()));
                if let Some(not_before) = not_before {
                    let early = not_before - chrono::TimeDelta::seconds(1);
                    prop_assert!(may_start_screening(&visit, &rules, agent, early).is_err());
                }
            }
            NextStep::Attempt { screening, excluded_respirators, not_before, .. } => {
                let at = moment(not_before);
                let fresh = may_start_attempt(&visit, &rules, id(99), at);
                prop_assert_eq!(fresh.map(|basis| basis.screening), Ok(screening));
                for failed in excluded_respirators {
                    prop_assert!(may_start_attempt(&visit, &rules, failed, at).is_err());
                }
            }
            NextStep::Refer { .. } => {
                prop_assert!(may_start_attempt(&visit, &rules, id(99), now).is_err());
                for agent in Agent::TASTES {
                    prop_assert!(may_start_screening(&visit, &rules, *agent, now).is_err());
                }
            }
            NextStep::Done { attempt } => {
                let passed = |fact: &AttemptFact| fact.id == attempt && fact.outcome == Some(Outcome::Pass);
                prop_assert!(visit.attempts.iter().any(passed));
            }
            other => prop_assert!(false, "{:?} for a visit with nothing open and a permission", other),
        }
    }
}
