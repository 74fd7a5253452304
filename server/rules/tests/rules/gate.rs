//! The gate's answer over every combination of badge, clearances, policy and age.

use std::collections::BTreeSet;

use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::clearance::ClearanceState;
use sellion_rules::gate::{
    Answer, BadgeFacts, BadgeStatus, ClearanceFact, GateDecision, GatePolicy, NotOurs, ScanReason, answer,
    answer_without_time,
};

use crate::support::{id, zero};

const CUP: u128 = 1;
const FOLD: u128 = 2;
const DAY: u32 = 86_400;

fn badge(status: BadgeStatus) -> BadgeFacts {
    BadgeFacts::Known { status, expires_at: zero() + TimeDelta::days(100) }
}

fn fact(respirator: u128, state: ClearanceState) -> ClearanceFact {
    ClearanceFact {
        respirator: id(respirator),
        state,
        valid_from: Some(zero() - TimeDelta::days(1)),
        valid_until: Some(zero() + TimeDelta::days(1)),
    }
}

fn policy(accepted: &[u128]) -> GatePolicy {
    GatePolicy {
        accepted_respirators: accepted.iter().copied().map(id).collect(),
        none_needed: false,
        max_knowledge_age_seconds: DAY,
        fallback: "Call the shift lead on 4410.".to_owned(),
    }
}

fn ask(badge: BadgeFacts, clearances: &[ClearanceFact], policy: &GatePolicy) -> (Answer, ScanReason) {
    let decision = answer(&badge, clearances, Some(policy), 60, zero());
    (decision.answer, decision.reason)
}

#[test]
fn cleared_for_what_is_used_here() {
    let cleared = [fact(FOLD, ClearanceState::Cleared), fact(CUP, ClearanceState::Cleared)];
    let decision = answer(&badge(BadgeStatus::Valid), &cleared, Some(&policy(&[CUP, FOLD])), 0, zero());
    assert_eq!((decision.answer, decision.reason), (Answer::Enter, ScanReason::Ok));
    assert_eq!(decision.respirator, Some(id(CUP)), "the one the gate prefers");
    let other = policy(&[3]);
    assert_eq!(
        ask(badge(BadgeStatus::Valid), &cleared, &other),
        (Answer::NotCleared, ScanReason::PersonNotCleared)
    );
}

#[test]
fn a_clearance_counts_from_its_first_moment_until_before_its_last() {
    let mut cleared = fact(CUP, ClearanceState::Cleared);
    let enter = |fact: ClearanceFact| ask(badge(BadgeStatus::Valid), &[fact], &policy(&[CUP])).0;
    cleared.valid_until = Some(zero());
    assert_eq!(enter(cleared), Answer::NotCleared);
    cleared.valid_until = Some(zero() + TimeDelta::milliseconds(1));
    assert_eq!(enter(cleared), Answer::Enter);
    cleared.valid_from = Some(zero());
    assert_eq!(enter(cleared), Answer::Enter);
    cleared.valid_from = Some(zero() + TimeDelta::milliseconds(1));
    assert_eq!(enter(cleared), Answer::NotCleared);
    cleared.valid_from = None;
    assert_eq!(enter(cleared), Answer::NotCleared, "without dates there is nothing to stand on");
}

#[test]
fn doubt_is_cannot_confirm() {
    let held = [fact(CUP, ClearanceState::Held)];
    let cleared = [fact(CUP, ClearanceState::Held), fact(FOLD, ClearanceState::Cleared)];
    let valid = badge(BadgeStatus::Valid);
    assert_eq!(ask(valid, &held, &policy(&[CUP])), (Answer::CannotConfirm, ScanReason::ClearanceHeld));
    assert_eq!(ask(valid, &cleared, &policy(&[CUP, FOLD])), (Answer::Enter, ScanReason::Ok));
    assert_eq!(ask(valid, &held, &policy(&[FOLD])), (Answer::NotCleared, ScanReason::PersonNotCleared));
    let held_badge = badge(BadgeStatus::Held);
    assert_eq!(ask(held_badge, &cleared, &policy(&[FOLD])), (Answer::CannotConfirm, ScanReason::BadgeHeld));
}

