//! Size hints: lengths that can be meant, cells that a site loads, and what to try first.

use proptest::prelude::*;
use sellion_rules::Code;
use sellion_rules::attempt::Outcome;
use sellion_rules::fit_factor::Quantity;
use sellion_rules::size_hint::{Cell, LengthUnit, Panel, Seen, face_lengths, hints};
use sellion_rules::statistics::wilson;

use crate::support::id;

fn mm(text: &str) -> Quantity {
    text.parse().expect("a quantity")
}

fn cell(name: &str, length: (&str, &str), width: (&str, &str)) -> Cell {
    Cell {
        name: name.to_owned(),
        length_from_mm: mm(length.0),
        length_below_mm: mm(length.1),
        width_from_mm: mm(width.0),
        width_below_mm: mm(width.1),
    }
}

fn panel(cells: Vec<Cell>) -> Panel {
    Panel { name: "invented".to_owned(), source: "invented for this test".to_owned(), cells }
}

#[test]
fn lengths_are_taken_in_three_units() {
    let in_mm = face_lengths(mm("118.5"), mm("139.7"), LengthUnit::Millimetre);
    assert_eq!(face_lengths(mm("11.85"), mm("13.97"), LengthUnit::Centimetre), in_mm);
    // 1 inch is 25.4 mm exactly (International System of Units, Appendix B of NIST Special Publication 811).
    let inches = face_lengths(mm("5"), mm("5.5"), LengthUnit::Inch).expect("lengths");
    assert_eq!((inches.face_length_mm, inches.face_width_mm), (mm("127"), mm("139.7")));
}

/// Common practice, no source: bounds that no grown face crosses.
#[test]
fn a_length_that_cannot_be_meant_is_asked_for_again_with_the_unit() {
    let refusal = face_lengths(mm("11.9"), mm("140"), LengthUnit::Millimetre).expect_err("a refusal");
    assert_eq!((refusal.code, refusal.field.as_deref()), (Code::InvalidValue, Some("face_length")));
    assert!(refusal.detail.contains("Was it 11.9 cm?"), "{}", refusal.detail);
    let refusal = face_lengths(mm("119"), mm("5.5"), LengthUnit::Millimetre).expect_err("a refusal");
    assert_eq!(refusal.field.as_deref(), Some("face_width"));
    assert!(refusal.detail.contains("Was it 5.5 in?"), "{}", refusal.detail);
    assert!(face_lengths(mm("1000"), mm("140"), LengthUnit::Millimetre).is_err());
}

#[test]
fn fact_6_14_cells_are_data_that_a_site_loads() {
    let good = panel(vec![
        cell("a", ("98.5", "108.5"), ("120.5", "132.5")),
        cell("b", ("108.5", "118.5"), ("120.5", "132.5")),
    ]);
    assert_eq!(good.check(), Ok(()));
    let face = |length| face_lengths(mm(length), mm("125"), LengthUnit::Millimetre).expect("a face");
    let name = |length| good.cell_of(&face(length)).map(|cell| cell.name.as_str());
    assert_eq!((name("108.4"), name("108.5"), name("118.5")), (Some("a"), Some("b"), None));
    let bad = [
        panel(Vec::new()),
        panel(vec![cell("a", ("110", "100"), ("120", "130"))]),
        panel(vec![cell(" ", ("100", "110"), ("120", "130"))]),
        panel(vec![cell("a", ("100", "110"), ("120", "130")), cell("b", ("109", "119"), ("129", "139"))]),
        panel(vec![cell("a", ("100", "110"), ("120", "130")), cell("a", ("110", "120"), ("120", "130"))]),
    ];
    for panel in bad {
        let refusal = panel.check().expect_err("a refusal");
        assert_eq!(refusal.field.as_deref(), Some("cells"), "{panel:?}");
    }
}

fn seen(number: u128, passes: u64, fails: u64, own: Option<Outcome>) -> Seen {
    Seen { respirator: id(number), passes, fails, own }
}

#[test]
fn own_passes_first_own_fails_last_and_few_tests_weigh_little() {
    let found = hints(&[
        seen(1, 3, 0, None),
        seen(2, 90, 10, None),
        seen(3, 1, 9, Some(Outcome::Pass)),
        seen(4, 99, 1, Some(Outcome::Fail)),
        seen(5, 0, 0, None),
    ]);
    let order: Vec<_> = found.iter().map(|hint| hint.respirator_id).collect();
    assert_eq!(order, [id(3), id(2), id(1), id(5), id(4)]);
    assert_eq!(found[3].pass_share, None, "nobody was tested on it");
}

/// Newcombe 1998, Statistics in Medicine 17:857-872, Table I, method 3 (score, without continuity correction).
#[test]
fn wilson_intervals_as_published() {
    for (successes, trials, low, high) in
        [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)]
    {
        let interval = wilson(successes, trials).expect("an interval");
        assert!((interval.low - low).abs() < 5e-5, "{successes}/{trials}: {}", interval.low);
        assert!((interval.high - high).abs() < 5e-5, "{successes}/{trials}: {}", interval.high);
    }
    assert!(wilson(0, 0).is_none());
}

proptest! {
    #[test]
    fn no_hint_is_lost_or_made_up(counts in proptest::collection::vec((0_u64..1000, 0_u64..1000), 0..20)) {
        let all: Vec<_> = (1..).zip(&counts).map(|(n, (p, f))| seen(n, *p, *f, None)).collect();
        let mut ids: Vec<_> = hints(&all).iter().map(|hint| hint.respirator_id).collect();
        ids.sort_unstable();
        prop_assert_eq!(ids, all.iter().map(|one| one.respirator).collect::<Vec<_>>());
    }
}
