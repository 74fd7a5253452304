//! Badges that are good, that are over, and that are none.

use aws_lc_rs::hmac;
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use sellion_badge::{base45, code};
use serde_json::{Value, json};

use crate::NOTE;
use crate::keys::{TestKey, jwks, private};

const HEADER: &str = r#"{"alg":"ES256","kid":"KID"}"#;
const PLAIN: &str = r#"{"iss":"8f2c01d94e7b","jti":"7KQ2MXW9RS","iat":1790000000,"exp":1820000000,"sti":4711,"rsp":[["31",20270831]]}"#;
const AT: i64 = 1_790_100_000;

/// The claims of a good badge with one thing changed.
fn plain() -> String {
    PLAIN.replace("7KQ2MXW9RS", &serial(7_777_777))
}

fn serial(number: u64) -> String {
    sellion_badge::Serial::from_number(number).unwrap().compact()
}

pub(crate) fn all() -> Value {
    json!({
        "note": NOTE, "jwks": jwks(), "private_keys_for_tests_only": private(),
        "good": good(), "expired": expired(), "refused": refused(),
    })
}

fn case(name: &str, jwt: &str, at: i64) -> Value {
    json!({ "name": name, "at": at, "jwt": jwt, "code": code::pack(jwt).unwrap() })
}

