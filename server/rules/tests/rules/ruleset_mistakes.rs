//! Every mistake of a rule set's text is named at once, with its line, its column and its key.

use sellion_rules::method::Method;
use sellion_rules::ruleset::{Document, Mistake, MistakeKind, RuleSet};

use crate::support::{NAME, VERSION};

const TEXT: &str = include_str!("../../rulesets/us-29cfr1910-134-1.toml");

fn mistakes(text: &str) -> Vec<Mistake> {
    Document::parse(text).expect_err("mistakes")
}

/// The one mistake of the file with one thing changed.
fn changed(from: &str, to: &str) -> (String, String) {
    assert!(TEXT.contains(from), "{from}");
    let text = TEXT.replacen(from, to, 1);
    let found = mistakes(&text);
    let first = found.first().expect("a mistake").clone();
    let line = text.lines().nth(first.line - 1).unwrap_or_default();
    assert!(first.column >= 1 && first.column <= line.chars().count() + 1, "{first}: {line:?}");
    (first.key, first.reason)
}

/// What is changed, into what, the key that is named, and what is said of it.
const BROKEN: &[(&str, &str, &str, &str)] = &[
    (
        "[values.wear_seconds]\nvalue = 300",
        "[values.wear_seconds]\nvalue = -1",
        "wear_seconds",
        "less than 0",
    ),
    (
        "[values.wear_seconds]\nvalue = 300",
        "[values.wear_seconds]\nvalue = \"5 min\"",
        "wear_seconds",
        "a whole number is expected",
    ),
    (
        "[values.wear_seconds]\nvalue = 300",
        "[values.wear_seconds]\nvalue = 5000000000",
        "wear_seconds",
        "is more than",
    ),
    ("value = \"earlier\"", "value = \"latest\"", "due_reading", "\"latest\" is not one of"),
    ("value = \"strict\"", "value = true", "ladder", "a word is expected"),
    ("value = \"not_set\"", "value = \"soon\"", "opened_life_days", "a whole number is expected"),
    ("value = 3\nunit = \"sets\"", "value = 4\nunit = \"sets\"", "screening_sets", "more than 3"),
    (
        "value = 10\nunit = \"squeezes\"",
        "value = 9\nunit = \"squeezes\"",
        "screening_set_squeezes",
        "less than 10",
    ),
    (
        "[values.dose_late_tolerance_seconds]\nvalue = 10",
        "[values.dose_late_tolerance_seconds]\nvalue = 25",
        "dose_late_tolerance_seconds",
        "the tolerances of two doses overlap",
    ),
    ("value = 50\n", "value = 101\n", "redose_percent", "more than 100"),
    (
        "unit = \"fit factor\"",
        "unit = \"percent\"",
        "qualitative_fit_factor_max",
        "the unit of this value is",
    ),
    ("source = \"29 CFR 1910.134(f)(6)\"", "source = \" \"", "qualitative_fit_factor_max", "source"),
    (
        "key = \"deep_breathing\"\nseconds = 60",
        "key = \"deep_breathing\"\nseconds = 0",
        "exercises",
        "no length",
    ),
    (
        "version = \"2019-09-26.1\"",
        "version = \"2019\"",
        "version",
        "write it as a date and a running number",
    ),
    ("name = \"us-29cfr1910-134\"", "name = \"US 29\"", "name", "small letters"),
    ("status = \"verified\"", "status = \"believed\"", "", "believed"),
];

#[test]
fn mistakes_name_the_key_and_what_is_wrong() {
    for (from, to, key, reason) in BROKEN {
        let (found, said) = changed(from, to);
        assert!(found.contains(key) && said.contains(reason), "{to}: {found}: {said}");
    }
}

#[test]
fn every_mistake_is_told_at_once_with_its_place() {
    let text = TEXT
        .replacen("[values.wear_seconds]\nvalue = 300", "[values.wear_seconds]\nvalue = \"long\"", 1)
        .replacen("[values.ladder]", "[values.shoe_size]", 1)
        .replacen("value = \"tasted\"", "value = \"perhaps\"", 1);
    let found = mistakes(&text);
    let at = |needle: &str| text.lines().position(|line| line.contains(needle)).map(|index| index + 1);
    let of = |key: &str| found.iter().find(|mistake| mistake.key == key).map(|mistake| mistake.line);
    assert_eq!(of("wear_seconds"), at("\"long\""));
    assert_eq!(of("shoe_size"), at("[values.shoe_size]"));
    assert_eq!(of("unsure_counts_as"), at("\"perhaps\""));
    assert!(
        found.iter().any(|mistake| mistake.key == "ladder" && mistake.reason.contains("missing")),
        "{found:?}"
    );
    let mut sorted = found.clone();
    sorted.sort_by_key(|mistake| (mistake.line, mistake.column));
    assert_eq!(found, sorted, "in the order of the text");
}

