//! Two lengths of a face, with their unit.

use serde::{Deserialize, Serialize};

use crate::fit_factor::Quantity;
use crate::refusal::{Code, Refusal};
use crate::text_enum::text_enum;

text_enum! {
    /// The unit of a length.
    pub enum LengthUnit {
        /// Millimetres.
        Millimetre = "mm",
        /// Centimetres.
        Centimetre = "cm",
        /// Inches of 25.4 mm.
        Inch = "in",
    }
}

impl LengthUnit {
    /// Tenths of a millimetre in one of it.
    const fn tenths_of_millimetres(self) -> u16 {
        match self {
            Self::Millimetre => 10,
            Self::Centimetre => 100,
            Self::Inch => 254,
        }
    }

    const fn name(self) -> &'static str {
        match self {
            Self::Millimetre => "millimetres",
            Self::Centimetre => "centimetres",
            Self::Inch => "inches",
        }
    }
}

/// Two lengths of one face as they were measured, both in one unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct FaceLengths {
    /// From the chin to the point of the nose bridge between the eyes (menton to sellion).
    pub face_length: Quantity,
    /// From one cheekbone arch to the other at the widest place (bizygomatic).
    pub face_width: Quantity,
    /// The unit of both.
    pub unit: LengthUnit,
}

/// The same in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct FaceMillimetres {
    /// From the chin to the point of the nose bridge.
    pub face_length_mm: Quantity,
    /// From one cheekbone arch to the other.
    pub face_width_mm: Quantity,
}

/// Millimetres within which a length can be meant. Common practice, no source.
struct Bounds {
    field: &'static str,
    name: &'static str,
    low: u32,
    high: u32,
}

const LENGTH: Bounds = Bounds { field: "face_length", name: "face length", low: 80, high: 160 };
const WIDTH: Bounds = Bounds { field: "face_width", name: "face width", low: 100, high: 180 };

impl FaceLengths {
    /// Both lengths in millimetres, exactly.
    ///
    /// # Errors
    /// `invalid_value` for `face_length` outside of 80 to 160 mm or `face_width` outside of 100 to 180 mm, with the unit
    /// that would make sense of it where one does.
    pub fn millimetres(&self) -> Result<FaceMillimetres, Refusal> {
        Ok(FaceMillimetres {
            face_length_mm: LENGTH.millimetres(self.face_length, self.unit)?,
            face_width_mm: WIDTH.millimetres(self.face_width, self.unit)?,
        })
    }
}

impl Bounds {
    fn millimetres(&self, length: Quantity, unit: LengthUnit) -> Result<Quantity, Refusal> {
        if let Some(found) = self.plausible(length, unit) {
            return Ok(found);
        }
        let Self { field, name, low, high } = *self;
        let mut sentence =
            format!("A {name} of {length} {unit} cannot be meant: it lies between {low} and {high} mm.");
        let likely = LengthUnit::ALL.iter().copied().find(|other| self.plausible(length, *other).is_some());
        if let Some(likely) = likely {
            sentence.push_str(&format!(" Was it measured in {}?", likely.name()));
        }
        let refusal = Refusal::new(Code::InvalidValue, sentence).field(field);
        Err(match likely {
            Some(likely) => refusal.fact("likely_unit", likely.as_str()),
            None => refusal,
        })
    }

    fn plausible(&self, length: Quantity, unit: LengthUnit) -> Option<Quantity> {
        let found = length.in_tenths(unit.tenths_of_millimetres())?;
        (Quantity::from(self.low)..=Quantity::from(self.high)).contains(&found).then_some(found)
    }
}