fn good() -> Vec<Value> {
    let (one, two) = (TestKey::one(), TestKey::two());
    let four = r#"[["31",20270831],["7",20270215],["112",20280229],["2147483647",20261231]]"#;
    let last = serial(sellion_badge::serial::COUNT - 1);
    let badges = [
        ("one respirator", &one, plain()),
        ("signed with the other key", &two, plain()),
        ("four respirators", &one, plain().replace(r#"[["31",20270831]]"#, four)),
        (
            "the first place and the first serial",
            &one,
            plain().replace("4711", "0").replace(&serial(7_777_777), &serial(0)),
        ),
        (
            "a high place and the last serial",
            &one,
            plain().replace("4711", "9999999").replace(&serial(7_777_777), &last),
        ),
        (
            "letters in the issuer and in the respirator",
            &one,
            plain().replace("8f2c01d94e7b", "Klinik Ø").replace("\"31\"", "\"AL-31_m\""),
        ),
        ("the last second", &one, plain()),
    ];
    let mut cases: Vec<Value> = badges
        .iter()
        .map(|(name, key, payload)| {
            let mut case = case(name, &key.jwt(HEADER, payload), AT);
            case["claims"] = serde_json::from_str(payload).unwrap();
            case
        })
        .collect();
    cases.last_mut().unwrap()["at"] = json!(1_819_999_999);
    cases
}

fn expired() -> Vec<Value> {
    let jwt = TestKey::one().jwt(HEADER, &plain());
    vec![case("at its end", &jwt, 1_820_000_000), case("a year later", &jwt, 1_851_536_000)]
}

/// Codes and JWTs that nobody may take for a badge.
fn refused() -> Vec<Value> {
    let mut cases = signatures();
    cases.extend(headers());
    cases.extend(claims());
    cases.extend(forms());
    cases
}

fn signatures() -> Vec<Value> {
    let (one, two, stranger) = (TestKey::one(), TestKey::two(), TestKey::named("a stranger's"));
    let jwt = one.jwt(HEADER, &plain());
    let (message, signature) = jwt.rsplit_once('.').unwrap();
    let bytes = URL_SAFE_NO_PAD.decode(signature).unwrap();
    let with = |signature: &[u8]| format!("{message}.{}", URL_SAFE_NO_PAD.encode(signature));
    let keyed = |header: &str| {
        let header = URL_SAFE_NO_PAD.encode(header.replace("KID", one.kid()));
        let message = format!("{header}.{}", URL_SAFE_NO_PAD.encode(plain()));
        let key = hmac::Key::new(hmac::HMAC_SHA256, one.point());
        format!("{message}.{}", URL_SAFE_NO_PAD.encode(hmac::sign(&key, message.as_bytes())))
    };
    let mut flipped = bytes.clone();
    flipped[40] ^= 4;
    let later = plain().replace("1820000000", "1820086400");
    let moved =
        format!("{}.{}.{signature}", message.split_once('.').unwrap().0, URL_SAFE_NO_PAD.encode(later));
    vec![
        case("a flipped bit in the signature", &with(&flipped), AT),
        case("a later end under the old signature", &moved, AT),
        case("R and S swapped", &with(&[&bytes[32..], &bytes[..32]].concat()), AT),
        case("a signature of zeros", &with(&[0; 64]), AT),
        case("a short signature", &with(&bytes[..63]), AT),
        case("a byte after the signature", &with(&[&bytes[..], &[0]].concat()), AT),
        case("an unknown key", &stranger.jwt(HEADER, &plain()), AT),
        case(
            "a stranger's signature under our kid",
            &stranger.jwt(&HEADER.replace("KID", one.kid()), &plain()),
            AT,
        ),
        case("the other key's kid", &one.jwt(&HEADER.replace("KID", two.kid()), &plain()), AT),
        case("HS256 with the public key as secret", &keyed(&HEADER.replace("ES256", "HS256")), AT),
        case("the same, called ES256", &keyed(HEADER), AT),
    ]
}

fn headers() -> Vec<Value> {
    let headers = [
        ("alg none", r#"{"alg":"none","kid":"KID"}"#),
        ("another algorithm's name", r#"{"alg":"ES384","kid":"KID"}"#),
        ("typ JWT", r#"{"alg":"ES256","kid":"KID","typ":"JWT"}"#),
        ("the typ of a status list", r#"{"alg":"ES256","kid":"KID","typ":"statuslist+jwt"}"#),
        ("a critical extension", r#"{"alg":"ES256","kid":"KID","crit":["exp"]}"#),
        ("a key in the header", r#"{"alg":"ES256","kid":"KID","jwk":{"kty":"EC"}}"#),
        ("the kid named twice", r#"{"alg":"ES256","kid":"KID","kid":"KID"}"#),
        ("no kid", r#"{"alg":"ES256"}"#),
        ("no object", r#"["ES256","KID"]"#),
    ];
    let key = TestKey::one();
    headers.iter().map(|(name, header)| case(name, &key.jwt(header, &plain()), AT)).collect()
}

fn claims() -> Vec<Value> {
    let good = plain();
    let serial = serial(7_777_777);
    let payloads = [
        ("an end named twice", good.replacen('{', r#"{"exp":1900000000,"#, 1)),
        ("a claim more", good.replacen('{', r#"{"nbf":0,"#, 1)),
        ("a claim less", good.replace(r#""sti":4711,"#, "")),
        ("an end before the beginning", good.replace("1820000000", "1790000000")),
        ("an end in words", good.replace("1820000000", "\"1820000000\"")),
        ("an end with a fraction", good.replace("1820000000", "1820000000.5")),
        ("an end after the year 9999", good.replace("1820000000", "253402300800")),
        ("a beginning before 1970", good.replace("1790000000", "-1")),
        ("a place below zero", good.replace("4711", "-1")),
        ("a serial that does not check", good.replace(&serial, "2222222223")),
        ("a serial with a dash", good.replace(&serial, &format!("{}-{}", &serial[..5], &serial[5..]))),
        ("no issuer", good.replace("8f2c01d94e7b", "")),
        ("no respirator", good.replace(r#"["31",20270831]"#, "")),
        ("five respirators", good.replace(r#"["31",20270831]"#, &[r#"["31",20270831]"#; 5].join(","))),
        ("a day that is none", good.replace("20270831", "20270229")),
        ("a respirator with a blank", good.replace("\"31\"", "\"3 1\"")),
        ("a list instead of claims", "[]".to_owned()),
        ("no JSON", good[1..].to_owned()),
    ];
    let key = TestKey::one();
    payloads.iter().map(|(name, payload)| case(name, &key.jwt(HEADER, payload), AT)).collect()
}

/// What goes wrong before a signature is looked at.
fn forms() -> Vec<Value> {
    let jwt = TestKey::one().jwt(HEADER, &plain());
    let text = code::pack(&jwt).unwrap();
    let raw = base45::decode(&text[code::PREFIX.len()..]).unwrap();
    let packed = |bytes: &[u8]| format!("{}{}", code::PREFIX, base45::encode(bytes));
    // 64 octets leave four unused bits in the last letter (RFC 4648 section 3.5).
    let alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
    let last = alphabet.find(&jwt[jwt.len() - 1..]).unwrap();
    let twin = format!("{}{}", &jwt[..jwt.len() - 1], &alphabet[last + 1..last + 2]);
    let codes = [
        ("another prefix", text.replacen("SL1:", "SL2:", 1)),
        ("no prefix", text[code::PREFIX.len()..].to_owned()),
        ("the prefix alone", code::PREFIX.to_owned()),
        ("small letters", text.to_lowercase()),
        ("a letter outside the alphabet", format!("{}#", &text[..text.len() - 1])),
        ("a length that base45 does not have", text[..text.len() / 3 * 3 - 1].to_owned()),
        ("a group that overflows", format!("{}GGW{}", code::PREFIX, &text[code::PREFIX.len() + 3..])),
        ("lengths beyond the end", packed(&[&[255, 255, 255], &raw[3..]].concat())),
        ("a header of no length", packed(&[&[0], &raw[1..]].concat())),
        ("nothing left for the signature", packed(&raw[..raw.len() - 64])),
        ("too long", packed(&[&raw[..], &[0; 400]].concat())),
    ];
    let tokens = [
        ("padding", format!("{jwt}=")),
        ("bits that no byte needs", twin),
        ("a fourth part", format!("{jwt}.AA")),
        ("two parts", jwt.rsplit_once('.').unwrap().0.to_owned()),
        ("an empty signature", format!("{}.", jwt.rsplit_once('.').unwrap().0)),
        ("a blank in front", format!(" {jwt}")),
    ];
    let codes = codes.iter().map(|(name, code)| json!({ "name": name, "at": AT, "code": code }));
    let tokens = tokens.iter().map(|(name, jwt)| json!({ "name": name, "at": AT, "jwt": jwt }));
    codes.chain(tokens).collect()
}
