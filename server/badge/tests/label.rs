//! The codes of supply labels: there and back, what is misread, and what they are not mistaken for.

#![allow(clippy::unwrap_used, reason = "an unmet expectation ends the test")]

use proptest::prelude::*;
use sellion_badge::label::{ALPHABET, LENGTH, LabelError, PREFIX};
use sellion_badge::qr::QrMatrix;
use sellion_badge::{Label, LabelKind, Serial, base45, code};
use uuid::Uuid;

fn label(kind: LabelKind, id: u128) -> Label {
    Label { kind, id: Uuid::from_u128(id) }
}

fn any_label() -> impl Strategy<Value = Label> {
    (0_usize..3, any::<u128>()).prop_map(|(kind, id)| label(LabelKind::ALL[kind], id))
}

#[test]
fn the_ends_of_the_ids_come_back() {
    for kind in LabelKind::ALL {
        for id in [0, 1, 30, 31, u128::MAX, u128::MAX - 1, 1 << 127] {
            let label = label(kind, id);
            assert_eq!(label.text().len(), LENGTH);
            assert_eq!(Label::parse(&label.text()), Ok(label));
        }
    }
    assert_eq!(LENGTH, 32);
}

/// A label stays the same for as long as it sticks to its bottle: this text must be read for ever.
#[test]
fn a_label_once_printed_is_always_read() {
    let id = "01936f2e-7c1a-7b3d-8e5f-a1b2c3d4e5f6".parse().unwrap();
    let bottle = Label { kind: LabelKind::Bottle, id };
    let fixed = "SU1:B03BMNSE81H1XHF3NRPTP48HK4MN";
    assert_eq!(bottle.text(), fixed);
    assert_eq!(Label::parse(fixed), Ok(bottle));
}

#[test]
fn what_is_no_label_is_refused_for_its_reason() {
    let text = label(LabelKind::Hood, 42).text();
    let cases = [
        ("", LabelError::Prefix),
        ("SL1:QED8WEX0", LabelError::Prefix),
        ("0109506000134352", LabelError::Prefix),
        (&text[1..], LabelError::Prefix),
        (PREFIX, LabelError::Length),
        (&text[..LENGTH - 1], LabelError::Length),
        (&format!("{text}0"), LabelError::Length),
        (&"S".repeat(10_000), LabelError::Length),
        (&text.replace('H', "Z"), LabelError::Character('Z')),
        (&text.replace('H', "ß"), LabelError::Character('ß')),
        (&text.replace('H', "N"), LabelError::Check),
        // A text whose check is right although nothing of ours wrote it.
        ("SU1:0000000000000000000000000000", LabelError::Kind('0')),
    ];
    for (text, error) in cases {
        assert_eq!(Label::parse(text), Err(error), "{text:?}");
    }
}

/// The largest number that 26 characters hold is no id: it is refused, not cut off.
#[test]
fn a_number_above_every_id_is_refused() {
    let largest = format!("B{}", "Y".repeat(26));
    let readings: Vec<_> =
        ALPHABET.iter().map(|c| Label::parse(&format!("{PREFIX}{largest}{}", char::from(*c)))).collect();
    assert!(readings.iter().all(|reading| *reading == Err(LabelError::Check)), "{readings:?}");
}

/// A version 2 symbol at level M holds 38 characters in alphanumeric mode (ISO/IEC 18004, table of capacities).
#[test]
fn the_code_is_small_and_alphanumeric() {
    let text = label(LabelKind::Nebulizer, u128::MAX).text();
    assert!(base45::is_alphabet(&text));
    assert_eq!(QrMatrix::encode(&text).unwrap().version(), 2);
}

proptest! {
    #[test]
    fn every_label_comes_back(label in any_label()) {
        prop_assert_eq!(Label::parse(&label.text()), Ok(label));
        let shown = label.to_string();
        prop_assert_eq!(Label::parse(&shown), Ok(label));
        prop_assert_eq!(Label::parse(&format!(" {} \r\n", shown.to_lowercase().replace('-', " "))), Ok(label));
        prop_assert_eq!(Label::parse(&label.text().replace('0', "O").replace("1", "I").replace("SUI", "SU1")), Ok(label));
    }

    /// Never taken for a badge's code or serial, nor those for a label.
    #[test]
    fn labels_and_badges_are_told_apart(label in any_label(), number in 0..sellion_badge::serial::COUNT) {
        prop_assert_eq!(code::unpack(&label.text()), Err(code::CodeError::Prefix));
        prop_assert!(Serial::parse(&label.text()).is_err());
        prop_assert!(Serial::parse(&label.to_string()).is_err());
        let serial = Serial::from_number(number).unwrap();
        prop_assert_eq!(Label::parse(&serial.to_string()), Err(LabelError::Prefix));
        let badge = format!("{}{}", code::PREFIX, serial.compact());
        prop_assert_eq!(Label::parse(&badge), Err(LabelError::Prefix));
    }

    /// One wrong character, the kind included, or two exchanged: always found.
    #[test]
    fn a_misread_character_is_found(label in any_label(), place in 4_usize..LENGTH, to in 0_usize..31, other in 4_usize..LENGTH) {
        let good = label.text().into_bytes();
        let mut wrong = good.clone();
        wrong[place] = ALPHABET[to];
        let mut exchanged = good.clone();
        exchanged.swap(place, other);
        for text in [wrong, exchanged] {
            if text != good {
                prop_assert_eq!(Label::parse(&String::from_utf8(text).unwrap()), Err(LabelError::Check));
            }
        }
    }

    #[test]
    fn no_text_makes_it_panic(text in "\\PC{0,60}", rubble in "(SU1:)?[0-9A-Za-z ö-]{0,40}") {
        for text in [text, rubble] {
            if let Ok(label) = Label::parse(&text) {
                prop_assert_eq!(Label::parse(&label.text()), Ok(label));
            }
        }
    }
}
