//! What stands where on one label.
//!
//! Above: the band that tells the solutions apart. Left: the code. Right: what it is, in full words. Below: the line
//! for the day of opening, and the code once more for whoever has to type it.

use sellion_rules::supplies::Solution;

use super::canvas::{Canvas, FittedCode, Item, MM, Pattern, Room};
use super::format::Grid;
use super::label_sheet::{Contents, LabelSheetError, LabelWords, PrintedLabel};
use super::printer::Resolution;
use super::typeset::Typesetter;
use crate::label::Label;

const LOT: &str = "Lot";
const USE_UNTIL: &str = "Use until";
const OPENED_ON: &str = "Opened on";

/// Labels are seldom cut or fed to the millimetre, so nothing but white comes closer to the edge.
const MARGIN: f32 = 2.5 * MM;
const BAND_HEIGHT: f32 = 2.6 * MM;
const BAND_GAP: f32 = 0.8 * MM;
/// Side of the code with its quiet zone, which is white and may come closer to the edge.
const CODE_SIDE: f32 = 20.0 * MM;
const CODE_LEFT: f32 = 1.0 * MM;
const GAP: f32 = 1.0 * MM;
const FOOT_HEIGHT: f32 = 2.9 * MM;
const OPENED_HEIGHT: f32 = 4.4 * MM;

/// Type sizes in points, the preferred one first.
const KIND_SIZES: [f32; 1] = [7.0];
const NAME_SIZES: [f32; 9] = [16.0, 14.0, 12.0, 10.5, 9.5, 8.5, 7.5, 6.5, 5.5];
const WORDS_SIZES: [f32; 6] = [10.5, 10.0, 9.5, 9.0, 8.5, 8.0];
const FACT_SIZES: [f32; 6] = [7.5, 7.0, 6.5, 6.0, 5.5, 5.0];
const OPENED_SIZES: [f32; 3] = [7.0, 6.5, 6.0];
const FOOT_SIZES: [f32; 4] = [6.5, 6.0, 5.5, 5.0];

/// One line of the largest words.
const WORDS_HEIGHT: f32 = 13.7;
/// Two lines in the smallest type, for a lot number longer than usual.
const LOT_HEIGHT: f32 = 13.1;
/// One line, so that a date is never torn apart.
const UNTIL_HEIGHT: f32 = 9.8;
/// How much of the line of opening is left to write on, at least.
const WRITING: f32 = 16.0 * MM;

/// Lays out one label.
pub(super) fn lay_out(
    printed: &PrintedLabel,
    grid: &Grid,
    typesetter: &mut Typesetter<'_>,
) -> Result<Vec<Item>, LabelSheetError> {
    let label = printed.label();
    let mut tag = Tag {
        label,
        width: grid.cell_width * MM,
        height: grid.cell_height * MM,
        canvas: Canvas::new(typesetter),
    };
    let top = MARGIN + BAND_HEIGHT + BAND_GAP;
    tag.code(top, grid.scale)?;
    let mut y = top + tag.line(label.kind.name(), "kind", &KIND_SIZES, top, tag.bottom() - top)?;
    match &printed.words {
        LabelWords::Bottle { contents, lot_number, use_until, opened_life_days } => {
            y += tag.contents(*contents, y)?;
            // A number too long for one line breaks within itself and doesn't begin on a line of its own.
            let lot = format!("{LOT}\u{a0}{lot_number}");
            y += tag.line(&lot, "lot number", &FACT_SIZES, y, LOT_HEIGHT)?;
            let until = format!("{USE_UNTIL} {}", use_until.replace(' ', "\u{a0}"));
            tag.line(&until, "last day of use", &FACT_SIZES, y, UNTIL_HEIGHT)?;
            tag.opened(*opened_life_days)?;
        }
        LabelWords::Nebulizer { name, contents } => {
            if let Some(contents) = contents {
                y += tag.contents(*contents, y)?;
            }
            tag.line(name, "name", &NAME_SIZES, y, tag.bottom() - y)?;
        }
        LabelWords::Hood { name } => {
            tag.line(name, "name", &NAME_SIZES, y, tag.bottom() - y)?;
        }
    }
    tag.foot()?;
    Ok(tag.canvas.into_items())
}

