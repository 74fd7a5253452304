//! The embedded rule set against the published numbers, and precise errors for a broken one.

use sellion_rules::dates::{DueReading, Interval};
use sellion_rules::ladder::LadderKind;
use sellion_rules::method::Method;
use sellion_rules::ruleset::{RuleScalar, RuleSet, RuleStatus, UnsureReading};
use sellion_rules::supplies::Agent;

use crate::support::{NAME, VERSION, attempt_rules, rules};

const TEXT: &str = include_str!("../../rulesets/us-29cfr1910-134.toml");

/// 29 CFR 1910.134 and its Appendix A, number by number.
#[test]
fn the_published_numbers() {
    let rules = rules();
    let attempt = attempt_rules(Method::Saccharin);
    let doses = attempt.doses.as_ref().expect("doses");
    assert_eq!(attempt.wear_seconds, 5 * 60, "fact 2.16: I.A.12");
    assert_eq!(attempt.no_intake_seconds, 15 * 60, "facts 3.39 and 3.61: I.B.3(b)(1), I.B.4(b)(1)");
    assert_eq!(rules.screening.no_intake_seconds, 15 * 60);
    assert_eq!((rules.screening.sets, rules.screening.set_squeezes), (3, 10), "facts 3.30 to 3.32 and 3.59");
    assert_eq!(doses.redose_interval_seconds, 30, "facts 3.47 and 3.66: I.B.3(b)(9), I.B.4(b)(9)");
    assert_eq!(doses.redose_percent, 50, "facts 3.47 and 3.66: half");
    assert_eq!(rules.supplies.fill_life_seconds, 4 * 3600, "facts 3.38 and 3.60: I.B.3(a)(14), I.B.4(a)(14)");
    assert_eq!(rules.clearance.qualitative_fit_factor_max, 100, "fact 1.25: (f)(6)");
    assert_eq!(rules.clearance.interval, Interval { months: 12, strict_days: 365 }, "fact 1.20: (f)(2)");
    assert_eq!(rules.ladder.kind, LadderKind::Strict, "facts 3.49 and 3.67: I.B.3(b)(11), I.B.4(b)(11)");
    assert!(doses.clog_voids_saccharin, "fact 3.50: I.B.3(b)(12)");
    assert_eq!(rules.agents, [Agent::Saccharin, Agent::DenatoniumBenzoate]);
}

/// 29 CFR 1910.134 App. A I.A.14(a) and (b) (facts 2.20, 2.21, 2.22, 2.25, 2.27 and 3.46).
#[test]
fn fact_2_25_seven_exercises_of_a_minute_and_no_grimace() {
    let exercises = attempt_rules(Method::Saccharin).exercises;
    let keys: Vec<_> = exercises.iter().map(|exercise| exercise.key.as_str()).collect();
    let expected = [
        "normal_breathing",
        "deep_breathing",
        "head_side_to_side",
        "head_up_and_down",
        "talking",
        "bending_over",
        "normal_breathing",
    ];
    assert_eq!(keys, expected);
    assert!(exercises.iter().all(|exercise| exercise.seconds == 60));
    assert_eq!(exercises.iter().map(|exercise| exercise.number).collect::<Vec<_>>(), [1, 2, 3, 4, 5, 6, 7]);
    assert_eq!(attempt_rules(Method::Saccharin).exercise_seconds(), 420);
    let alternatives: Vec<_> =
        exercises.iter().filter_map(|exercise| exercise.alternative.as_deref()).collect();
    assert_eq!(alternatives, ["jogging_in_place"], "fact 2.22: only bending has one");
}

/// Values that no text gives are marked so (facts 3.51, 3.52 and 3.68).
#[test]
fn what_the_text_is_silent_about_is_marked() {
    let rules = rules();
    let status = |key: &str| rules.values().iter().find(|value| value.key == key).map(|value| value.status);
    let common = [
        "seal_check_tries",
        "dose_early_tolerance_seconds",
        "dose_late_tolerance_seconds",
        "unsure_counts_as",
        "fails_before_referral",
        "wait_after_fail_seconds",
        "agent_switch_wait_seconds",
        "interval_strict_days",
        "due_reading",
        "clog_voids_denatonium_benzoate",
    ];
    for value in rules.values() {
        let expected = match value.key.as_str() {
            "opened_life_days" => RuleStatus::Unconfirmed,
            key if common.contains(&key) => RuleStatus::CommonPractice,
            _ => RuleStatus::Verified,
        };
        assert_eq!(value.status, expected, "{}", value.key);
        assert!(!value.source.is_empty() && !value.unit.is_empty(), "{}", value.key);
        let without_text =
            value.source.starts_with("common practice, no source") || value.source.starts_with("no source");
        assert!(without_text || value.source.contains("29 CFR 1910.134"), "{}", value.key);
        assert!(!without_text || value.status != RuleStatus::Verified, "{}", value.key);
    }
    assert_eq!(status("wear_seconds"), Some(RuleStatus::Verified));
    let attempt = attempt_rules(Method::Saccharin);
    let doses = attempt.doses.expect("doses");
    assert_eq!(doses.dose_early_tolerance_seconds, 5);
    assert_eq!(doses.dose_late_tolerance_seconds, 10);
    assert_eq!(attempt.unsure_counts_as, UnsureReading::Tasted);
    assert_eq!((rules.ladder.fails_before_referral, rules.ladder.wait_after_fail_seconds), (3, 900));
    assert_eq!(rules.ladder.agent_switch_wait_seconds, 900);
    assert_eq!(rules.clearance.due_reading, DueReading::Earlier);
    assert_eq!(rules.supplies.opened_life_days, None);
    assert_eq!(rules.unconfirmed().map(|value| value.key.as_str()).collect::<Vec<_>>(), ["opened_life_days"]);
}

