//! The rule sets of other countries: what was read in their text is verified and decides nothing; the rest waits.

use sellion_rules::method::Method;
use sellion_rules::ruleset::{Document, RuleScalar, RuleStatus};

const OTHERS: [&str; 4] = ["uk-hse-indg479", "ca-csa-z94.4", "iso-16975-3", "au-nzs-1715"];

fn document(name: &str) -> Document {
    Document::newest(name).expect("embedded")
}

fn value(name: &str, key: &str) -> RuleScalar {
    document(name).values().into_iter().find(|value| value.key == key).expect(key).value
}

/// Facts 5.1 to 5.25: none but catalogue entries and the like were read, so nothing that decides may be used.
#[test]
fn facts_5_1_to_5_25_nothing_that_decides_counts() {
    for name in OTHERS {
        let document = document(name);
        for value in document.values() {
            if value.status != RuleStatus::Unconfirmed {
                let trade = value.key.ends_with(".plausible_fit_factor_max");
                assert!(value.key.starts_with("notes.") || trade, "{name}, {}", value.key);
                let expected = if trade { RuleStatus::CommonPractice } else { RuleStatus::Verified };
                assert_eq!(value.status, expected, "{name}, {}", value.key);
            }
        }
        assert!(
            document.values().iter().any(|value| value.status == RuleStatus::Verified)
                || name == "au-nzs-1715"
        );
        let open: Vec<_> =
            document.resolve().expect_err("nobody confirmed it").into_iter().map(|open| open.key).collect();
        assert_eq!(open.len(), 19, "{name}: every shared value but those whose absence means something");
        for method in Method::ALL {
            assert!(document.accepts(*method).is_err(), "{name}, {method}");
        }
    }
}

/// Facts 5.11 to 5.16 as a person has to confirm them (read in summaries or from memory).
#[test]
fn facts_5_11_to_5_16_what_waits_for_the_united_kingdom() {
    let number = |number| RuleScalar::Number(number);
    let word = |word: &str| RuleScalar::Text(word.to_owned());
    let of = |key: &str| value("uk-hse-indg479", key);
    assert_eq!(of("ambient_aerosol.pass_level_half_facepiece"), number(100));
    assert_eq!(of("ambient_aerosol.pass_level_full_facepiece"), number(2000));
    assert_eq!(of("ambient_aerosol.reading"), word("every_exercise"));
    assert_eq!(of("ambient_aerosol.while_moving"), RuleScalar::Flag(true));
    assert_eq!(of("interval_months"), word("not_set"), "policy and triggers decide");
    assert_eq!(of("exercises.quantitative.7"), number(60));
    let keys: Vec<_> = document("uk-hse-indg479").values().into_iter().map(|value| value.key).collect();
    assert!(!keys.contains(&"exercises.quantitative.8".to_owned()), "no grimace");
}

/// Facts 5.19, 5.21, 5.22 and 5.23.
#[test]
fn facts_5_19_to_5_23_what_waits_for_the_others() {
    let not_set = RuleScalar::Text("not_set".to_owned());
    assert_eq!(value("ca-csa-z94.4", "interval_months"), RuleScalar::Number(24));
    assert_eq!(value("ca-csa-z94.4", "ambient_aerosol.pass_level_full_facepiece"), not_set);
    assert_eq!(value("au-nzs-1715", "interval_months"), RuleScalar::Number(12));
    assert_eq!(value("au-nzs-1715", "ambient_aerosol.pass_level_half_facepiece"), RuleScalar::Number(100));
    assert_eq!(value("au-nzs-1715", "ambient_aerosol.pass_level_full_facepiece"), not_set);
    assert_eq!(value("iso-16975-3", "ambient_aerosol.pass_level_half_facepiece"), RuleScalar::Number(100));
}

/// A method of which a set says something unconfirmed is not accepted, and the refusal says what is missing.
#[test]
fn a_method_nobody_confirmed_is_not_accepted() {
    let why = document("uk-hse-indg479").accepts(Method::AmbientAerosol).expect_err("not confirmed");
    assert_eq!(
        why.sentence,
        "Nobody has confirmed that the rule set uk-hse-indg479 2019-03-01.1 accepts ambient aerosol."
    );
    assert_eq!(why.source, "uk-hse-indg479 2019-03-01.1, ambient_aerosol.accepted");
}
