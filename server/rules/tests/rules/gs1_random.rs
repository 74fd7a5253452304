//! Supply labels at random: what an independent writer wrote is read back, and nothing makes the reader panic.

use std::collections::BTreeSet;

use proptest::prelude::*;
use sellion_rules::gs1::read_label;

/// The identifiers that need no separator after their value (GS1 General Specifications section 7.8.5).
const SELF_ENDING: [&str; 8] = ["00", "01", "11", "17", "20", "3102", "3650", "414"];

fn matching(regex: &str) -> impl Strategy<Value = String> + use<> {
    prop::string::string_regex(regex).expect("a regular expression")
}

/// So many characters of set 82 (section 7.11).
fn set_82(min: usize, max: usize) -> impl Strategy<Value = String> {
    matching(&format!(r#"[!"%-?A-Z_a-z]{{{min},{max}}}"#))
}

/// An element and what it is made of, written without looking at the program's own table.
fn element() -> impl Strategy<Value = (String, String)> {
    let date = (0_u32..100, 1_u32..=12, 0_u32..=28)
        .prop_map(|(year, month, day)| format!("{year:02}{month:02}{day:02}"));
    let document = (with_check_digit(13), set_82(0, 17)).prop_map(|(key, serial)| format!("{key}{serial}"));
    prop_oneof![
        (Just("01".to_owned()), with_check_digit(14)),
        (Just("00".to_owned()), with_check_digit(18)),
        (Just("414".to_owned()), with_check_digit(13)),
        (matching("1[17]"), date),
        (matching("10|2[12]|243"), set_82(1, 20)),
        (matching("30|37"), matching("[0-9]{1,8}")),
        (matching("3102|3650"), matching("[0-9]{6}")),
        (Just("20".to_owned()), matching("[0-9]{2}")),
        (matching("9[1-9]"), set_82(1, 90)),
        (Just("253".to_owned()), document),
    ]
}

/// A key of so many digits, its check digit worked out from the left as a till does it.
fn with_check_digit(digits: usize) -> impl Strategy<Value = String> {
    matching(&format!("[0-9]{{{}}}", digits - 1)).prop_map(move |front| {
        let weights = (1..digits).map(|place| if (digits - place) % 2 == 1 { 3 } else { 1 });
        let sum: u32 =
            front.bytes().zip(weights).map(|(digit, weight)| u32::from(digit - b'0') * weight).sum();
        format!("{front}{}", (10 - sum % 10) % 10)
    })
}

/// Elements with identifiers that are all different.
fn elements() -> impl Strategy<Value = Vec<(String, String)>> {
    prop::collection::vec(element(), 1..8).prop_map(|elements| {
        let mut seen = BTreeSet::new();
        elements.into_iter().filter(|(ai, _)| seen.insert(ai.clone())).collect()
    })
}

fn as_scanned(elements: &[(String, String)]) -> String {
    let mut text = String::new();
    for (index, (ai, value)) in elements.iter().enumerate() {
        text.push_str(ai);
        text.push_str(value);
        if index + 1 < elements.len() && !SELF_ENDING.contains(&ai.as_str()) {
            text.push('\u{1d}');
        }
    }
    text
}

/// Everything on the label as it was read, whichever member it went to.
fn read_back(text: &str, year: i32) -> BTreeSet<(String, String)> {
    let label = read_label(text, year).unwrap_or_else(|refusal| panic!("{text:?}: {refusal}"));
    let named = [
        ("01", label.gtin),
        ("10", label.lot_number),
        ("17", label.expiry.map(|expiry| expiry.yymmdd)),
        ("21", label.serial),
    ];
    let others = label.others.into_iter().map(|other| (other.ai, other.value));
    others.chain(named.into_iter().filter_map(|(ai, value)| Some((ai.to_owned(), value?)))).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_was_written_is_read(elements in elements(), year in 1990_i32..2110) {
        let text = as_scanned(&elements);
        let wanted: BTreeSet<_> = elements.iter().filter(|(ai, _)| ai != "30").cloned().collect();
        prop_assert_eq!(read_back(&text, year), wanted);
        let count = elements.iter().find(|(ai, _)| ai == "30").map(|(_, value)| value.parse().expect("a number"));
        prop_assert_eq!(read_label(&text, year).expect("a label").count, count);
        let marked = format!("]d2{text}\r\n");
        prop_assert_eq!(read_label(&marked, year), read_label(&text, year));
    }

    /// The year that is read is at most 49 before and 50 after the present one (section 7.12, fact 8.4).
    #[test]
    fn the_century_window_is_a_hundred_years(year in 1000_i32..8000, two_digits in 0_i32..100) {
        let label = read_label(&format!("17{two_digits:02}0100"), year).expect("a label");
        let printed = label.expiry.expect("an expiry").printed_expiry.to_string();
        let read: i32 = printed[..4].parse().expect("a year");
        prop_assert_eq!(read.rem_euclid(100), two_digits);
        prop_assert!((-49..=50).contains(&(read - year)), "{} in {}", read, year);
    }

    /// One digit of an item number changed: never read as another item.
    #[test]
    fn a_changed_digit_is_never_another_item(gtin in with_check_digit(14), place in 0_usize..14, by in 1_u8..10) {
        let mut digits = gtin.into_bytes();
        digits[place] = (digits[place] - b'0' + by) % 10 + b'0';
        let text = format!("01{}", String::from_utf8(digits).expect("digits"));
        prop_assert!(read_label(&text, 2026).is_err());
    }

    #[test]
    fn no_bytes_make_it_panic(bytes in prop::collection::vec(any::<u8>(), 0..200), year in any::<i32>()) {
        let _ = read_label(&String::from_utf8_lossy(&bytes), year);
    }

    /// Nearer to labels than bytes: digits, parentheses, separators and a few others in any order.
    #[test]
    fn no_rubble_of_labels_makes_it_panic(text in "(]C1)?[0-9()A\u{1d} ö]{0,80}", year in any::<i32>()) {
        if let Err(refusal) = read_label(&text, year) {
            prop_assert_eq!(refusal.code.as_str(), "label_unreadable");
            prop_assert!(refusal.facts.contains_key("position"));
        }
    }
}
