//! Kinds of respirators, as far as the test and the protection expected of them depend on the kind.

use crate::text_enum::text_enum;

text_enum! {
    /// What part of the face a respirator covers, and what it is made of.
    pub enum Facepiece {
        /// A half mask that is itself the filter.
        FilteringFacepiece = "filtering_facepiece",
        /// Covers nose and mouth, and leaves the chin free.
        QuarterMask = "quarter_mask",
        /// A half mask of rubber or plastic with filters.
        HalfMask = "half_mask",
        /// Covers the eyes too.
        FullFacepiece = "full_facepiece",
        /// A helmet or a hood; nothing seals on the face.
        HelmetOrHood = "helmet_or_hood",
        /// Fits loosely; nothing seals on the face.
        LooseFitting = "loose_fitting",
    }
}

text_enum! {
    /// How the wearer gets air.
    pub enum AirSupply {
        /// Drawn by the wearer's own breath through filters or cartridges.
        AirPurifying = "air_purifying",
        /// Blown through filters or cartridges.
        Powered = "powered",
        /// From a hose, on demand.
        SuppliedDemand = "supplied_demand",
        /// From a hose, in continuous flow.
        SuppliedContinuous = "supplied_continuous",
        /// From a hose, at positive pressure.
        SuppliedPressureDemand = "supplied_pressure_demand",
        /// From a carried cylinder, on demand.
        SelfContainedDemand = "self_contained_demand",
        /// From a carried cylinder, at positive pressure.
        SelfContainedPressureDemand = "self_contained_pressure_demand",
    }
}

impl Facepiece {
    /// Whether it seals on the face, so that a fit can be tested at all.
    pub const fn is_tight_fitting(self) -> bool {
        !matches!(self, Self::HelmetOrHood | Self::LooseFitting)
    }

    /// Whether it is thrown away after one wearer, so that every attempt uses one up; anything else is cleaned and
    /// used again (common practice, no source).
    pub const fn is_used_up(self) -> bool {
        matches!(self, Self::FilteringFacepiece)
    }
}

/// The assigned protection factor of a kind of respirator; none where the table has no cell for it.
///
/// 29 CFR 1910.134(d)(3)(i)(A) Table 1. Its note 3 puts filtering facepieces with the half masks. Where its note 4
/// leaves a choice, the lower number is taken: the higher one needs the manufacturer's evidence.
pub const fn assigned_protection_factor(facepiece: Facepiece, supply: AirSupply) -> Option<u32> {
    use AirSupply as Air;
    use Facepiece as Face;
    match (supply, facepiece) {
        (Air::AirPurifying, Face::QuarterMask) => Some(5),
        (Air::AirPurifying, Face::HalfMask | Face::FilteringFacepiece) => Some(10),
        (Air::AirPurifying, Face::FullFacepiece) => Some(50),
        (
            Air::Powered | Air::SuppliedContinuous | Air::SuppliedPressureDemand,
            Face::HalfMask | Face::FilteringFacepiece,
        ) => Some(50),
        (Air::Powered | Air::SuppliedContinuous | Air::SuppliedPressureDemand, Face::FullFacepiece) => {
            Some(1_000)
        }
        (Air::Powered | Air::SuppliedContinuous, Face::HelmetOrHood | Face::LooseFitting) => Some(25),
        (Air::SuppliedDemand | Air::SelfContainedDemand, Face::HalfMask | Face::FilteringFacepiece) => {
            Some(10)
        }
        (Air::SuppliedDemand | Air::SelfContainedDemand, Face::FullFacepiece) => Some(50),
        (Air::SelfContainedDemand, Face::HelmetOrHood) => Some(50),
        (Air::SelfContainedPressureDemand, Face::FullFacepiece | Face::HelmetOrHood) => Some(10_000),
        _ => None,
    }
}
