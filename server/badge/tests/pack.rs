//! Gate packs: what a gate alone answers from one, and which packs it refuses.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails, and says where")]

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use sellion_badge::pack::{
    BadgeColumns, Clearance, Current, Draft, Made, Moment, PackError, PackRespirator, Told,
};
use sellion_badge::{
    BadgeClaims, ClearedRespirator, KeyRing, Pack, Read, Serial, SigningKey, TokenError, code, token,
};
use sellion_rules::clearance::ClearanceState;
use sellion_rules::gate::{Answer, BadgeStatus, ScanReason};
use sellion_rules::policy::{Acceptance, Accepted, Listed, PolicyVersion, RespiratorClass};
use sellion_rules::respirator::Facepiece;
use uuid::Uuid;

const GATE: Uuid = Uuid::from_u128(7);
const FOLD: Uuid = Uuid::from_u128(101);
const CUP: Uuid = Uuid::from_u128(102);

fn made_at() -> DateTime<Utc> {
    "2026-11-27T06:00:00Z".parse().unwrap()
}

fn later(seconds: i64) -> DateTime<Utc> {
    made_at() + TimeDelta::seconds(seconds)
}

/// A site with a key, and badges by their index.
struct Site {
    key: SigningKey,
    ring: KeyRing,
}

impl Site {
    fn open() -> Self {
        let key = SigningKey::generate().unwrap();
        let mut ring = KeyRing::new();
        ring.insert(key.verifying_key().clone()).unwrap();
        Self { key, ring }
    }

    fn badge(&self, index: u64, issued_at: DateTime<Utc>) -> Read {
        let due_on = NaiveDate::from_ymd_opt(2027, 6, 30).unwrap();
        let claims = BadgeClaims {
            issuer: "0123456789ab".to_owned(),
            serial: serial(index),
            issued_at,
            expires_at: later(200 * 86_400),
            status_index: index,
            respirators: vec![ClearedRespirator { code: "1".to_owned(), due_on }],
        };
        Read::code(&code::pack(&token::sign(&claims, &self.key).unwrap()).unwrap())
    }

    /// A pack of no badge.
    fn draft(&self) -> Draft<'_> {
        static NONE: std::sync::LazyLock<BadgeColumns> = std::sync::LazyLock::new(|| BadgeColumns::of([]));
        Draft {
            issuer: "0123456789ab".to_owned(),
            gate: GATE,
            gate_name: "North entrance".to_owned(),
            zone: "Europe/Lisbon".to_owned(),
            issued_at: made_at(),
            keys: &self.ring,
            status_list: "list".to_owned(),
            policies: vec![policy(0, FOLD), policy(7_200, CUP)],
            respirators: vec![respirator(FOLD, 1), respirator(CUP, 2)],
            badges: &NONE,
            clearances: Vec::new(),
            unclaimed_after_days: None,
        }
    }

    fn pack(&self, standings: &[BadgeStatus], clearances: Vec<Clearance>) -> Made {
        let badges = standings
            .iter()
            .enumerate()
            .map(|(index, status)| (index, serial(index as u64), later(200 * 86_400), *status));
        let columns = BadgeColumns::of(badges);
        let draft = Draft { badges: &columns, clearances, ..self.draft() };
        draft.sign(b"statuses", &self.key).unwrap()
    }
}

fn serial(index: u64) -> Serial {
    Serial::from_number(1_000_003 * (index + 1)).unwrap()
}

/// A policy that begins some seconds after the pack was made, or long before it.
fn policy(from: i64, accepted: Uuid) -> PolicyVersion {
    PolicyVersion {
        id: Uuid::from_u128(500 + accepted.as_u128()),
        effective_from: if from == 0 { later(-86_400) } else { later(from) },
        recorded_at: later(-86_400),
        accepts: vec![Acceptance { accepted: Accepted::Respirator { respirator_id: accepted }, until: None }],
        none_needed: false,
        none_needed_until: None,
        knowledge_age_max_seconds: 14_400,
        fallback: "Call 4410.".to_owned(),
        leads: None,
    }
}

