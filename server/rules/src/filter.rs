//! Filters, as far as a method asks for one: read from the words on the respirator.

use crate::text_enum::text_enum;

text_enum! {
    /// What a filter or cartridge stops.
    pub enum FilterClass {
        /// 42 CFR 84.170: oil-free places, 95 percent.
        N95 = "n95",
        /// Oil-free places, 99 percent.
        N99 = "n99",
        /// Oil-free places, 99.97 percent.
        N100 = "n100",
        /// Resistant to oil, 95 percent.
        R95 = "r95",
        /// Resistant to oil, 99 percent.
        R99 = "r99",
        /// Resistant to oil, 99.97 percent.
        R100 = "r100",
        /// Oil-proof, 95 percent.
        P95 = "p95",
        /// Oil-proof, 99 percent.
        P99 = "p99",
        /// Oil-proof, 99.97 percent.
        P100 = "p100",
        /// High-efficiency particulate air.
        Hepa = "hepa",
        /// A filtering facepiece of the lowest class of EN 149.
        Ffp1 = "ffp1",
        /// A filtering facepiece of the middle class of EN 149.
        Ffp2 = "ffp2",
        /// A filtering facepiece of the highest class of EN 149.
        Ffp3 = "ffp3",
        /// A particle filter of the lowest class of EN 143.
        P1 = "p1",
        /// A particle filter of the middle class of EN 143.
        P2 = "p2",
        /// A particle filter of the highest class of EN 143.
        P3 = "p3",
        /// Organic vapour.
        OrganicVapour = "ov",
    }
}

impl FilterClass {
    /// The classes named in a text such as `P100/OV`, in which anything but letters and digits separates them. Words
    /// that name no class are passed over: a respirator may have more written on it than is asked for here.
    pub fn read(text: &str) -> Vec<Self> {
        let words = text.split(|letter: char| !letter.is_alphanumeric());
        words.filter_map(|word| word.to_lowercase().parse().ok()).collect()
    }

    /// Whether it stops particles.
    pub const fn is_particulate(self) -> bool {
        !matches!(self, Self::OrganicVapour)
    }

    /// Whether it is of the best classes that irritant smoke and generated aerosol ask for
    /// (29 CFR 1910.134 App. A I.B.5(a)(1) and I.C.2(a)(3): HEPA or P100).
    pub const fn is_hepa_or_p100(self) -> bool {
        matches!(self, Self::Hepa | Self::P100)
    }

    /// Whether it holds back the particles of the room well enough to count them
    /// (App. A I.C.3(a)(1): for example series 100, 99 or 95 of 42 CFR 84).
    pub const fn is_for_counting(self) -> bool {
        !matches!(self, Self::OrganicVapour | Self::Ffp1 | Self::P1)
    }
}
