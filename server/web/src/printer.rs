//! Paper and printer, as a caller describes them.

use sellion_badge::sheet::{self, Module, OFFSET_MM_MAX, Print, Printer, Resolution};
use sellion_rules::refusal::{Code, Refusal};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// How badges are laid on paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
// A name of its own in the document: files of readings have a layout too.
#[schema(as = SheetLayout)]
pub(crate) enum Layout {
    /// One ID-1 card to a page of its size.
    Card,
    /// Ten cards to an A4 page, with crop marks.
    A4Sheet,
    /// Ten cards to a Letter page, with crop marks.
    LetterSheet,
    /// One large badge to an A4 page.
    A4Single,
    /// One large badge to a Letter page.
    LetterSingle,
    /// A receipt 80 mm wide, for whoever cannot wait for a card.
    Slip,
}

impl From<Layout> for sheet::Layout {
    fn from(layout: Layout) -> Self {
        match layout {
            Layout::Card => Self::Card,
            Layout::A4Sheet => Self::A4Sheet,
            Layout::LetterSheet => Self::LetterSheet,
            Layout::A4Single => Self::A4Single,
            Layout::LetterSingle => Self::LetterSingle,
            Layout::Slip => Self::Slip,
        }
    }
}

/// The printer: its dots, and how far everything is moved so that it comes out in its place. A proof sheet shows both.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct PrinterSettings {
    /// 203, 300 or 600. The modules of a code are whole dots, four or more where they fit.
    #[schema(example = 300)]
    pub(crate) dots_per_inch: u16,
    /// To the right, in mm: -10 to 10.
    #[schema(example = 0.5)]
    pub(crate) offset_x_mm: f64,
    /// Down, in mm: -10 to 10.
    #[schema(example = -0.3)]
    pub(crate) offset_y_mm: f64,
}

impl Default for PrinterSettings {
    fn default() -> Self {
        let dots_per_inch = Resolution::default().dots_per_inch();
        Self { dots_per_inch, offset_x_mm: 0.0, offset_y_mm: 0.0 }
    }
}

impl PrinterSettings {
    pub(crate) fn printer(self) -> Result<Printer, Refusal> {
        let resolution = Resolution::of(self.dots_per_inch).ok_or_else(|| {
            let sentence = "A printer has 203, 300 or 600 dots per inch.";
            Refusal::new(Code::InvalidValue, sentence).field("dots_per_inch")
        })?;
        let x = offset(self.offset_x_mm, "offset_x_mm")?;
        let y = offset(self.offset_y_mm, "offset_y_mm")?;
        Ok(Printer { resolution, offset_mm: (x, y) })
    }
}

fn offset(mm: f64, field: &'static str) -> Result<f32, Refusal> {
    if mm.abs() <= f64::from(OFFSET_MM_MAX) {
        #[allow(
            clippy::cast_possible_truncation,
            reason = "ten mm to a thousandth are far from a limit of f32"
        )]
        return Ok(mm as f32);
    }
    let sentence =
        format!("An offset lies between -{OFFSET_MM_MAX} and {OFFSET_MM_MAX} mm: lay the paper right.");
    Err(Refusal::new(Code::InvalidValue, sentence).field(field))
}

/// How badges are printed, checked.
pub(crate) fn print(layout: Layout, first_place: usize, printer: PrinterSettings) -> Result<Print, Refusal> {
    let print = Print { layout: layout.into(), first_place, printer: printer.printer()? };
    let last = print.layout.badges_per_page().saturating_sub(1);
    if first_place > last {
        let sentence = format!("This paper has the places 0 to {last}.");
        return Err(Refusal::new(Code::InvalidValue, sentence).field("first_place"));
    }
    Ok(print)
}

/// The header of a printed document that says how many dots its smallest module has.
pub(crate) const MODULE_DOTS: &str = "sellion-module-dots";
/// The same in mm.
pub(crate) const MODULE_MM: &str = "sellion-module-mm";

/// Both headers.
pub(crate) fn told(module: Module) -> [(&'static str, String); 2] {
    [(MODULE_DOTS, module.dots.to_string()), (MODULE_MM, format!("{:.3}", module.mm))]
}
