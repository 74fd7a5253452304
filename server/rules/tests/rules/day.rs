//! The day: what holds a checked-in person back, and from when on they may be called.

use chrono::{NaiveDate, TimeDelta};
use sellion_rules::day::{Hold, HoldFacts, StationPart, VisitStep, VisitVerdict, holds, ready_at, verdict};
use sellion_rules::permission::{Decision, PermissionFact};

use crate::support::{id, rules, second, zero};

fn decision(decision: Decision, happened_at: i64) -> PermissionFact {
    PermissionFact {
        id: id(1),
        decision,
        valid_from: NaiveDate::from_ymd_opt(2027, 1, 1).expect("a date"),
        valid_until: None,
        happened_at: second(happened_at),
        recorded_at: second(happened_at),
    }
}

/// Somebody whom nothing holds back.
fn fine() -> HoldFacts {
    HoldFacts {
        on: zero().date_naive(),
        permissions: vec![decision(Decision::Permitted, -86_400)],
        stopped_at: None,
        hair_at_seal: false,
        feels_well: true,
        left_on: None,
    }
}

/// 29 CFR 1910.134(e)(1): the evaluation comes before the fit test.
#[test]
fn only_a_permission_in_force_lets_somebody_be_called() {
    assert_eq!(holds(&fine()), []);
    for permissions in [vec![], vec![decision(Decision::NotNow, -60)], vec![decision(Decision::Unknown, -60)]]
    {
        assert_eq!(holds(&HoldFacts { permissions, ..fine() }), [Hold::PermissionMissing]);
    }
}

/// Common practice, no source: after a run that was stopped because the person was unwell, a clinician decides anew.
#[test]
fn after_a_stopped_run_only_a_newer_decision_counts() {
    let stopped = HoldFacts { stopped_at: Some(second(0)), ..fine() };
    assert_eq!(holds(&stopped), [Hold::StoppedNeedsClinician]);
    let same_moment = HoldFacts { permissions: vec![decision(Decision::Permitted, 0)], ..stopped.clone() };
    assert_eq!(holds(&same_moment), [Hold::StoppedNeedsClinician]);
    let newer = HoldFacts { permissions: vec![decision(Decision::Permitted, 1)], ..stopped };
    assert_eq!(holds(&newer), []);
}

/// 29 CFR 1910.134 App. A I.A.9 (fact 2.11) for hair; the others are common practice, no source.
#[test]
fn every_reason_is_told_and_not_only_the_first() {
    let yesterday = zero().date_naive().pred_opt();
    let all = HoldFacts {
        permissions: vec![],
        hair_at_seal: true,
        feels_well: false,
        left_on: yesterday,
        ..fine()
    };
    let told = [Hold::PermissionMissing, Hold::HairAtSeal, Hold::NotWell, Hold::PersonLeft];
    assert_eq!(holds(&all), told);
    let last_day = HoldFacts { left_on: Some(zero().date_naive()), ..fine() };
    assert_eq!(holds(&last_day), [], "the last day is a day here");
}

/// 29 CFR 1910.134 App. A I.B.3(b)(1) and I.B.4(b)(1): 15 minutes (facts 3.39, 10.23, 10.24).
#[test]
fn fifteen_minutes_after_the_last_intake() {
    let rules = rules();
    let gum = zero() - TimeDelta::minutes(10);
    let ready = ready_at(zero(), Some(gum), &rules);
    assert_eq!(ready, zero() + TimeDelta::minutes(5));
    assert_eq!(verdict(&[], ready, ready - TimeDelta::microseconds(1)), VisitVerdict::ReadyAt);
    assert_eq!(verdict(&[], ready, ready), VisitVerdict::Ready);
    assert_eq!(verdict(&[Hold::NotWell], ready, ready), VisitVerdict::OnHold);
    // Plain water is no intake, so the desk leaves it out.
    assert_eq!(ready_at(zero(), None, &rules), zero());
    let other_wait = second(3600);
    assert_eq!(ready_at(other_wait, Some(gum), &rules), other_wait, "the longer wait counts");
}

#[test]
fn a_visit_that_has_ended_waits_for_no_station() {
    let parts: Vec<Option<StationPart>> = VisitStep::ALL.iter().map(|step| step.part()).collect();
    assert_eq!(
        parts,
        [Some(StationPart::Screening), Some(StationPart::Testing), Some(StationPart::Measuring), None, None]
    );
}
