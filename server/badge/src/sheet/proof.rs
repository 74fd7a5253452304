//! The proof sheet: rulers from the edges of the paper, the outlines of the cards and a code to scan, so that a printer
//! is set right before badges are printed.

use super::SheetError;
use super::canvas::{Canvas, FittedCode, Item, Line, MM, Room, Unfit};
use super::fonts::Fonts;
use super::format::{Grid, Layout};
use super::pdf::Sheet;
use super::printer::{MODULE_DOTS_WANTED, Module, Printer};
use super::structure::Role;
use super::typeset::Typesetter;

/// Type sizes in points, the preferred one first: a card has little room.
const TITLE_SIZES: [f32; 5] = [14.0, 12.0, 10.0, 8.0, 7.0];
const TEXT_SIZES: [f32; 9] = [10.0, 9.0, 8.0, 7.0, 6.5, 6.0, 5.5, 5.0, 4.5];
const NUMBER_SIZES: [f32; 1] = [5.0];
const NUMBER_ROOM: f32 = 10.0 * MM;
const INSET: f32 = 2.0 * MM;
/// What the numbers beside a ruler take.
const NUMBERS: f32 = 2.5 * MM;
/// Side of the sample code at most: that of a card.
const CODE_SIDE: f32 = 32.0 * MM;
/// How much of the room below the rulers the words about the code get.
const CODE_WORDS_SHARE: f32 = 0.35;

/// As long as the code of a usual badge, and none of ours: a gate says so.
const SAMPLE: &str = "PROOF OF PRINT. NOT A BADGE. ";
const SAMPLE_LENGTH: usize = 340;

const TITLE: &str = "Proof of print";
const MEASURE: &str = "Print at 100 %, never fitted to the page. With a ruler, measure from the left edge of the paper to \
                       a tick of the line across, and from the upper edge to a tick of the line down. Each should be \
                       as many mm away as its number says.";
const CORRECT: &str = "If all ticks are out by the same, add number minus measured to offset_x_mm (across) or \
                       offset_y_mm (down), and print this again. If it grows along the line, the printer scales: \
                       switch that off.";

/// A page with rulers for the paper and the printer of a layout.
///
/// # Errors
/// [`SheetError`] if it cannot be drawn.
pub fn render_proof(layout: Layout, printer: Printer, fonts: &Fonts) -> Result<Vec<u8>, SheetError> {
    let cells = layout.grid();
    let page = Grid {
        columns: 1,
        rows: 1,
        cell_width: cells.page_width,
        cell_height: cells.page_height,
        column_gap: 0.0,
        scale: 1.0,
        crop_marks: false,
        ..*cells
    };
    let mut typesetter = Typesetter::new(fonts);
    let mut proof = Proof {
        cells,
        printer,
        width: page.page_width * MM,
        height: page.page_height * MM,
        canvas: Canvas::new(&mut typesetter),
    };
    proof
        .draw()
        .map_err(|unfit| SheetError::Pdf(format!("the proof sheet cannot be laid out: {unfit:?}")))?;
    let items = proof.canvas.into_items();
    let mut sheet = Sheet::new(TITLE, printer)?;
    sheet.page(&page, 0, &[items], &mut || {})?;
    sheet.finish()
}

struct Proof<'t, 'f> {
    cells: &'static Grid,
    printer: Printer,
    width: f32,
    height: f32,
    canvas: Canvas<'t, 'f>,
}

impl Proof<'_, '_> {
    fn draw(&mut self) -> Result<(), Unfit> {
        let (middle, centre) = (self.width / 2.0, self.height / 2.0);
        let columns = self.cells.columns;
        self.words(self.room(0, [0.0, 0.0, middle, centre]))?;
        self.offsets(self.room(columns - 1, [middle, 0.0, middle, centre]))?;
        self.code(self.room(self.cells.cells() - 1, [middle, centre, middle, centre]))?;
        self.ruler(self.width, |along, across| (along, centre + across))?;
        self.ruler(self.height, |along, across| (middle + across, along))?;
        self.outlines();
        Ok(())
    }

    /// What of a quarter of the page lies within an outline, a little away from that and from the rulers: left, top, width
    /// and height.
    fn room(&self, cell: usize, [left, top, width, height]: [f32; 4]) -> [f32; 4] {
        let [cell_left, cell_top, cell_width, cell_height] =
            self.cells.cell_box(cell).map(|length| length * MM);
        let from_left = (left + INSET + NUMBERS * f32::from(left > 0.0)).max(cell_left + INSET);
        let from_top = (top + INSET + NUMBERS * f32::from(top > 0.0)).max(cell_top + INSET);
        let until_right = (left + width).min(cell_left + cell_width) - INSET;
        let until_bottom = (top + height).min(cell_top + cell_height) - INSET;
        // The ticks stand on the left of one ruler and above the other.
        let ticks = |ends_there: bool| if ends_there { INSET } else { 0.0 };
        let right = until_right - ticks(left == 0.0);
        let bottom = until_bottom - ticks(top == 0.0);
        [from_left, from_top, right - from_left, bottom - from_top]
    }