#[test]
fn broken_files_are_mistakes_and_not_panics() {
    for text in
        ["", "name = 3", "[[exercises]]", "name = \"x", "\u{0}", "[values]\nwear_seconds = 3", "a = [1,\n"]
    {
        assert!(!mistakes(text).is_empty(), "{text:?}");
        assert!(RuleSet::parse(text).is_err(), "{text:?}");
    }
    for end in 0..TEXT.len() {
        if let Some(cut) = TEXT.get(..end) {
            let _ = Document::parse(cut);
        }
    }
}

/// The reader is no reader of one file: another country's numbers are only data.
#[test]
fn another_set_is_only_data() {
    let other = TEXT
        .replace("us-29cfr1910-134", "elsewhere-1")
        .replace("[values.wear_seconds]\nvalue = 300", "[values.wear_seconds]\nvalue = 600");
    let set = RuleSet::parse(&other).expect("a sound set");
    let wear = set.methods[&Method::Saccharin].half_facepiece.wear_seconds;
    assert_eq!((set.name.as_str(), wear), ("elsewhere-1", 600));
}

fn own(values: &str) -> Result<Document, Vec<Mistake>> {
    let text = format!(
        "name = \"ours\"\nversion = \"2026-11-25.1\"\ntitle = \"Ours\"\n\
         based_on = [{{ name = \"{NAME}\", version = \"{VERSION}\" }}]\n\n{values}"
    );
    Document::read_own(&text, &Document::find)
}

fn value(key: &str, value: &str, unit: &str, rest: &str) -> String {
    format!("[values.{key}]\nvalue = {value}\nunit = \"{unit}\"\nsource = \"our own rule\"\n{rest}\n\n")
}

const VERIFIED: &str = "status = \"verified\"";
const CONFIRMED: &str = "status = \"confirmed\"\nconfirmed_by = \"Ines Valdrun\"\nconfirmed_on = 2026-11-25";

/// Stricter is free; looser needs a named person, or is a mistake at its place in the text.
#[test]
fn a_looser_value_needs_a_named_confirmation() {
    let stricter = own(&value("wear_seconds", "600", "seconds", VERIFIED)).expect("a stricter value");
    let rules = stricter.resolve().expect("a usable set");
    assert_eq!(rules.methods[&Method::Saccharin].half_facepiece.wear_seconds, 600);
    let wear = rules.values().iter().find(|value| value.key == "wear_seconds").expect("listed").clone();
    assert_eq!(wear.decided_by.iter().map(|set| set.name.as_str()).collect::<Vec<_>>(), ["ours"]);
    let unit = "tasted or void";
    for (key, loose, unit) in [
        ("wear_seconds", "60", "seconds"),
        ("interval_months", "24", "months"),
        ("unsure_counts_as", "\"void\"", unit),
    ] {
        let found = own(&value(key, loose, unit, VERIFIED)).expect_err("looser");
        let mistake = found.first().expect("a mistake");
        assert_eq!((mistake.kind, mistake.key.as_str()), (MistakeKind::LooserWithoutConfirmation, key));
        assert_eq!((mistake.line, mistake.column), (7, 9), "at the value");
        let confirmed =
            own(&value(key, loose, unit, CONFIRMED)).expect("confirmed by name").resolve().expect("usable");
        let listed = confirmed.values().iter().find(|value| value.key == key).expect("listed");
        assert_eq!(listed.confirmed_by.as_deref(), Some("Ines Valdrun"));
    }
}

#[test]
fn a_looser_value_is_told_beside_other_mistakes() {
    let text = value("wear_seconds", "60", "seconds", VERIFIED) + &value("shoe_size", "42", "size", VERIFIED);
    let found: Vec<_> =
        own(&text).expect_err("mistakes").into_iter().map(|mistake| (mistake.key, mistake.kind)).collect();
    let expected = [
        ("wear_seconds".to_owned(), MistakeKind::LooserWithoutConfirmation),
        ("shoe_size".to_owned(), MistakeKind::Malformed),
    ];
    assert_eq!(found, expected);
}

/// Switching on what a base has switched off, and a set that stands on nothing.
#[test]
fn fact_3_83_smoke_is_switched_on_by_a_named_person_only() {
    let on = |rest| own(&value("irritant_smoke.accepted", "true", "yes or no", rest));
    let found = on(VERIFIED).expect_err("looser");
    assert_eq!(found.first().map(|mistake| mistake.kind), Some(MistakeKind::LooserWithoutConfirmation));
    let rules = on(CONFIRMED).expect("confirmed").resolve().expect("usable");
    assert!(rules.method(Method::IrritantSmoke).is_ok());
    let off = own(&value("saccharin.accepted", "false", "yes or no", VERIFIED)).expect("stricter").resolve();
    assert!(off.expect("usable").method(Method::Saccharin).is_err());
    let alone = Document::read_own(
        "name = \"ours\"\nversion = \"2026-11-25.1\"\ntitle = \"Ours\"\n[values]\n",
        &|_| None,
    );
    assert!(alone.expect_err("a mistake").iter().any(|mistake| mistake.key == "based_on"));
}
