//! What stands where on one card.
//!
//! Left: site, name, the respirators. Right: the code, and under it what a person without a scanner needs.
//! Below a thin line: the caution. The name gets all the room the respirators leave.
//!
//! Pieces are placed in the order in which they are read aloud: the name first.

use std::sync::Arc;

use super::canvas::{Canvas, FittedCode, Item, MM, Room};
use super::format::Grid;
use super::printer::Printer;
use super::structure::Role;
use super::typeset::{Block, Typesetter};
use super::words::{CAUTION, SERIAL, TESTED_WITH, VALID_UNTIL, line_of};
use super::{PrintedBadge, SheetError};

const MARGIN: f32 = 4.0 * MM;
/// Side of the code with its quiet zone. The quiet zone is white, so it may come closer to the edge.
const CODE_SIDE: f32 = 32.0 * MM;
/// A coarse printer may have this much, if its modules get dots enough by it: the date is set smaller then.
const CODE_SIDE_MAX: f32 = 34.8 * MM;
const CODE_TOP: f32 = 1.2 * MM;
const CODE_RIGHT: f32 = 1.8 * MM;
const GAP: f32 = 1.5 * MM;
const CAUTION_HEIGHT: f32 = 5.6 * MM;
const CAUTION_BOTTOM: f32 = 3.0 * MM;
/// One line in the largest size: a longer date is set smaller, never on two lines.
const DATE_HEIGHT: f32 = 4.7 * MM;
/// One line in the largest size.
const SERIAL_HEIGHT: f32 = 3.5 * MM;
const RULE_GAP: f32 = 0.9 * MM;
/// How far the words under the code are from the edge of their column: about a quiet zone.
const WORDS_INSET: f32 = 1.9 * MM;

/// Type sizes in points, the preferred one first.
const SITE_SIZES: [f32; 4] = [6.5, 6.0, 5.5, 5.0];
const NAME_SIZES: [f32; 12] = [18.0, 16.5, 15.0, 13.5, 12.5, 11.5, 10.5, 9.5, 8.5, 8.0, 7.5, 7.0];
const LIST_SIZES: [f32; 7] = [8.0, 7.5, 7.0, 6.5, 6.0, 5.5, 5.0];
const LABEL_SIZE: [f32; 1] = [5.5];
const DATE_SIZES: [f32; 6] = [10.0, 9.0, 8.0, 7.0, 6.0, 5.0];
const SERIAL_SIZES: [f32; 4] = [7.5, 7.0, 6.5, 6.0];
const CAUTION_SIZES: [f32; 4] = [6.0, 5.8, 5.6, 5.4];

/// The name keeps at least this much while the list looks for its size.
const NAME_RESERVE: f32 = 13.0 * MM;
const SITE_HEIGHT_MAX: f32 = 6.0 * MM;
const LIST_GAP: f32 = 0.5 * MM;

/// Lays out one badge.
pub(super) fn lay_out(
    badge: &PrintedBadge,
    grid: &Grid,
    printer: Printer,
    typesetter: &mut Typesetter<'_>,
) -> Result<Vec<Item>, SheetError> {
    let room = Room { side: CODE_SIDE, side_max: CODE_SIDE_MAX };
    let code = FittedCode::fit(&badge.code_text, room, grid.scale, printer.resolution);
    let code = code.map_err(|unfit| badge.refused("code", unfit))?;
    let mut card = Card {
        badge,
        width: grid.cell_width * MM,
        height: grid.cell_height * MM,
        column: code.whole().max(CODE_SIDE),
        canvas: Canvas::new(typesetter),
    };
    card.person()?;
    card.code(code)?;
    card.caution()?;
    Ok(card.canvas.into_items())
}

struct Card<'a, 't, 'f> {
    badge: &'a PrintedBadge,
    width: f32,
    height: f32,
    /// Width of the right column.
    column: f32,
    canvas: Canvas<'t, 'f>,
}

