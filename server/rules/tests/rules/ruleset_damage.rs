//! Texts that are no rule set: every one is told with places, none makes the reader panic, none is told twice over.

use proptest::prelude::*;
use sellion_rules::ruleset::{Document, Mistake, RuleSet, RuleSetError};

const TEXT: &str = include_str!("../../rulesets/us-29cfr1910-134.toml");

fn mistakes(text: &str) -> Vec<Mistake> {
    Document::parse(text).expect_err("a mistake")
}

/// A file with one thing changed: the keys and the reasons of what is found.
fn changed(from: &str, to: &str) -> Vec<(String, String)> {
    assert!(TEXT.contains(from), "{from}");
    let found = mistakes(&TEXT.replacen(from, to, 1));
    found.into_iter().map(|mistake| (mistake.key, mistake.reason)).collect()
}

const WEAR: &str = "[values.wear_seconds]\nvalue = 300";
const SMOKE_OFF: &str = "[values.irritant_smoke.accepted]\nvalue = false";
const DEEP: &str = "key = \"deep_breathing\"\nseconds = 60";

/// What is changed, into what, the key that is named, and all that is said.
const BROKEN: &[(&str, &str, &str, &str)] = &[
    (
        WEAR,
        "[values.wear_seconds]\nvalue = 99999999999999999999",
        "wear_seconds",
        "value: this is a number that is too large",
    ),
    (WEAR, "[values.wear_seconds]\nvalue = 2026-11-25", "wear_seconds", "value: this is a day"),
    (
        WEAR,
        "[values.wear_seconds]\nvalue = 0.5",
        "wear_seconds",
        "value: this is a number with a point; write it as a text, as \"0.83\"",
    ),
    (
        WEAR,
        "[values.wear_seconds]\nvalue = \"not_set\"",
        "wear_seconds",
        "what is not set cannot count: its status is \"unconfirmed\"",
    ),
    (
        SMOKE_OFF,
        "[values.irritant_smoke.accepted]\nvalue = 0",
        "irritant_smoke.accepted",
        "true or false is expected",
    ),
    (
        DEEP,
        "key = \"deep_breathing\"\nseconds = 60\nmeasuring_seconds = 4",
        "exercises.qualitative.2",
        "it is measured for some seconds and gives no measurement",
    ),
    (
        DEEP,
        "key = \"Deep breathing\"\nseconds = 60",
        "exercises.qualitative.2",
        "write the name of an exercise in small letters, digits and underscores",
    ),
    ("life_days = 7", "life_days = 0", "recipes.1", "life_days: 0 is no number of days"),
    (
        "life_days = 7",
        "life_days = \"a week\"",
        "recipes.1",
        "life_days: a whole number or \"not_set\" is expected",
    ),
    ("amount = \"0.83\"", "amount = \".83\"", "recipes.3", "amount: \".83\" is no decimal number, as 0.83"),
    (
        "[notes.hood_height]",
        "[notes.Hood]",
        "notes.Hood",
        "write its name in small letters, digits and underscores",
    ),
    (
        "status = \"verified\"",
        "status = \"confirmed\"",
        "no_intake_seconds",
        "status: confirmed does not go with no confirmation; a value is confirmed by confirmed_by and confirmed_on",
    ),
];

#[test]
fn one_mistake_is_told_once_and_nothing_that_only_follows_from_it() {
    for (from, to, key, reason) in BROKEN {
        assert_eq!(changed(from, to), [((*key).to_owned(), (*reason).to_owned())], "{to}");
    }
}

#[test]
fn what_is_misspelled_is_unknown_and_what_it_stood_for_is_missing() {
    let keys = |found: Vec<(String, String)>| found.into_iter().map(|(key, _)| key).collect::<Vec<_>>();
    let found = changed("[values.isoamyl_acetate.settle_seconds]", "[values.isoamyl_acetate.settling]");
    assert_eq!(keys(found), ["isoamyl_acetate.settle_seconds", "isoamyl_acetate.settling"]);
    let extra = "[values.saccharin.pass_level_half_facepiece]\nvalue = 100\n\n[values.wear_seconds]";
    let found = changed("[values.wear_seconds]", extra);
    assert_eq!(
        found,
        [("saccharin.pass_level_half_facepiece".to_owned(), "no such value is known".to_owned())],
        "a value of another method"
    );
}

