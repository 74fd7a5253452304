//! A hint at which size to try first. Never a result: a fit is tested, not measured on the face.
//!
//! 29 CFR 1910.134 asks for neither length, and panels of face lengths were made for testing products, not for choosing
//! a size for one person.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::attempt::Outcome;
use crate::fit_factor::Quantity;
use crate::refusal::{Code, Refusal};
use crate::statistics::wilson;
use crate::text_enum::text_enum;

/// What is said with every hint.
pub const CAUTION: &str = "This is a hint at what to try first and no result: only a fit test tells whether a \
                           respirator fits, and no rule asks for a measured face.";

/// Cells of a panel at most; published ones have far fewer.
const CELLS_MAX: usize = 100;

text_enum! {
    /// The unit a length is given in.
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
    /// Tenths of a millimetre in one.
    const fn tenths_of_millimetre(self) -> u16 {
        match self {
            Self::Millimetre => 10,
            Self::Centimetre => 100,
            Self::Inch => 254,
        }
    }
}

/// Two lengths of a face in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct FaceLengths {
    /// From the lowest point of the chin to the root of the nose (menton to sellion).
    pub face_length_mm: Quantity,
    /// Across the cheekbones (bizygomatic).
    pub face_width_mm: Quantity,
}

/// The lengths in millimetres, if they can be those of a grown person's face.
///
/// # Errors
/// `invalid_value` for the length that cannot be meant, with the unit that was probably meant. The bounds are common
/// practice, no source.
pub fn face_lengths(length: Quantity, width: Quantity, unit: LengthUnit) -> Result<FaceLengths, Refusal> {
    Ok(FaceLengths {
        face_length_mm: plausible(length, unit, "face_length", (80, 160))?,
        face_width_mm: plausible(width, unit, "face_width", (100, 180))?,
    })
}

fn plausible(
    given: Quantity,
    unit: LengthUnit,
    field: &'static str,
    (least, most): (u32, u32),
) -> Result<Quantity, Refusal> {
    let in_unit = |unit: LengthUnit| {
        let millimetres = given.in_tenths(unit.tenths_of_millimetre())?;
        (Quantity::from(least)..=Quantity::from(most)).contains(&millimetres).then_some(millimetres)
    };
    if let Some(millimetres) = in_unit(unit) {
        return Ok(millimetres);
    }
    let meant = LengthUnit::ALL.iter().find(|other| in_unit(**other).is_some());
    let meant = meant.map(|other| format!(" Was it {given} {other}?")).unwrap_or_default();
    let detail = format!("{given} {unit} cannot be meant: from {least} to {most} mm is possible.{meant}");
    Err(Refusal::new(Code::InvalidValue, detail).field(field))
}

/// A cell of a panel, from the smaller bound up to and without the larger one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Cell {
    /// Its name in the panel.
    #[cfg_attr(feature = "openapi", schema(example = "4"))]
    pub name: String,
    /// The least face length.
    pub length_from_mm: Quantity,
    /// Where the face lengths of the next cell begin.
    pub length_below_mm: Quantity,
    /// The least face width.
    pub width_from_mm: Quantity,
    /// Where the face widths of the next cell begin.
    pub width_below_mm: Quantity,
}

/// Cells of face lengths, as a site loaded them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Panel {
    /// Its name.
    #[cfg_attr(feature = "openapi", schema(example = "our panel of 2026"))]
    pub name: String,
    /// Where its bounds come from.
    #[cfg_attr(feature = "openapi", schema(example = "measured at this site"))]
    pub source: String,
    /// Its cells.
    pub cells: Vec<Cell>,
}

impl Cell {
    fn is_upright(&self) -> bool {
        self.length_from_mm < self.length_below_mm && self.width_from_mm < self.width_below_mm
    }

    fn overlaps(&self, other: &Self) -> bool {
        self.length_from_mm < other.length_below_mm
            && other.length_from_mm < self.length_below_mm
            && self.width_from_mm < other.width_below_mm
            && other.width_from_mm < self.width_below_mm
    }

