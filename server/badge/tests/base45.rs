//! Base45 against RFC 9285.

#![allow(clippy::unwrap_used, reason = "an unmet expectation ends the test")]

use proptest::prelude::*;
use sellion_badge::base45::{Base45Error, decode, encode};

/// RFC 9285 section 4.3, fact 10.44.
#[test]
fn encodes_the_examples_of_rfc_9285() {
    assert_eq!(encode(b"AB"), "BB8");
    assert_eq!(encode(b"Hello!!"), "%69 VD92EX0");
    assert_eq!(encode(b"base-45"), "UJCLQE7W581");
    assert_eq!(encode(b""), "");
}

/// RFC 9285 section 4.4, fact 10.45.
#[test]
fn decodes_the_example_of_rfc_9285() {
    assert_eq!(decode("QED8WEX0").unwrap(), b"ietf!");
}

/// RFC 9285 section 6, fact 10.46.
#[test]
fn refuses_what_rfc_9285_section_6_forbids() {
    assert_eq!(decode("FGW").unwrap(), [0xff, 0xff]);
    assert_eq!(decode("GGW"), Err(Base45Error::Overflow { position: 0 }));
    assert_eq!(decode("BB8:::"), Err(Base45Error::Overflow { position: 3 }));
    assert_eq!(decode("bb8"), Err(Base45Error::Character { position: 0 }));
    assert_eq!(decode("BB8é"), Err(Base45Error::Character { position: 3 }));
    assert_eq!(decode("B"), Err(Base45Error::Length { length: 1 }));
    assert_eq!(decode("BB8B"), Err(Base45Error::Length { length: 4 }));
    // A last group of two holds one byte: 5 * 45 + 30 = 255 is the highest.
    assert_eq!(decode("U5").unwrap(), [0xff]);
    assert_eq!(decode("V5"), Err(Base45Error::Overflow { position: 0 }));
}

proptest! {
    #[test]
    fn every_byte_string_comes_back(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        prop_assert_eq!(decode(&encode(&bytes)).unwrap(), bytes);
    }

    #[test]
    fn what_decodes_has_one_text_only(text in "[0-9A-Z $%*+./:-]{0,60}") {
        if let Ok(bytes) = decode(&text) {
            prop_assert_eq!(encode(&bytes), text);
        }
    }

    #[test]
    fn no_text_panics(text in any::<String>()) {
        let _ = decode(&text);
    }
}
