//! The same badge once more, at the same gate or at another one.

use chrono::TimeDelta;
use proptest::prelude::*;
use sellion_rules::twin::{Reading, Walk, repeated, sooner_than_walked};

use crate::support::{id, zero};

fn read(gate: u128, second: i64, clock_ahead_ms: Option<i32>) -> Reading {
    Reading {
        gate: id(gate),
        at: zero() + TimeDelta::seconds(second),
        clock_ahead_ms,
        repeats_at: None,
        twin_gate: None,
    }
}

const WALK: u32 = 240;

fn pair(this: &Reading, others: &[Reading], tolerance: u32) -> Option<(i64, i64)> {
    let walks = [1, 2].map(|gate| Walk { gate: id(gate), seconds: WALK });
    let found = sooner_than_walked(this, others, &walks, tolerance)?;
    let second = |reading: &Reading| (reading.at - zero()).num_seconds();
    Some((second(&found.first), second(&found.second)))
}

#[test]
fn a_reading_within_the_window_repeats_the_first_of_its_row() {
    let within = |others: &[Reading]| {
        let at = repeated(&read(1, 8, None), others, 10);
        at.map(|at| (at - zero()).num_seconds())
    };
    assert_eq!(within(&[]), None);
    assert_eq!(within(&[read(1, 0, None)]), Some(0));
    assert_eq!(within(&[read(2, 7, None)]), None, "another gate");
    assert_eq!(within(&[read(1, -3, None)]), None, "eleven seconds");
    assert_eq!(within(&[read(1, 12, None)]), Some(12), "the one it belongs to came first");
    let mut repeat = read(1, 5, None);
    repeat.repeats_at = Some(zero() - TimeDelta::seconds(4));
    assert_eq!(within(&[repeat]), None, "a hand that goes on is counted anew after the window");
    repeat.repeats_at = Some(zero());
    assert_eq!(within(&[repeat]), Some(0));
}

#[test]
fn what_clocks_may_differ_by_counts_for_the_person() {
    let north = [read(1, 0, None)];
    assert_eq!(pair(&read(2, 209, None), &north, 30), Some((0, 209)));
    assert_eq!(pair(&read(2, 210, None), &north, 30), None);
    assert_eq!(pair(&read(1, 5, None), &north, 30), None, "the same gate");
    assert_eq!(pair(&read(3, 5, None), &north[..0], 30), None);
    // Known: the second clock is a hundred seconds ahead, so the reading was really earlier.
    let known = [read(1, 0, Some(0))];
    assert_eq!(pair(&read(2, 337, Some(100_000)), &known, 30), Some((0, 337)));
    assert_eq!(pair(&read(2, 338, Some(100_000)), &known, 30), None);
    assert_eq!(pair(&read(2, 50, Some(100_000)), &known, 30), Some((50, 0)), "in the order in which it was");
}

proptest! {
    /// Whichever of the two is told first, the pair is the same one, and it is one exactly when no walk explains it.
    #[test]
    fn a_pair_does_not_depend_on_who_is_told_first(
        one in 0i64..1000, other in 0i64..1000, ahead in prop::option::of(-60_000i32..60_000), tolerance in 0u32..300,
    ) {
        let (north, south) = (read(1, one, Some(0)), read(2, other, ahead));
        let there = pair(&north, &[south], tolerance);
        let gap_ms = (one * 1000 - (other * 1000 - i64::from(ahead.unwrap_or_default()))).abs();
        if gap_ms != 0 {
            prop_assert_eq!(there, pair(&south, &[north], tolerance));
        }
        let allowed = if ahead.is_some() { 2 } else { i64::from(tolerance) };
        prop_assert_eq!(there.is_some(), gap_ms + allowed * 1000 < i64::from(WALK) * 1000);
    }
}