#[test]
fn a_badge_that_is_over_or_not_ours_is_not_valid_whatever_else_is_known() {
    let over = [
        (BadgeFacts::NotOurs(NotOurs::CodeUnreadable), ScanReason::CodeUnreadable),
        (BadgeFacts::NotOurs(NotOurs::WrongSignature), ScanReason::WrongSignature),
        (BadgeFacts::NotOurs(NotOurs::UnknownBadge), ScanReason::UnknownBadge),
        (badge(BadgeStatus::Ended), ScanReason::BadgeEnded),
        (badge(BadgeStatus::Replaced), ScanReason::BadgeReplaced),
        (BadgeFacts::Known { status: BadgeStatus::Valid, expires_at: zero() }, ScanReason::BadgeExpired),
        (BadgeFacts::Known { status: BadgeStatus::Held, expires_at: zero() }, ScanReason::BadgeExpired),
    ];
    let cleared = [fact(CUP, ClearanceState::Cleared)];
    let none_needed = GatePolicy { none_needed: true, ..policy(&[]) };
    for (badge, reason) in over {
        for policy in [None, Some(&policy(&[CUP])), Some(&none_needed)] {
            for age in [0, u64::MAX] {
                let decision = answer(&badge, &cleared, policy, age, zero());
                assert_eq!((decision.answer, decision.reason), (Answer::NotValid, reason));
            }
        }
    }
}

#[test]
fn old_knowledge_and_missing_policy_never_say_enter() {
    let cleared = [fact(CUP, ClearanceState::Cleared)];
    let valid = badge(BadgeStatus::Valid);
    let at_limit = answer(&valid, &cleared, Some(&policy(&[CUP])), u64::from(DAY), zero());
    assert_eq!(at_limit.answer, Answer::Enter);
    let none_needed = GatePolicy { none_needed: true, ..policy(&[]) };
    for policy in [policy(&[CUP]), policy(&[FOLD]), none_needed] {
        let too_old = answer(&valid, &cleared, Some(&policy), u64::from(DAY) + 1, zero());
        assert_eq!((too_old.answer, too_old.reason), (Answer::CannotConfirm, ScanReason::KnowledgeTooOld));
    }
    let decision = answer(&valid, &cleared, None, 0, zero());
    assert_eq!((decision.answer, decision.reason), (Answer::CannotConfirm, ScanReason::NoPolicy));
    let decision = answer(&valid, &cleared, Some(&policy(&[])), 0, zero());
    assert_eq!(decision.answer, Answer::NotCleared, "of a class of which nothing is listed");
}

#[test]
fn the_written_fallback_stands_with_cannot_confirm_and_nowhere_else() {
    let written = policy(&[CUP]);
    for badge in every_badge() {
        for clearances in every_clearance_list() {
            for age in [0, u64::from(DAY) + 1] {
                let decision = answer(&badge, &clearances, Some(&written), age, zero());
                let shown = decision.instruction.ends_with(&written.fallback);
                assert_eq!(shown, decision.answer == Answer::CannotConfirm, "{decision:?}");
            }
        }
    }
    let unwritten = GatePolicy { fallback: String::new(), ..written };
    let decision = answer(&badge(BadgeStatus::Held), &[], Some(&unwritten), 0, zero());
    assert!(decision.instruction.ends_with("if it is urgent."), "{}", decision.instruction);
}

#[test]
fn a_gate_that_cannot_tell_the_time_still_knows_what_is_no_badge_of_ours() {
    let policy = policy(&[CUP]);
    let reason = |badge| answer_without_time(&badge, Some(&policy)).reason;
    assert_eq!(reason(BadgeFacts::NotOurs(NotOurs::WrongSignature)), ScanReason::WrongSignature);
    assert_eq!(reason(badge(BadgeStatus::Ended)), ScanReason::BadgeEnded);
    for status in [BadgeStatus::Valid, BadgeStatus::Held] {
        assert_eq!(reason(badge(status)), ScanReason::ClockInDoubt);
        let over = BadgeFacts::Known { status, expires_at: zero() - TimeDelta::days(1) };
        assert_eq!(reason(over), ScanReason::ClockInDoubt, "whether it has run out, nobody can tell");
    }
}

#[test]
fn where_no_respirator_is_needed_the_policy_decides() {
    let none_needed = GatePolicy { none_needed: true, ..policy(&[CUP]) };
    for status in [BadgeStatus::Valid, BadgeStatus::Held, BadgeStatus::Unclaimed] {
        assert_eq!(ask(badge(status), &[], &none_needed), (Answer::Enter, ScanReason::PolicyNeedsNone));
    }
}

