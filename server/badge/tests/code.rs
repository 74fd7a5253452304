//! The text of a code: the very same token comes back, and nothing else is accepted.

#![allow(clippy::unwrap_used, reason = "an unmet expectation ends the test")]

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use proptest::prelude::*;
use sellion_badge::base45::{self, Base45Error};
use sellion_badge::code::{CodeError, LENGTH_MAX, PREFIX, pack, unpack};

/// RFC 7515 appendix A.3, facts 10.39 and 10.40.
const RFC_7515_A3: &str = "eyJhbGciOiJFUzI1NiJ9.eyJpc3MiOiJqb2UiLA0KICJleHAiOjEzMDA4MTkzODAsDQogImh0dHA6Ly9leGFt\
                           cGxlLmNvbS9pc19yb290Ijp0cnVlfQ.DtEhU3ljbEg8L38VWAfUAqOyKAM6-Xx-F4GawxaepmXFCgfTjDxw5\
                           djxLa8ISlSApmWQxfKTUJqPP3-Kg6NU1Q";

fn code_of(bytes: &[u8]) -> String {
    format!("{PREFIX}{}", base45::encode(bytes))
}

#[test]
fn the_token_of_rfc_7515_a3_comes_back_letter_for_letter() {
    let code = pack(RFC_7515_A3).unwrap();
    assert!(code.starts_with("SL1:"));
    assert!(base45::is_alphabet(&code));
    assert_eq!(unpack(&code).unwrap(), RFC_7515_A3);
}

/// RFC 7515 section 2: base64url without padding (fact 7.2); RFC 4648 section 3.5 for the trailing bits.
#[test]
fn only_canonical_base64url_is_packed() {
    for token in
        ["", "a", "..", "YQ..YQ", "YQ.YQ", "YQ.YQ.YQ.YQ", "YQ==.YQ.YQ", "YR.YQ.YQ", "Y+.YQ.YQ", "YQ.YQ.Y Q"]
    {
        assert_eq!(pack(token), Err(CodeError::Token), "{token:?}");
    }
    assert!(pack("YQ.YQ.YQ").is_ok());
}

#[test]
fn parts_that_outgrow_their_fields_are_refused() {
    let long = URL_SAFE_NO_PAD.encode([7; 256]);
    assert_eq!(pack(&format!("{long}.YQ.YQ")), Err(CodeError::Parts));
    let longer = URL_SAFE_NO_PAD.encode([7; 600]);
    assert_eq!(pack(&format!("YQ.{longer}.YQ")), Err(CodeError::TooLong));
    assert_eq!(pack(&"A".repeat(1_000_000)), Err(CodeError::TooLong));
}

#[test]
fn foreign_texts_are_refused_for_what_they_are() {
    let genuine = pack(RFC_7515_A3).unwrap();
    assert_eq!(unpack(""), Err(CodeError::Prefix));
    assert_eq!(unpack("https://shop.example/item/7"), Err(CodeError::Prefix));
    assert_eq!(unpack(&genuine.to_lowercase()), Err(CodeError::Prefix));
    assert_eq!(unpack(&genuine[1..]), Err(CodeError::Prefix));
    assert_eq!(unpack(PREFIX), Err(CodeError::Parts));
    assert_eq!(
        unpack(&format!("{genuine}\n")),
        Err(CodeError::Base45(Base45Error::Character { position: genuine.len() - 4 }))
    );
    assert_eq!(unpack(&format!("{PREFIX}{}", "0".repeat(LENGTH_MAX))), Err(CodeError::TooLong));
}

#[test]
fn lengths_inside_a_code_must_fit_it() {
    let one_each = [1, 0, 1, b'h', b'p', b's'];
    assert_eq!(unpack(&code_of(&one_each)).unwrap(), "aA.cA.cw");
    // A header that is too long, a payload that is too long, then each part empty.
    for bytes in [
        &[9, 0, 1, 1, 1, 1][..],
        &[1, 2, 0, 1, 1, 1],
        &[0, 0, 1, 1, 1],
        &[1, 0, 0, 1, 1],
        &[1, 0, 1, 1, 1],
        &[1, 0],
    ] {
        assert_eq!(unpack(&code_of(bytes)), Err(CodeError::Parts), "{bytes:?}");
    }
}

proptest! {
    #[test]
    fn whatever_is_packed_comes_back(
        header in prop::collection::vec(any::<u8>(), 1..60),
        payload in prop::collection::vec(any::<u8>(), 1..200),
        signature in prop::collection::vec(any::<u8>(), 1..80),
    ) {
        let token = [header, payload, signature].map(|part| URL_SAFE_NO_PAD.encode(part)).join(".");
        prop_assert_eq!(unpack(&pack(&token).unwrap()).unwrap(), token);
    }

    #[test]
    fn whatever_unpacks_packs_to_the_same_text(bytes in prop::collection::vec(any::<u8>(), 0..120)) {
        let code = code_of(&bytes);
        if let Ok(token) = unpack(&code) {
            prop_assert_eq!(pack(&token).unwrap(), code);
        }
    }

    #[test]
    fn no_text_panics(text in any::<String>()) {
        let _ = unpack(&text);
        let _ = unpack(&format!("{PREFIX}{text}"));
        let _ = pack(&text);
    }
}
