//! The embedded rule set against the published numbers: what is shared, and the two taste protocols.

use sellion_rules::dates::{DueReading, Interval};
use sellion_rules::ladder::LadderKind;
use sellion_rules::method::Method;
use sellion_rules::ruleset::{
    Document, MeasuredFail, RuleScalar, RuleSet, RuleSetVersion, RuleStatus, RuleValue, UnsureReading,
};
use sellion_rules::supplies::Agent;

use crate::support::{NAME, attempt_rules, rules};

const FIRST: &str = include_str!("../../rulesets/us-29cfr1910-134_2019-09-26.1.toml");
const TEXT: &str = include_str!("../../rulesets/us-29cfr1910-134.toml");

fn versions() -> [RuleSet; 2] {
    ["2019-09-26.1", "2019-09-26.2"].map(|version| RuleSet::find(NAME, version).expect("embedded and usable"))
}

/// 29 CFR 1910.134 and its Appendix A, number by number.
#[test]
fn the_published_numbers() {
    for rules in versions() {
        let attempt = &rules.methods[&Method::Saccharin].half_facepiece;
        let doses = attempt.doses.as_ref().expect("doses");
        assert_eq!(attempt.wear_seconds, 5 * 60, "fact 2.16: I.A.12");
        assert_eq!(attempt.no_intake_seconds, 15 * 60, "facts 3.39 and 3.61: I.B.3(b)(1), I.B.4(b)(1)");
        assert_eq!(rules.screening.no_intake_seconds, 15 * 60);
        let sets = (rules.screening.sets, rules.screening.set_squeezes);
        assert_eq!(sets, (3, 10), "facts 3.30 to 3.32 and 3.59");
        assert!(!rules.screening.plain_water_check);
        assert_eq!(doses.redose_interval_seconds, 30, "facts 3.47 and 3.66: I.B.3(b)(9), I.B.4(b)(9)");
        assert_eq!(doses.redose_percent, 50, "facts 3.47 and 3.66: half");
        assert_eq!(rules.supplies.fill_life_seconds, 4 * 3600, "facts 3.38 and 3.60: (a)(14) of both");
        assert_eq!(rules.clearance.qualitative_fit_factor_max, 100, "fact 1.25: (f)(6)");
        assert_eq!(rules.clearance.interval, Interval { months: 12, strict_days: 365 }, "fact 1.20: (f)(2)");
        assert_eq!(rules.ladder.kind, LadderKind::Strict, "facts 3.49 and 3.67: I.B.3(b)(11), I.B.4(b)(11)");
        assert_eq!(rules.ladder.quantitative_after_fail, MeasuredFail::Refit, "fact 4.16: I.C.2(b)(7)");
        assert!(doses.clog_voids_saccharin, "fact 3.50: I.B.3(b)(12)");
        assert!(doses.clog_voids_denatonium_benzoate, "common practice, no source: fact 3.68");
    }
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
    assert!(exercises.iter().all(|exercise| exercise.seconds == 60 && exercise.measurements == 0));
    assert_eq!(exercises.iter().map(|exercise| exercise.number).collect::<Vec<_>>(), [1, 2, 3, 4, 5, 6, 7]);
    assert_eq!(attempt_rules(Method::Saccharin).exercise_seconds(), 420);
    let alternatives: Vec<_> =
        exercises.iter().filter_map(|exercise| exercise.alternative.as_deref()).collect();
    assert_eq!(alternatives, ["jogging_in_place"], "fact 2.22: only bending has one");
}

/// The first version stays as it was: two taste methods, and the others refused with the reason.
#[test]
fn the_first_version_knows_two_methods_only() {
    let [first, second] = versions();
    assert_eq!(first.agents, [Agent::Saccharin, Agent::DenatoniumBenzoate]);
    let both: Vec<_> = first.methods.keys().copied().collect();
    assert_eq!(both, [Method::Saccharin, Method::DenatoniumBenzoate]);
    for method in both {
        assert_eq!(first.methods[&method], second.methods[&method], "{method} did not change");
    }
    let refusal = first.method(Method::AmbientAerosol).expect_err("not listed");
    assert_eq!(
        refusal.detail,
        "The rule set us-29cfr1910-134 2019-09-26.1 does not list ambient aerosol, so it does not accept it."
    );
    assert_eq!(first.ladder.wait_after_failed_odour_seconds, 0, "no odour is used");
}

