//! Printed expiries: which forms are read, which are refused, and what is kept.

use chrono::{Datelike, Months, NaiveDate};
use proptest::prelude::*;
use sellion_rules::Code;
use sellion_rules::printed_expiry::PrintedExpiry;

fn day(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

/// Common practice, no source: a month without a day means its last day.
#[test]
fn a_printed_expiry_is_kept_as_printed_and_read_as_a_day() {
    let table = [
        ("2027-08", "2027-08-31"),
        ("2027-08-15", "2027-08-15"),
        ("2027/08/15", "2027-08-15"),
        ("2027-02", "2027-02-28"),
        ("2028-02", "2028-02-29"),
        ("2027-12", "2027-12-31"),
        ("2027-8", "2027-08-31"),
        ("08/2027", "2027-08-31"),
        ("8/2027", "2027-08-31"),
        ("08-2027", "2027-08-31"),
        ("08.2027", "2027-08-31"),
        ("AUG 2027", "2027-08-31"),
        ("Aug-2027", "2027-08-31"),
        ("AUG2027", "2027-08-31"),
        ("August 2027", "2027-08-31"),
        ("2027 AUG", "2027-08-31"),
        ("MAY 2027", "2027-05-31"),
        ("31.08.2027", "2027-08-31"),
        ("31/08/2027", "2027-08-31"),
        ("08/31/2027", "2027-08-31"),
        ("31 AUG 2027", "2027-08-31"),
        ("03AUG2027", "2027-08-03"),
        ("AUG 3, 2027", "2027-08-03"),
        ("2027-AUG-03", "2027-08-03"),
        // The same both ways round.
        ("08/08/2027", "2027-08-08"),
    ];
    for (printed, last_day) in table {
        let expiry: PrintedExpiry = printed.parse().expect(printed);
        assert_eq!((expiry.as_printed(), expiry.last_day()), (printed, day(last_day)));
        let json = serde_json::to_string(&expiry).expect("json");
        assert_eq!(json, format!("\"{printed}\""));
        assert_eq!(serde_json::from_str::<PrintedExpiry>(&json).expect("back"), expiry);
    }
}

#[test]
fn what_names_no_day_is_refused() {
    let wrong = [
        "",
        "2027",
        "08",
        "2027-13",
        "2027-00",
        "27-08",
        "08/27",
        "AUG 27",
        "2027-02-30",
        "2027-08-15-",
        "2027-08-",
        " 2027-08",
        "2027-08 ",
        "+027-08",
        "2027-+8",
        "20270-08",
        "20270831",
        "２０２７-08",
        "2027-08-15T00:00",
        "AU 2027",
        "AUGU 2027",
        "AGO 2027",
        "AUG AUG 2027",
        "31 2027 AUG",
        "32.08.2027",
        "30/02/2027",
        "08/2027/2028",
        "8th AUG 2027",
        "2027-08-15-16",
        "-08-2027",
        "\u{661}/2027",
    ];
    for text in wrong {
        let refusal = text.parse::<PrintedExpiry>().expect_err(text);
        assert_eq!((refusal.code, refusal.field.as_deref()), (Code::InvalidValue, Some("printed_expiry")));
        assert!(serde_json::from_value::<PrintedExpiry>(text.into()).is_err());
    }
}

/// Which of day and month comes first differs from country to country: nobody guesses.
#[test]
fn what_can_be_read_both_ways_round_is_refused_with_what_to_type() {
    for text in ["03/04/2027", "03.04.2027", "3-4-2027"] {
        let refusal = text.parse::<PrintedExpiry>().expect_err(text);
        assert_eq!((refusal.code, refusal.field.as_deref()), (Code::ExpiryAmbiguous, Some("printed_expiry")));
        assert!(refusal.detail.contains("2027-04-03") && refusal.detail.contains("2027-03-04"), "{refusal}");
        for typed in ["2027-04-03", "2027-03-04", "3 APR 2027", "4 MAR 2027"] {
            assert!(typed.parse::<PrintedExpiry>().is_ok());
        }
    }
}

/// Every day of a century as another library prints it (chrono's `format`): read as that day, or, where day and month
/// can be taken for each other, refused.
#[test]
fn every_day_is_read_as_the_calendar_prints_it() {
    let mut on = NaiveDate::from_ymd_opt(2000, 1, 1).expect("a day");
    while on.year() < 2100 {
        for form in ["%Y-%m-%d", "%Y/%m/%d", "%d %b %Y", "%d%b%Y", "%B %-d, %Y", "%Y-%b-%d"] {
            let printed = on.format(form).to_string();
            assert_eq!(printed.parse::<PrintedExpiry>().expect(&printed).last_day(), on, "{printed}");
        }
        for form in ["%d.%m.%Y", "%m/%d/%Y", "%-d-%-m-%Y"] {
            let printed = on.format(form).to_string();
            match printed.parse::<PrintedExpiry>() {
                Ok(read) => assert_eq!(read.last_day(), on, "{printed}"),
                Err(refusal) => {
                    assert_eq!(refusal.code, Code::ExpiryAmbiguous, "{printed}");
                    assert!(on.day() <= 12 && on.day() != on.month(), "{printed}");
                }
            }
        }
        let next_month = on.with_day(1).and_then(|first| first.checked_add_months(Months::new(1)));
        let last = next_month.and_then(|next| next.pred_opt()).expect("a last day");
        for form in ["%Y-%m", "%m/%Y", "%m-%Y", "%b %Y", "%B %Y", "%b%Y"] {
            let printed = on.format(form).to_string();
            assert_eq!(printed.parse::<PrintedExpiry>().expect(&printed).last_day(), last, "{printed}");
        }
        on = on.succ_opt().expect("the next day");
    }
}

proptest! {
    #[test]
    fn no_text_makes_it_panic_and_what_is_read_is_kept(text in "[0-9A-Za-z ./,-]{0,14}|.{0,20}") {
        if let Ok(expiry) = text.parse::<PrintedExpiry>() {
            prop_assert_eq!(expiry.as_printed(), text);
        }
    }
}
