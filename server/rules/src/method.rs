//! The accepted ways of testing a fit: what is looked for, and how.

use crate::supplies::Agent;
use crate::text_enum::text_enum;

text_enum! {
    /// One protocol of 29 CFR 1910.134 App. A, under the name the text gives it.
    pub enum Method {
        /// Saccharin solution aerosol (I.B.3).
        Saccharin = "saccharin",
        /// Denatonium benzoate solution aerosol (I.B.4).
        DenatoniumBenzoate = "denatonium_benzoate",
        /// Isoamyl acetate vapour, noticed by its odour (I.B.2).
        IsoamylAcetate = "isoamyl_acetate",
        /// Irritant smoke of stannic chloride (I.B.5).
        IrritantSmoke = "irritant_smoke",
        /// Aerosol generated in a chamber (I.C.2).
        GeneratedAerosol = "generated_aerosol",
        /// Particles of the room, counted inside and outside (I.C.3).
        AmbientAerosol = "ambient_aerosol",
        /// The modified counting protocol for elastomeric facepieces (I.C.4, Table A-1).
        ModifiedAmbientAerosolElastomeric = "modified_ambient_aerosol_elastomeric",
        /// The modified counting protocol for filtering facepieces (I.C.5, Table A-2).
        ModifiedAmbientAerosolFiltering = "modified_ambient_aerosol_filtering",
        /// Controlled negative pressure (I.C.6).
        ControlledNegativePressure = "controlled_negative_pressure",
        /// Controlled negative pressure with two redonnings (I.C.7, Table A-3).
        ControlledNegativePressureRedon = "controlled_negative_pressure_redon",
    }
}

text_enum! {
    /// What methods have in common.
    pub enum Family {
        /// A taste agent sprayed under a hood.
        Taste = "taste",
        /// An odour under a chamber.
        Odour = "odour",
        /// Smoke around the facepiece, without any enclosure.
        Smoke = "smoke",
        /// Concentrations outside and inside are measured.
        Aerosol = "aerosol",
        /// The leak is measured at a held pressure.
        Pressure = "pressure",
    }
}

impl Method {
    /// What it has in common with others.
    pub const fn family(self) -> Family {
        match self {
            Self::Saccharin | Self::DenatoniumBenzoate => Family::Taste,
            Self::IsoamylAcetate => Family::Odour,
            Self::IrritantSmoke => Family::Smoke,
            Self::GeneratedAerosol
            | Self::AmbientAerosol
            | Self::ModifiedAmbientAerosolElastomeric
            | Self::ModifiedAmbientAerosolFiltering => Family::Aerosol,
            Self::ControlledNegativePressure | Self::ControlledNegativePressureRedon => Family::Pressure,
        }
    }

    /// Whether it gives a fit factor; the others only tell noticed from not noticed.
    pub const fn is_quantitative(self) -> bool {
        matches!(self.family(), Family::Aerosol | Family::Pressure)
    }

    /// What it is tested with, where that is something out of a bottle or a tube.
    pub const fn agent(self) -> Option<Agent> {
        match self {
            Self::Saccharin => Some(Agent::Saccharin),
            Self::DenatoniumBenzoate => Some(Agent::DenatoniumBenzoate),
            Self::IsoamylAcetate => Some(Agent::IsoamylAcetate),
            Self::IrritantSmoke => Some(Agent::IrritantSmoke),
            _ => None,
        }
    }

    /// The name in words.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Saccharin => "saccharin",
            Self::DenatoniumBenzoate => "denatonium benzoate",
            Self::IsoamylAcetate => "isoamyl acetate",
            Self::IrritantSmoke => "irritant smoke",
            Self::GeneratedAerosol => "generated aerosol",
            Self::AmbientAerosol => "ambient aerosol",
            Self::ModifiedAmbientAerosolElastomeric => "modified ambient aerosol for elastomeric facepieces",
            Self::ModifiedAmbientAerosolFiltering => "modified ambient aerosol for filtering facepieces",
            Self::ControlledNegativePressure => "controlled negative pressure",
            Self::ControlledNegativePressureRedon => "controlled negative pressure with redonning",
        }
    }
}

impl From<Agent> for Method {
    fn from(agent: Agent) -> Self {
        match agent {
            Agent::Saccharin => Self::Saccharin,
            Agent::DenatoniumBenzoate => Self::DenatoniumBenzoate,
            Agent::IsoamylAcetate => Self::IsoamylAcetate,
            Agent::IrritantSmoke => Self::IrritantSmoke,
        }
    }
}
