//! Printed badges as PDF: ID-1 cards, ten to an A4 sheet, or one to a page. The labels of supplies are printed with
//! the same means by [`label_sheet`].

mod canvas;
mod card;
mod fonts;
mod format;
pub mod label_sheet;
mod pdf;
mod runner;
mod tag;
mod typeset;

pub use canvas::MODULE_MM_MIN;
pub use fonts::Fonts;
pub use format::{CARD_HEIGHT_MM, CARD_WIDTH_MM, Layout};
pub use runner::{RunnerError, RunnerList, RunnerPlace, render_runner_list};

use rayon::prelude::*;

use self::pdf::Sheet;
use self::typeset::Typesetter;
use crate::qr::QrError;
use crate::serial::Serial;

/// One badge as it is printed. All texts are ready to print; dates are already in the site's own form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PrintedBadge {
    /// The person's name, in any script.
    pub display_name: String,
    /// The badge's serial.
    pub serial: Serial,
    /// The day after which the badge is worth nothing.
    pub valid_until: String,
    /// What the person was tested with.
    pub respirators: Vec<PrintedRespirator>,
    /// The text of the code, from [`crate::code::pack`].
    pub code_text: String,
    /// The site's name.
    pub site_name: String,
}

/// One respirator line of a badge.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PrintedRespirator {
    /// Make and model in words.
    pub name: String,
    /// The size in words, such as "medium" or "one size".
    pub size: String,
    /// The last day of the clearance.
    pub due_on: String,
}

/// Why a sheet could not be printed. Nothing is left out or replaced to make it fit.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SheetError {
    /// No badge was given.
    #[error("there is no badge to print")]
    Empty,
    /// None of the fonts has this character; a font for its script has to be given.
    #[error("badge {serial}: no font here has the character {character:?}")]
    NoGlyph {
        /// The badge.
        serial: Serial,
        /// The character that would have printed as an empty box.
        character: char,
    },
    /// A text does not fit its place even in the smallest type.
    #[error("badge {serial}: the {part} is too long to print")]
    TooLong {
        /// The badge.
        serial: Serial,
        /// Which text.
        part: &'static str,
    },
    /// The code needs more modules than print at a readable size.
    #[error("badge {serial}: the modules of the code would be {module_mm:.2} mm, too small to read")]
    CodeTooDense {
        /// The badge.
        serial: Serial,
        /// Side of a module in mm.
        module_mm: f32,
    },
    /// The text of the code is not a code.
    #[error("badge {serial}: {error}")]
    Code {
        /// The badge.
        serial: Serial,
        /// What is wrong with it.
        error: QrError,
    },
    /// A font that was given is not a font.
    #[error("font number {0} of those given cannot be read")]
    Font(usize),
    /// The PDF library refused the document.
    #[error("the PDF could not be written: {0}")]
    Pdf(String),
}

/// Badges laid out in parallel before they are drawn: enough for every core, few enough to stay small.
const LAID_OUT_AT_ONCE: usize = 240;
/// Badges that share one typesetter and what it remembers.
const FOR_ONE_TYPESETTER: usize = 30;

/// Prints the badges in the order given. `progress` is called with the number of badges drawn so far.
///
/// Takes milliseconds for each badge: keep it off an async thread.
///
/// # Errors
/// [`SheetError`] names the badge and what is wrong; no part of a document is returned then.
pub fn render(
    badges: &[PrintedBadge],
    layout: Layout,
    fonts: &Fonts,
    progress: &mut dyn FnMut(usize),
) -> Result<Vec<u8>, SheetError> {
    if badges.is_empty() {
        return Err(SheetError::Empty);
    }
    let grid = layout.grid();
    let mut sheet = Sheet::new(grid, "Badges");
    let mut done = 0;
    let whole_pages = LAID_OUT_AT_ONCE.next_multiple_of(layout.badges_per_page());
    for portion in badges.chunks(whole_pages) {
        let groups = portion
            .par_chunks(FOR_ONE_TYPESETTER)
            .map(|group| {
                let mut typesetter = Typesetter::new(fonts);
                group.iter().map(|badge| card::lay_out(badge, grid, &mut typesetter)).collect()
            })
            .collect::<Result<Vec<Vec<_>>, SheetError>>()?;
        let laid_out: Vec<_> = groups.into_iter().flatten().collect();
        for page in laid_out.chunks(layout.badges_per_page()) {
            sheet.page(0, page, &mut || {
                done += 1;
                progress(done);
            })?;
        }
    }
    sheet.finish()
}
