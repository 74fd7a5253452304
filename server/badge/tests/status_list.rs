//! The status list against the examples of its draft, and the lists that must not be read.

#![allow(clippy::unwrap_used, reason = "an unmet expectation ends the test")]

use std::io::{Read as _, Write as _};

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use chrono::{DateTime, TimeDelta, Utc};
use flate2::{Compression, read::ZlibDecoder, write::ZlibEncoder};
use proptest::prelude::*;
use sellion_badge::status_list::{Status, StatusListError, Statuses, TYPE, Terms, path, read, sign};
use sellion_badge::{KeyRing, SigningKey, TokenError, jws, token};
use serde_json::{Value, json};

const ISSUER: &str = "0123456789ab";

fn now() -> DateTime<Utc> {
    DateTime::from_timestamp(1_790_100_000, 0).unwrap()
}

fn terms() -> Terms {
    Terms {
        subject: format!("https://fit.example{}", path(ISSUER)),
        issued_at: now(),
        expires_at: Some(now() + TimeDelta::days(7)),
        ttl_seconds: Some(300),
    }
}

fn key_and_ring() -> (SigningKey, KeyRing) {
    let key = SigningKey::generate().unwrap();
    let mut ring = KeyRing::new();
    ring.insert(key.verifying_key().clone()).unwrap();
    (key, ring)
}

fn list(key: &SigningKey, statuses: &Statuses) -> String {
    sign(&terms(), &statuses.compressed().unwrap(), key).unwrap()
}

/// The token that a text names, of the right type and signed by the key.
fn signed(key: &SigningKey, claims: &Value) -> String {
    jws::sign(Some(TYPE), claims.to_string().as_bytes(), key).unwrap()
}

fn claims(bits: u8, lst: &str) -> Value {
    json!({ "sub": terms().subject, "iat": 1_790_000_000, "status_list": { "bits": bits, "lst": lst } })
}

fn compress(bytes: &[u8]) -> String {
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::best());
    encoder.write_all(bytes).unwrap();
    URL_SAFE_NO_PAD.encode(encoder.finish().unwrap())
}

/// Token Status List, "Status List", first example (fact 10.47): one bit each, least significant first.
#[test]
fn the_draft_s_example_of_one_bit_is_read() {
    let (key, ring) = key_and_ring();
    let list = read(&ring, &signed(&key, &claims(1, "eNrbuRgAAhcBXQ")), ISSUER, now()).unwrap();
    let values: Vec<u8> = (0..16).map(|index| list.value(index).unwrap()).collect();
    assert_eq!(values, [1, 0, 0, 1, 1, 1, 0, 1, 1, 1, 0, 0, 0, 1, 0, 1]);
    assert_eq!(list.value(16), None);
}

/// The same, second example (fact 10.48): statuses of two bits, of which 3 has no meaning here.
#[test]
fn the_draft_s_example_of_two_bits_is_read_and_written() {
    let (key, ring) = key_and_ring();
    let list = read(&ring, &signed(&key, &claims(2, "eNo76fITAAPfAgc")), ISSUER, now()).unwrap();
    let wanted = [1, 2, 0, 3, 0, 1, 0, 1, 1, 2, 3, 3];
    let values: Vec<u8> = (0..12).map(|index| list.value(index).unwrap()).collect();
    assert_eq!(values, wanted);
    assert_eq!((list.status(0), list.status(1)), (Some(Status::Ended), Some(Status::Held)));
    assert_eq!((list.status(2), list.status(3)), (Some(Status::Valid), None), "3 is nobody's word");

    let mut ours = Statuses::valid(12);
    for (index, value) in (0..).zip(wanted) {
        let status = [Status::Valid, Status::Ended, Status::Held].get(usize::from(value)).copied();
        assert!(status.is_none_or(|status| ours.set(index, status)));
    }
    // c9 44 f9 where 3 stands for 3; those three places are left at 0 here.
    assert_eq!(ours.bytes(), [0xc9 & 0x3f, 0x44, 0xf9 & 0x0f]);
    assert!(!ours.set(12, Status::Held), "beyond the list");
}

/// Other bits than two, as another issuer might use (draft, "Status List").
#[test]
fn four_and_eight_bits_are_read_and_nothing_else() {
    let (key, ring) = key_and_ring();
    let lst = compress(&[0x21, 0xfe]);
    let of = |bits| read(&ring, &signed(&key, &claims(bits, &lst)), ISSUER, now());
    let values = |bits, count| {
        let list = of(bits).unwrap();
        (0..count).map(|index| list.value(index).unwrap()).collect::<Vec<u8>>()
    };
    assert_eq!(values(4, 4), [1, 2, 14, 15]);
    assert_eq!(values(8, 2), [0x21, 0xfe]);
    for bits in [0, 3, 5, 16, 255] {
        assert_eq!(of(bits), Err(TokenError::Malformed.into()), "{bits} bits");
    }
}

