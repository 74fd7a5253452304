//! Random series that are the same in every run, and ids that read as numbers.

use sellion_planning::normal::share_below;
use uuid::Uuid;

/// SplitMix64 (G. L. Steele, D. Lea, C. H. Flood, OOPSLA 2014): small, and good enough for series of values.
pub(crate) struct Chance(u64);

impl Chance {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub(crate) fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// From 0 up to and without 1.
    pub(crate) fn share(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(crate) fn below(&mut self, end: u32) -> u32 {
        (self.share() * f64::from(end)) as u32
    }

    /// A normal value (G. E. P. Box and M. E. Muller, Ann Math Stat 1958;29:610-611).
    pub(crate) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.share()).ln()).sqrt();
        radius * (2.0 * std::f64::consts::PI * self.share()).cos()
    }
}

pub(crate) fn id(number: u32) -> Uuid {
    Uuid::from_u128(u128::from(number))
}

/// Table 26.1 of M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 1964.
#[test]
fn the_normal_distribution_is_that_of_the_tables() {
    for (x, share) in [
        (0.0, 0.5),
        (0.5, 0.691_462_461_274_013),
        (1.0, 0.841_344_746_068_543),
        (1.959_963_984_540_054, 0.975),
        (2.0, 0.977_249_868_051_821),
        (3.0, 0.998_650_101_968_370),
    ] {
        assert!((share_below(x) - share).abs() < 1e-12, "{x}: {}", share_below(x));
        assert!((share_below(-x) - (1.0 - share)).abs() < 1e-12);
    }
    assert_eq!((share_below(40.0), share_below(f64::NEG_INFINITY)), (1.0, 0.0));
    assert!(share_below(f64::NAN).is_nan());
}
