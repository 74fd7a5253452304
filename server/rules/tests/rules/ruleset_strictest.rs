//! Random rule sets, complete ones and ones with open values, methods left out and other exercises: what comes of several
//! of them together is the same whatever the order, at least as strict as each, and accepts nothing that one refused.

use proptest::prelude::*;
use sellion_rules::method::Method;
use sellion_rules::ruleset::{
    AttemptRules, Document, Exercise, FitReading, RuleScalar, RuleSet, RuleSetVersion, Slot, UnsureReading,
};

use crate::ruleset_random::{Choices, choices, document};

fn id() -> RuleSetVersion {
    RuleSetVersion { name: "together".to_owned(), version: "2027-01-01.1".to_owned() }
}

fn combine(sets: &[&Document]) -> Document {
    let sets: Vec<_> = sets.iter().map(|set| (*set).clone()).collect();
    Document::combine(id(), "Together", &sets)
}

/// Everything that can be seen of a rule set, besides the names of what it was combined from.
fn seen(set: &Document) -> impl PartialEq + std::fmt::Debug + use<> {
    let accepted: Vec<_> = Method::ALL.iter().map(|method| set.accepts(*method)).collect();
    (set.values(), accepted, set.resolve())
}

fn three() -> impl Strategy<Value = [Document; 3]> {
    let one = || choices(4);
    (one(), one(), one()).prop_map(|(a, b, c)| [document("a", &a), document("b", &b), document("c", &c)])
}

fn usable() -> impl Strategy<Value = Choices> {
    choices(0)
}

fn exercises_hold(strict: &[Exercise], loose: &[Exercise]) -> bool {
    // Scored exercises in the same order, each at least as long; others may come between them.
    let scored = |list: &[Exercise]| {
        let measured = list.iter().any(|exercise| exercise.measurements > 0);
        list.iter().filter(|exercise| !measured || exercise.measurements > 0).cloned().collect::<Vec<_>>()
    };
    let (strict_scored, loose_scored) = (scored(strict), scored(loose));
    strict_scored.len() == loose_scored.len()
        && strict_scored.iter().zip(&loose_scored).all(|(strict, loose)| {
            strict.key == loose.key
                && strict.seconds >= loose.seconds
                && strict.measurements >= loose.measurements
                && strict.measuring_seconds >= loose.measuring_seconds
                && (strict.alternative.is_none() || strict.alternative == loose.alternative)
        })
        && loose.iter().all(|loose| {
            strict.iter().any(|strict| strict.key == loose.key && strict.seconds >= loose.seconds)
        })
}

