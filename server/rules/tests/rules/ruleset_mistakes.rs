//! Every mistake in the text of a rule set, with its place, the value it is about and what is wrong with it.

use proptest::prelude::*;
use sellion_rules::ruleset::{Document, Mistake, MistakeKind, RuleSet, RuleSetError};

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

const SEALS: &str = "seal_check_tries = { value = 3";
const WEAR: &str = "wear_seconds = { value = 300";

/// What is changed, into what, the key that is named, and what is said of it.
const BROKEN: &[(&str, &str, &str, &str)] = &[
    (WEAR, "wear_seconds = { value = -1", "wear_seconds", "-1 is less than 0"),
    (WEAR, "wear_seconds = { value = \"5 min\"", "wear_seconds", "a whole number is expected"),
    (WEAR, "wear_seconds = { value = 5000000000", "wear_seconds", "5000000000 is more than 86400"),
    (
        WEAR,
        "wear_seconds = { value = 99999999999999999999",
        "wear_seconds",
        "value: this is a number that is too large",
    ),
    (WEAR, "wear_seconds = { value = 2026-11-25", "wear_seconds", "value: this is a day"),
    (
        WEAR,
        "wear_seconds = { value = 0.5",
        "wear_seconds",
        "value: this is a number with a point; write it as a text, as \"0.83\"",
    ),
    (
        WEAR,
        "wear_seconds = { value = \"not_set\"",
        "wear_seconds",
        "what is not set cannot count: its status is \"unconfirmed\"",
    ),
    (SEALS, "seal_check_tries = { value = 256", "seal_check_tries", "256 is more than 255"),
    (
        "value = \"earlier\"",
        "value = \"latest\"",
        "due_reading",
        "\"latest\" is not one of anniversary, strict_days, earlier",
    ),
    ("value = \"strict\"", "value = true", "ladder", "a word is expected"),
    (
        "accepted = { value = true",
        "accepted = { value = 1",
        "saccharin.accepted",
        "true or false is expected",
    ),
    (
        "opened_life_days = { value = \"not_set\"",
        "opened_life_days = { value = \"soon\"",
        "opened_life_days",
        "a whole number is expected",
    ),
    ("screening_sets = { value = 3", "screening_sets = { value = 4", "screening_sets", "4 is more than 3"),
    (
        "screening_set_squeezes = { value = 10",
        "screening_set_squeezes = { value = 9",
        "screening_set_squeezes",
        "9 is less than 10",
    ),
    (
        "dose_late_tolerance_seconds = { value = 10",
        "dose_late_tolerance_seconds = { value = 25",
        "dose_late_tolerance_seconds",
        "the tolerances of two doses overlap, so one squeeze could count for either",
    ),
    (
        "redose_percent = { value = 50",
        "redose_percent = { value = 101",
        "redose_percent",
        "101 is more than 100",
    ),
    (
        "source = \"29 CFR 1910.134(f)(6)\"",
        "source = \" \"",
        "qualitative_fit_factor_max",
        "the source is empty; write \"no source\" where there is none",
    ),
    (
        "value = 300, unit = \"seconds\"",
        "value = 300, unit = \"minutes\"",
        "wear_seconds",
        "the unit of this value is \"seconds\", not \"minutes\"",
    ),
    (
        "{ key = \"deep_breathing\", seconds = 60",
        "{ key = \"deep_breathing\", seconds = 0",
        "exercises.qualitative.2",
        "it has no length",
    ),
    (
        "{ key = \"deep_breathing\", seconds = 60",
        "{ key = \"deep_breathing\", seconds = 60, measuring_seconds = 4",
        "exercises.qualitative.2",
        "it is measured for some seconds and gives no measurement",
    ),
    (
        "{ key = \"deep_breathing\", seconds = 60",
        "{ key = \"Deep breathing\", seconds = 60",
        "exercises.qualitative.2",
        "write the name of an exercise in small letters, digits and underscores",
    ),
    (
        "redon = [",
        "redonning = [",
        "controlled_negative_pressure_redon.exercises",
        "there is no list [[exercises.redon]] in this file",
    ),
    (
        "version = \"2019-09-26.2\"",
        "version = \"2019\"",
        "version",
        "write it as a date and a running number, as 2019-09-26.1",
    ),
    (
        "name = \"us-29cfr1910-134\"",
        "name = \"US 29\"",
        "name",
        "write it in small letters, digits, points and hyphens",
    ),
    ("life_days = 7", "life_days = 0", "recipes.1", "life_days: 0 is no number of days"),
    (
        "life_days = 7",
        "life_days = \"a week\"",
        "recipes.1",
        "life_days: a whole number or \"not_set\" is expected",
    ),
    ("amount = \"0.83\"", "amount = \".83\"", "recipes.3", "amount: \".83\" is no decimal number, as 0.83"),
    ("agent = \"saccharin\"", "agent = \"sugar\"", "recipes.3", "agent: \"sugar\" is not a Agent"),
    (
        "status = \"verified\"",
        "status = \"believed\"",
        "no_intake_seconds",
        "status: \"believed\" is not a RuleStatus",
    ),
    (
        "status = \"verified\"",
        "status = \"confirmed\"",
        "no_intake_seconds",
        "status: confirmed does not go with no confirmation; a value is confirmed by confirmed_by and confirmed_on",
    ),
    ("hood_diameter =", "Hood =", "notes.Hood", "write its name in small letters, digits and underscores"),
];

#[test]
fn a_mistake_names_the_key_and_what_is_wrong() {
    for (from, to, key, reason) in BROKEN {
        let found = changed(from, to);
        assert!(found.contains(&((*key).to_owned(), (*reason).to_owned())), "{to}: {found:?}");
    }
}