#[test]
fn lists_that_nobody_names_that_are_not_there_or_have_no_measurement() {
    let of = |key: &str, list: &str| format!("[values.{key}.exercises]\nvalue = \"{list}\"");
    let filtering = "modified_ambient_aerosol_filtering";
    let found = changed(&of(filtering, "modified_filtering"), &of(filtering, "modified_elastomeric"));
    assert_eq!(found, [("exercises.modified_filtering".to_owned(), "no method names this list".to_owned())]);
    let found = changed(&of("generated_aerosol", "quantitative"), &of("generated_aerosol", "qualitative"));
    let reason = "the list has no measurement, but generated aerosol measures".to_owned();
    assert_eq!(found, [("exercises.qualitative".to_owned(), reason)]);
    let found = changed(&of("irritant_smoke", "qualitative"), &of("irritant_smoke", "quality"));
    let reason = "there is no list [[exercises.quality]] in this file".to_owned();
    assert_eq!(found, [("irritant_smoke.exercises".to_owned(), reason)]);
}

#[test]
fn columns_are_counted_in_characters() {
    let found = mistakes("name = \"é\", version = 3");
    assert!(found.iter().all(|mistake| mistake.line == 1), "{found:?}");
    let found = mistakes("\"ééé\" = 1\nname = \"a\"");
    let unknown = found.iter().find(|mistake| mistake.reason.contains("not known")).expect("one");
    assert_eq!((unknown.line, unknown.column), (1, 1));
    let found = mistakes("values = { \"ééé\" = 1, shoe = 2 }");
    let shoe = found.iter().find(|mistake| mistake.key == "shoe").expect("one");
    assert_eq!((shoe.line, shoe.column), (1, 23));
}

#[test]
fn mistakes_of_the_notation_have_a_place_too() {
    let found = mistakes("name = \"x\nversion = \"2019-09-26.1\"\nname = \"y\"\ntitle = ]\n");
    for line in [1, 3, 4] {
        assert!(found.iter().any(|mistake| mistake.line == line), "{line}: {found:#?}");
    }
    assert!(found[0].to_string().starts_with("1:"), "{}", found[0]);
}

#[test]
fn tables_without_end_are_mistakes() {
    let deep = "[".repeat(100_000);
    let nested = format!("values = {}{}", "{ a = ".repeat(5_000), "}".repeat(5_000));
    for text in ["values = 3", "[[values]]", "based_on = 3", "based_on = []", &deep, &nested] {
        let Err(error) = RuleSet::parse(text) else { panic!("no mistake in {text:.20}") };
        assert!(matches!(&error, RuleSetError::Mistakes(list) if !list.is_empty()));
        assert!(!error.to_string().is_empty());
    }
}

proptest! {
    #[test]
    fn no_text_makes_it_panic(text in "\\PC{0,300}") {
        let _ = Document::parse(&text);
        let _ = Document::read_own(&text, &Document::find);
    }

    #[test]
    fn no_damage_makes_it_panic(at in 0..TEXT.len(), length in 0_usize..40, with in "[\\[\\]{}=\"\\n a-z0-9.]{0,8}") {
        let border = |from: usize| (from..=TEXT.len()).find(|at| TEXT.is_char_boundary(*at)).unwrap_or(TEXT.len());
        let (start, end) = (border(at), border((at + length).min(TEXT.len())));
        let damaged = format!("{}{with}{}", &TEXT[..start], &TEXT[end..]);
        match Document::parse(&damaged) {
            Ok(document) => drop(document.resolve()),
            Err(mistakes) => {
                prop_assert!(!mistakes.is_empty());
                let lines = damaged.matches('\n').count() + 1;
                prop_assert!(mistakes.iter().all(|mistake| (1..=lines).contains(&mistake.line) && mistake.column >= 1));
            }
        }
    }
}