fn every_badge() -> Vec<BadgeFacts> {
    let ours = BadgeStatus::ALL.iter().flat_map(|&status| {
        [zero() - TimeDelta::days(1), zero() + TimeDelta::days(1)]
            .map(|expires_at| BadgeFacts::Known { status, expires_at })
    });
    NotOurs::ALL.iter().copied().map(BadgeFacts::NotOurs).chain(ours).collect()
}

fn every_clearance_list() -> Vec<Vec<ClearanceFact>> {
    let ends: [Option<DateTime<Utc>>; 3] =
        [None, Some(zero() - TimeDelta::hours(1)), Some(zero() + TimeDelta::hours(1))];
    let mut lists = vec![Vec::new()];
    for state in ClearanceState::ALL {
        for valid_until in ends {
            for respirator in [CUP, FOLD] {
                lists.push(vec![ClearanceFact { valid_until, ..fact(respirator, *state) }]);
                lists.push(vec![
                    ClearanceFact { valid_until, ..fact(respirator, *state) },
                    fact(FOLD, ClearanceState::Held),
                ]);
            }
        }
    }
    lists
}

/// Every combination has an answer, and what must hold of it holds.
#[test]
fn the_answer_is_total_and_never_generous() {
    let none_needed = GatePolicy { none_needed: true, ..policy(&[]) };
    let policies =
        [None, Some(policy(&[])), Some(policy(&[CUP])), Some(policy(&[FOLD, CUP])), Some(none_needed)];
    let mut seen = BTreeSet::new();
    for badge in every_badge() {
        for clearances in every_clearance_list() {
            for policy in &policies {
                for age in [0, u64::from(DAY), u64::from(DAY) + 1] {
                    let decision = answer(&badge, &clearances, policy.as_ref(), age, zero());
                    seen.insert(decision.reason);
                    check(badge, &clearances, policy.as_ref(), age, &decision);
                }
                let timeless = answer_without_time(&badge, policy.as_ref());
                assert_ne!(timeless.answer, Answer::Enter, "nobody goes in by a clock that may be wrong");
                seen.insert(timeless.reason);
            }
        }
    }
    assert_eq!(seen, ScanReason::ALL.iter().copied().collect(), "every reason can occur");
}

fn check(
    badge: BadgeFacts,
    clearances: &[ClearanceFact],
    policy: Option<&GatePolicy>,
    age: u64,
    decision: &GateDecision,
) {
    assert!(!decision.instruction.is_empty());
    assert_eq!(decision.respirator.is_some(), decision.reason == ScanReason::Ok);
    assert_eq!(decision.answer, decision.reason.answer());
    if decision.answer != Answer::Enter {
        return;
    }
    let policy = policy.expect("nobody enters without a policy");
    assert!(age <= u64::from(policy.max_knowledge_age_seconds));
    let BadgeFacts::Known { status, expires_at } = badge else {
        panic!("entered with a badge that is not ours")
    };
    let over = matches!(status, BadgeStatus::Ended | BadgeStatus::Replaced);
    assert!(expires_at > zero() && !over);
    if !policy.none_needed {
        assert_eq!(status, BadgeStatus::Valid);
        let matched = decision.respirator.expect("a respirator");
        assert!(policy.accepted_respirators.contains(&matched));
        assert!(clearances.iter().any(|fact| {
            fact.respirator == matched
                && fact.state == ClearanceState::Cleared
                && fact.valid_until.is_some_and(|until| until > zero())
        }));
    }
}

/// The guard gets a word and what to do, never a reason: no sentence names a fail, a test, health or a lot.
#[test]
fn instructions_give_no_reason_away() {
    let telling =
        ["fail", "test", "pass", "medical", "permission", "lot", "solution", "overdue", "held", "taste"];
    for badge in every_badge() {
        for clearances in every_clearance_list() {
            let decision = answer(&badge, &clearances, Some(&policy(&[CUP])), 0, zero());
            let words: Vec<_> = decision.instruction.split(|c: char| !c.is_alphabetic()).collect();
            for word in telling {
                assert!(
                    !words.iter().any(|said| said.eq_ignore_ascii_case(word)),
                    "{}",
                    decision.instruction
                );
            }
        }
    }
}
