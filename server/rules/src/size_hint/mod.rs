//! Where to begin among the respirators: a hint from the person's own tests, the site's tests and two face lengths.
//!
//! Never a result. 29 CFR 1910.134 asks for neither face measurement, and a panel of faces is made for testing products,
//! not for choosing a size for one person. No image of a face is taken or kept.

mod face;
mod panel;
mod ranking;

pub use face::{FaceLengths, FaceMillimetres, LengthUnit};
pub use panel::{Panel, PanelCell};
pub use ranking::{Hint, OwnResult, SiteCounts, rank};

use serde::Serialize;

use crate::refusal::Refusal;

/// What stands beside every hint.
pub const HINT_ONLY: &str = "This is a hint for where to begin, and never a result: only a fit test tells whether a \
                             respirator fits. 29 CFR 1910.134 asks for neither face measurement.";

/// Hints for one person.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct SizeHints {
    /// What has to stand beside them.
    pub caution: &'static str,
    /// The face lengths in millimetres, where they were given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub face: Option<FaceMillimetres>,
    /// The cell of the panel that the face lies in, where there is a panel and the face is in one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cell: Option<String>,
    /// The respirators, the one to try first at the front.
    pub hints: Vec<Hint>,
}

/// Hints from what is known; each part may be missing.
///
/// The cell is told and changes nothing in the order: where the counts of a site are to follow it, they are those of
/// people in the same cell.
///
/// # Errors
/// `invalid_value` for a face length that cannot be meant, or for a panel that says two things.
pub fn size_hints(
    face: Option<&FaceLengths>,
    panel: Option<&Panel>,
    own: &[OwnResult],
    site: &[SiteCounts],
) -> Result<SizeHints, Refusal> {
    let face = face.map(FaceLengths::millimetres).transpose()?;
    panel.map(Panel::check).transpose()?;
    let cell = face.zip(panel).and_then(|(face, panel)| panel.cell(face)).map(|cell| cell.id.clone());
    Ok(SizeHints { caution: HINT_ONLY, face, cell, hints: rank(own, site) })
}