#[test]
fn what_is_misspelled_is_unknown_and_what_it_stood_for_is_missing() {
    let missing = "the value is missing; write \"not_set\" where it is left open";
    let found = changed("wear_seconds =", "wear_second =");
    let expected = [("wear_seconds", missing), ("wear_second", "no such value is known")];
    assert_eq!(found, expected.map(|(key, reason)| (key.to_owned(), reason.to_owned())));
    let found = changed("settle_seconds =", "settling =");
    let keys: Vec<_> = found.iter().map(|(key, _)| key.as_str()).collect();
    assert_eq!(keys, ["isoamyl_acetate.settle_seconds", "isoamyl_acetate.settling"]);
    let found = changed("unit = \"sets\"", "units = \"sets\"");
    let expected = [("screening_sets", "\"units\" is not known here"), ("screening_sets", "unit is missing")];
    let mut expected = expected.map(|(key, reason)| (key.to_owned(), reason.to_owned()));
    expected.sort();
    let mut found = found;
    found.sort();
    assert_eq!(found, expected);
    let of_other =
        changed("[values.saccharin]", "[values.saccharin]\npass_level_half_facepiece = { value = 100 }");
    assert_eq!(
        of_other,
        [("saccharin.pass_level_half_facepiece".to_owned(), "no such value is known".to_owned())]
    );
}

/// All mistakes of a file come at once, in its order, each with its line and character.
#[test]
fn every_mistake_is_found_at_once_with_line_and_column() {
    let broken = TEXT
        .replacen(WEAR, "wear_seconds = { value = -1", 1)
        .replacen(SEALS, "seal_check_tries = { value = true", 1)
        .replacen("[values.saccharin]", "[values.saccharine]", 1)
        .replacen(
            "{ key = \"deep_breathing\", seconds = 60",
            "{ key = \"deep_breathing\", seconds = \"é\"",
            1,
        );
    let found = mistakes(&broken);
    let lines: Vec<&str> = broken.lines().collect();
    let expected = [
        ("wear_seconds", "-1", "-1 is less than 0"),
        ("seal_check_tries", "true", "a whole number is expected"),
        ("saccharine", "saccharine", "no such value is known"),
        ("exercises.qualitative.2", "\"é\"", "seconds: a whole number is expected"),
    ];
    assert_eq!(found.len(), expected.len(), "{found:#?}");
    for (key, at, reason) in expected {
        let mistake = found.iter().find(|mistake| mistake.key == key).expect(key);
        assert_eq!((mistake.reason.as_str(), mistake.kind), (reason, MistakeKind::Malformed));
        let rest: String = lines[mistake.line - 1].chars().skip(mistake.column - 1).collect();
        assert!(rest.starts_with(at), "{key}: {rest}");
    }
    let places: Vec<_> = found.iter().map(|mistake| (mistake.line, mistake.column)).collect();
    assert!(places.is_sorted(), "{places:?}");
}

#[test]
fn mistakes_of_the_notation_have_a_place_too() {
    let found = mistakes("name = \"x\nversion = \"2019-09-26.1\"\nname = \"y\"\ntitle = ]\n");
    assert!(found.iter().any(|mistake| mistake.line == 1), "{found:#?}");
    assert!(
        found.iter().any(|mistake| mistake.line == 3 && mistake.reason.contains("duplicate")),
        "{found:#?}"
    );
    assert!(found.iter().any(|mistake| mistake.line == 4), "{found:#?}");
    let shown = found[0].to_string();
    assert!(shown.starts_with("1:"), "{shown}");
}

#[test]
fn a_list_that_no_method_names_and_one_without_measurements_are_mistakes() {
    let found = changed("{ value = \"modified_filtering\"", "{ value = \"modified_elastomeric\"");
    assert_eq!(found, [("exercises.modified_filtering".to_owned(), "no method names this list".to_owned())]);
    let found = changed("exercises = { value = \"quantitative\"", "exercises = { value = \"qualitative\"");
    let reason = "the list has no measurement, but generated aerosol measures".to_owned();
    assert_eq!(found, [("exercises.qualitative".to_owned(), reason)]);
}

#[test]
fn broken_files_are_errors_and_not_panics() {
    let deep = "[".repeat(100_000);
    let nested = format!("values = {}{}", "{ a = ".repeat(5_000), "}".repeat(5_000));
    for text in
        ["", "name = 3", "[[exercises]]", "name = \"x", "\u{0}", "values = 3", "[[values]]", &deep, &nested]
    {
        let Err(error) = RuleSet::parse(text) else { panic!("no mistake in {text:.20}") };
        assert!(matches!(&error, RuleSetError::Mistakes(list) if !list.is_empty()));
        assert!(!error.to_string().is_empty());
    }
}

#[test]
fn a_set_on_its_own_stands_upon_nothing() {
    let based =
        TEXT.replacen("[values]", "based_on = [{ name = \"x\", version = \"2019-09-26.1\" }]\n[values]", 1);
    assert_eq!(mistakes(&based)[0].reason, "this rule set has to stand on its own");
}

proptest! {
    #[test]
    fn no_text_makes_it_panic(text in "\\PC{0,300}") {
        let _ = Document::parse(&text);
        let _ = Document::read_own(&text, &Document::find);
    }

    #[test]
    fn no_damage_makes_it_panic(at in 0..TEXT.len(), length in 0_usize..40, with in "[\\[\\]{}=\"\\n a-z0-9.]{0,8}") {
        let start = (0..=at).rev().find(|at| TEXT.is_char_boundary(*at)).unwrap_or(0);
        let end = (start + length).min(TEXT.len());
        let end = (end..=TEXT.len()).find(|at| TEXT.is_char_boundary(*at)).unwrap_or(TEXT.len());
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
