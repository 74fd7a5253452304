//! The embedded rule set against the published numbers, and precise errors for a broken one.

use sellion_rules::dates::{DueReading, Interval};
use sellion_rules::ladder::LadderKind;
use sellion_rules::method::Method;
use sellion_rules::ruleset::{Document, RuleScalar, RuleSet, RuleStatus, UnsureReading};
use sellion_rules::supplies::{Agent, Solution};

use crate::support::{NAME, VERSION, attempt_rules, rules};

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
    assert_eq!(rules.agents, [Agent::Saccharin, Agent::DenatoniumBenzoate, Agent::IsoamylAcetate]);
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

/// Values that no text gives are marked so (facts 3.51, 3.52 and 3.68), and every value has unit and source.
#[test]
fn what_the_text_is_silent_about_is_marked() {
    let rules = rules();
    for value in rules.values() {
        assert!(!value.source.is_empty() && !value.unit.is_empty(), "{}", value.key);
        let without_text =
            value.source.starts_with("common practice") || value.source.starts_with("no source");
        assert!(without_text || value.source.contains("29 CFR 1910.134"), "{}: {}", value.key, value.source);
        assert!(!without_text || value.status != RuleStatus::Verified, "{}", value.key);
    }
    let attempt = attempt_rules(Method::Saccharin);
    let doses = attempt.doses.expect("doses");
    assert_eq!((doses.dose_early_tolerance_seconds, doses.dose_late_tolerance_seconds), (5, 10));
    assert_eq!(attempt.unsure_counts_as, UnsureReading::Tasted);
    assert_eq!((rules.ladder.fails_before_referral, rules.ladder.wait_after_fail_seconds), (3, 900));
    assert_eq!(rules.ladder.agent_switch_wait_seconds, 900);
    assert_eq!(rules.clearance.due_reading, DueReading::Earlier);
    assert_eq!(rules.supplies.opened_life_days, None);
    assert_eq!(rules.unconfirmed().map(|value| value.key.as_str()).collect::<Vec<_>>(), ["opened_life_days"]);
}

#[test]
fn every_value_is_listed_once() {
    for set in Document::embedded().expect("every embedded set is sound") {
        let mut keys: Vec<_> = set.values().iter().map(|value| value.key.clone()).collect();
        let count = keys.len();
        keys.sort();
        keys.dedup();
        assert_eq!(keys.len(), count, "{}", set.id);
    }
    let rules = rules();
    let wear = rules.values().iter().find(|value| value.key == "wear_seconds").expect("listed");
    assert_eq!((&wear.value, wear.unit.as_str()), (&RuleScalar::Number(300), "seconds"));
}

/// Records stand on every version that ever came with the program.
#[test]
fn rule_sets_are_found_by_name_and_version() {
    assert_eq!(RuleSet::find(NAME, VERSION), Some(rules()));
    assert_eq!(RuleSet::newest(NAME), Some(rules()));
    let first = RuleSet::find(NAME, "2019-09-26.1").expect("the first version stays");
    assert_eq!(
        first.methods.keys().copied().collect::<Vec<_>>(),
        [Method::Saccharin, Method::DenatoniumBenzoate]
    );
    assert_eq!(first.methods[&Method::Saccharin], rules().methods[&Method::Saccharin]);
    assert_eq!(RuleSet::find(NAME, "2019-09-26.3"), None);
    assert_eq!(RuleSet::find("elsewhere", VERSION), None);
}

/// What was read only in summaries or remembered is there, and counts for nothing until a person confirms it.
#[test]
fn other_countries_sets_are_unconfirmed_and_not_usable() {
    for name in ["uk-hse-indg479", "ca-csa-z94.4", "iso-16975-3", "au-nzs-1715"] {
        let set = Document::newest(name).expect("it comes with the program");
        assert!(set.resolve().is_err() && !set.open().is_empty(), "{name}");
        let counting = set.values().into_iter().filter(|value| value.status.counts());
        for value in counting.filter(|value| value.status == RuleStatus::Verified) {
            assert!(value.key.starts_with("notes."), "{name}: {} is not verified in our notes", value.key);
        }
        assert!(RuleSet::newest(name).is_none(), "{name}");
    }
    let british = Document::newest("uk-hse-indg479").expect("a set").values();
    let value = |key: &str| british.iter().find(|value| value.key == key).map(|value| value.value.clone());
    assert_eq!(
        value("ambient_aerosol.pass_level_full_facepiece"),
        Some(RuleScalar::Number(2000)),
        "fact 5.12"
    );
    let reading = RuleScalar::Text("every_exercise".to_owned());
    assert_eq!(value("ambient_aerosol.reading"), Some(reading), "fact 5.13");
    let canadian = Document::newest("ca-csa-z94.4").expect("a set").values();
    let months =
        canadian.iter().find(|value| value.key == "interval_months").map(|value| value.value.clone());
    assert_eq!(months, Some(RuleScalar::Number(24)), "fact 5.19");
}

/// 29 CFR 1910.134 App. A I.B.2(a)(3), (5), I.B.3(a)(5), (b)(5), I.B.4(a)(5), (b)(5).
#[test]
fn facts_3_6_3_8_3_28_3_43_3_58_and_3_64_recipes_and_their_lives() {
    let day = |text: &str| text.parse::<chrono::NaiveDate>().expect("a day");
    let rules = rules();
    let recipe = |agent, solution| {
        let mut recipes = rules.recipes.iter();
        recipes.find(|recipe| recipe.agent == agent && recipe.solution == solution).expect("a recipe")
    };
    let what = |agent, solution| {
        recipe(agent, solution).ingredients.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
    };
    let stock = recipe(Agent::IsoamylAcetate, Solution::Stock);
    assert_eq!(stock.last_day(day("2026-03-02")), Some(day("2026-03-08")), "new at least weekly; row 10.30");
    let odour = recipe(Agent::IsoamylAcetate, Solution::Screening);
    assert_eq!(odour.last_day(day("2026-03-02")), Some(day("2026-03-02")), "for one day only");
    assert_eq!(recipe(Agent::Saccharin, Solution::Test).last_day(day("2026-03-02")), None, "fact 3.51");
    assert!(what(Agent::IsoamylAcetate, Solution::Stock).starts_with("1 ml pure isoamyl acetate, 800 ml"));
    assert!(what(Agent::IsoamylAcetate, Solution::Screening).starts_with("0.4 ml stock solution, 500 ml"));
    assert!(what(Agent::Saccharin, Solution::Screening).starts_with("0.83 g sodium saccharin USP, 100 ml"));
    assert!(what(Agent::Saccharin, Solution::Test).starts_with("83 g sodium saccharin, 100 ml"));
    assert!(
        what(Agent::DenatoniumBenzoate, Solution::Screening)
            .starts_with("13.5 mg denatonium benzoate, 100 ml")
    );
    assert!(
        what(Agent::DenatoniumBenzoate, Solution::Test).starts_with("337.5 mg denatonium benzoate, 200 ml")
    );
}
