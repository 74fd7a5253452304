//! Tokens against RFC 7515, 7517, 7518, 7638, and the forgeries that must fail.

#![allow(clippy::unwrap_used, reason = "an unmet expectation ends the test")]

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use jsonwebtoken::{Algorithm, EncodingKey, crypto};
use proptest::prelude::*;
use sellion_badge::keys::{KeyError, VerifyingKey};
use sellion_badge::token::{sign, verify};
use sellion_badge::{BadgeClaims, ClearedRespirator, KeyRing, Serial, SigningKey, TokenError, code};
use sellion_rules::badge::RESPIRATORS_MAX;

/// RFC 7515 appendix A.3, facts 10.38 to 10.40.
const A3_X: &str = "f83OJ3D2xF1Bg8vub9tLe1gHMzV76e8Tus9uPHvRVEU";
const A3_Y: &str = "x_FEzRu9m36HLN_tue659LNpXW6pCyStikYjKIWI5a0";
const A3_INPUT: &str = "eyJhbGciOiJFUzI1NiJ9.eyJpc3MiOiJqb2UiLA0KICJleHAiOjEzMDA4MTkzODAsDQogImh0dHA6Ly9leGFtcG\
                        xlLmNvbS9pc19yb290Ijp0cnVlfQ";
const A3_SIGNATURE: &str =
    "DtEhU3ljbEg8L38VWAfUAqOyKAM6-Xx-F4GawxaepmXFCgfTjDxw5djxLa8ISlSApmWQxfKTUJqPP3-Kg6NU1Q";

fn at(seconds: i64) -> DateTime<Utc> {
    DateTime::from_timestamp(seconds, 0).unwrap()
}

const NOW: i64 = 1_790_100_000;

fn claims() -> BadgeClaims {
    let due_on = NaiveDate::from_ymd_opt(2027, 8, 31).unwrap();
    let respirator = |code: &str| ClearedRespirator { code: code.to_owned(), due_on };
    BadgeClaims {
        issuer: "https://fit.lindenhof.example".to_owned(),
        serial: Serial::from_number(4_711).unwrap(),
        issued_at: at(1_790_000_000),
        expires_at: at(1_820_000_000),
        status_index: 123_456,
        respirators: vec![respirator("AL312M"), respirator("BK7")],
    }
}

fn key_and_ring() -> (SigningKey, KeyRing) {
    let key = SigningKey::generate().unwrap();
    let mut ring = KeyRing::new();
    ring.insert(key.verifying_key().clone()).unwrap();
    (key, ring)
}

fn part(json: &str) -> String {
    URL_SAFE_NO_PAD.encode(json)
}

/// Signs any header and payload, as a forger with a key of ours could not, but a test can.
fn signed(key: &SigningKey, header: &str, payload: &str) -> String {
    let message = format!("{}.{}", part(header), part(payload));
    let encoding = EncodingKey::from_ec_der(key.to_pkcs8_der());
    let signature = crypto::sign(message.as_bytes(), &encoding, Algorithm::ES256).unwrap();
    format!("{message}.{signature}")
}

fn payload() -> String {
    serde_json::to_string(&claims()).unwrap()
}