/// Values that no text gives are marked so (facts 3.51, 3.52 and 3.68).
#[test]
fn what_the_text_is_silent_about_is_marked() {
    let common = [
        "plain_water_check",
        "seal_check_tries",
        "dose_early_tolerance_seconds",
        "dose_late_tolerance_seconds",
        "unsure_counts_as",
        "fails_before_referral",
        "wait_after_fail_seconds",
        "agent_switch_wait_seconds",
        "interval_strict_days",
        "due_reading",
        "denatonium_benzoate.clog_voids",
        "irritant_smoke.accepted",
    ];
    for rules in versions() {
        for value in rules.values() {
            let key = value.key.as_str();
            let trade = common.contains(&key)
                || key.ends_with("plausible_fit_factor_max")
                || key.ends_with("while_moving");
            let expected = match key {
                "opened_life_days" => RuleStatus::Unconfirmed,
                _ if trade => RuleStatus::CommonPractice,
                _ => RuleStatus::Verified,
            };
            assert_eq!(value.status, expected, "{key}");
            assert!(!value.source.is_empty() && !value.unit.is_empty(), "{key}");
            let without_text = value.source.starts_with("common practice, no source")
                || value.source.starts_with("no source");
            assert!(without_text || value.source.contains("29 CFR 1910.134"), "{key}");
            assert!(!without_text || value.status != RuleStatus::Verified, "{key}");
            assert_eq!(value.decided_by, [rules.id()]);
        }
        assert_eq!(
            rules.unconfirmed().map(|value| value.key.as_str()).collect::<Vec<_>>(),
            ["opened_life_days"]
        );
        assert_eq!(rules.supplies.opened_life_days, None, "fact 3.51: absence in text");
        assert_eq!((rules.ladder.fails_before_referral, rules.ladder.wait_after_fail_seconds), (3, 900));
        assert_eq!(rules.ladder.agent_switch_wait_seconds, 900);
        assert_eq!(rules.clearance.due_reading, DueReading::Earlier);
    }
    let attempt = attempt_rules(Method::Saccharin);
    let doses = attempt.doses.expect("doses");
    assert_eq!((doses.dose_early_tolerance_seconds, doses.dose_late_tolerance_seconds), (5, 10));
    assert_eq!(attempt.unsure_counts_as, UnsureReading::Tasted);
}

#[test]
fn every_value_of_the_file_is_listed_once() {
    for (rules, text) in versions().iter().zip([FIRST, TEXT]) {
        let written = |value: &&RuleValue| {
            let parts = [".alternative", ".measurements", ".measuring_seconds", ".breaths", ".sampling"];
            let part =
                value.key.starts_with("exercises.") && parts.iter().any(|part| value.key.ends_with(part));
            let of_recipe = value.key.ends_with(".instructions") || value.key.ends_with(".life_days");
            !part && !(value.key.starts_with("recipes.") && of_recipe)
        };
        assert_eq!(rules.values().iter().filter(written).count(), text.matches("status = ").count());
        let mut keys: Vec<_> = rules.values().iter().map(|value| value.key.clone()).collect();
        keys.sort();
        keys.dedup();
        assert_eq!(keys.len(), rules.values().len());
        let wear = rules.values().iter().find(|value| value.key == "wear_seconds").expect("listed");
        assert_eq!((&wear.value, wear.unit.as_str()), (&RuleScalar::Number(300), "seconds"));
    }
}

#[test]
fn rule_sets_are_found_by_name_and_version() {
    let all = RuleSet::load_embedded().expect("every embedded set is sound");
    let usable: Vec<_> = all.iter().map(RuleSet::id).collect();
    assert_eq!(usable, versions().map(|set| set.id()), "the others wait for somebody to confirm them");
    assert_eq!(RuleSet::find(NAME, "2019-09-26.1"), Some(rules()));
    assert_eq!(RuleSet::newest(NAME).map(|set| set.version), Some("2019-09-26.2".to_owned()));
    assert_eq!(RuleSet::find(NAME, "2019-09-26.3"), None);
    assert_eq!(RuleSet::find("elsewhere", "2019-09-26.1"), None);
    assert_eq!(RuleSet::newest("uk-hse-indg479"), None);
    assert_eq!(Document::newest(NAME).map(|set| set.id.version), Some("2019-09-26.2".to_owned()));
    assert_eq!(Document::embedded().expect("sound").len(), 6);
}

/// Versions are dates with a running number, so the tenth of a day is newer than the ninth.
#[test]
fn versions_are_ordered_by_day_and_number() {
    let place = |version: &str| RuleSetVersion { name: String::new(), version: version.to_owned() }.place();
    let ordered = ["2018-12-31.40", "2019-09-26.1", "2019-09-26.2", "2019-09-26.9", "2019-09-26.10"];
    for pair in ordered.windows(2) {
        assert!(place(pair[0]).is_some() && place(pair[0]) < place(pair[1]), "{pair:?}");
    }
    for none in
        ["", "2019", "2019-09-26", "2019-09-26.", "2019-9-26.1", "2019-02-30.1", "2019-09-26.+1", "x.1"]
    {
        assert_eq!(place(none), None, "{none}");
    }
}

/// The parser is no reader of one file: another country's numbers are only data.
#[test]
fn another_set_is_only_data() {
    let other = FIRST
        .replace("us-29cfr1910-134", "elsewhere-1")
        .replace("wear_seconds = { value = 300", "wear_seconds = { value = 600")
        .replace("value = \"earlier\"", "value = \"anniversary\"")
        .replace(
            "opened_life_days = { value = \"not_set\", unit = \"days\", source = \"no source: the text sets no shelf life, so label and local policy decide\", status = \"unconfirmed\" }",
            "opened_life_days = { value = 90, unit = \"days\", source = \"the labels\", status = \"common_practice\" }",
        );
    let set = RuleSet::parse(&other).expect("a sound set");
    let attempt = &set.methods[&Method::Saccharin].half_facepiece;
    assert_eq!((set.name.as_str(), attempt.wear_seconds), ("elsewhere-1", 600));
    assert_eq!(set.clearance.due_reading, DueReading::Anniversary);
    assert_eq!(set.supplies.opened_life_days, Some(90));
}
