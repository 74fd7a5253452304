//! The numbers of fit factors: how they are read, kept, shown and sent.

use sellion_rules::fit_factor::{Exact, NotAQuantity, Quantity, Reading, fit};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

fn number(text: &str) -> Quantity {
    text.parse().expect("a decimal number")
}

#[test]
fn quantities_are_kept_as_typed_but_for_zeros_that_say_nothing() {
    let table = [
        ("12.5", "12.5"),
        ("0012.500", "12.5"),
        (".5", "0.5"),
        ("0", "0"),
        ("0.000", "0"),
        ("999999999999.999999999", "999999999999.999999999"),
        ("0.000000001", "0.000000001"),
        ("1.00000000000000000000000000000000000000", "1"),
        ("00000000000000000000000000000000000000001", "1"),
    ];
    for (typed, kept) in table {
        assert_eq!(number(typed).to_string(), kept, "{typed}");
        assert_eq!(format!("{:?}", number(typed)), kept);
    }
    assert_eq!(number("1.50"), number("1.5"));
    assert!(number("9") < number("10") && number("0.1") > number("0.09"));
    assert!(number("0.0").is_zero() && !number("0.000000001").is_zero());
    assert_eq!(Quantity::from(u32::MAX).to_string(), "4294967295");
}

#[test]
fn what_is_no_quantity_says_why() {
    for text in [
        "", ".", "5.", "1.2.3", "1,5", "1e3", "+5", " 5", "5 ", "--5", "-", "٣", "NaN", "inf", "0x10",
        "1_000",
    ] {
        assert_eq!(text.parse::<Quantity>(), Err(NotAQuantity::NotANumber), "{text:?}");
    }
    assert_eq!("-5".parse::<Quantity>(), Err(NotAQuantity::Negative));
    for text in ["1000000000000", "0.0000000001", "1.1234567891"] {
        assert_eq!(text.parse::<Quantity>(), Err(NotAQuantity::TooManyDigits), "{text:?}");
    }
}

#[test]
fn a_quantity_is_read_from_a_text_or_a_number_and_sent_as_a_text() {
    for sent in [json!("12.50"), json!(12.5), serde_json::from_str("1.25e1").expect("json")] {
        let read: Quantity = serde_json::from_value(sent).expect("a quantity");
        assert_eq!(serde_json::to_value(read).expect("json"), json!("12.5"));
    }
    let read = |text: &str| serde_json::from_str::<Quantity>(text);
    assert_eq!(read("5000").expect("whole").to_string(), "5000");
    assert_eq!(read("0.1").expect("as typed, not as stored in binary").to_string(), "0.1");
    assert_eq!(read("123456.123456789").expect("15 digits").to_string(), "123456.123456789");
    for refused in [
        "-1",
        "-0.5",
        "1e300",
        "1e-300",
        "true",
        "null",
        "[]",
        "{}",
        "\"\"",
        "\"1e3\"",
        "18446744073709551615",
    ] {
        assert!(read(refused).is_err(), "{refused}");
    }
}

#[test]
fn a_number_that_a_reader_of_json_would_change_has_to_come_as_a_text() {
    let error = serde_json::from_str::<Quantity>("123456789012.12345").expect_err("17 digits");
    assert!(error.to_string().contains("as a text"), "{error}");
    let text = json!("123456789012.123456789");
    let read: Quantity = serde_json::from_value(text.clone()).expect("a quantity");
    assert_eq!(serde_json::to_value(read).expect("json"), text);
}

