//! What may stand on a badge or a label, and how it gets its place there.

use std::sync::Arc;

use super::typeset::{Block, Missing, Typesetter};
use crate::qr::{QUIET_ZONE, QrError, QrMatrix};

/// The least side of a module that is printed, in mm: four dots of a 300 dpi printer, as the guidance of
/// the inventor of the QR code asks for, 0.339 printed there as 0.33.
pub const MODULE_MM_MIN: f32 = 0.33;

/// Points in a mm.
pub(super) const MM: f32 = 72.0 / 25.4;

/// One thing to draw. Lengths in points from the left upper corner of the badge or label.
pub(super) enum Item {
    /// Set text.
    Text { block: Arc<Block>, x: f32, y: f32 },
    /// A thin horizontal line.
    Rule { x: f32, y: f32, length: f32 },
    /// The code: the corner of its symbol, without the quiet zone, and the side of a module.
    Code { matrix: QrMatrix, x: f32, y: f32, module: f32 },
    /// A band whose pattern tells one solution from another.
    Band { pattern: Pattern, x: f32, y: f32, width: f32, height: f32 },
}

/// What a band is made of. Never a colour: labels are printed in black, and not everyone sees colours.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Pattern {
    /// A row of round dots.
    Dotted,
    /// Black throughout.
    Solid,
    /// Upright bars.
    Barred,
}

/// Why something has no place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Unfit {
    /// No font has the character.
    NoGlyph(char),
    /// Too long even in the smallest type.
    TooLong,
    /// The text of the code is no code.
    Code(QrError),
    /// The modules of the code would be of this side in mm.
    TooDense(f32),
}

/// Collects the items of one badge or label.
pub(super) struct Canvas<'t, 'f> {
    typesetter: &'t mut Typesetter<'f>,
    items: Vec<Item>,
}

impl<'t, 'f> Canvas<'t, 'f> {
    pub(super) fn new(typesetter: &'t mut Typesetter<'f>) -> Self {
        Self { typesetter, items: Vec::new() }
    }

    pub(super) fn into_items(self) -> Vec<Item> {
        self.items
    }

    pub(super) fn push(&mut self, item: Item) {
        self.items.push(item);
    }

    /// Sets text in the first of the sizes that fits.
    pub(super) fn fit(
        &mut self,
        text: &str,
        sizes: &[f32],
        width: f32,
        height: f32,
    ) -> Result<Arc<Block>, Unfit> {
        let fitted = self.typesetter.fit(text, sizes, width, height);
        fitted.map_err(|Missing(character)| Unfit::NoGlyph(character))?.ok_or(Unfit::TooLong)
    }

    /// Puts a block in its place and gives its height.
    pub(super) fn place(&mut self, block: Arc<Block>, x: f32, y: f32) -> f32 {
        let height = block.height;
        self.items.push(Item::Text { block, x, y });
        height
    }

    /// Puts a code in a square that includes its quiet zone, and gives the width of that zone. `scale` is how much
    /// larger everything is drawn.
    pub(super) fn code(&mut self, text: &str, x: f32, y: f32, side: f32, scale: f32) -> Result<f32, Unfit> {
        let matrix = QrMatrix::encode(text).map_err(Unfit::Code)?;
        let module = side / (matrix.width() + 2 * QUIET_ZONE) as f32;
        let module_mm = module / MM * scale;
        if module_mm < MODULE_MM_MIN {
            return Err(Unfit::TooDense(module_mm));
        }
        let quiet = module * QUIET_ZONE as f32;
        self.items.push(Item::Code { matrix, x: x + quiet, y: y + quiet, module });
        Ok(quiet)
    }
}
