//! Printed labels of supplies as PDF: 21 to a sheet of A4 or Letter, so that one scan names a bottle, a nebulizer or a
//! hood.
//!
//! A sheet of self-adhesive labels is seldom used up at once, so printing starts at any place of the first sheet.

use sellion_rules::supplies::{Agent, Solution};
use uuid::Uuid;

use super::canvas::Unfit;
use super::pdf::Sheet;
use super::printer::Printer;
use super::typeset::Typesetter;
use super::{Fonts, SheetError, tag};
use crate::label::{Label, LabelKind};

pub use super::format::LabelPaper;

/// One label as it is printed. All texts are ready to print; dates are already in the site's own form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PrintedLabel {
    /// The id of the thing it stands on.
    pub id: Uuid,
    /// What stands on it.
    pub words: LabelWords,
}

/// What a label says, by kind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LabelWords {
    /// A bottle, with a line for the day on which it is opened.
    Bottle {
        /// The liquid.
        contents: Contents,
        /// The number of its lot.
        lot_number: String,
        /// The last day of use, unopened.
        use_until: String,
        /// Days it may be used after the day of opening, where there is such a limit.
        opened_life_days: Option<u32>,
    },
    /// A nebulizer; one that is kept for one solution says for which (29 CFR 1910.134 App. A I.B.3(b)(3)).
    Nebulizer {
        /// What the site calls it.
        name: String,
        /// The only liquid that goes into it, where there is one.
        contents: Option<Contents>,
    },
    /// A hood.
    Hood {
        /// What the site calls it.
        name: String,
    },
}

/// A liquid, always in full words and by a pattern: dotted for the screening solution, solid for the test solution.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Contents {
    /// The agent.
    pub agent: Agent,
    /// The solution.
    pub solution: Solution,
}

impl PrintedLabel {
    /// What its code says.
    pub fn label(&self) -> Label {
        let kind = match self.words {
            LabelWords::Bottle { .. } => LabelKind::Bottle,
            LabelWords::Nebulizer { .. } => LabelKind::Nebulizer,
            LabelWords::Hood { .. } => LabelKind::Hood,
        };
        Label { kind, id: self.id }
    }
}

/// Why labels could not be printed. Nothing is left out or replaced to make it fit.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LabelSheetError {
    /// No label was given.
    #[error("there is no label to print")]
    Empty,
    /// The first place is not on the sheet.
    #[error("a sheet has the places 0 to {last}")]
    FirstPlace {
        /// The last place of a sheet.
        last: usize,
    },
    /// None of the fonts has this character; a font for its script has to be given.
    #[error("label {label}: no font here has the character {character:?}")]
    NoGlyph {
        /// The label.
        label: Label,
        /// The character that would have printed as an empty box.
        character: char,
    },
    /// A text does not fit its place even in the smallest type.
    #[error("label {label}: the {part} is too long to print")]
    TooLong {
        /// The label.
        label: Label,
        /// Which text.
        part: &'static str,
    },
    /// The sheet as a whole could not be made.
    #[error(transparent)]
    Sheet(#[from] SheetError),
}

impl LabelSheetError {
    pub(super) fn of(label: Label, part: &'static str, unfit: Unfit) -> Self {
        match unfit {
            Unfit::NoGlyph(character) => Self::NoGlyph { label, character },
            Unfit::TooLong => Self::TooLong { label, part },
            // Every code of a label has the same length, for which there is room.
            Unfit::Code(_) | Unfit::TooDense(_) => {
                Self::Sheet(SheetError::Pdf(format!("label {label}: its code cannot be drawn")))
            }
        }
    }
}

/// Prints the labels in the order given, the first one at the place `first_place` of its sheet, counted along the rows
/// from 0. `progress` is called with the number of labels drawn so far.
///
/// Takes a millisecond or so for each label: keep it off an async thread.
///
/// # Errors
/// [`LabelSheetError`] names the label and what is wrong; no part of a document is returned then.
pub fn render(
    labels: &[PrintedLabel],
    paper: LabelPaper,
    first_place: usize,
    fonts: &Fonts,
    progress: &mut dyn FnMut(usize),
) -> Result<Vec<u8>, LabelSheetError> {
    let per_page = paper.labels_per_page();
    if labels.is_empty() {
        return Err(LabelSheetError::Empty);
    }
    if first_place >= per_page {
        return Err(LabelSheetError::FirstPlace { last: per_page.saturating_sub(1) });
    }
    let grid = paper.grid();
    let mut sheet = Sheet::new("Labels", Printer::default())?;
    let (mut rest, mut first, mut done) = (labels, first_place, 0);
    while !rest.is_empty() {
        let here = rest.len().min(per_page - first);
        let (page, after) = rest.split_at(here);
        let mut typesetter = Typesetter::new(fonts);
        let laid_out = page.iter().map(|label| tag::lay_out(label, grid, &mut typesetter));
        let laid_out = laid_out.collect::<Result<Vec<_>, _>>()?;
        sheet.page(grid, first, &laid_out, &mut || {
            done += 1;
            progress(done);
        })?;
        (rest, first) = (after, 0);
    }
    Ok(sheet.finish()?)
}
