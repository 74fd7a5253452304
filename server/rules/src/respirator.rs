//! Kinds of respirators, as far as the protection expected of them depends on the kind.

use crate::text_enum::text_enum;

text_enum! {
    /// What part of the face a tight-fitting respirator covers, and what it is made of.
    pub enum Facepiece {
        /// A half mask that is itself the filter.
        FilteringFacepiece = "filtering_facepiece",
        /// A half mask of rubber or plastic with filters.
        HalfMask = "half_mask",
        /// Covers the eyes too.
        FullFacepiece = "full_facepiece",
    }
}

impl Facepiece {
    /// The assigned protection factor of an air-purifying respirator of this kind
    /// (29 CFR 1910.134(d)(3)(i)(A) Table 1; its note 3 puts filtering facepieces with the half masks).
    pub const fn assigned_protection_factor(self) -> u32 {
        match self {
            Self::FilteringFacepiece | Self::HalfMask => 10,
            Self::FullFacepiece => 50,
        }
    }
}