fn header(key: &SigningKey) -> String {
    format!(r#"{{"alg":"ES256","kid":"{}"}}"#, key.kid())
}

#[test]
fn rfc_7515_a3_verifies_and_one_changed_letter_does_not() {
    let key = VerifyingKey::from_coordinates(A3_X, A3_Y).unwrap();
    assert!(key.accepts(A3_INPUT, A3_SIGNATURE));
    assert!(!key.accepts(&A3_INPUT.replacen('J', "K", 1), A3_SIGNATURE));
    assert!(!key.accepts(A3_INPUT, &A3_SIGNATURE.replacen('D', "E", 1)));
}

/// RFC 7518 section 3.4, fact 7.6: R and S, 32 octets each; anything shorter or longer is no signature.
#[test]
fn a_signature_has_64_octets_in_its_order() {
    let key = VerifyingKey::from_coordinates(A3_X, A3_Y).unwrap();
    let bytes = URL_SAFE_NO_PAD.decode(A3_SIGNATURE).unwrap();
    let (r, s) = bytes.split_at(32);
    for wrong in [[s, r].concat(), bytes[..63].to_vec(), [r, s, &[0]].concat(), vec![0; 64]] {
        assert!(!key.accepts(A3_INPUT, &URL_SAFE_NO_PAD.encode(wrong)));
    }
}

#[test]
fn a_badge_comes_back_from_its_code() {
    let (key, ring) = key_and_ring();
    let jwt = sign(&claims(), &key).unwrap();
    let code = code::pack(&jwt).unwrap();
    assert_eq!(verify(&ring, &code::unpack(&code).unwrap(), at(NOW)), Ok(claims()));
}

/// The claims by name, and no other: what is not in this list cannot be on a badge.
#[test]
fn the_claims_are_few_and_short() {
    let value: serde_json::Value = serde_json::from_str(&payload()).unwrap();
    let names: Vec<_> = value.as_object().unwrap().keys().cloned().collect();
    assert_eq!(names, ["exp", "iat", "iss", "jti", "rsp", "sti"]);
    assert_eq!(value["rsp"], serde_json::json!([["AL312M", 20_270_831], ["BK7", 20_270_831]]));
    assert_eq!(value["exp"], 1_820_000_000);
}

/// RFC 7519 section 4.1.4, facts 7.4 and 10.43: not accepted on or after exp.
#[test]
fn a_badge_ends_at_its_exp() {
    let (key, ring) = key_and_ring();
    let jwt = sign(&claims(), &key).unwrap();
    let end = claims().expires_at;
    assert!(verify(&ring, &jwt, end - TimeDelta::seconds(1)).is_ok());
    assert_eq!(verify(&ring, &jwt, end), Err(TokenError::Expired(Box::new(claims()))));
    assert_eq!(verify(&ring, &jwt, end + TimeDelta::days(9)), Err(TokenError::Expired(Box::new(claims()))));
}

/// RFC 8725 section 3.1, facts 7.9 and 10.43.
#[test]
fn other_algorithms_are_refused_whatever_the_signature() {
    let (key, ring) = key_and_ring();
    for alg in ["none", "None", "HS256", "RS256", "ES384", "EdDSA", "es256"] {
        let header = format!(r#"{{"alg":"{alg}","kid":"{}"}}"#, key.kid());
        assert_eq!(
            verify(&ring, &signed(&key, &header, &payload()), at(NOW)),
            Err(TokenError::WrongAlgorithm)
        );
    }
    let unsigned = format!("{}.{}.", part(r#"{"alg":"none"}"#), part(&payload()));
    assert_eq!(verify(&ring, &unsigned, at(NOW)), Err(TokenError::Malformed));
    // HS256 with the public key as the secret, as a confused verifier would accept it.
    let jwk = &ring.to_jwks()["keys"][0];
    let secret =
        [jwk["x"].as_str().unwrap(), jwk["y"].as_str().unwrap()].map(|c| URL_SAFE_NO_PAD.decode(c).unwrap());
    let message =
        format!("{}.{}", part(&format!(r#"{{"alg":"HS256","kid":"{}"}}"#, key.kid())), part(&payload()));
    let secret = EncodingKey::from_secret(&[&[4][..], &secret.concat()].concat());
    let signature = crypto::sign(message.as_bytes(), &secret, Algorithm::HS256).unwrap();
    assert_eq!(verify(&ring, &format!("{message}.{signature}"), at(NOW)), Err(TokenError::WrongAlgorithm));
    // The same under the name of ES256.
    let message = format!("{}.{}", part(&header(&key)), part(&payload()));
    let signature = crypto::sign(message.as_bytes(), &secret, Algorithm::HS256).unwrap();
    assert_eq!(verify(&ring, &format!("{message}.{signature}"), at(NOW)), Err(TokenError::BadSignature));
}

#[test]
fn strangers_keys_are_refused_under_any_name() {
    let (key, ring) = key_and_ring();
    let stranger = SigningKey::generate().unwrap();
    assert_eq!(verify(&ring, &sign(&claims(), &stranger).unwrap(), at(NOW)), Err(TokenError::UnknownKey));
    let misnamed = signed(&stranger, &header(&key), &payload());
    assert_eq!(verify(&ring, &misnamed, at(NOW)), Err(TokenError::BadSignature));
    assert_eq!(
        verify(&KeyRing::new(), &sign(&claims(), &key).unwrap(), at(NOW)),
        Err(TokenError::UnknownKey)
    );
}

/// RFC 7515 section 4.1.11 (crit) and RFC 8725 section 3.11 (typ): a header says alg and kid, or it is no badge.
#[test]
fn a_header_with_more_or_less_is_no_badge() {
    let (key, ring) = key_and_ring();
    let kid = key.kid();
    for header in [
        r#"{"alg":"ES256"}"#.to_owned(),
        format!(r#"{{"kid":"{kid}"}}"#),
        format!(r#"{{"alg":"ES256","kid":"{kid}","typ":"statuslist+jwt"}}"#),
        format!(r#"{{"alg":"ES256","kid":"{kid}","crit":["exp"]}}"#),
        format!(r#"{{"alg":"ES256","kid":"{kid}","jwk":{{}}}}"#),
        format!(r#"{{"alg":"ES256","kid":"{kid}","kid":"{kid}"}}"#),
        format!(r#"{{"alg":"ES256","kid":["{kid}"]}}"#),
        "[]".to_owned(),
        "{".to_owned(),
    ] {
        let jwt = signed(&key, &header, &payload());
        assert_eq!(verify(&ring, &jwt, at(NOW)), Err(TokenError::Malformed), "{header}");
    }
}

#[test]
fn claims_that_could_not_be_issued_are_not_accepted() {
    let (key, ring) = key_and_ring();
    let good = payload();
    for wrong in [
        good.replace("1820000000", "\"1820000000\""),
        good.replace("1820000000", "1790000000"),
        good.replace("20270831", "20270229"),
        good.replace("BK7", "B K7"),
        good.replace("https://fit.lindenhof.example", ""),
        good.replace(&claims().serial.compact(), "2222222223"),
        good.replace("\"sti\":123456", "\"sti\":-1"),
        good.replace("\"exp\":1820000000,", ""),
        good.replace("\"exp\":1820000000,", "\"exp\":1820000000,\"exp\":1900000000,"),
        good.replace("\"exp\":1820000000,", "\"exp\":1820000000,\"born\":19880417,"),
        good.replace("1820000000", "253402300800"),
        good.replace("1790000000", "-1"),
        good.replace("1790000000", "1790000000.0"),
        good.replace(r#"[["AL312M",20270831],["BK7",20270831]]"#, "[]"),
        good.replace(r#"[["AL312M",20270831],"#, &format!("[{}", r#"["AL312M",20270831],"#.repeat(4))),
        "[]".to_owned(),
    ] {
        assert_ne!(wrong, good);
        assert_eq!(
            verify(&ring, &signed(&key, &header(&key), &wrong), at(NOW)),
            Err(TokenError::Malformed),
            "{wrong}"
        );
    }
}

#[test]
fn claims_beyond_their_limits_are_not_issued() {
    let (key, _) = key_and_ring();
    let mut many = claims();
    many.respirators = vec![many.respirators[0].clone(); RESPIRATORS_MAX + 1];
    let backwards = BadgeClaims { expires_at: claims().issued_at, ..claims() };
    let nameless = BadgeClaims { issuer: String::new(), ..claims() };
    let mut odd = claims();
    odd.respirators[0].code = "größe".to_owned();
    let bare = BadgeClaims { respirators: Vec::new(), ..claims() };
    let far = BadgeClaims { expires_at: at(253_402_300_800), ..claims() };
    let early = BadgeClaims { issued_at: at(-1), ..claims() };
    for wrong in [many, backwards, nameless, odd, bare, far, early] {
        assert!(matches!(sign(&wrong, &key), Err(TokenError::Claims(_))));
    }
    let four =
        BadgeClaims { respirators: vec![claims().respirators[0].clone(); RESPIRATORS_MAX], ..claims() };
    assert!(sign(&four, &key).is_ok());
}

#[test]
fn only_the_canonical_text_of_a_token_is_accepted() {
    let (key, ring) = key_and_ring();
    let jwt = sign(&claims(), &key).unwrap();
    // 64 octets leave four unused bits in the last letter (RFC 4648 section 3.5).
    let last = jwt.chars().last().unwrap();
    let alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
    let twin = alphabet.chars().nth(alphabet.find(last).unwrap() + 1).unwrap();
    let twin = format!("{}{twin}", &jwt[..jwt.len() - 1]);
    for wrong in [
        twin,
        format!("{jwt}="),
        format!("{jwt}."),
        format!(" {jwt}"),
        jwt.replacen('.', "..", 1),
        "x".repeat(5_000),
    ] {
        assert_eq!(verify(&ring, &wrong, at(NOW)), Err(TokenError::Malformed));
    }
}

/// RFC 7517 section 5: other keys and unknown members are passed over (fact 7.5).
#[test]
fn a_key_set_survives_the_trip_to_a_gate() {
    let (key, mut ring) = key_and_ring();
    ring.insert(VerifyingKey::from_coordinates(A3_X, A3_Y).unwrap()).unwrap();
    let mut set = ring.to_jwks();
    let first = &set["keys"][0];
    assert_eq!(
        (&first["kty"], &first["crv"], &first["alg"], &first["use"]),
        (&"EC".into(), &"P-256".into(), &"ES256".into(), &"sig".into())
    );
    assert!(!set.to_string().contains("\"d\""));
    set["note"] = "unknown".into();
    set["keys"][0]["note"] = "unknown".into();
    let foreign =
        serde_json::json!([{"kty": "oct", "k": "AAAA"}, {"kty": "EC", "crv": "P-384"}, {"kty": "new"}, 7]);
    set["keys"].as_array_mut().unwrap().extend(foreign.as_array().unwrap().clone());
    let gate = KeyRing::from_jwks(&set.to_string()).unwrap();
    assert_eq!(gate.len(), 2);
    assert!(verify(&gate, &sign(&claims(), &key).unwrap(), at(NOW)).is_ok());
}

#[test]
fn wrong_key_sets_are_refused() {
    let (_, ring) = key_and_ring();
    let set = ring.to_jwks().to_string();
    let kid = ring.to_jwks()["keys"][0]["kid"].as_str().unwrap().to_owned();
    assert_eq!(KeyRing::from_jwks("{}").unwrap_err(), KeyError::Set);
    assert_eq!(
        KeyRing::from_jwks(&set.replace(&kid, "AAAAAAAA")).unwrap_err(),
        KeyError::Kid("AAAAAAAA".to_owned())
    );
    assert_eq!(VerifyingKey::from_coordinates(A3_X, A3_X).unwrap_err(), KeyError::Public);
    assert_eq!(VerifyingKey::from_coordinates(A3_X, "AAAA").unwrap_err(), KeyError::Public);
    assert_eq!(VerifyingKey::from_point(&[0; 65]).unwrap_err(), KeyError::Public);
}

/// RFC 7638 section 3, fact 7.10: the id is the start of SHA-256 over crv, kty, x, y in that order.
#[test]
fn a_key_id_is_the_start_of_the_thumbprint() {
    let canonical = format!(r#"{{"crv":"P-256","kty":"EC","x":"{A3_X}","y":"{A3_Y}"}}"#);
    let digest = aws_lc_rs::digest::digest(&aws_lc_rs::digest::SHA256, canonical.as_bytes());
    let key = VerifyingKey::from_coordinates(A3_X, A3_Y).unwrap();
    assert_eq!(key.kid(), &URL_SAFE_NO_PAD.encode(digest)[..8]);
}

#[test]
fn a_stored_key_is_the_same_key_and_shows_no_secret() {
    let key = SigningKey::generate().unwrap();
    let stored = SigningKey::from_pkcs8_der(key.to_pkcs8_der()).unwrap();
    assert_eq!(stored.kid(), key.kid());
    assert_eq!(format!("{key:?}"), format!("SigningKey {{ kid: {:?}, .. }}", key.kid()));
    assert_ne!(SigningKey::generate().unwrap().kid(), key.kid());
    assert_eq!(SigningKey::from_pkcs8_der(&[1, 2, 3]).unwrap_err(), KeyError::Private);
}

proptest! {
    /// Fact 10.43: one changed bit anywhere in the packed bytes is refused.
    #[test]
    fn one_changed_bit_is_always_refused(place in any::<prop::sample::Index>(), bit in 0..8) {
        let (key, ring) = key_and_ring();
        let jwt = sign(&claims(), &key).unwrap();
        let parts: Vec<_> = jwt.split('.').map(|part| URL_SAFE_NO_PAD.decode(part).unwrap()).collect();
        let mut bytes = parts.concat();
        bytes[place.index(parts.concat().len())] ^= 1u8 << bit;
        let (head, rest) = bytes.split_at(parts[0].len());
        let (body, signature) = rest.split_at(parts[1].len());
        let changed = [head, body, signature].map(|part| URL_SAFE_NO_PAD.encode(part)).join(".");
        prop_assert!(verify(&ring, &changed, at(NOW)).is_err());
    }

    #[test]
    fn no_text_panics(text in any::<String>()) {
        let (_, ring) = key_and_ring();
        let _ = verify(&ring, &text, at(NOW));
        let _ = verify(&ring, &format!("{}.{}.AA", part(&text), part(&text)), at(NOW));
        let _ = KeyRing::from_jwks(&text);
    }
}