/// Whether every value of an attempt is at least as strict.
fn holds(strict: &AttemptRules, loose: &AttemptRules) -> bool {
    let unsure = |rules: &AttemptRules| rules.unsure_counts_as == UnsureReading::Tasted;
    let doses = strict.doses.as_ref().zip(loose.doses.as_ref()).is_none_or(|(strict, loose)| {
        strict.redose_interval_seconds <= loose.redose_interval_seconds
            && strict.redose_percent >= loose.redose_percent
            && strict.dose_early_tolerance_seconds <= loose.dose_early_tolerance_seconds
            && strict.dose_late_tolerance_seconds <= loose.dose_late_tolerance_seconds
            && strict.clog_voids_saccharin >= loose.clog_voids_saccharin
            && strict.clog_voids_denatonium_benzoate >= loose.clog_voids_denatonium_benzoate
    });
    let odour = strict.odour.as_ref().map(|odour| odour.settle_seconds)
        >= loose.odour.as_ref().map(|odour| odour.settle_seconds);
    let smoke = strict.smoke.as_ref().map(|smoke| smoke.perimeter_passes)
        >= loose.smoke.as_ref().map(|smoke| smoke.perimeter_passes);
    let measuring = strict.measuring.as_ref().zip(loose.measuring.as_ref()).is_none_or(|(strict, loose)| {
        let every = |reading: FitReading| reading == FitReading::EveryExercise;
        every(strict.reading) >= every(loose.reading)
            && strict.pass_level >= loose.pass_level
            && strict.peak_percent_max <= loose.peak_percent_max
            && strict.chamber_drift_percent_max <= loose.chamber_drift_percent_max
            && strict.breath_hold_seconds >= loose.breath_hold_seconds
            && strict.plausible_fit_factor_max <= loose.plausible_fit_factor_max
            && strict.while_moving >= loose.while_moving
    });
    strict.wear_seconds >= loose.wear_seconds
        && strict.no_intake_seconds >= loose.no_intake_seconds
        && strict.seal_check_tries <= loose.seal_check_tries
        && unsure(strict) >= unsure(loose)
        && exercises_hold(&strict.exercises, &loose.exercises)
        && doses
        && odour
        && smoke
        && measuring
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn the_order_does_not_matter([a, b, c] in three()) {
        prop_assert_eq!(combine(&[&a, &b, &c]), combine(&[&c, &a, &b]));
        prop_assert_eq!(combine(&[&a, &b]), combine(&[&b, &a]));
    }

    #[test]
    fn the_grouping_does_not_matter([a, b, c] in three()) {
        let first = combine(&[&combine(&[&a, &b]), &c]);
        let last = combine(&[&a, &combine(&[&b, &c])]);
        prop_assert_eq!(seen(&first), seen(&last));
        prop_assert_eq!(seen(&first), seen(&combine(&[&a, &b, &c])));
    }

    #[test]
    fn the_same_set_twice_is_that_set([a, b, _c] in three()) {
        prop_assert_eq!(combine(&[&a, &a]), combine(&[&a]));
        prop_assert_eq!(combine(&[&a]).values(), a.values());
        let both = combine(&[&a, &b]);
        prop_assert_eq!(seen(&combine(&[&both, &a])), seen(&both));
    }

    #[test]
    fn no_value_becomes_looser([a, b, c] in three()) {
        let all = combine(&[&a, &b, &c]);
        for set in [&a, &b, &c, &combine(&[&a, &b])] {
            for slot in Slot::all().filter(|slot| slot.key.name != "exercises") {
                let Some(value) = set.holds(slot) else { continue };
                let together = all.holds(slot).expect("a value that one of them has");
                let strict = slot.key.kind.is_at_least_as_strict(&together, &value);
                prop_assert!(strict, "{}: {} and {}", slot.flat(), together, value);
            }
        }
    }

    #[test]
    fn what_was_not_accepted_stays_so([a, b, c] in three()) {
        let (both, all) = (combine(&[&a, &b]), combine(&[&a, &b, &c]));
        for method in Method::ALL {
            for (fewer, more) in [(&a, &both), (&b, &both), (&both, &all), (&c, &all)] {
                prop_assert!(fewer.accepts(*method).is_ok() || more.accepts(*method).is_err(), "{}", method);
            }
        }
    }

    #[test]
    fn every_attempt_is_governed_at_least_as_strictly(a in usable(), b in usable()) {
        let (a, b) = (document("a", &a), document("b", &b));
        let both = combine(&[&a, &b]).resolve().expect("every value counts");
        let of = |set: &Document| set.resolve().expect("every value counts");
        for set in [of(&a), of(&b)] {
            for (method, rules) in &both.methods {
                let member = set.method(*method).expect("accepted by each");
                prop_assert!(holds(&rules.half_facepiece, &member.half_facepiece), "{}", method);
                prop_assert!(holds(&rules.full_facepiece, &member.full_facepiece), "{}", method);
            }
            prop_assert!(shared_hold(&both, &set));
        }
    }
}

fn shared_hold(strict: &RuleSet, loose: &RuleSet) -> bool {
    let life = |set: &RuleSet| set.supplies.opened_life_days.unwrap_or(u32::MAX);
    let recipe = |set: &RuleSet| set.recipes[0].life_days.unwrap_or(u32::MAX);
    strict.screening.sets <= loose.screening.sets
        && strict.screening.plain_water_check >= loose.screening.plain_water_check
        && strict.ladder.kind >= loose.ladder.kind
        && strict.ladder.fails_before_referral <= loose.ladder.fails_before_referral
        && strict.ladder.wait_after_fail_seconds >= loose.ladder.wait_after_fail_seconds
        && strict.ladder.agent_switch_wait_seconds >= loose.ladder.agent_switch_wait_seconds
        && strict.ladder.wait_after_failed_odour_seconds >= loose.ladder.wait_after_failed_odour_seconds
        && strict.ladder.quantitative_after_fail >= loose.ladder.quantitative_after_fail
        && strict.supplies.fill_life_seconds <= loose.supplies.fill_life_seconds
        && life(strict) <= life(loose)
        && recipe(strict) <= recipe(loose)
        && strict.clearance.interval.months <= loose.clearance.interval.months
        && strict.clearance.interval.strict_days <= loose.clearance.interval.strict_days
        && strict.clearance.qualitative_fit_factor_max <= loose.clearance.qualitative_fit_factor_max
}