    /// What to do, in the upper left quarter.
    fn words(&mut self, [x, y, width, height]: [f32; 4]) -> Result<(), Unfit> {
        let title = self.canvas.fit(TITLE, &TITLE_SIZES, width, height / 4.0)?;
        let top = self.canvas.place_as(Role::Title, title, x, y);
        let text = self.canvas.fit(MEASURE, &TEXT_SIZES, width, height - top)?;
        self.canvas.place(text, x, y + top);
        Ok(())
    }

    /// What to make of it, in the upper right quarter.
    fn offsets(&mut self, [x, y, width, height]: [f32; 4]) -> Result<(), Unfit> {
        let (right, down) = self.printer.offset_mm;
        let text = format!("{CORRECT} Offsets now: {right} mm and {down} mm.");
        let text = self.canvas.fit(&text, &TEXT_SIZES, width, height)?;
        self.canvas.place(text, x, y);
        Ok(())
    }

    /// A code as large as those of badges, and what is to be known of it, in the lower right quarter.
    fn code(&mut self, [x, y, width, height]: [f32; 4]) -> Result<(), Unfit> {
        let text: String = SAMPLE.chars().cycle().take(SAMPLE_LENGTH).collect();
        let resolution = self.printer.resolution;
        let of_card = Room { side: CODE_SIDE, side_max: CODE_SIDE };
        let module = FittedCode::fit(&text, of_card, 1.0, resolution)?.module;
        let side = CODE_SIDE.min(width).min(height * (1.0 - CODE_WORDS_SHARE));
        // A small page has no room for a code: then there is only its description.
        let code = FittedCode::fit(&text, Room { side, side_max: side }, 1.0, resolution).ok();
        let taken = code.as_ref().map_or(0.0, FittedCode::whole);
        let words = self.canvas.fit(&self.about(module), &TEXT_SIZES, width, height - taken)?;
        let below = self.canvas.place(words, x, y);
        if let Some(code) = code {
            self.canvas.place_code(code, x, y + below, "A sample code to scan".to_owned());
        }
        Ok(())
    }

    fn about(&self, module: Module) -> String {
        let dpi = self.printer.resolution.dots_per_inch();
        let Module { dots, mm } = module;
        let few = if module.is_as_wanted() {
            ""
        } else {
            " Scan this code before you print: these are few dots for a camera."
        };
        format!(
            "At {dpi} dots per inch a module of a usual code is {dots} dots or {mm:.2} mm wide; \
             {MODULE_DOTS_WANTED} dots are asked for.{few}"
        )
    }

    /// A line with a tick for each mm from the edge of the paper and a number for each ten.
    fn ruler(&mut self, length: f32, at: impl Fn(f32, f32) -> (f32, f32)) -> Result<(), Unfit> {
        let mut lines = vec![(at(0.0, 0.0), at(length, 0.0))];
        let last = (length / MM) as u16;
        for mm in 0..=last {
            let reach = if mm % 10 == 0 {
                3.0
            } else if mm % 5 == 0 {
                2.0
            } else {
                1.2
            };
            let along = f32::from(mm) * MM;
            lines.push((at(along, 0.0), at(along, -reach * MM)));
            if mm % 10 == 0 && mm > 0 {
                let number = self.canvas.fit(&mm.to_string(), &NUMBER_SIZES, NUMBER_ROOM, NUMBER_ROOM)?;
                let (x, y) = at(along, 0.0);
                // Beside the tick, on the side without ticks, so that neither covers the other.
                self.canvas.place(number, x + 0.4 * MM, y + 0.2 * MM);
            }
        }
        self.canvas.push(Item::Lines(lines));
        Ok(())
    }

    fn outlines(&mut self) {
        let mut lines: Vec<Line> = Vec::new();
        for place in 0..self.cells.cells() {
            let [left, top, width, height] = self.cells.cell_box(place).map(|length| length * MM);
            let (right, bottom) = (left + width, top + height);
            let corners = [(left, top), (right, top), (right, bottom), (left, bottom), (left, top)];
            lines.extend(corners.windows(2).map(|pair| (pair[0], pair[1])));
        }
        self.canvas.push(Item::Lines(lines));
    }
}
