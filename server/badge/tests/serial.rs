//! Serials: what a hand or an eye gets wrong is noticed.

#![allow(clippy::unwrap_used, reason = "an unmet expectation ends the test")]

use proptest::prelude::*;
use sellion_badge::serial::{ALPHABET, COUNT, Serial, SerialError};
use uuid::Uuid;

#[test]
fn a_serial_is_shown_in_two_groups_and_read_in_any_dress() {
    let serial = Serial::from_number(7_919_000_000_011).unwrap();
    let shown = serial.to_string();
    assert_eq!((shown.len(), shown.find('-')), (11, Some(5)));
    let spaced: String = shown.to_lowercase().replace('-', " ").chars().flat_map(|c| [c, ' ']).collect();
    for typed in [shown.clone(), shown.to_lowercase(), serial.compact(), spaced, format!("\t{shown}\n")] {
        assert_eq!(Serial::parse(&typed), Ok(serial), "{typed:?}");
    }
}

#[test]
fn refusals_say_what_is_wrong() {
    let shown = Serial::from_number(12_345).unwrap().to_string();
    assert_eq!(Serial::parse(""), Err(SerialError::Length));
    assert_eq!(Serial::parse(&shown[1..]), Err(SerialError::Length));
    assert_eq!(Serial::parse(&format!("{shown}2")), Err(SerialError::Length));
    assert_eq!(Serial::parse(&"2".repeat(10_000)), Err(SerialError::Length));
    assert_eq!(Serial::parse("0222222222"), Err(SerialError::Character('0')));
    assert_eq!(Serial::parse("ß222222222"), Err(SerialError::Character('ß')));
    assert_eq!(Serial::from_number(COUNT), Err(SerialError::Number));
    assert!(Serial::from_number(COUNT - 1).is_ok());
}

/// No character that is easily taken for another one that is in use.
#[test]
fn the_alphabet_has_no_look_alikes() {
    assert!(ALPHABET.iter().all(|character| !b"01ILOUZ".contains(character)));
    assert_eq!(ALPHABET.len(), 29);
}

#[test]
fn a_serial_in_json_is_its_ten_characters() {
    let serial = Serial::from_number(99).unwrap();
    let json = serde_json::to_string(&serial).unwrap();
    assert_eq!(json, format!("\"{}\"", serial.compact()));
    assert_eq!(serde_json::from_str::<Serial>(&json).unwrap(), serial);
    assert!(serde_json::from_str::<Serial>("\"2222222223\"").is_err());
}

#[test]
fn neighbouring_uuids_of_version_7_give_unlike_serials() {
    let first = Serial::from_uuid(Uuid::from_u128(0x0190_8f5d_31ab_7a01_8123_4567_89ab_cdef));
    let second = Serial::from_uuid(Uuid::from_u128(0x0190_8f5d_31ab_7a02_9fed_cba9_8765_4321));
    assert_ne!(first.compact()[..5], second.compact()[..5]);
}

proptest! {
    #[test]
    fn every_number_has_its_own_serial_that_reads_back(number in 0..COUNT) {
        let serial = Serial::from_number(number).unwrap();
        prop_assert_eq!(Serial::parse(&serial.to_string()), Ok(serial));
        prop_assert_ne!(Serial::from_number((number + 1) % COUNT).unwrap(), serial);
    }

    #[test]
    fn every_uuid_has_a_serial(bits in any::<u128>()) {
        let serial = Serial::from_uuid(Uuid::from_u128(bits));
        prop_assert_eq!(Serial::parse(&serial.to_string()), Ok(serial));
    }

    #[test]
    fn one_wrong_character_is_always_noticed(number in 0..COUNT, place in 0..10usize, shift in 1..29usize) {
        let mut typed = Serial::from_number(number).unwrap().compact().into_bytes();
        let value = ALPHABET.iter().position(|c| *c == typed[place]).unwrap();
        typed[place] = ALPHABET[(value + shift) % ALPHABET.len()];
        prop_assert_eq!(Serial::parse(&String::from_utf8(typed).unwrap()), Err(SerialError::Check));
    }

    #[test]
    fn two_exchanged_characters_are_always_noticed(number in 0..COUNT, one in 0..10usize, two in 0..10usize) {
        let mut typed = Serial::from_number(number).unwrap().compact().into_bytes();
        prop_assume!(typed[one] != typed[two]);
        typed.swap(one, two);
        prop_assert_eq!(Serial::parse(&String::from_utf8(typed).unwrap()), Err(SerialError::Check));
    }

    #[test]
    fn no_text_panics(text in any::<String>()) {
        let _ = Serial::parse(&text);
    }
}