fn respirator(id: Uuid, number: i32) -> PackRespirator {
    let listed = Listed {
        respirator: id,
        facepiece: Facepiece::FilteringFacepiece,
        filter_class: "N95".to_owned(),
        retired_at: None,
    };
    PackRespirator { listed, number, name: format!("Orlevane model {number}") }
}

fn cleared(index: usize, respirator: usize) -> Clearance {
    let state = ClearanceState::Cleared;
    Clearance { index, respirator, state, valid_from: later(-86_400), valid_until: later(30 * 86_400) }
}

fn ask(pack: &Pack, read: &Read, at: DateTime<Utc>) -> Told {
    pack.answer(read, Moment { at, known_at: made_at(), clock_trusted: true }).unwrap()
}

#[track_caller]
fn expect(pack: &Pack, read: &Read, at: DateTime<Utc>, reason: ScanReason) {
    let told = ask(pack, read, at);
    assert_eq!((told.decision.reason, told.decision.answer), (reason, reason.answer()));
}

#[test]
fn a_gate_alone_answers_from_what_its_pack_knows() {
    let site = Site::open();
    let standings =
        [BadgeStatus::Valid, BadgeStatus::Ended, BadgeStatus::Held, BadgeStatus::Valid, BadgeStatus::Valid];
    let mut held = cleared(3, 0);
    held.state = ClearanceState::Held;
    let pack = site.pack(&standings, vec![cleared(0, 0), cleared(1, 0), cleared(2, 0), held]);
    let pack = Pack::open(&site.ring, &pack.text).unwrap();
    let badge = |index| site.badge(index, later(-3_600));
    expect(&pack, &badge(0), later(60), ScanReason::Ok);
    expect(&pack, &badge(1), later(60), ScanReason::BadgeEnded);
    expect(&pack, &badge(2), later(60), ScanReason::BadgeHeld);
    expect(&pack, &badge(3), later(60), ScanReason::ClearanceHeld);
    expect(&pack, &badge(4), later(60), ScanReason::PersonNotCleared);
    let told = ask(&pack, &badge(0), later(60));
    assert_eq!(told.respirator.as_deref(), Some("Orlevane model 1"));
    assert_eq!(told.serial, Some(serial(0)));
    // The model that comes into use two hours later.
    expect(&pack, &badge(0), later(7_200), ScanReason::PersonNotCleared);
    expect(&pack, &Read::typed(&serial(0).to_string()), later(60), ScanReason::Ok);
    expect(&pack, &Read::typed(&serial(9).to_string()), later(60), ScanReason::UnknownBadge);
    expect(&pack, &Read::typed("7KQ2M"), later(60), ScanReason::CodeUnreadable);
    expect(&pack, &Read::line("hello"), later(60), ScanReason::CodeUnreadable);
}

#[test]
fn too_old_knowledge_confirms_nobody_and_shows_the_written_fallback() {
    let site = Site::open();
    let pack = site.pack(&[BadgeStatus::Valid, BadgeStatus::Ended], vec![cleared(0, 0), cleared(0, 1)]);
    let pack = Pack::open(&site.ring, &pack.text).unwrap();
    let badge = site.badge(0, later(-3_600));
    expect(&pack, &badge, later(14_400), ScanReason::Ok);
    expect(&pack, &badge, later(14_401), ScanReason::KnowledgeTooOld);
    expect(&pack, &site.badge(1, later(-3_600)), later(14_401), ScanReason::BadgeEnded);
    assert!(ask(&pack, &badge, later(14_401)).decision.instruction.contains("Call 4410."));
    // The server's word that it is still current makes it young again.
    let moment = Moment { at: later(14_401), known_at: later(10_000), clock_trusted: true };
    assert_eq!(pack.answer(&badge, moment).unwrap().decision.answer, Answer::Enter);
}