    fn holds(&self, face: &FaceLengths) -> bool {
        (self.length_from_mm..self.length_below_mm).contains(&face.face_length_mm)
            && (self.width_from_mm..self.width_below_mm).contains(&face.face_width_mm)
    }
}

impl Panel {
    /// Whether every face belongs to one cell at most.
    ///
    /// # Errors
    /// `invalid_value` for `cells` where there is none, or too many, or one is inverted, unnamed or over another.
    pub fn check(&self) -> Result<(), Refusal> {
        let refused = |detail: String| Err(Refusal::new(Code::InvalidValue, detail).field("cells"));
        if self.cells.is_empty() || self.cells.len() > CELLS_MAX {
            return refused(format!("A panel has 1 to {CELLS_MAX} cells."));
        }
        for (index, cell) in self.cells.iter().enumerate() {
            if cell.name.trim().is_empty() || !cell.is_upright() {
                return refused(format!("Cell \"{}\" has no name, or ends before it begins.", cell.name));
            }
            let others = self.cells.iter().take(index);
            if let Some(other) =
                others.into_iter().find(|other| other.name == cell.name || cell.overlaps(other))
            {
                return refused(format!(
                    "Cells \"{}\" and \"{}\" have one name or lie over each other.",
                    other.name, cell.name
                ));
            }
        }
        Ok(())
    }

    /// The cell a face belongs to, if it belongs to one.
    pub fn cell_of(&self, face: &FaceLengths) -> Option<&Cell> {
        self.cells.iter().find(|cell| cell.holds(face))
    }
}

/// What was seen with one respirator: at the site, and by this person.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seen {
    /// The respirator.
    pub respirator: Uuid,
    /// Passes at the site.
    pub passes: u64,
    /// Fails at the site.
    pub fails: u64,
    /// How this person's newest attempt that counts ended on it, if there is one.
    pub own: Option<Outcome>,
}

/// One hint.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Hint {
    /// The respirator.
    pub respirator_id: Uuid,
    /// Passes at the site.
    pub passes: u64,
    /// Fails at the site.
    pub fails: u64,
    /// The share of passes; absent where nobody was tested.
    pub pass_share: Option<f64>,
    /// The lower end of its 95 percent interval (Wilson).
    pub pass_share_low: Option<f64>,
    /// The upper end of its 95 percent interval (Wilson).
    pub pass_share_high: Option<f64>,
    /// How this person's newest attempt that counts ended on it.
    pub own: Option<Outcome>,
}

/// Hints, the one to try first in front: what the person has passed, then what others pass, by the lower end of the
/// interval so that three passes of three do not outdo ninety of a hundred; what the person has failed comes last.
pub fn hints(seen: &[Seen]) -> Vec<Hint> {
    let mut hints: Vec<_> = seen.iter().map(hint).collect();
    let place = |own: Option<Outcome>| match own {
        Some(Outcome::Pass) => 0,
        Some(Outcome::Fail) => 2,
        _ => 1,
    };
    hints.sort_by(|one, other| {
        let low = |hint: &Hint| hint.pass_share_low.unwrap_or(0.0);
        place(one.own)
            .cmp(&place(other.own))
            .then(low(other).total_cmp(&low(one)))
            .then(one.respirator_id.cmp(&other.respirator_id))
    });
    hints
}

fn hint(seen: &Seen) -> Hint {
    let trials = seen.passes.saturating_add(seen.fails);
    let interval = wilson(seen.passes, trials);
    #[allow(clippy::cast_precision_loss, reason = "a share for people to read")]
    let share = (trials > 0).then(|| seen.passes as f64 / trials as f64);
    Hint {
        respirator_id: seen.respirator,
        passes: seen.passes,
        fails: seen.fails,
        pass_share: share,
        pass_share_low: interval.as_ref().map(|interval| interval.low),
        pass_share_high: interval.as_ref().map(|interval| interval.high),
        own: seen.own,
    }
}
