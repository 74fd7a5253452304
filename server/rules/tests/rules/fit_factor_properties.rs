//! Fit factors of any readings against another library's arithmetic of arbitrary precision.

use dashu_float::DBig;
use proptest::collection::vec;
use proptest::prelude::*;
use sellion_rules::fit_factor::{Exact, Fit, Quantity, Reading, drift_over, drift_percent, fit};

/// Decimal digits that the other library computes with.
const DIGITS: usize = 80;
/// Billionths: the unit of the last digit that a quantity keeps.
const UNIT: u64 = 1_000_000_000;

/// A quantity of so many billionths.
fn billionths(number: u64) -> Quantity {
    format!("{}.{:09}", number / UNIT, number % UNIT).parse().expect("a quantity")
}

fn big(text: &str) -> DBig {
    text.parse::<DBig>().expect("a number").with_precision(DIGITS).value()
}

fn big_of(number: Quantity) -> DBig {
    big(&number.to_string())
}

/// Any quantity above zero, small ones as likely as great ones.
fn quantity() -> impl Strategy<Value = Quantity> {
    (1_u64..1_000_000_000, 0_u32..=9).prop_map(|(digits, power)| billionths(digits * 10_u64.pow(power)))
}

/// Readings of one kind, with what is outside before and after the test.
fn readings() -> impl Strategy<Value = (Vec<(u8, Reading)>, Quantity, Quantity)> {
    let one_kind = |kind: u8| {
        let reading = (quantity(), quantity(), quantity()).prop_map(move |(a, b, c)| match kind {
            0 => Reading::FitFactor { fit_factor: a },
            1 => Reading::Each { before: a, after: b, inside: c },
            2 => Reading::Continuous { outside: a, inside: b },
            _ => Reading::Inside { inside: a },
        });
        vec((1_u8..=9, reading), 1..=12)
    };
    ((0_u8..4).prop_flat_map(one_kind), quantity(), quantity())
}

/// The penetration of one reading.
fn penetration(reading: Reading, before: Quantity, after: Quantity) -> DBig {
    let mean = |one, other| (big_of(one) + big_of(other)) / big("2");
    match reading {
        Reading::FitFactor { fit_factor } => big("1") / big_of(fit_factor),
        Reading::Each { before, after, inside } => big_of(inside) / mean(before, after),
        Reading::Continuous { outside, inside } => big_of(inside) / big_of(outside),
        Reading::Inside { inside } => big_of(inside) / mean(before, after),
    }
}

fn reference(penetrations: &[DBig]) -> DBig {
    let sum = penetrations.iter().fold(big("0"), |sum, one| sum + one);
    big(&penetrations.len().to_string()) / sum
}

fn near(found: &DBig, expected: &DBig) -> bool {
    let difference = if found > expected { found - expected } else { expected - found };
    difference < expected * big("1e-12")
}

/// What travels and what charts are drawn from, both within a relative error of 1e-12.
fn agrees(found: &Exact, expected: &DBig) -> bool {
    let sent = serde_json::to_value(found).expect("json");
    let sent = big(sent.as_str().expect("a text"));
    let drawn = big(&format!("{:e}", found.to_f64()));
    // The reference itself is off in its last digits.
    let not_above = sent <= expected + expected * big("1e-70");
    near(&sent, expected) && near(&drawn, expected) && not_above
}

fn overall(readings: &[(u8, Reading)]) -> Exact {
    fit(readings, None, None).expect("a fit").overall
}

