//! What stands where on one badge.
//!
//! Left: site, name, the respirators. Right: the code, and under it what a person without a scanner needs.
//! Below a thin line: the caution. The name gets all the room the respirators leave.

use std::sync::Arc;

use super::canvas::{Canvas, Item, MM, Unfit};
use super::format::Grid;
use super::typeset::{Block, Typesetter};
use super::{PrintedBadge, PrintedRespirator, SheetError};

/// The words on every badge. The caution is shown on every badge because it is read at the moment of use.
const TESTED_WITH: &str = "Fit tested with";
const VALID_UNTIL: &str = "Valid until";
const SERIAL: &str = "Serial";
const CAUTION: &str = "Check the seal every time you put it on. Good only for the respirators named here, on your \
                       face as it was tested: after any change, ask for a new test.";

const MARGIN: f32 = 4.0 * MM;
/// Side of the code with its quiet zone. The quiet zone is white, so it may come closer to the edge.
const CODE_SIDE: f32 = 32.0 * MM;
const CODE_TOP: f32 = 1.5 * MM;
const CODE_RIGHT: f32 = 1.8 * MM;
const GAP: f32 = 1.5 * MM;
const CAUTION_HEIGHT: f32 = 5.6 * MM;
const CAUTION_BOTTOM: f32 = 3.0 * MM;
/// One line in the largest size: a longer date is set smaller, never on two lines.
const DATE_HEIGHT: f32 = 4.7 * MM;
const RULE_GAP: f32 = 0.9 * MM;

/// Type sizes in points, the preferred one first.
const SITE_SIZES: [f32; 4] = [6.5, 6.0, 5.5, 5.0];
const NAME_SIZES: [f32; 12] = [18.0, 16.5, 15.0, 13.5, 12.5, 11.5, 10.5, 9.5, 8.5, 8.0, 7.5, 7.0];
const LIST_SIZES: [f32; 7] = [8.0, 7.5, 7.0, 6.5, 6.0, 5.5, 5.0];
const LABEL_SIZE: [f32; 1] = [5.5];
const DATE_SIZES: [f32; 6] = [10.0, 9.0, 8.0, 7.0, 6.0, 5.0];
const SERIAL_SIZES: [f32; 3] = [7.5, 7.0, 6.5];
const CAUTION_SIZES: [f32; 4] = [6.0, 5.8, 5.6, 5.4];

/// The name keeps at least this much while the list looks for its size.
const NAME_RESERVE: f32 = 13.0 * MM;
const SITE_HEIGHT_MAX: f32 = 6.0 * MM;
const LIST_GAP: f32 = 0.5 * MM;

/// Lays out one badge.
pub(super) fn lay_out(
    badge: &PrintedBadge,
    grid: &Grid,
    typesetter: &mut Typesetter<'_>,
) -> Result<Vec<Item>, SheetError> {
    let mut card = Card {
        badge,
        width: grid.cell_width * MM,
        height: grid.cell_height * MM,
        canvas: Canvas::new(typesetter),
    };
    card.person()?;
    card.code(grid.scale)?;
    card.caution()?;
    Ok(card.canvas.into_items())
}

struct Card<'a, 't, 'f> {
    badge: &'a PrintedBadge,
    width: f32,
    height: f32,
    canvas: Canvas<'t, 'f>,
}

impl Card<'_, '_, '_> {
    fn code_left(&self) -> f32 {
        self.width - CODE_RIGHT - CODE_SIDE
    }

    fn caution_top(&self) -> f32 {
        self.height - CAUTION_BOTTOM - CAUTION_HEIGHT
    }

    /// The left column.
    fn person(&mut self) -> Result<(), SheetError> {
        let width = self.code_left() - GAP - MARGIN;
        let bottom = self.caution_top() - RULE_GAP - GAP;
        let mut y = MARGIN;
        let site = self.fit(&self.badge.site_name, "site name", &SITE_SIZES, width, SITE_HEIGHT_MAX)?;
        y += self.canvas.place(site, MARGIN, y) + GAP;
        let list = self.list(width, bottom - y)?;
        let list_height: f32 = list.iter().map(|block| block.height + LIST_GAP).sum();
        let room = bottom - y - list_height - GAP;
        let name = self.fit(&self.badge.display_name, "name", &NAME_SIZES, width, room)?;
        self.canvas.place(name, MARGIN, y);
        // The list stands on the bottom, so it is in the same place on every badge of a pile.
        let mut y = bottom - list_height;
        for block in list {
            y += self.canvas.place(block, MARGIN, y) + LIST_GAP;
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

    /// The right column.
    fn code(&mut self, scale: f32) -> Result<(), SheetError> {
        let drawn = self.canvas.code(&self.badge.code_text, self.code_left(), CODE_TOP, CODE_SIDE, scale);
        let quiet = drawn.map_err(|unfit| self.refused("code", unfit))?;
        let left = self.code_left() + quiet;
        let width = CODE_SIDE - 2.0 * quiet;
        let height = self.caution_top() - RULE_GAP;
        let mut y = CODE_TOP + CODE_SIDE;
        let label = self.fit(VALID_UNTIL, "date", &LABEL_SIZE, width, height)?;
        y += self.canvas.place(label, left, y);
        let date = self.fit(&self.badge.valid_until, "date", &DATE_SIZES, width, DATE_HEIGHT)?;
        y += self.canvas.place(date, left, y);
        let text = format!("{SERIAL} {}", self.badge.serial);
        let block = self.fit(&text, "serial", &SERIAL_SIZES, width, height - y)?;
        self.canvas.place(block, left, y);
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
        fitted.map_err(|unfit| self.refused(part, unfit))
    }

    fn refused(&self, part: &'static str, unfit: Unfit) -> SheetError {
        let serial = self.badge.serial;
        match unfit {
            Unfit::NoGlyph(character) => SheetError::NoGlyph { serial, character },
            Unfit::TooLong => SheetError::TooLong { serial, part },
            Unfit::Code(error) => SheetError::Code { serial, error },
            Unfit::TooDense(module_mm) => SheetError::CodeTooDense { serial, module_mm },
        }
    }
}

/// Model, size and date in one paragraph. The date stays in one piece when the line breaks.
fn line_of(respirator: &PrintedRespirator) -> String {
    let due_on = respirator.due_on.replace(' ', "\u{a0}");
    format!("{}, {}, until\u{a0}{due_on}", respirator.name, respirator.size)
}