#[test]
fn a_list_says_what_was_set_and_who_made_it() {
    let (key, ring) = key_and_ring();
    let mut statuses = Statuses::valid(9);
    for (index, status) in [(0, Status::Held), (3, Status::Ended), (8, Status::Held), (8, Status::Ended)] {
        assert!(statuses.set(index, status));
    }
    let list = read(&ring, &list(&key, &statuses), ISSUER, now()).unwrap();
    assert_eq!(list.terms, terms());
    let found: Vec<_> = (0..9).filter_map(|index| list.status(index)).collect();
    assert_eq!(found.len(), 9);
    assert_eq!(
        (found[0], found[3], found[8], found[7]),
        (Status::Held, Status::Ended, Status::Ended, Status::Valid)
    );
    assert_eq!(list.status(u64::MAX), None);
}

#[test]
fn no_badge_passes_for_a_list_and_no_list_for_a_badge() {
    let (key, ring) = key_and_ring();
    let list = list(&key, &Statuses::valid(4));
    assert_eq!(token::verify(&ring, &list, now()), Err(TokenError::Malformed));
    let bare = jws::sign(None, claims(2, "eNo76fITAAPfAgc").to_string().as_bytes(), &key).unwrap();
    assert_eq!(read(&ring, &bare, ISSUER, now()), Err(TokenError::Malformed.into()));
    let other = jws::sign(Some("gatepack+jwt"), claims(2, "eNo76fITAAPfAgc").to_string().as_bytes(), &key);
    assert_eq!(read(&ring, &other.unwrap(), ISSUER, now()), Err(TokenError::Malformed.into()));
}

#[test]
fn a_list_is_good_for_its_issuer_its_keys_and_its_time() {
    let (key, ring) = key_and_ring();
    let token = list(&key, &Statuses::valid(4));
    let subject = Err(StatusListError::Subject(terms().subject));
    assert_eq!(read(&ring, &token, "ba9876543210", now()), subject);
    assert_eq!(read(&ring, &token, "9ab", now()), subject, "the end of another issuer's name");
    let end = terms().expires_at.unwrap();
    assert_eq!(read(&ring, &token, ISSUER, end), Err(StatusListError::Expired(end)));
    assert!(read(&ring, &token, ISSUER, end - TimeDelta::seconds(1)).is_ok());
    let (stranger, _) = key_and_ring();
    let foreign = list(&stranger, &Statuses::valid(4));
    assert_eq!(read(&ring, &foreign, ISSUER, now()), Err(TokenError::UnknownKey.into()));
    let cut = token.rsplit_once('.').unwrap().0;
    let unsigned = format!("{cut}.{}", URL_SAFE_NO_PAD.encode([0; 64]));
    assert_eq!(read(&ring, &unsigned, ISSUER, now()), Err(TokenError::BadSignature.into()));
}

#[test]
fn what_is_no_whole_list_is_refused() {
    let (key, ring) = key_and_ring();
    let good = compress(&[1, 2, 3]);
    let bytes = URL_SAFE_NO_PAD.decode(&good).unwrap();
    let long = URL_SAFE_NO_PAD.encode([&bytes[..], &[0]].concat());
    let short = URL_SAFE_NO_PAD.encode(&bytes[..bytes.len() - 1]);
    for lst in [format!("{good}="), long, short, String::new(), "eNr*".to_owned()] {
        let refused = read(&ring, &signed(&key, &claims(2, &lst)), ISSUER, now());
        assert_eq!(refused, Err(TokenError::Malformed.into()), "{lst}");
    }
    for missing in ["sub", "iat", "status_list"] {
        let mut claims = claims(2, &good);
        claims.as_object_mut().unwrap().remove(missing);
        assert_eq!(read(&ring, &signed(&key, &claims), ISSUER, now()), Err(TokenError::Malformed.into()));
    }
}

/// A few kilobytes that unfold to far more than any list must not fill the memory of a gate.
#[test]
fn a_list_that_unfolds_without_end_is_refused() {
    let (key, ring) = key_and_ring();
    let bomb = compress(&vec![0; 17 << 20]);
    assert!(bomb.len() < 100_000);
    let refused = read(&ring, &signed(&key, &claims(2, &bomb)), ISSUER, now());
    assert_eq!(refused, Err(TokenError::Malformed.into()));
}

#[test]
fn compressing_loses_nothing() {
    let mut statuses = Statuses::valid(100_000);
    for index in (0..100_000).step_by(7) {
        statuses.set(index, Status::Ended);
    }
    let mut back = Vec::new();
    ZlibDecoder::new(&*statuses.compressed().unwrap()).read_to_end(&mut back).unwrap();
    assert_eq!(back, statuses.bytes());
}

proptest! {
    #[test]
    fn any_list_comes_back(values in prop::collection::vec(0usize..3, 0..300)) {
        let (key, ring) = key_and_ring();
        let known = [Status::Valid, Status::Ended, Status::Held];
        let mut statuses = Statuses::valid(values.len());
        for (index, value) in (0..).zip(&values) {
            prop_assert!(statuses.set(index, known[*value]));
        }
        let list = read(&ring, &list(&key, &statuses), ISSUER, now()).unwrap();
        for (index, value) in (0..).zip(&values) {
            prop_assert_eq!(list.status(index), Some(known[*value]));
        }
    }

    #[test]
    fn no_text_panics(text in any::<String>(), bits in any::<u8>()) {
        let (key, ring) = key_and_ring();
        let _ = read(&ring, &text, ISSUER, now());
        let _ = read(&ring, &signed(&key, &claims(bits, &text)), ISSUER, now());
    }
}