#[test]
fn a_gate_that_cannot_tell_the_time_knows_only_what_needs_none() {
    let site = Site::open();
    let pack = site.pack(&[BadgeStatus::Valid, BadgeStatus::Ended], vec![cleared(0, 0)]);
    let pack = Pack::open(&site.ring, &pack.text).unwrap();
    let moment = Moment { at: later(60), known_at: made_at(), clock_trusted: false };
    let reason = |read: &Read| pack.answer(read, moment).unwrap().decision.reason;
    assert_eq!(reason(&site.badge(0, later(-60))), ScanReason::ClockInDoubt);
    assert_eq!(reason(&site.badge(1, later(-60))), ScanReason::BadgeEnded);
    assert_eq!(reason(&Read::line("hello")), ScanReason::CodeUnreadable);
    assert_eq!(ScanReason::ClockInDoubt.answer(), Answer::CannotConfirm);
}

#[test]
fn a_badge_that_is_younger_than_the_pack_speaks_for_itself() {
    let site = Site::open();
    let pack = site.pack(&[BadgeStatus::Valid], vec![]);
    let pack = Pack::open(&site.ring, &pack.text).unwrap();
    expect(&pack, &site.badge(1, later(600)), later(900), ScanReason::Ok);
    // Printed while the pack was being made.
    expect(&pack, &site.badge(1, later(-30)), later(900), ScanReason::Ok);
    // The pack would know it: nobody issued that one.
    expect(&pack, &site.badge(1, later(-600)), later(900), ScanReason::UnknownBadge);
    // An index that another badge has.
    let stranger = Site { key: site.key.clone(), ring: site.ring.clone() };
    let foreign = SigningKey::generate().unwrap();
    expect(
        &pack,
        &Site { key: foreign, ..stranger }.badge(0, later(-600)),
        later(900),
        ScanReason::WrongSignature,
    );
}

#[test]
fn a_class_takes_in_what_the_pack_lists() {
    let site = Site::open();
    let columns = BadgeColumns::of([(0, serial(0), later(86_400), BadgeStatus::Valid)]);
    let class = RespiratorClass { facepiece: None, filter_class: Some("N95".to_owned()) };
    let mut version = policy(0, FOLD);
    version.accepts = vec![Acceptance { accepted: Accepted::Class(class), until: None }];
    let clearances = vec![cleared(0, 1)];
    let draft = Draft { policies: vec![version], badges: &columns, clearances, ..site.draft() };
    let pack = Pack::open(&site.ring, &draft.sign(b"", &site.key).unwrap().text).unwrap();
    let told = ask(&pack, &Read::typed(&serial(0).to_string()), later(60));
    assert_eq!(told.decision.respirator, Some(CUP));
}

#[test]
fn an_altered_pack_is_refused_whatever_was_altered() {
    let site = Site::open();
    let made = site.pack(&[BadgeStatus::Valid; 40], (0..40).map(|index| cleared(index, 0)).collect());
    assert!(Pack::open(&site.ring, &made.text).is_ok());
    let parts: Vec<&str> = made.text.split('.').collect();
    let payload = URL_SAFE_NO_PAD.decode(parts[1]).unwrap();
    for bit in (0..payload.len() * 8).step_by(97) {
        let mut altered = payload.clone();
        altered[bit / 8] ^= 1 << (bit % 8);
        let text = format!("{}.{}.{}", parts[0], URL_SAFE_NO_PAD.encode(altered), parts[2]);
        let refused = Pack::open(&site.ring, &text).unwrap_err();
        assert_eq!(refused, PackError::Signed(TokenError::BadSignature), "bit {bit}");
    }
    for length in (0..made.text.len()).step_by(101) {
        assert!(Pack::open(&site.ring, &made.text[..length]).is_err(), "cut at {length}");
    }
    let other = Site::open();
    let refused = Pack::open(&other.ring, &made.text).unwrap_err();
    assert_eq!(
        refused,
        PackError::Signed(TokenError::UnknownKey),
        "a key that is not known, or not any more"
    );
}

