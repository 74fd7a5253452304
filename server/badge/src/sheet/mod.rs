//! Printed badges as PDF: ID-1 cards, ten to a sheet, one to a page, or slips. The labels of supplies are printed with
//! the same means by [`label_sheet`].

mod canvas;
mod card;
mod fonts;
mod format;
pub mod label_sheet;
mod pdf;
mod printer;
mod proof;
mod runner;
mod slip;
mod structure;
mod tag;
mod typeset;
mod words;

pub use fonts::Fonts;
pub use format::{CARD_HEIGHT_MM, CARD_WIDTH_MM, Layout};
pub use printer::{MODULE_DOTS_WANTED, MODULE_MM_MIN, Module, OFFSET_MM_MAX, Printer, Resolution};
pub use proof::render_proof;
pub use runner::{RunnerError, RunnerList, RunnerPlace, render_runner_list};

use rayon::prelude::*;

use self::canvas::Item;
use self::format::Grid;
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
    /// The first place is not on the sheet.
    #[error("the first place is one of 0 to {last}")]
    FirstPlace {
        /// The last place of a sheet.
        last: usize,
    },
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

impl SheetError {
    /// The one badge that is at fault.
    pub fn serial(&self) -> Option<Serial> {
        match self {
            Self::NoGlyph { serial, .. }
            | Self::TooLong { serial, .. }
            | Self::CodeTooDense { serial, .. }
            | Self::Code { serial, .. } => Some(*serial),
            Self::Empty | Self::FirstPlace { .. } | Self::Font(_) | Self::Pdf(_) => None,
        }
    }
}

/// How badges are printed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Print {
    /// On what paper.
    pub layout: Layout,
    /// The first free place of a half-used sheet, counted along the rows from 0.
    pub first_place: usize,
    /// By what printer.
    pub printer: Printer,
}

impl From<Layout> for Print {
    fn from(layout: Layout) -> Self {
        Self { layout, first_place: 0, printer: Printer::default() }
    }
}

/// A document with badges.
#[derive(Debug, Clone, PartialEq)]
pub struct Printed {
    /// The PDF.
    pub pdf: Vec<u8>,
    /// The smallest module of its codes.
    pub module: Module,
}

/// Badges laid out in parallel before they are drawn: enough for every core, few enough to stay small.
const LAID_OUT_AT_ONCE: usize = 240;
/// Badges that share one typesetter and what it remembers.
const FOR_ONE_TYPESETTER: usize = 30;

/// One badge with its place found for everything on it.
struct LaidOut {
    items: Vec<Item>,
    /// The grid of its page: that of the layout, but for slips.
    grid: Grid,
}

/// Prints the badges in the order given. `progress` is called with the number of badges drawn so far.
///
/// Takes milliseconds for each badge: keep it off an async thread.
///
/// # Errors
/// [`SheetError`] names the badge and what is wrong; no part of a document is returned then.
pub fn render(
    badges: &[PrintedBadge],
    print: &Print,
    fonts: &Fonts,
    progress: &mut dyn FnMut(usize),
) -> Result<Printed, SheetError> {
    if badges.is_empty() {
        return Err(SheetError::Empty);
    }
    let per_page = print.layout.badges_per_page();
    if print.first_place >= per_page {
        return Err(SheetError::FirstPlace { last: per_page.saturating_sub(1) });
    }
    let mut sheet = Sheet::new("Badges", print.printer)?;
    let mut module: Option<Module> = None;
    let (mut rest, mut first, mut done) = (badges, print.first_place, 0);
    while !rest.is_empty() {
        // Whole pages, the first of which may be begun.
        let portion = LAID_OUT_AT_ONCE.next_multiple_of(per_page) - first;
        let (now, later) = rest.split_at(portion.min(rest.len()));
        let mut laid_out = lay_out_all(now, print, fonts)?;
        while !laid_out.is_empty() {
            let page: Vec<LaidOut> = laid_out.drain(..laid_out.len().min(per_page - first)).collect();
            module = page.iter().flat_map(|badge| modules(&badge.items)).chain(module).min_by_key(|m| m.dots);
            let grid = page[0].grid;
            let cells: Vec<_> = page.into_iter().map(|badge| badge.items).collect();
            sheet.page(&grid, first, &cells, &mut || {
                done += 1;
                progress(done);
            })?;
            first = 0;
        }
        rest = later;
    }
    Ok(Printed { pdf: sheet.finish()?, module: module.ok_or(SheetError::Empty)? })
}

/// Whether a badge can be printed so: the answer of [`render`] for it alone, without a document.
///
/// # Errors
/// As [`render`].
pub fn check(badge: &PrintedBadge, print: &Print, fonts: &Fonts) -> Result<(), SheetError> {
    lay_out_one(badge, print, &mut Typesetter::new(fonts)).map(drop)
}

fn lay_out_all(badges: &[PrintedBadge], print: &Print, fonts: &Fonts) -> Result<Vec<LaidOut>, SheetError> {
    let groups = badges
        .par_chunks(FOR_ONE_TYPESETTER)
        .map(|group| {
            let mut typesetter = Typesetter::new(fonts);
            group.iter().map(|badge| lay_out_one(badge, print, &mut typesetter)).collect()
        })
        .collect::<Result<Vec<Vec<_>>, SheetError>>()?;
    Ok(groups.into_iter().flatten().collect())
}

fn lay_out_one(
    badge: &PrintedBadge,
    print: &Print,
    typesetter: &mut Typesetter<'_>,
) -> Result<LaidOut, SheetError> {
    let grid = *print.layout.grid();
    if print.layout == Layout::Slip {
        let (items, height_mm) = slip::lay_out(badge, &grid, print.printer, typesetter)?;
        return Ok(LaidOut { items, grid: grid.of_height(height_mm) });
    }
    Ok(LaidOut { items: card::lay_out(badge, &grid, print.printer, typesetter)?, grid })
}

fn modules(items: &[Item]) -> impl Iterator<Item = Module> {
    items.iter().filter_map(|item| match item {
        Item::Code { code, .. } => Some(code.module),
        _ => None,
    })
}
