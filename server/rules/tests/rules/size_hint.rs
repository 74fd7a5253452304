//! Size hints, and the statistics behind them.

use chrono::NaiveDate;
use proptest::prelude::*;
use sellion_rules::Code;
use sellion_rules::fit_factor::Quantity;
use sellion_rules::size_hint::{
    FaceLengths, HINT_ONLY, LengthUnit, OwnResult, Panel, PanelCell, SiteCounts, rank, size_hints,
};
use sellion_rules::statistics::wilson;
use serde_json::json;
use uuid::Uuid;

use crate::support::id;

fn number(text: &str) -> Quantity {
    text.parse().expect("a decimal number")
}

/// The ends of an interval to the four digits that are published.
fn ends(successes: u64, trials: u64) -> [String; 2] {
    let interval = wilson(successes, trials).expect("an interval");
    [interval.low, interval.high].map(|end| format!("{end:.4}"))
}

/// R. G. Newcombe, Stat Med 1998;17:857-872, Table I, method 3.
#[test]
fn facts_8_7_to_8_10_the_score_interval_is_the_published_one() {
    assert_eq!(ends(81, 263), ["0.2553", "0.3662"], "fact 8.7");
    assert_eq!(ends(15, 148), ["0.0624", "0.1605"], "fact 8.8");
    assert_eq!(ends(0, 20), ["0.0000", "0.1611"], "fact 8.9");
    assert_eq!(ends(1, 29), ["0.0061", "0.1718"], "fact 8.10");
}

/// Computed from the formula of NIST/SEMATECH e-Handbook 7.2.4.1.
#[test]
fn facts_8_6_and_8_11_the_score_interval_at_its_ends_and_in_the_middle() {
    assert_eq!(ends(5, 10), ["0.2366", "0.7634"]);
    assert_eq!(ends(0, 10), ["0.0000", "0.2775"]);
    assert_eq!(ends(10, 10), ["0.7225", "1.0000"]);
    assert_eq!(ends(90, 100), ["0.8256", "0.9448"]);
    // At both ends exactly, not by a hair beyond.
    let (none, all) = (wilson(0, 10).expect("interval"), wilson(10, 10).expect("interval"));
    assert_eq!((none.low.to_bits(), all.high.to_bits()), (0.0_f64.to_bits(), 1.0_f64.to_bits()));
    assert_eq!((wilson(0, 0), wilson(2, 1)), (None, None));
}

proptest! {
    #[test]
    fn the_score_interval_lies_round_the_share(trials in 1_u64..100_000, part in 0.0_f64..=1.0) {
        let successes = ((trials as f64) * part) as u64;
        let interval = wilson(successes, trials).expect("an interval");
        let share = successes as f64 / trials as f64;
        prop_assert!(0.0 <= interval.low && interval.low <= share && share <= interval.high && interval.high <= 1.0);
        let other = wilson(trials - successes, trials).expect("an interval");
        prop_assert!((interval.low - (1.0 - other.high)).abs() < 1e-12, "the fails mirror the passes");
    }
}

fn face(length: &str, width: &str, unit: LengthUnit) -> FaceLengths {
    FaceLengths { face_length: number(length), face_width: number(width), unit }
}

#[test]
fn face_lengths_come_in_three_units_and_are_kept_exactly() {
    let table = [
        (face("120.5", "140", LengthUnit::Millimetre), "120.5", "140"),
        (face("12.05", "14", LengthUnit::Centimetre), "120.5", "140"),
        (face("4.7", "5.51", LengthUnit::Inch), "119.38", "139.954"),
        // The bounds themselves are taken.
        (face("80", "100", LengthUnit::Millimetre), "80", "100"),
        (face("16", "18", LengthUnit::Centimetre), "160", "180"),
    ];
    for (given, length, width) in table {
        let found = given.millimetres().expect("plausible");
        assert_eq!((found.face_length_mm, found.face_width_mm), (number(length), number(width)));
    }
}