#[test]
fn no_document_passes_for_another() {
    let site = Site::open();
    let made = site.pack(&[BadgeStatus::Valid], vec![]);
    let current = Current { gate: GATE, content: made.content.clone(), at: made_at() };
    let word = current.sign(&site.key).unwrap();
    assert_eq!(Current::open(&site.ring, &word).unwrap(), current);
    assert!(Pack::open(&site.ring, &word).is_err());
    assert!(Current::open(&site.ring, &made.text).is_err());
    assert!(token::verify(&site.ring, &word, made_at()).is_err(), "no badge");
    let Read::Code(badge) = site.badge(0, made_at()) else { unreachable!() };
    assert!(Pack::open(&site.ring, &code::unpack(&badge).unwrap()).is_err());
}

#[test]
fn packs_that_say_the_same_have_the_same_content() {
    let site = Site::open();
    let one = site.pack(&[BadgeStatus::Valid; 3], vec![cleared(0, 0), cleared(1, 0)]);
    let same = site.pack(&[BadgeStatus::Valid; 3], vec![cleared(1, 0), cleared(0, 0)]);
    let other = site.pack(&[BadgeStatus::Valid; 3], vec![cleared(0, 0), cleared(2, 0)]);
    assert_eq!(one.content, same.content);
    assert_ne!(one.content, other.content);
}

#[test]
fn a_pack_says_nothing_about_people() {
    let site = Site::open();
    let made = site.pack(&[BadgeStatus::Valid], vec![cleared(0, 0)]);
    let payload = made.text.split('.').nth(1).unwrap();
    let claims: serde_json::Value =
        serde_json::from_slice(&URL_SAFE_NO_PAD.decode(payload).unwrap()).unwrap();
    let members: Vec<&String> = claims.as_object().unwrap().keys().collect();
    let known = [
        "badges",
        "clearances",
        "content",
        "gate",
        "iat",
        "iss",
        "jwks",
        "policies",
        "respirators",
        "span_bytes",
        "spans",
        "status_list",
        "sub",
        "zone",
    ];
    assert_eq!(members, known, "a new member has to be thought about: who may read a pack?");
}

#[test]
fn a_badge_that_nobody_handed_over_opens_no_gate_from_its_moment_on() {
    let site = Site::open();
    let badges = [0, 1, 2].map(|index| {
        (
            index,
            serial(index as u64),
            later(200 * 86_400),
            [BadgeStatus::Valid, BadgeStatus::Valid, BadgeStatus::Ended][index],
        )
    });
    let columns = BadgeColumns::of(badges).with_unclaimed([(0, later(600)), (2, later(0)), (9, later(0))]);
    let draft = Draft {
        badges: &columns,
        unclaimed_after_days: Some(1),
        clearances: vec![cleared(0, 0), cleared(1, 0)],
        ..site.draft()
    };
    let pack = Pack::open(&site.ring, &draft.sign(b"statuses", &site.key).unwrap().text).unwrap();
    let (lies, handed, ended) =
        (site.badge(0, later(-9)), site.badge(1, later(-9)), site.badge(2, later(-9)));
    expect(&pack, &lies, later(599), ScanReason::Ok);
    expect(&pack, &lies, later(600), ScanReason::BadgeUnclaimed);
    expect(&pack, &handed, later(600), ScanReason::Ok);
    expect(&pack, &ended, later(600), ScanReason::BadgeEnded);

    // One that is younger than the pack: nobody can have handed it over, as far as the pack knows.
    let younger = site.badge(3, later(100));
    for (after_days, reason) in [(None, ScanReason::Ok), (Some(0), ScanReason::BadgeUnclaimed)] {
        let draft = Draft { badges: &columns, unclaimed_after_days: after_days, ..site.draft() };
        let pack = Pack::open(&site.ring, &draft.sign(b"statuses", &site.key).unwrap().text).unwrap();
        expect(&pack, &younger, later(200), reason);
    }
}