proptest! {
    #[test]
    fn factors_agree_with_arbitrary_precision((readings, before, after) in readings()) {
        let Fit { measurements, exercises, overall, .. } =
            fit(&readings, Some(before), Some(after)).expect("a fit");
        let all: Vec<_> = readings.iter().map(|(of, one)| (*of, penetration(*one, before, after))).collect();
        for (found, (exercise, expected)) in measurements.iter().zip(&all) {
            prop_assert_eq!(found.exercise, *exercise);
            prop_assert!(agrees(&found.fit_factor, &(big("1") / expected)));
        }
        for found in &exercises {
            let own: Vec<_> = all.iter().filter(|(of, _)| *of == found.exercise).map(|(_, one)| one.clone()).collect();
            prop_assert!(agrees(&found.fit_factor, &reference(&own)));
        }
        let every: Vec<_> = all.into_iter().map(|(_, one)| one).collect();
        prop_assert!(agrees(&overall, &reference(&every)));
        let least = exercises.iter().map(|one| &one.fit_factor).min().expect("one or more");
        prop_assert!(overall >= *least, "where every exercise passes, the overall factor does");
        prop_assert!(exercises.windows(2).all(|two| two[0].exercise < two[1].exercise));
    }

    /// Concentrations inside whose sum is exactly n times the one outside over the level, and one billionth more.
    #[test]
    fn equality_is_decided_right_on_concentrations(
        level in prop::sample::select(vec![100_u32, 500, 1_000, 2_000]),
        parts in vec(1_u64..50_000_000_000, 2..=12),
        place in any::<prop::sample::Index>(),
    ) {
        let count = parts.len() as u64;
        // Rounded up to a multiple of n, by making the first part greater.
        let sum: u64 = parts.iter().sum();
        let missing = (count - sum % count) % count;
        let mut parts = parts;
        parts[0] += missing;
        let outside = billionths((sum + missing) / count * u64::from(level));
        let overall_of = |parts: &[u64]| {
            let reading = |part: &u64| (1, Reading::Continuous { outside, inside: billionths(*part) });
            overall(&parts.iter().map(reading).collect::<Vec<_>>())
        };
        let exact = overall_of(&parts);
        prop_assert!(exact.at_least(level) && !exact.at_least(level + 1) && !exact.exceeds(level));
        prop_assert_eq!(serde_json::to_value(&exact).expect("json"), level.to_string());
        let place = place.index(parts.len());
        parts[place] += 1;
        let below = overall_of(&parts);
        prop_assert!(!below.at_least(level));
        prop_assert_eq!(below.as_decimal(0), (level - 1).to_string());
        parts[place] -= 2;
        if parts[place] > 0 {
            let above = overall_of(&parts);
            prop_assert!(above.exceeds(level));
        }
    }

    /// Pairs of factors whose harmonic mean is exactly the level: 1/x + 1/y = 2/level.
    #[test]
    fn equality_is_decided_right_on_factors(
        pairs in vec(prop::sample::select(vec![(75_u64, 150_u64), (60, 300), (52, 1_300), (55, 550), (100, 100)]), 1..=6),
        times in prop::sample::select(vec![1_u32, 5, 20]),
        odd in any::<bool>(),
        place in any::<prop::sample::Index>(),
    ) {
        let level = 100 * times;
        let mut factors: Vec<u64> =
            pairs.iter().flat_map(|(x, y)| [x * u64::from(times) * UNIT, y * u64::from(times) * UNIT]).collect();
        if odd {
            factors.push(u64::from(level) * UNIT);
        }
        let overall_of = |factors: &[u64]| {
            let reading = |factor: &u64| (1, Reading::FitFactor { fit_factor: billionths(*factor) });
            overall(&factors.iter().map(reading).collect::<Vec<_>>())
        };
        let exact = overall_of(&factors);
        prop_assert!(exact.at_least(level) && !exact.exceeds(level));
        let place = place.index(factors.len());
        factors[place] -= 1;
        let below = overall_of(&factors);
        prop_assert!(!below.at_least(level));
        prop_assert_eq!(below.as_decimal(0), (level - 1).to_string());
        factors[place] += 2;
        prop_assert!(overall_of(&factors).exceeds(level));
    }

    #[test]
    fn the_order_of_measurements_changes_nothing((readings, before, after) in readings()) {
        let forth = fit(&readings, Some(before), Some(after)).expect("a fit");
        let mut reversed = readings;
        reversed.reverse();
        let back = fit(&reversed, Some(before), Some(after)).expect("a fit");
        prop_assert_eq!(forth.overall, back.overall);
        prop_assert_eq!(forth.exercises, back.exercises);
    }

    #[test]
    fn drift_and_its_limit_agree(outside in vec(quantity(), 2..6), limit in 0_u32..200) {
        let percent = drift_percent(&outside).expect("two or more");
        prop_assert_eq!(percent.exceeds(limit), drift_over(&outside, limit));
    }

    #[test]
    fn no_text_makes_the_reading_of_numbers_panic(text in "[0-9.,eE+-]{0,45}|\\PC{0,20}") {
        if let Ok(number) = text.parse::<Quantity>() {
            prop_assert_eq!(number.to_string().parse::<Quantity>(), Ok(number));
            let sent = serde_json::to_string(&number).expect("json");
            prop_assert_eq!(serde_json::from_str::<Quantity>(&sent).expect("back"), number);
        }
    }
}