#[test]
fn a_length_that_cannot_be_meant_is_refused_with_the_likely_unit() {
    // The bounds are common practice, no source.
    let table = [
        (face("12", "140", LengthUnit::Millimetre), "face_length", Some("cm")),
        (face("120", "140", LengthUnit::Centimetre), "face_length", Some("mm")),
        (face("4.7", "5.5", LengthUnit::Centimetre), "face_length", Some("in")),
        (face("120", "5.5", LengthUnit::Millimetre), "face_width", Some("in")),
        (face("12", "14", LengthUnit::Inch), "face_length", Some("cm")),
        (face("79.999999999", "140", LengthUnit::Millimetre), "face_length", None),
        (face("120", "180.000000001", LengthUnit::Millimetre), "face_width", None),
        (face("0", "140", LengthUnit::Millimetre), "face_length", None),
        (face("999999999999.999999999", "140", LengthUnit::Inch), "face_length", None),
    ];
    for (given, field, likely) in table {
        let refusal = given.millimetres().expect_err("cannot be meant");
        assert_eq!((refusal.code, refusal.field.as_deref()), (Code::InvalidValue, Some(field)), "{given:?}");
        assert_eq!(refusal.facts.get("likely_unit"), likely.map(Into::into).as_ref(), "{given:?}");
        assert_eq!(refusal.detail.contains("Was it measured in"), likely.is_some(), "{}", refusal.detail);
    }
}

#[test]
fn face_lengths_name_their_unit_on_the_wire() {
    let given = json!({ "face_length": 12.05, "face_width": "14", "unit": "cm" });
    assert_eq!(
        serde_json::from_value::<FaceLengths>(given).expect("lengths"),
        face("12.05", "14", LengthUnit::Centimetre)
    );
    assert!(serde_json::from_value::<FaceLengths>(json!({ "face_length": 120, "face_width": 140 })).is_err());
}

fn cell(id: &str, limits: [u32; 4]) -> PanelCell {
    let [length_min_mm, length_max_mm, width_min_mm, width_max_mm] = limits.map(Quantity::from);
    PanelCell { id: id.to_owned(), length_min_mm, length_max_mm, width_min_mm, width_max_mm }
}

fn panel(cells: Vec<PanelCell>) -> Panel {
    Panel { name: "Invented".to_owned(), source: "invented for this test".to_owned(), cells }
}

/// Fact 6.14: the geometry is loadable data. Two rows, the upper one moved sideways (fact 6.6), all invented.
fn offset_panel() -> Panel {
    panel(vec![
        cell("a", [100, 110, 120, 130]),
        cell("b", [100, 110, 130, 140]),
        cell("c", [110, 120, 125, 135]),
        cell("d", [110, 120, 135, 145]),
    ])
}

#[test]
fn facts_6_6_and_6_14_a_face_lies_in_one_cell_of_a_loaded_panel_or_in_none() {
    let panel = offset_panel();
    assert_eq!(panel.check(), Ok(()));
    let table = [
        (["105", "125"], Some("a")),
        (["105", "130"], Some("b")), // an edge between two
        (["110", "127"], Some("c")), // an edge between rows
        (["110", "121"], Some("a")), // the upper edge, with nothing above it
        (["120", "145"], Some("d")), // the outermost corner
        (["110", "135"], Some("d")), // an edge of three
        (["100", "120"], Some("a")),
        (["99.999999999", "125"], None),
        (["115", "124"], None),
        (["120.000000001", "140"], None),
    ];
    for ([length, width], expected) in table {
        let face = face(length, width, LengthUnit::Millimetre);
        let hints = size_hints(Some(&face), Some(&panel), &[], &[]).expect("hints");
        assert_eq!(hints.cell.as_deref(), expected, "{length} {width}");
        assert_eq!(hints.face.expect("the face").face_length_mm, number(length));
    }
}

#[test]
fn a_panel_that_says_two_things_is_refused() {
    let good = cell("a", [100, 110, 120, 130]);
    let with = |other: PanelCell| panel(vec![good.clone(), other]);
    let unnamed = Panel { name: " ".to_owned(), ..offset_panel() };
    let unsourced = Panel { source: String::new(), ..offset_panel() };
    let many = panel((0..101).map(|place| cell(&place.to_string(), [place, place + 1, 1, 2])).collect());
    let table = [
        (with(cell("b", [109, 120, 129, 140])), "cells", "overlap"),
        (with(cell("b", [101, 109, 121, 129])), "cells", "overlap"),
        (with(cell("b", [100, 110, 120, 130])), "cells", "overlap"),
        (with(cell("b", [120, 110, 120, 130])), "cells", "below its upper"),
        (with(cell("b", [110, 120, 130, 130])), "cells", "below its upper"),
        (with(cell("a", [110, 120, 120, 130])), "cells", "called a"),
        (with(cell("", [110, 120, 120, 130])), "cells", "empty"),
        (panel(Vec::new()), "cells", "1 to 100"),
        (many, "cells", "1 to 100"),
        (unnamed, "name", "empty"),
        (unsourced, "source", "empty"),
    ];
    for (panel, field, words) in table {
        let refusal = size_hints(None, Some(&panel), &[], &[]).expect_err(words);
        assert_eq!((refusal.code, refusal.field.as_deref()), (Code::InvalidValue, Some(field)), "{words}");
        assert!(refusal.detail.contains(words), "{}", refusal.detail);
    }
    // Sharing an edge is no overlap.
    for edge in [[110, 120, 120, 130], [90, 100, 120, 130], [100, 110, 130, 140], [100, 110, 110, 120]] {
        assert_eq!(with(cell("b", edge)).check(), Ok(()), "{edge:?}");
    }
}

