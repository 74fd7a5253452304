//! Supply labels: the examples and rules of the GS1 General Specifications, one by one.

use sellion_rules::gs1::{Element, LabelProblem, SupplyLabel, read_label};
use sellion_rules::refusal::{Code, FactValue, Refusal};

const YEAR: i32 = 2026;
const GTIN: &str = "09506000134352";

fn read(text: &str) -> SupplyLabel {
    read_label(text, YEAR).unwrap_or_else(|refusal| panic!("{text:?}: {refusal}"))
}

fn refused(text: &str) -> Refusal {
    read_label(text, YEAR).expect_err(text)
}

/// Problem, position and identifier of a refusal.
fn facts(refusal: &Refusal) -> (LabelProblem, i64, Option<String>) {
    let text = |name| match refusal.facts.get(name) {
        Some(FactValue::Text(text)) => Some(text.clone()),
        _ => None,
    };
    let Some(FactValue::Number(position)) = refusal.facts.get("position") else { panic!("no position") };
    (text("problem").expect("a problem").parse().expect("a known problem"), *position, text("ai"))
}

fn assert_refused(text: &str, problem: LabelProblem, position: i64, ai: Option<&str>) {
    let refusal = refused(text);
    assert_eq!((refusal.code, refusal.field.as_deref()), (Code::LabelUnreadable, Some("text")), "{text:?}");
    assert_eq!(facts(&refusal), (problem, position, ai.map(str::to_owned)), "{text:?}: {refusal}");
    assert!(refusal.detail.ends_with('.') && refusal.detail.len() > 40, "{refusal}");
}

fn others(label: &SupplyLabel) -> Vec<(&str, &str)> {
    label.others.iter().map(|Element { ai, value }| (ai.as_str(), value.as_str())).collect()
}

/// The string of predefined lengths first, then a lot and a serial (GS1 General Specifications section 7.8, from
/// memory; the item number is one of those that GS1 prints as examples, fact 8.2).
#[test]
fn fact_8_2_item_expiry_lot_serial_and_count_are_read() {
    let label = read("01095060001343521728123110L30-AB.7\u{1d}21SN_001");
    assert_eq!(label.gtin.as_deref(), Some(GTIN));
    assert_eq!(label.lot_number.as_deref(), Some("L30-AB.7"));
    assert_eq!(label.serial.as_deref(), Some("SN_001"));
    assert_eq!(label.count, None);
    let expiry = label.expiry.expect("an expiry");
    assert_eq!((expiry.yymmdd.as_str(), expiry.printed_expiry.as_printed()), ("281231", "2028-12-31"));
    assert_eq!(expiry.expires_on.to_string(), "2028-12-31");
    let counted = read("01095060001343523012\u{1d}10A1");
    assert_eq!((counted.count, counted.lot_number.as_deref()), (Some(12), Some("A1")));
    assert_eq!(read("3000000012").count, Some(12));
}

/// Section 5 of the specification: the symbology identifiers of the symbols that carry element strings (from memory);
/// section 7.8: FNC1 arrives as the group separator. Leading and trailing ones are common practice, no source.
#[test]
fn every_way_a_scanner_delivers_the_same_label_reads_the_same() {
    let plain = "010950600013435217270831\u{1d}10AB12\u{1d}21X9";
    let wanted = read(plain);
    assert_eq!((wanted.lot_number.as_deref(), wanted.serial.as_deref()), (Some("AB12"), Some("X9")));
    let printed = "(01)09506000134352(17)270831(10)AB12(21)X9";
    let spaced = " (01) 0 9506000 134352\n(17) 270831 (10) AB12 (21) X9 \r\n";
    for text in [printed, spaced, "]C1(01)09506000134352(17)270831(10)AB12(21)X9"] {
        assert_eq!(read(text), wanted, "{text:?}");
    }
    for front in ["]C1", "]d2", "]Q3", "]e0", "\u{1d}", "]d2\u{1d}", "\u{1d}\u{1d}", "  ", "\t]C1"] {
        for end in ["", "\u{1d}", "\r\n", "\u{1d}\n", " "] {
            assert_eq!(read(&format!("{front}{plain}{end}")), wanted, "{front:?} {end:?}");
        }
    }
}

/// Section 7.8.6: a separator after a value of predefined length is more than is needed and is passed over.
#[test]
fn separators_that_are_not_needed_do_no_harm() {
    let wanted = read("01095060001343521727083110AB12");
    for text in ["0109506000134352\u{1d}17270831\u{1d}10AB12", "0109506000134352\u{1d}\u{1d}1727083110AB12"] {
        assert_eq!(read(text), wanted, "{text:?}");
    }
}

