//! What stands on a slip: a badge on a receipt, one piece under the other, as long as it has to be.

use super::canvas::{Canvas, FittedCode, Item, MM, Room};
use super::format::Grid;
use super::printer::Printer;
use super::structure::Role;
use super::typeset::Typesetter;
use super::words::{CAUTION, SERIAL, TESTED_WITH, VALID_UNTIL, line_of};
use super::{PrintedBadge, SheetError};

const TOP: f32 = 4.0 * MM;
/// Receipt printers tear off some way behind the last line.
const BOTTOM: f32 = 8.0 * MM;
const GAP: f32 = 2.0 * MM;
const CODE_SIDE: f32 = 50.0 * MM;

/// Type sizes in points, the preferred one first: thermal paper is read at arm's length and fades.
const SITE_SIZES: [f32; 3] = [9.0, 8.0, 7.0];
const NAME_SIZES: [f32; 6] = [20.0, 18.0, 16.0, 14.0, 12.0, 10.0];
const FACT_SIZES: [f32; 2] = [13.0, 11.0];
const LIST_SIZES: [f32; 3] = [11.0, 10.0, 9.0];
const SMALL_SIZES: [f32; 2] = [8.5, 8.0];
/// No text is longer than this by itself.
const TEXT_HEIGHT_MAX: f32 = 60.0 * MM;

const FOR_NOW: &str = "For now: hand this slip back when you get your badge, it ends then.";

/// Lays out one slip and gives the height that it takes, in mm.
pub(super) fn lay_out(
    badge: &PrintedBadge,
    grid: &Grid,
    printer: Printer,
    typesetter: &mut Typesetter<'_>,
) -> Result<(Vec<Item>, f32), SheetError> {
    let room = Room { side: CODE_SIDE, side_max: CODE_SIDE };
    let code = FittedCode::fit(&badge.code_text, room, grid.scale, printer.resolution);
    let code = code.map_err(|unfit| badge.refused("code", unfit))?;
    let mut slip = Slip { badge, width: grid.cell_width * MM, y: TOP, canvas: Canvas::new(typesetter) };
    slip.text(Role::Title, &badge.display_name, "name", &NAME_SIZES)?;
    slip.text(Role::Text, &badge.site_name, "site name", &SITE_SIZES)?;
    slip.y += GAP;
    slip.text(Role::Text, &format!("{VALID_UNTIL} {}", badge.valid_until), "date", &FACT_SIZES)?;
    slip.text(Role::Text, &format!("{SERIAL} {}", badge.serial), "serial", &FACT_SIZES)?;
    slip.y += GAP;
    if !badge.respirators.is_empty() {
        slip.text(Role::Text, TESTED_WITH, "list of respirators", &SMALL_SIZES)?;
    }
    for respirator in &badge.respirators {
        slip.text(Role::Entry, &line_of(respirator), "list of respirators", &LIST_SIZES)?;
    }
    slip.code(code);
    slip.text(Role::Text, CAUTION, "caution", &SMALL_SIZES)?;
    slip.y += GAP;
    slip.text(Role::Text, FOR_NOW, "caution", &SMALL_SIZES)?;
    let height_mm = (slip.y + BOTTOM) / MM;
    if height_mm > grid.page_height {
        return Err(SheetError::TooLong { serial: badge.serial, part: "list of respirators" });
    }
    Ok((slip.canvas.into_items(), height_mm))
}

struct Slip<'a, 't, 'f> {
    badge: &'a PrintedBadge,
    width: f32,
    y: f32,
    canvas: Canvas<'t, 'f>,
}

impl Slip<'_, '_, '_> {
    fn text(&mut self, role: Role, text: &str, part: &'static str, sizes: &[f32]) -> Result<(), SheetError> {
        let block = self.canvas.fit(text, sizes, self.width, TEXT_HEIGHT_MAX);
        let block = block.map_err(|unfit| self.badge.refused(part, unfit))?;
        self.y += self.canvas.place_as(role, block, 0.0, self.y);
        Ok(())
    }

    fn code(&mut self, code: FittedCode) {
        let side = code.whole();
        self.canvas.place_code(code, (self.width - side) / 2.0, self.y, self.badge.code_in_words());
        self.y += side;
    }
}
