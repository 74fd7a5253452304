//! Nebulizers and hoods by what was found on them.

use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::equipment::{
    EquipmentKind, EquipmentState as State, Finding, FindingFact, HoodUse, hood_state, must_be_ready,
    nebulizer_state, unknown_nebulizer,
};
use sellion_rules::refusal::Code;
use sellion_rules::stock::{BottlePlace, Candidate, PlaceMovement, at_hand, first_expired_first, way};

use crate::support::zero;

fn at(seconds: i64) -> DateTime<Utc> {
    zero() + TimeDelta::seconds(seconds)
}

fn found(findings: &[(Finding, i64)]) -> Vec<FindingFact> {
    findings
        .iter()
        .map(|(finding, seconds)| FindingFact { finding: *finding, happened_at: at(*seconds) })
        .collect()
}

/// 29 CFR 1910.134 App. A I.B.3(b)(12), fact 3.50; that it is mended by a rinse and a look is common practice, no source.
#[test]
fn a_clogged_nebulizer_is_out_until_it_sprays_and_a_mixed_up_one_until_it_was_rinsed() {
    use Finding::{Clogged, MixedUp, Retired, Rinsed, Sprays};
    for (findings, state) in [
        (&[][..], State::Ready),
        (&[(Clogged, 1)], State::Clogged),
        (&[(Clogged, 1), (Rinsed, 2)], State::Clogged),
        (&[(Clogged, 1), (Rinsed, 2), (Sprays, 3)], State::Ready),
        (&[(MixedUp, 1), (Sprays, 2)], State::MixedUp),
        (&[(MixedUp, 1), (Clogged, 2), (Rinsed, 3)], State::Ready),
        (&[(Clogged, 1), (MixedUp, 2), (Rinsed, 3)], State::Ready),
        (&[(Retired, 1), (Rinsed, 2), (Sprays, 3)], State::Retired),
        (&[(Clogged, 20)], State::Ready),
    ] {
        assert_eq!(nebulizer_state(&found(findings), at(10)), state, "{findings:?}");
    }
}

#[test]
fn a_hood_is_ready_after_wipe_and_contact_time() {
    use Finding::{Retired, Torn, Wiped};
    let used = |ended: Option<i64>| Some(HoodUse { began_at: at(0), ended_at: ended.map(at) });
    for (findings, last_use, state, ready_at) in [
        (&[][..], None, State::Ready, None),
        (&[(Wiped, 950)], None, State::Wiping, Some(1070)),
        (&[], used(None), State::InUse, None),
        (&[], used(Some(100)), State::NeedsWipe, None),
        (&[(Wiped, 50)], used(Some(100)), State::NeedsWipe, None),
        (&[(Wiped, 900)], used(Some(100)), State::Wiping, Some(1020)),
        (&[(Wiped, 880)], used(Some(100)), State::Ready, None),
        (&[(Wiped, 880), (Wiped, 990)], used(Some(100)), State::Ready, None),
        (&[(Torn, 1), (Wiped, 2)], None, State::Torn, None),
        (&[(Retired, 1)], used(None), State::Retired, None),
    ] {
        let told = hood_state(&found(findings), last_use, 120, at(1000));
        assert_eq!(told, (state, ready_at.map(at)), "{findings:?} {last_use:?}");
        let refused = must_be_ready((EquipmentKind::Hood, "H1"), told, at(1000));
        assert_eq!(
            refused.map_err(|refusal| refusal.code).err(),
            (state != State::Ready).then_some(Code::HoodNotReady)
        );
    }
}

/// First expired, first out (World Health Organization, good storage and distribution practices; fact 8.1).
#[test]
fn what_ends_first_is_taken_first_unless_there_is_a_reason() {
    let candidate = |label: &str, day: Option<&str>| Candidate {
        label: label.to_owned(),
        expires_on: day.map(|day| day.parse().expect("a day")),
    };
    let taken = candidate("B", Some("2027-05-31"));
    let earlier = candidate("A", Some("2027-04-30"));
    let (same, never) = (candidate("C", Some("2027-05-31")), candidate("D", None));
    let others = [never.clone(), same, earlier];
    let refused = first_expired_first(&taken, &others, None).expect_err("A goes first");
    assert_eq!(refused.code, Code::FirstExpiredFirst);
    assert!(first_expired_first(&taken, &others, Some("kept for tomorrow")).is_ok());
    assert!(first_expired_first(&taken, &others[..2], None).is_ok());
    assert!(first_expired_first(&never, &[taken], None).is_err());
    assert!(first_expired_first(&never, &[], None).is_ok());
}

#[test]
fn a_way_has_its_name_from_where_it_leads() {
    assert_eq!(way(Some(false), true), PlaceMovement::Issue);
    assert_eq!(way(Some(true), true), PlaceMovement::HandOver);
    assert_eq!(way(Some(true), false), PlaceMovement::Return);
    assert_eq!(way(Some(false), false), PlaceMovement::Move);
    assert_eq!(way(None, true), PlaceMovement::Move);
}

/// Common practice, no source: whoever fills has the bottle in hand, by the books as well.
#[test]
fn a_bottle_is_at_hand_at_the_station_and_at_a_filling_point() {
    let place = |here, filling_point| BottlePlace { name: "Storeroom", here, filling_point };
    assert!(at_hand("T-14", Some(&place(true, false))).is_ok());
    assert!(at_hand("T-14", Some(&place(false, true))).is_ok());
    for nowhere in [Some(place(false, false)), None] {
        let refused = at_hand("T-14", nowhere.as_ref()).expect_err("it is elsewhere");
        assert_eq!((refused.code, refused.field.as_deref()), (Code::BottleElsewhere, Some("bottle_id")));
        assert_eq!(refused.facts.contains_key("place"), nowhere.is_some());
    }
}

#[test]
fn a_slip_of_the_pen_makes_no_second_nebulizer() {
    let known = ["1 test", "1 screening", "12 test", "A"];
    let meant = |typed: &str| {
        let refused = unknown_nebulizer(typed, known);
        assert_eq!((refused.code, refused.field.as_deref()), (Code::NebulizerUnknown, Some("nebulizer")));
        refused.facts.get("did_you_mean").cloned()
    };
    for (typed, label) in
        [("1 tset", "1 test"), ("1test", "1 test"), ("L test", "1 test"), ("1 scrEning", "1 screening")]
    {
        assert_eq!(meant(typed), Some(label.into()), "{typed}");
    }
    for typed in ["9 jar", "BC", ""] {
        assert_eq!(meant(typed), None, "{typed}");
    }
    assert_eq!(unknown_nebulizer("1 test", []).code, Code::NebulizerUnknown);
}