/// Section 7.8.5, the table of predefined lengths, and section 3.2, the list of identifiers: what is not asked for is
/// kept, and what follows it is still found.
#[test]
fn other_elements_are_passed_over_rightly_and_kept() {
    let label = read(
        "00106141411234567897\
         310300150011270102\
         2414MD-77\u{1d}\
         8005000365\u{1d}\
         91any(10)thing\u{1d}\
         10LOT9",
    );
    let wanted = [
        ("00", "106141411234567897"),
        ("3103", "001500"),
        ("11", "270102"),
        ("241", "4MD-77"),
        ("8005", "000365"),
        ("91", "any(10)thing"),
    ];
    assert_eq!(others(&label), wanted);
    assert_eq!(label.lot_number.as_deref(), Some("LOT9"));
    let parts = read("4218264AB\u{1d}423250276\u{1d}70032708311200\u{1d}");
    assert_eq!(others(&parts), [("421", "8264AB"), ("423", "250276"), ("7003", "2708311200")]);
}

/// Day 00 is the last day of the month (GS1 General Specifications section 3.4; fact 8.3 with its own example).
#[test]
fn fact_8_3_day_00_is_the_last_day_of_the_month() {
    let table = [
        ("210300", "2021-03", "2021-03-31"),
        ("210200", "2021-02", "2021-02-28"),
        ("240200", "2024-02", "2024-02-29"),
        ("270400", "2027-04", "2027-04-30"),
        ("271200", "2027-12", "2027-12-31"),
        ("240229", "2024-02-29", "2024-02-29"),
        ("270101", "2027-01-01", "2027-01-01"),
    ];
    for (yymmdd, printed, last_day) in table {
        let expiry = read(&format!("17{yymmdd}")).expiry.expect("an expiry");
        assert_eq!(expiry.yymmdd, yymmdd);
        assert_eq!(expiry.printed_expiry.as_printed(), printed);
        // What a lot keeps reads back as the same day.
        assert_eq!(expiry.printed_expiry.as_printed().parse(), Ok(expiry.printed_expiry.clone()));
        assert_eq!(expiry.expires_on.to_string(), last_day);
        assert_eq!(expiry.printed_expiry.last_day(), expiry.expires_on);
    }
}

/// The sliding window for the century (GS1 General Specifications section 7.12, from memory; fact 8.4), at its edges.
#[test]
fn fact_8_4_two_digits_of_a_year_slide_with_the_present() {
    let table = [
        (2026, "26", 2026),
        (2026, "76", 2076),
        (2026, "77", 1977),
        (2026, "99", 1999),
        (2026, "00", 2000),
        (2050, "00", 2100),
        (2050, "01", 2001),
        (2049, "00", 2000),
        (2049, "99", 2099),
        (2048, "99", 1999),
        (2099, "00", 2100),
        (2099, "49", 2149),
        (2099, "50", 2050),
        (2000, "50", 2050),
        (2000, "51", 1951),
        (1999, "00", 2000),
    ];
    for (this_year, two_digits, wanted) in table {
        let label = read_label(&format!("17{two_digits}0600"), this_year).expect("a label");
        let printed = label.expiry.expect("an expiry").printed_expiry;
        assert_eq!(printed.as_printed(), format!("{wanted}-06"), "{two_digits} in {this_year}");
    }
    // 2100 is no leap year, 2000 was one: the century is settled before the day is judged.
    assert!(read_label("17000229", 2060).is_err());
    assert!(read_label("17000229", 2026).is_ok());
}

/// Section 7.9.1: the check digit; every single wrong digit is found.
#[test]
fn a_wrong_check_digit_is_found() {
    for good in [
        "0109506000134352",
        "0106291041500213",
        "0200614141999996",
        "00106141411234567897",
        "4140614141000012",
    ] {
        let reading = read_label(good, YEAR);
        assert!(reading.is_ok(), "{good}: {reading:?}");
        let start = if good.starts_with("41") { 3 } else { 2 };
        for index in start..good.len() {
            for digit in '0'..='9' {
                let mut text: Vec<char> = good.chars().collect();
                if text[index] == digit {
                    continue;
                }
                text[index] = digit;
                let text: String = text.into_iter().collect();
                assert_refused(&text, LabelProblem::CheckDigit, 1, Some(&good[..start]));
            }
        }
    }
}

