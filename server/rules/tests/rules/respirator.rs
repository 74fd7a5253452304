//! The protection expected of a kind of respirator.

use sellion_rules::respirator::{AirSupply as Air, Facepiece as Face, assigned_protection_factor};

/// 29 CFR 1910.134(d)(3)(i)(A) Table 1, row by row: quarter mask, half mask, full facepiece, helmet or hood,
/// loose-fitting. Note 3 puts filtering facepieces with the half masks; of note 4's two numbers the lower one holds.
#[test]
fn facts_1_51_and_1_52_assigned_protection_factors_are_those_of_table_1() {
    let rows = [
        (Air::AirPurifying, [Some(5), Some(10), Some(50), None, None]),
        (Air::Powered, [None, Some(50), Some(1_000), Some(25), Some(25)]),
        (Air::SuppliedDemand, [None, Some(10), Some(50), None, None]),
        (Air::SuppliedContinuous, [None, Some(50), Some(1_000), Some(25), Some(25)]),
        (Air::SuppliedPressureDemand, [None, Some(50), Some(1_000), None, None]),
        (Air::SelfContainedDemand, [None, Some(10), Some(50), Some(50), None]),
        (Air::SelfContainedPressureDemand, [None, None, Some(10_000), Some(10_000), None]),
    ];
    assert_eq!(rows.len(), Air::ALL.len());
    let columns =
        [Face::QuarterMask, Face::HalfMask, Face::FullFacepiece, Face::HelmetOrHood, Face::LooseFitting];
    for (supply, factors) in rows {
        let found = columns.map(|facepiece| assigned_protection_factor(facepiece, supply));
        assert_eq!(found, factors, "{supply}");
        assert_eq!(
            assigned_protection_factor(Face::FilteringFacepiece, supply),
            assigned_protection_factor(Face::HalfMask, supply),
            "{supply}: note 3"
        );
    }
}