fn own(respirator: u128, passed: bool, on: &str) -> OwnResult {
    OwnResult { respirator: id(respirator), passed, on: on.parse::<NaiveDate>().expect("a date") }
}

fn counts(respirator: u128, passes: u32, fails: u32) -> SiteCounts {
    SiteCounts { respirator: id(respirator), passes, fails }
}

fn order(own: &[OwnResult], site: &[SiteCounts]) -> Vec<Uuid> {
    rank(own, site).into_iter().map(|hint| hint.respirator).collect()
}

#[test]
fn fact_6_16_a_hint_is_no_result_and_says_so() {
    // 29 CFR 1910.134 requires neither face measurement.
    let hints = size_hints(None, None, &[], &[counts(1, 3, 1)]).expect("hints");
    assert_eq!(hints.caution, HINT_ONLY);
    assert!(HINT_ONLY.contains("never a result") && HINT_ONLY.contains("29 CFR 1910.134"));
    let told = serde_json::to_value(&hints).expect("json");
    assert_eq!(told["caution"], HINT_ONLY);
    assert!(told.get("face").is_none() && told.get("cell").is_none());
    assert_eq!(told["hints"][0]["share"], 0.75);
}

#[test]
fn own_passes_come_first_and_own_fails_last() {
    let site = [counts(1, 99, 1), counts(2, 1, 9), counts(3, 50, 50)];
    let tests = [own(1, false, "2026-03-02"), own(2, true, "2026-03-02")];
    assert_eq!(order(&tests, &site), [id(2), id(3), id(1)]);
    // The newest of the person's own tests says which.
    let changed = [
        own(1, false, "2025-03-02"),
        own(1, true, "2026-03-02"),
        own(2, true, "2025-03-02"),
        own(2, false, "2026-03-02"),
    ];
    assert_eq!(order(&changed, &site), [id(1), id(3), id(2)]);
    for one_day in [
        [own(1, true, "2026-03-02"), own(1, false, "2026-03-02")],
        [own(1, false, "2026-03-02"), own(1, true, "2026-03-02")],
    ] {
        assert_eq!(order(&one_day, &site).last(), Some(&id(1)), "of one day the fail counts");
    }
}

#[test]
fn a_share_out_of_few_tests_does_not_lead() {
    // 1 of 1 has a lower end of 0.21, 90 of 100 one of 0.83 (fact 8.11).
    let site = [counts(1, 1, 0), counts(2, 90, 10), counts(3, 0, 0), counts(4, 0, 40), counts(5, 0, 4)];
    assert_eq!(order(&[], &site), [id(2), id(1), id(4), id(5), id(3)]);
}

#[test]
fn a_hint_tells_its_counts_its_interval_and_the_persons_own_tests() {
    let tests = [own(7, true, "2024-05-06"), own(7, false, "2023-05-06"), own(8, false, "2026-05-06")];
    let ranked = rank(&tests, &[counts(7, 50, 5), counts(7, 31, 177)]);
    let first = &ranked[0];
    assert_eq!((first.passes, first.fails), (81, 182), "two lines of one respirator are added up");
    assert!((first.share.expect("a share") - 81.0 / 263.0).abs() < 1e-15);
    assert_eq!(first.interval, wilson(81, 263));
    assert_eq!(
        first.own_history.as_deref(),
        Some("Passed in this one on 2024-05-06; 1 of 2 tests in it passed.")
    );
    let last = &ranked[1];
    assert_eq!((last.share, last.interval), (None, None), "nobody else was tested in it");
    assert_eq!(last.own_history.as_deref(), Some("Failed in this one on 2026-05-06."));
}

#[test]
fn the_greatest_counts_do_not_overflow() {
    let site = [counts(1, u32::MAX, u32::MAX), counts(1, u32::MAX, u32::MAX)];
    let ranked = rank(&[], &site);
    assert_eq!(ranked[0].passes, 2 * u64::from(u32::MAX));
    assert!((ranked[0].share.expect("a share") - 0.5).abs() < 1e-15);
}