/// Each refusal names the place in the text as given, from 1, and the identifier meant.
#[test]
fn what_cannot_be_read_is_refused_by_its_place() {
    use LabelProblem as P;
    let table: &[(&str, P, i64, Option<&str>)] = &[
        ("", P::Nothing, 0, None),
        (" \r\n", P::Nothing, 0, None),
        ("]C1\u{1d}", P::Nothing, 0, None),
        ("]E04006381333931", P::OtherKind, 1, None),
        ("]C0ABC", P::OtherKind, 1, None),
        ("]d", P::OtherKind, 1, None),
        ("ABC", P::NoIdentifier, 1, None),
        ("1", P::NoIdentifier, 1, None),
        ("SU1:B", P::NoIdentifier, 1, None),
        ("(AB)12", P::NoIdentifier, 1, None),
        ("0409506000134352", P::UnknownIdentifier, 1, Some("04")),
        ("1727083105X", P::UnknownIdentifier, 9, Some("05")),
        ("17270831\u{1d}6612", P::UnknownIdentifier, 10, Some("6612")),
        ("]d217270831\u{1d}3110", P::Empty, 13, Some("3110")),
        ("3109001234", P::UnknownIdentifier, 1, Some("3109")),
        ("10A\u{1d}44", P::UnknownIdentifier, 5, Some("44")),
        ("(01)09506000134352(05)X", P::UnknownIdentifier, 19, Some("05")),
        ("(12345)X", P::NoIdentifier, 1, None),
        ("10", P::Empty, 1, Some("10")),
        ("10\u{1d}17270831", P::Empty, 1, Some("10")),
        ("(10)(17)270831", P::Empty, 1, Some("10")),
        ("17270831\u{1d}(10)A", P::NoIdentifier, 10, None),
        ("01095060001343", P::TooShort, 1, Some("01")),
        ("010950600013435\u{1d}10A", P::TooShort, 1, Some("01")),
        ("172708", P::TooShort, 1, Some("17")),
        ("10ABCDEFGHIJKLMNOPQRSTU", P::TooLong, 1, Some("10")),
        ("30123456789", P::TooLong, 1, Some("30")),
        ("80050003651\u{1d}", P::TooLong, 1, Some("8005")),
        ("4232502761", P::TooLong, 1, Some("423")),
        ("(17)2708310", P::TooLong, 1, Some("17")),
        ("10AB 12", P::Character, 5, Some("10")),
        ("10AB#12", P::Character, 5, Some("10")),
        ("  10ABö", P::Character, 7, Some("10")),
        ("10AB\u{7f}", P::Character, 5, Some("10")),
        ("0109506O00134352", P::Character, 8, Some("01")),
        ("(10)AB\u{1d}12", P::Character, 7, Some("10")),
        ("30１2", P::Character, 3, Some("30")),
        ("17271301", P::Date, 1, Some("17")),
        ("17270001", P::Date, 1, Some("17")),
        ("17270132", P::Date, 1, Some("17")),
        ("17270230", P::Date, 1, Some("17")),
        ("17270229", P::Date, 1, Some("17")),
        ("17270431", P::Date, 1, Some("17")),
        ("11271301", P::Date, 1, Some("11")),
        ("10A\u{1d}10B", P::Contradiction, 5, Some("10")),
        ("1727083117270830", P::Contradiction, 9, Some("17")),
        ("91A\u{1d}91B", P::Contradiction, 5, Some("91")),
    ];
    for (text, problem, position, ai) in table {
        assert_refused(text, *problem, *position, *ai);
    }
    assert_refused(&"1".repeat(7090), P::LabelTooLong, 7089, None);
}

/// The same element twice with the same value says nothing new (section 7.8, from memory).
#[test]
fn the_same_twice_counts_once() {
    let label = read("10A1\u{1d}91Q\u{1d}10A1\u{1d}91Q");
    assert_eq!((label.lot_number.as_deref(), others(&label)), (Some("A1"), vec![("91", "Q")]));
}

/// Section 7.11: set 82 is these characters and no others of the first 128.
#[test]
fn a_lot_may_hold_character_set_82_and_nothing_else() {
    let set: String = (0_u8..128)
        .map(char::from)
        .filter(|c| !c.is_whitespace() && *c != '\u{1d}')
        .filter(|c| read_label(&format!("10A{c}B"), YEAR).is_ok())
        .collect();
    let wanted = "!\"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz";
    assert_eq!((set.as_str(), set.len()), (wanted, 82));
}

#[test]
fn a_swallowed_element_is_hinted_at() {
    let refusal = refused("10LOT12345172708312100000001");
    assert_eq!(facts(&refusal).0, LabelProblem::TooLong);
    assert!(refusal.detail.contains("separator"), "{refusal}");
}

#[test]
fn a_label_is_flat_data_for_programs() {
    let json = serde_json::to_value(read("17210300\u{1d}10A1\u{1d}305\u{1d}91Q")).expect("json");
    let wanted = serde_json::json!({
        "gtin": null, "lot_number": "A1", "serial": null, "count": 5,
        "expiry": { "yymmdd": "210300", "printed_expiry": "2021-03", "expires_on": "2021-03-31" },
        "others": [{ "ai": "91", "value": "Q" }],
    });
    assert_eq!(json, wanted);
}