/// An event as the attempts have them: a flattened, tagged enum.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
struct Event {
    seq: u32,
    #[serde(flatten)]
    kind: Kind,
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
enum Kind {
    Measured { exercise: u8, reading: Reading },
    OutsideMeasured { concentration: Quantity },
    Signed,
}

#[test]
fn readings_and_quantities_survive_a_flattened_tagged_enum() {
    let table = [
        (
            json!({ "seq": 1, "kind": "outside_measured", "concentration": 5000.5 }),
            json!({ "seq": 1, "kind": "outside_measured", "concentration": "5000.5" }),
        ),
        (
            json!({ "seq": 2, "kind": "measured", "exercise": 3,
                    "reading": { "basis": "each", "before": "5000", "after": 5400, "inside": 26.25 } }),
            json!({ "seq": 2, "kind": "measured", "exercise": 3,
                    "reading": { "basis": "each", "before": "5000", "after": "5400", "inside": "26.25" } }),
        ),
    ];
    for (sent, expected) in table {
        let event: Event = serde_json::from_value(sent.clone()).expect("an event");
        assert_eq!(serde_json::to_value(&event).expect("json"), expected);
        // From a text, too: serde_json hands numbers on in another way than from a value.
        assert_eq!(serde_json::from_str::<Event>(&sent.to_string()).expect("an event"), event);
        assert_eq!(serde_json::from_value::<Event>(expected).expect("back"), event);
    }
}

#[test]
fn readings_are_tagged_by_their_basis_and_take_no_stray_members() {
    let readings = [
        json!({ "basis": "fit_factor", "fit_factor": "100" }),
        json!({ "basis": "each", "before": "1", "after": "2", "inside": "0.5" }),
        json!({ "basis": "continuous", "outside": "5000", "inside": "50" }),
        json!({ "basis": "inside", "inside": "50" }),
    ];
    for json in readings {
        let reading: Reading = serde_json::from_value(json.clone()).expect("a reading");
        assert_eq!(json!(reading.basis()), json["basis"]);
        assert_eq!(serde_json::to_value(reading).expect("json"), json);
        let mut stray = json.clone();
        stray["colour"] = json!("1");
        assert!(serde_json::from_value::<Reading>(stray).is_err());
        for name in json.as_object().expect("an object").keys() {
            let mut missing = json.clone();
            missing.as_object_mut().expect("an object").remove(name);
            assert!(serde_json::from_value::<Reading>(missing).is_err(), "without {name}");
        }
    }
    assert!(serde_json::from_value::<Reading>(json!({ "basis": "guess", "inside": "50" })).is_err());
}

fn exact(factors: &[&str]) -> Exact {
    let readings: Vec<_> =
        factors.iter().map(|text| (1, Reading::FitFactor { fit_factor: number(text) })).collect();
    fit(&readings, None, None).expect("a fit").overall
}

#[test]
fn digits_for_people_are_cut_off_and_never_rounded_up() {
    let almost = exact(&["99.999999999"]);
    assert_eq!((almost.to_string(), format!("{almost:.0}")), ("99.9".to_owned(), "99".to_owned()));
    assert_eq!(almost.as_decimal(9), "99.999999999");
    assert_eq!(almost.as_decimal(12), "99.999999999000");
    assert!(!almost.at_least(100) && almost.at_least(99));
    let small = Exact::from(number("0.05"));
    assert_eq!(
        (small.as_decimal(0), small.as_decimal(1), small.as_decimal(2)),
        ("0".into(), "0.0".into(), "0.05".into())
    );
    assert_eq!(Exact::from(Quantity::ZERO).as_decimal(2), "0.00");
    assert_eq!(Exact::from(number("7")).as_decimal(255).len(), 2 + 64, "no text without end");
    assert!(format!("{:.60000}", Exact::from(number("7"))).len() < 100);
}

#[test]
fn digits_for_programs_are_fifteen() {
    let sent = |exact: &Exact| serde_json::to_value(exact).expect("json");
    let table = [
        (exact(&["500", "1000", "2000", "250", "800"]), "571.428571428571"),
        (exact(&["100", "100"]), "100"),
        (exact(&["0.000000001", "0.000000002", "0.000000003"]), "0.00000000163636363636363"),
        (exact(&["999999999999.999999999"]), "999999999999.999"),
        (Exact::from(Quantity::ZERO), "0"),
        (Exact::from(number("12.50")), "12.5"),
    ];
    for (exact, text) in table {
        assert_eq!(sent(&exact), json!(text));
    }
    let greatest = Reading::Continuous { outside: number("999999999999"), inside: number("0.000000001") };
    let fit = fit(&[(1, greatest)], None, None).expect("a fit");
    assert_eq!(sent(&fit.overall), json!("999999999999000000000"));
}

#[test]
fn a_fit_is_told_with_its_parts() {
    let readings = [
        (1, Reading::FitFactor { fit_factor: number("200") }),
        (2, Reading::FitFactor { fit_factor: number("100") }),
    ];
    let fit = fit(&readings, None, None).expect("a fit");
    let parts = json!([{ "exercise": 1, "fit_factor": "200" }, { "exercise": 2, "fit_factor": "100" }]);
    let expected: Value = json!({
        "basis": "fit_factor", "measurements": parts, "exercises": parts, "overall": "133.333333333333",
    });
    assert_eq!(serde_json::to_value(&fit).expect("json"), expected);
}

#[cfg(feature = "openapi")]
#[test]
fn the_description_tells_numbers_as_texts() {
    use utoipa::{PartialSchema, ToSchema};
    for schema in [Quantity::schema(), Exact::schema()] {
        let told = serde_json::to_value(schema).expect("json");
        assert_eq!(told["type"], "string");
        assert!(told["pattern"].as_str().is_some_and(|pattern| pattern.starts_with('^')), "{told}");
    }
    assert!(serde_json::to_string(&Quantity::schema()).expect("json").contains("JSON number"));
    let reading = serde_json::to_string(&Reading::schema()).expect("json");
    for basis in sellion_rules::fit_factor::Basis::ALL {
        assert!(reading.contains(&format!("\"{basis}\"")), "{reading}");
    }
    assert_eq!((Quantity::name(), Reading::name()), ("Quantity".into(), "Reading".into()));
}
