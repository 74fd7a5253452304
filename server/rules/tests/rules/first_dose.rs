//! What has to hold at the first dose, whatever was so at the opening; and what may follow an end.

use chrono::NaiveDate;
use sellion_rules::Code;
use sellion_rules::attempt::AttemptEventKind as Kind;
use sellion_rules::ladder::{FirstDoseFacts, may_give_first_dose};
use sellion_rules::permission::{Decision, PermissionFact};

use crate::support::{FIRST, Run, code, id, rules, second, time};

fn decided(decision: Decision, at: i64) -> PermissionFact {
    PermissionFact {
        id: id(900),
        decision,
        valid_from: NaiveDate::from_ymd_opt(2027, 1, 1).expect("a day"),
        valid_until: None,
        happened_at: second(at),
        recorded_at: second(at),
    }
}

fn fit() -> FirstDoseFacts {
    FirstDoseFacts {
        on: NaiveDate::from_ymd_opt(2027, 3, 8).expect("a day"),
        permissions: vec![decided(Decision::Permitted, -86_400)],
        hair_at_seal: false,
        feels_well: true,
        last_intake_at: None,
    }
}

fn refused(facts: &FirstDoseFacts) -> Code {
    code(may_give_first_dose(facts, &rules(), second(FIRST)))
}

/// 29 CFR 1910.134 App. A I.A.9 (fact 2.11) and I.B.3(b)(1) (fact 3.39).
#[test]
fn fact_3_39_answers_given_meanwhile_count() {
    assert_eq!(may_give_first_dose(&fit(), &rules(), second(FIRST)), Ok(()));
    assert_eq!(refused(&FirstDoseFacts { hair_at_seal: true, ..fit() }), Code::HairAtSeal);
    assert_eq!(refused(&FirstDoseFacts { feels_well: false, ..fit() }), Code::VisitNotOpen);
    let ate = FirstDoseFacts { last_intake_at: Some(second(FIRST - 899)), ..fit() };
    let refusal = may_give_first_dose(&ate, &rules(), second(FIRST)).expect_err("too soon");
    assert_eq!((refusal.code, time(&refusal, "earliest_start")), (Code::IntakeTooRecent, second(FIRST + 1)));
    assert_eq!(may_give_first_dose(&ate, &rules(), second(FIRST + 1)), Ok(()));
}

/// 29 CFR 1910.134(e)(1) (fact 1.6).
#[test]
fn fact_1_6_a_permission_taken_back_meanwhile_counts_and_one_taken_back_later_does_not() {
    let with = |decision, at| FirstDoseFacts {
        permissions: vec![decided(Decision::Permitted, -86_400), decided(decision, at)],
        ..fit()
    };
    assert_eq!(refused(&with(Decision::NotNow, FIRST)), Code::PermissionMissing);
    assert_eq!(may_give_first_dose(&with(Decision::NotNow, FIRST + 1), &rules(), second(FIRST)), Ok(()));
    assert_eq!(refused(&FirstDoseFacts { permissions: Vec::new(), ..fit() }), Code::PermissionMissing);
    let written_down_later =
        FirstDoseFacts { permissions: vec![decided(Decision::Permitted, 9000)], ..fit() };
    assert_eq!(may_give_first_dose(&written_down_later, &rules(), second(FIRST)), Ok(()));
}

#[test]
fn an_event_after_the_end_stays_refused_when_the_signature_has_taken_its_number() {
    let mut run = Run::testing();
    run.ok(FIRST + 5, Kind::Tasted);
    let ended_by = run.state.ended_by();
    let late = run.event(FIRST + 6, Kind::HoodOff);
    assert_eq!(code(run.state.apply(&late)), Code::AttemptEnded);
    let other_signature = run.event(FIRST + 8, Kind::Signed);
    run.ok(FIRST + 9, Kind::Signed);
    assert_eq!(code(run.state.apply(&late)), Code::AttemptEnded);
    assert_eq!(code(run.state.apply(&other_signature)), Code::EventConflict);
    assert_eq!((ended_by, run.state.ended_by()), (Some(5), Some(5)));
}
