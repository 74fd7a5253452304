//! Status lists: those of the draft's examples, one of ours, and what nobody may take for one.

use std::io::Write as _;

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use flate2::{Compression, write::ZlibEncoder};
use sellion_badge::status_list::{Status, Statuses, path};
use serde_json::{Value, json};

use crate::NOTE;
use crate::keys::{TestKey, jwks};

const HEADER: &str = r#"{"alg":"ES256","kid":"KID","typ":"statuslist+jwt"}"#;
const ISSUER: &str = "8f2c01d94e7b";
const AT: i64 = 1_790_100_000;

/// Token Status List, "Status List" (facts 10.47 and 10.48): the compressed bytes as the draft prints them.
const ONE_BIT: (&str, [u8; 16]) = ("eNrbuRgAAhcBXQ", [1, 0, 0, 1, 1, 1, 0, 1, 1, 1, 0, 0, 0, 1, 0, 1]);
const TWO_BITS: (&str, [u8; 12]) = ("eNo76fITAAPfAgc", [1, 2, 0, 3, 0, 1, 0, 1, 1, 2, 3, 3]);

fn claims(bits: u8, lst: &str) -> Value {
    json!({
        "sub": format!("https://fit.example{}", path(ISSUER)), "iat": 1_790_000_000, "exp": 1_790_604_800,
        "ttl": 300, "status_list": { "bits": bits, "lst": lst },
    })
}

fn case(name: &str, jwt: &str) -> Value {
    json!({ "name": name, "issuer": ISSUER, "at": AT, "jwt": jwt })
}

fn signed(claims: &Value) -> String {
    TestKey::one().jwt(HEADER, &claims.to_string())
}

/// Not compressed at all, which is zlib as well and comes out the same from every library.
fn zlib(bytes: &[u8]) -> Vec<u8> {
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::none());
    encoder.write_all(bytes).unwrap();
    encoder.finish().unwrap()
}

pub(crate) fn all() -> Value {
    json!({ "note": NOTE, "jwks": jwks(), "good": good(), "refused": refused() })
}

fn good() -> Vec<Value> {
    let of = |name: &str, bits: u8, lst: &str, values: &[u8]| {
        let mut case = case(name, &signed(&claims(bits, lst)));
        case["values"] = json!(values);
        case
    };
    let mut ours = Statuses::valid(1000);
    let mut values = vec![0; 1000];
    for index in (0_u16..1000).filter(|index| index % 7 == 0 || index % 11 == 0) {
        let (status, value) = if index % 7 == 0 { (Status::Ended, 1) } else { (Status::Held, 2) };
        assert!(ours.set(index.into(), status));
        values[usize::from(index)] = value;
    }
    let lst = URL_SAFE_NO_PAD.encode(zlib(ours.bytes()));
    let mut bare = claims(2, TWO_BITS.0);
    for member in ["exp", "ttl"] {
        bare.as_object_mut().unwrap().remove(member);
    }
    let mut lasting = case("one that does not say how long it is good", &signed(&bare));
    lasting["values"] = json!(TWO_BITS.1);
    vec![
        of("the draft's example of one bit", 1, ONE_BIT.0, &ONE_BIT.1),
        of("the draft's example of two bits", 2, TWO_BITS.0, &TWO_BITS.1),
        of("a thousand badges", 2, &lst, &values),
        lasting,
    ]
}

fn refused() -> Vec<Value> {
    let good = claims(2, TWO_BITS.0);
    let bytes = URL_SAFE_NO_PAD.decode(TWO_BITS.0).unwrap();
    let lst = |bytes: &[u8]| signed(&claims(2, &URL_SAFE_NO_PAD.encode(bytes)));
    let with = |member: &str, value: Value| {
        let mut claims = good.clone();
        claims[member] = value;
        signed(&claims)
    };
    let without = |member: &str| {
        let mut claims = good.clone();
        claims.as_object_mut().unwrap().remove(member);
        signed(&claims)
    };
    let key = TestKey::one();
    let payload = good.to_string();
    vec![
        case("no typ, like a badge", &key.jwt(r#"{"alg":"ES256","kid":"KID"}"#, &payload)),
        case("another typ", &key.jwt(&HEADER.replace("statuslist+jwt", "jwt"), &payload)),
        case("alg none", &key.jwt(&HEADER.replace("ES256", "none"), &payload)),
        case("an unknown key", &TestKey::named("a stranger's").jwt(HEADER, &payload)),
        case(
            "the list of another issuer",
            &with("sub", json!(format!("https://fit.example{}", path("000000000000")))),
        ),
        case("over", &with("exp", json!(AT))),
        case("three bits", &signed(&claims(3, TWO_BITS.0))),
        case("padding", &signed(&claims(2, &format!("{}=", TWO_BITS.0)))),
        case("a byte after the stream", &lst(&[&bytes[..], &[0]].concat())),
        case("a stream that is cut off", &lst(&bytes[..bytes.len() - 1])),
        case("a wrong checksum", &lst(&[&bytes[..bytes.len() - 1], &[0]].concat())),
        case("no address", &without("sub")),
        case("no time", &without("iat")),
        case("no list", &without("status_list")),
    ]
}
