//! A panel of faces as loadable data: cells of face length and face width.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::face::FaceMillimetres;
use crate::fit_factor::Quantity;
use crate::refusal::{Code, Refusal};
use crate::text::{self, SHORT};

/// More cells than any panel has.
const CELLS_MAX: usize = 100;

/// One cell: all faces between two lengths and two widths, in millimetres.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct PanelCell {
    /// Its name in the source.
    pub id: String,
    /// The shortest face.
    pub length_min_mm: Quantity,
    /// The longest face.
    pub length_max_mm: Quantity,
    /// The narrowest face.
    pub width_min_mm: Quantity,
    /// The widest face.
    pub width_max_mm: Quantity,
}

/// The cells of a panel, loaded by the site. None comes with the program. The cells need not form one rectangle.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Panel {
    /// Its name.
    pub name: String,
    /// Where its numbers come from.
    pub source: String,
    /// Its cells; none overlaps another, but two may share an edge.
    pub cells: Vec<PanelCell>,
}

impl PanelCell {
    fn is_inverted(&self) -> bool {
        self.length_min_mm >= self.length_max_mm || self.width_min_mm >= self.width_max_mm
    }

    fn overlaps(&self, other: &Self) -> bool {
        self.length_min_mm < other.length_max_mm
            && other.length_min_mm < self.length_max_mm
            && self.width_min_mm < other.width_max_mm
            && other.width_min_mm < self.width_max_mm
    }

    fn holds(&self, face: FaceMillimetres) -> bool {
        (self.length_min_mm..=self.length_max_mm).contains(&face.face_length_mm)
            && (self.width_min_mm..=self.width_max_mm).contains(&face.face_width_mm)
    }
}

impl Panel {
    /// Whether it says one thing about every face.
    ///
    /// # Errors
    /// `invalid_value` naming the member: no name, source or cell, too many cells, an id that is empty or stands twice,
    /// a cell whose limits are equal or the wrong way round, or two cells that overlap.
    pub fn check(&self) -> Result<(), Refusal> {
        text::line(&self.name, "name", SHORT)?;
        text::line(&self.source, "source", SHORT)?;
        if !(1..=CELLS_MAX).contains(&self.cells.len()) {
            return Err(wrong(format!("A panel has 1 to {CELLS_MAX} cells.")));
        }
        let mut ids = BTreeSet::new();
        for (place, cell) in self.cells.iter().enumerate() {
            let id = text::line(&cell.id, "cells", SHORT)?;
            if cell.is_inverted() {
                return Err(wrong(format!("The lower limits of cell {id} have to be below its upper ones.")));
            }
            if let Some(other) = self.cells.iter().take(place).find(|other| other.overlaps(cell)) {
                return Err(wrong(format!("The cells {} and {id} overlap: correct their limits.", other.id)));
            }
            if !ids.insert(id) {
                return Err(wrong(format!("Two cells are called {}: give each its own name.", cell.id)));
            }
        }
        Ok(())
    }

    /// The cell a face lies in. On an edge that cells share it is the one that begins at the greater length, then the
    /// one that begins at the greater width.
    pub fn cell(&self, face: FaceMillimetres) -> Option<&PanelCell> {
        let holding = self.cells.iter().filter(|cell| cell.holds(face));
        holding.max_by_key(|cell| (cell.length_min_mm, cell.width_min_mm))
    }
}

fn wrong(sentence: String) -> Refusal {
    Refusal::new(Code::InvalidValue, sentence).field("cells")
}
