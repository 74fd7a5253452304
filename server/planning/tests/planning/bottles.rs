//! Counted bottles against their books.

use sellion_planning::usage::{BottleCount, Finding, FindingKind, UsageSetup, usage};
use sellion_rules::supplies::{Agent, Solution};

use crate::support::{Chance, id};

fn count(number: u32, solution: Solution, book_ul: i64, counted_ul: u32) -> BottleCount {
    BottleCount {
        bottle: id(number),
        label: format!("B{number}"),
        lot: id(number + 100),
        agent: Agent::Saccharin,
        solution,
        book_ul,
        counted_ul,
        uncertainty_ul: 200,
    }
}

fn findings(counts: &[BottleCount]) -> Vec<Finding> {
    usage(&UsageSetup::default(), &[], counts).expect("a report").findings
}

#[test]
fn a_bottle_taken_for_another_is_seen_in_both() {
    let found = findings(&[
        count(1, Solution::Screening, 20_000, 17_100),
        count(2, Solution::Test, 30_000, 32_950),
        count(3, Solution::Test, 40_000, 40_300),
    ]);
    let [finding] = found.as_slice() else { panic!("{found:?}") };
    assert_eq!(
        (finding.kind, finding.bottle, finding.other_bottle),
        (FindingKind::WrongBottle, Some(id(1)), Some(id(2)))
    );
    assert_eq!(finding.size_ul, 2925.0);
    assert!(
        finding.words.contains("fills written down from B2 seem to have come from B1"),
        "{}",
        finding.words
    );
    // The weak solution in place of the strong one makes false passes.
    assert!(
        finding.check.contains("screening solution of saccharin was taken for test solution of saccharin"),
        "{}",
        finding.check
    );
}

#[test]
fn two_lots_and_one_lot_are_told_apart() {
    let mut counts = vec![count(1, Solution::Test, 20_000, 17_000), count(2, Solution::Test, 30_000, 33_000)];
    assert!(findings(&counts)[0].check.contains("of two lots"));
    counts[1].lot = counts[0].lot;
    assert!(findings(&counts)[0].check.contains("the same lot"));
}

#[test]
fn what_no_other_bottle_explains_stands_alone() {
    let found = findings(&[count(1, Solution::Test, 20_000, 15_000), count(2, Solution::Test, -500, 1_500)]);
    let kinds: Vec<_> = found.iter().map(|finding| (finding.kind, finding.bottle, finding.size_ul)).collect();
    assert_eq!(
        kinds,
        [
            (FindingKind::BottleDiffers, Some(id(1)), 5000.0),
            (FindingKind::BottleDiffers, Some(id(2)), 2000.0)
        ]
    );
    assert_eq!(found[0].words, "Bottle B1 is short by 5000 microlitres.");
    assert_eq!(findings(&[count(1, Solution::Test, i64::MIN, u32::MAX)]).len(), 1);
}

#[test]
fn every_bottle_is_explained_once_and_by_its_best_match() {
    let found = findings(&[
        count(1, Solution::Test, 20_000, 17_000),
        count(2, Solution::Test, 20_000, 23_400),
        count(3, Solution::Test, 20_000, 23_050),
    ]);
    assert_eq!((found[0].kind, found[0].other_bottle), (FindingKind::WrongBottle, Some(id(3))));
    assert_eq!((found[1].kind, found[1].bottle), (FindingKind::BottleDiffers, Some(id(2))));
    assert_eq!(found.len(), 2);
}

#[test]
fn honest_counts_are_rarely_suspected() {
    let mut chance = Chance::new(2);
    let counts: Vec<_> = (0..10_000)
        .map(|number| {
            let counted = 20_000.0 + 200.0 * chance.normal();
            count(number, Solution::Test, 20_000, counted as u32)
        })
        .collect();
    let suspected: usize =
        findings(&counts).iter().map(|finding| 1 + usize::from(finding.other_bottle.is_some())).sum();
    // Three standard uncertainties are passed by 0.27 % of honest counts: 27, and four standard deviations of that.
    assert!((7..=48).contains(&suspected), "{suspected}");
}
