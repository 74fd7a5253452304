//! The protection expected of a kind of respirator.

use sellion_rules::respirator::Facepiece;

#[test]
fn assigned_protection_factors_are_those_of_table_1() {
    // 29 CFR 1910.134(d)(3)(i)(A) Table 1, air-purifying respirators (facts 1.g, 1.51).
    assert_eq!(Facepiece::HalfMask.assigned_protection_factor(), 10);
    assert_eq!(Facepiece::FullFacepiece.assigned_protection_factor(), 50);
    // Note 3: the half mask's 10 covers filtering facepieces too.
    assert_eq!(Facepiece::FilteringFacepiece.assigned_protection_factor(), 10);
}