/// Two readings of "annually" that cannot be compared come to the earlier of both days, and both decided it.
#[test]
fn two_readings_come_to_the_earlier_one() {
    let us = Document::newest("us-29cfr1910-134").expect("embedded");
    let with = |name: &str, reading: &str| {
        let text = include_str!("../../rulesets/us-29cfr1910-134.toml")
            .replacen("us-29cfr1910-134", name, 1)
            .replace("value = \"earlier\"", &format!("value = \"{reading}\""));
        Document::parse(&text).expect("sound")
    };
    let (by_day, by_date) = (with("by-day", "strict_days"), with("by-date", "anniversary"));
    let decided = |set: &Document| {
        let value = set.values().into_iter().find(|value| value.key == "due_reading").expect("listed");
        (value.value, value.decided_by.into_iter().map(|by| by.name).collect::<Vec<_>>())
    };
    let earlier = RuleScalar::Text("earlier".to_owned());
    let both = combine(&[&by_day, &by_date]);
    assert_eq!(decided(&both), (earlier.clone(), vec!["by-date".to_owned(), "by-day".to_owned()]));
    assert_eq!(decided(&combine(&[&both, &us])), (earlier, vec!["us-29cfr1910-134".to_owned()]));
}

/// Where no list of exercises can hold both, the method is not accepted and says why.
#[test]
fn lists_that_do_not_go_together_are_named() {
    let text = include_str!("../../rulesets/us-29cfr1910-134.toml");
    let with =
        |name: &str, text: &str| Document::parse(&text.replacen("us-29cfr1910-134", name, 1)).expect("sound");
    let first = with("first", text);
    let without = text.replacen("key = \"facing_forward\"", "key = \"normal_breathing\"", 1);
    let second = with("second", &without);
    let both = combine(&[&first, &second]);
    let why = both.accepts(Method::ControlledNegativePressureRedon).expect_err("another list");
    assert!(why.sentence.contains("facing_forward") && why.sentence.contains("second"), "{}", why.sentence);
    assert!(both.accepts(Method::ControlledNegativePressure).is_ok());
    let refusal = both.resolve().expect("usable").method(Method::ControlledNegativePressureRedon).cloned();
    assert!(refusal.is_err());
}

/// An exercise that is not scored is added; of the others the longest counts.
#[test]
fn a_grimace_of_one_set_joins_the_exercises_of_the_other() {
    let text = include_str!("../../rulesets/us-29cfr1910-134.toml").replacen("us-29cfr1910-134", "other", 1);
    let of = |key: &str| format!("[[exercises.quantitative]]\nkey = \"{key}\"\n");
    let (start, end) =
        (text.find(&of("grimace")).expect("one"), text.find(&of("bending_over")).expect("one"));
    let talking = format!("{}seconds = 60", of("talking"));
    assert!(start < end && text.contains(&talking));
    let without = format!("{}{}", &text[..start], &text[end..])
        .replace(&talking, &format!("{}seconds = 90", of("talking")));
    let us = Document::newest("us-29cfr1910-134").expect("embedded");
    let other = Document::parse(&without).expect("sound");
    for both in [combine(&[&us, &other]), combine(&[&other, &us])] {
        let rules = both.resolve().expect("usable");
        let exercises = &rules.methods[&Method::AmbientAerosol].half_facepiece.exercises;
        let of: Vec<_> = exercises.iter().map(|of| (of.number, of.key.as_str(), of.seconds)).collect();
        assert_eq!(of[4..7], [(5, "talking", 90), (6, "grimace", 15), (7, "bending_over", 60)]);
        assert_eq!(of.len(), 8);
    }
}