struct Tag<'t, 'f> {
    label: Label,
    width: f32,
    height: f32,
    canvas: Canvas<'t, 'f>,
}

impl Tag<'_, '_> {
    /// Where the foot begins.
    fn foot_top(&self) -> f32 {
        self.height - MARGIN - FOOT_HEIGHT
    }

    /// Where the right column ends.
    fn bottom(&self) -> f32 {
        self.foot_top() - GAP
    }

    /// The code in the middle of its square.
    fn code(&mut self, top: f32, scale: f32) -> Result<(), LabelSheetError> {
        let room = Room { side: CODE_SIDE, side_max: CODE_SIDE };
        let code = FittedCode::fit(&self.label.text(), room, scale, Resolution::default());
        let code = code.map_err(|unfit| LabelSheetError::of(self.label, "code", unfit))?;
        let inset = (CODE_SIDE - code.whole()) / 2.0;
        let words = format!("Code of the label {}", self.label);
        self.canvas.place_code(code, CODE_LEFT + inset, top + inset, words);
        Ok(())
    }

    /// A text of the right column; gives its height.
    fn line(
        &mut self,
        text: &str,
        part: &'static str,
        sizes: &[f32],
        y: f32,
        height: f32,
    ) -> Result<f32, LabelSheetError> {
        let left = CODE_LEFT + CODE_SIDE;
        self.text(text, part, sizes, (left, y), self.width - MARGIN - left, height)
    }

    fn text(
        &mut self,
        text: &str,
        part: &'static str,
        sizes: &[f32],
        (x, y): (f32, f32),
        width: f32,
        height: f32,
    ) -> Result<f32, LabelSheetError> {
        let block = self.canvas.fit(text, sizes, width, height);
        let block = block.map_err(|unfit| LabelSheetError::of(self.label, part, unfit))?;
        Ok(self.canvas.place(block, x, y))
    }

    /// Agent and solution in full words, and the band; gives the height of the words.
    fn contents(&mut self, contents: Contents, y: f32) -> Result<f32, LabelSheetError> {
        let pattern = match contents.solution {
            Solution::Screening => Pattern::Dotted,
            Solution::Test => Pattern::Solid,
            Solution::Stock => Pattern::Barred,
        };
        let width = self.width - 2.0 * MARGIN;
        self.canvas.push(Item::Band { pattern, x: MARGIN, y: MARGIN, width, height: BAND_HEIGHT });
        let agent = self.line(contents.agent.name(), "agent", &WORDS_SIZES, y, WORDS_HEIGHT)?;
        let solution =
            self.line(contents.solution.name(), "solution", &WORDS_SIZES, y + agent, WORDS_HEIGHT)?;
        Ok(agent + solution)
    }

    /// The line on which the day of opening is written by hand, and how long the bottle is good from then on.
    fn opened(&mut self, life_days: Option<u32>) -> Result<(), LabelSheetError> {
        let (left, y) = (MARGIN, self.foot_top() - OPENED_HEIGHT);
        let right = self.width - MARGIN;
        let part = "line of opening";
        let opened = self.canvas.fit(OPENED_ON, &OPENED_SIZES, right - left, OPENED_HEIGHT);
        let opened = opened.map_err(|unfit| LabelSheetError::of(self.label, part, unfit))?;
        let (written, height) = (left + opened.width + GAP, opened.height);
        self.canvas.place(opened, left, y);
        let mut length = right - written;
        if let Some(days) = life_days {
            let unit = if days == 1 { "day" } else { "days" };
            let after = format!("then good for {days} {unit}").replace(' ', "\u{a0}");
            let x = written + WRITING + GAP;
            self.text(&after, part, &OPENED_SIZES, (x, y), right - x, OPENED_HEIGHT)?;
            length = WRITING;
        }
        self.canvas.push(Item::Rule { x: written, y: y + height, length });
        Ok(())
    }

    fn foot(&mut self) -> Result<(), LabelSheetError> {
        let text = self.label.to_string();
        let place = (MARGIN, self.foot_top());
        self.text(&text, "code", &FOOT_SIZES, place, self.width - 2.0 * MARGIN, FOOT_HEIGHT).map(|_| ())
    }
}