impl Card<'_, '_, '_> {
    fn caution_top(&self) -> f32 {
        self.height - CAUTION_BOTTOM - CAUTION_HEIGHT
    }

    fn column_left(&self) -> f32 {
        self.width - CODE_RIGHT - self.column
    }

    /// The left column.
    fn person(&mut self) -> Result<(), SheetError> {
        let width = self.column_left() - GAP - MARGIN;
        let bottom = self.caution_top() - RULE_GAP - GAP;
        let site = self.fit(&self.badge.site_name, "site name", &SITE_SIZES, width, SITE_HEIGHT_MAX)?;
        let name_top = MARGIN + site.height + GAP;
        let list = self.list(width, bottom - name_top)?;
        let list_height: f32 = list.iter().map(|block| block.height + LIST_GAP).sum();
        let room = bottom - name_top - list_height - GAP;
        let name = self.fit(&self.badge.display_name, "name", &NAME_SIZES, width, room)?;
        self.canvas.place_as(Role::Title, name, MARGIN, name_top);
        self.canvas.place(site, MARGIN, MARGIN);
        // The list stands on the bottom, so it is in the same place on every badge of a pile.
        let mut y = bottom - list_height;
        for (place, block) in list.into_iter().enumerate() {
            let role = if place == 0 { Role::Text } else { Role::Entry };
            y += self.canvas.place_as(role, block, MARGIN, y) + LIST_GAP;
        }
        Ok(())
    }

    /// A heading and one paragraph for each respirator, in the first size that leaves room for a name; in the
    /// smallest if none does.
    fn list(&mut self, width: f32, height: f32) -> Result<Vec<Arc<Block>>, SheetError> {
        let respirators = &self.badge.respirators;
        if respirators.is_empty() {
            return Ok(Vec::new());
        }
        let mut blocks = Vec::new();
        for size in LIST_SIZES {
            blocks = vec![self.fit(TESTED_WITH, "list of respirators", &LABEL_SIZE, width, height)?];
            for respirator in respirators {
                let text = line_of(respirator);
                blocks.push(self.fit(&text, "list of respirators", &[size], width, height)?);
            }
            let total: f32 = blocks.iter().map(|block| block.height + LIST_GAP).sum();
            if total + GAP + NAME_RESERVE <= height {
                break;
            }
        }
        Ok(blocks)
    }

    /// The right column: the date and the serial first, since a scanner needs no words.
    fn code(&mut self, code: FittedCode) -> Result<(), SheetError> {
        let left = self.column_left() + WORDS_INSET;
        let width = self.column - 2.0 * WORDS_INSET;
        let bottom = self.caution_top() - RULE_GAP;
        let inset = (self.column - code.whole()) / 2.0;
        let mut y = CODE_TOP + code.whole() + inset;
        let label = self.fit(VALID_UNTIL, "date", &LABEL_SIZE, width, bottom - y)?;
        let text = format!("{SERIAL} {}", self.badge.serial);
        // One line: a serial that breaks at its dash is read as two.
        let serial = self.fit(&text, "serial", &SERIAL_SIZES, width, SERIAL_HEIGHT)?;
        let room = DATE_HEIGHT.min(bottom - y - label.height - serial.height);
        let date = self.fit(&self.badge.valid_until, "date", &DATE_SIZES, width, room)?;
        y += self.canvas.place(label, left, y);
        y += self.canvas.place(date, left, y);
        self.canvas.place(serial, left, y);
        let words = self.badge.code_in_words();
        self.canvas.place_code(code, self.column_left() + inset, CODE_TOP + inset, words);
        Ok(())
    }

    fn caution(&mut self) -> Result<(), SheetError> {
        let (width, y) = (self.width - 2.0 * MARGIN, self.caution_top());
        self.canvas.push(Item::Rule { x: MARGIN, y: y - RULE_GAP, length: width });
        let caution = self.fit(CAUTION, "caution", &CAUTION_SIZES, width, CAUTION_HEIGHT)?;
        self.canvas.place(caution, MARGIN, y);
        Ok(())
    }

    fn fit(
        &mut self,
        text: &str,
        part: &'static str,
        sizes: &[f32],
        width: f32,
        height: f32,
    ) -> Result<Arc<Block>, SheetError> {
        let fitted = self.canvas.fit(text, sizes, width, height);
        fitted.map_err(|unfit| self.badge.refused(part, unfit))
    }
}