#[test]
fn every_value_of_the_file_is_listed_once() {
    let rules = rules();
    let mut keys: Vec<_> = rules.values().iter().map(|value| value.key.clone()).collect();
    assert_eq!(keys.len(), TEXT.matches("status = ").count());
    keys.sort();
    keys.dedup();
    assert_eq!(keys.len(), rules.values().len());
    let wear = rules.values().iter().find(|value| value.key == "wear_seconds").expect("listed");
    assert_eq!((&wear.value, wear.unit.as_str()), (&RuleScalar::Number(300), "seconds"));
}

#[test]
fn rule_sets_are_found_by_name_and_version() {
    let all = RuleSet::load_embedded().expect("every embedded set is sound");
    assert_eq!(all.iter().map(|set| set.name.as_str()).collect::<Vec<_>>(), [NAME]);
    assert_eq!(RuleSet::find(NAME, VERSION), Some(rules()));
    assert_eq!(RuleSet::find(NAME, "2019-09-26.2"), None);
    assert_eq!(RuleSet::find("elsewhere", VERSION), None);
}

/// A file with one thing changed.
fn changed(from: &str, to: &str) -> Result<RuleSet, (String, String)> {
    assert!(TEXT.contains(from), "{from}");
    RuleSet::parse(&TEXT.replacen(from, to, 1)).map_err(|error| (error.key, error.reason))
}

/// What is changed, into what, the key the error names, and what it says of it.
const BROKEN: &[(&str, &str, &str, &str)] = &[
    (
        "[values.wear_seconds]\nvalue = 300",
        "[values.wear_seconds]\nvalue = -1",
        "wear_seconds",
        "-1 is less than 0",
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
        "5000000000 is too large",
    ),
    ("[values.wear_seconds]", "[values.wear_second]", "wear_seconds", "the value is missing"),
    ("value = \"earlier\"", "value = \"latest\"", "due_reading", "\"latest\" is not a DueReading"),
    ("value = \"strict\"", "value = true", "ladder", "a word is expected"),
    ("value = \"not_set\"", "value = \"soon\"", "opened_life_days", "a whole number is expected"),
    (
        "value = 3\nunit = \"sets\"",
        "value = 4\nunit = \"sets\"",
        "screening_sets",
        "there is a level for each of three sets and no more",
    ),
    (
        "value = 10\nunit = \"squeezes\"",
        "value = 9\nunit = \"squeezes\"",
        "screening_set_squeezes",
        "levels are counted in sets of ten",
    ),
    (
        "[values.dose_late_tolerance_seconds]\nvalue = 10",
        "[values.dose_late_tolerance_seconds]\nvalue = 25",
        "dose_late_tolerance_seconds",
        "the tolerances of two doses overlap, so one squeeze could count for either",
    ),
    ("value = 50\n", "value = 101\n", "redose_percent", "a later dose is not larger than the first"),
    (
        "source = \"29 CFR 1910.134(f)(6)\"",
        "source = \" \"",
        "qualitative_fit_factor_max",
        "the source is empty; write \"no source\" where there is none",
    ),
    (
        "key = \"deep_breathing\"\nseconds = 60",
        "key = \"deep_breathing\"\nseconds = 0",
        "exercise_2",
        "it has no length",
    ),
    (
        "agent = \"denatonium_benzoate\"",
        "agent = \"saccharin\"",
        "clog_voids_saccharin",
        "the agent is listed twice",
    ),
    (
        "version = \"2019-09-26.1\"",
        "version = \"2019\"",
        "version",
        "write it as a date and a running number, as 2019-09-26.1",
    ),
    (
        "name = \"us-29cfr1910-134\"",
        "name = \"US 29\"",
        "name",
        "write it in small letters, digits and hyphens",
    ),
];

#[test]
fn errors_name_the_key_and_what_is_wrong() {
    for (from, to, key, reason) in BROKEN {
        assert_eq!(changed(from, to), Err(((*key).to_owned(), (*reason).to_owned())));
    }
    let extra = "[values.shoe_size]\nvalue = 42\nunit = \"size\"\nsource = \"no source\"\nstatus = \"unconfirmed\"\n\n[[agents]]";
    assert_eq!(
        changed("[[agents]]", extra),
        Err(("shoe_size".to_owned(), "no such value is known".to_owned()))
    );
}

#[test]
fn broken_files_are_errors_and_not_panics() {
    for text in ["", "name = 3", "[[exercises]]", "name = \"x", "\u{0}"] {
        let error = RuleSet::parse(text).expect_err(text);
        assert!(!error.to_string().is_empty());
    }
    let (_, reason) = changed("status = \"verified\"", "status = \"believed\"").expect_err("no such status");
    assert!(reason.contains("believed"), "{reason}");
    let (_, reason) = changed("unit = \"sets\"", "units = \"sets\"").expect_err("misspelled");
    assert!(reason.contains("units"), "{reason}");
}

/// The parser is no reader of one file: another country's numbers are only data.
#[test]
fn another_set_is_only_data() {
    let other = TEXT
        .replace("us-29cfr1910-134", "elsewhere-1")
        .replace("[values.wear_seconds]\nvalue = 300", "[values.wear_seconds]\nvalue = 600")
        .replace("value = \"earlier\"", "value = \"anniversary\"")
        .replace("value = \"not_set\"", "value = 90");
    let set = RuleSet::parse(&other).expect("a sound set");
    assert_eq!(
        (set.name.as_str(), set.methods[&Method::Saccharin].half_facepiece.wear_seconds),
        ("elsewhere-1", 600)
    );
    assert_eq!(set.clearance.due_reading, DueReading::Anniversary);
    assert_eq!(set.supplies.opened_life_days, Some(90));
}
