//! What may stand on a badge or a label, and how it gets its place there.

use std::sync::Arc;

use super::printer::{MODULE_MM_MIN, Module, Resolution};
use super::structure::Role;
use super::typeset::{Block, Missing, Typesetter};
use crate::qr::{QUIET_ZONE, QrError, QrMatrix};

/// Points in a mm.
pub(super) const MM: f32 = 72.0 / 25.4;

/// One thing to draw. Lengths in points from the left upper corner of the badge or label.
pub(super) enum Item {
    /// Set text.
    Text { block: Arc<Block>, x: f32, y: f32, role: Role },
    /// A thin horizontal line.
    Rule { x: f32, y: f32, length: f32 },
    /// Thin lines from here to there.
    Lines(Vec<Line>),
    /// The code: the corner of its symbol, without the quiet zone, and what it is in words.
    Code { code: FittedCode, x: f32, y: f32, words: String },
    /// A band whose pattern tells one solution from another.
    Band { pattern: Pattern, x: f32, y: f32, width: f32, height: f32 },
}

/// From here to there.
pub(super) type Line = ((f32, f32), (f32, f32));

/// A code at the size in which it is printed. Lengths as of [`Item`].
pub(super) struct FittedCode {
    pub(super) matrix: QrMatrix,
    /// Side of a module.
    pub(super) side: f32,
    /// The same as it is printed.
    pub(super) module: Module,
}

/// The room for a code with its quiet zone: wanted, and at most if that gives its modules dots enough.
#[derive(Debug, Clone, Copy)]
pub(super) struct Room {
    pub(super) side: f32,
    pub(super) side_max: f32,
}

impl FittedCode {
    /// The code in the largest modules of whole dots that there is room for. `scale` is how much larger everything is
    /// drawn.
    pub(super) fn fit(text: &str, room: Room, scale: f32, resolution: Resolution) -> Result<Self, Unfit> {
        let matrix = QrMatrix::encode(text).map_err(Unfit::Code)?;
        let modules = matrix.width() + 2 * QUIET_ZONE;
        let [side, side_max] = [room.side, room.side_max].map(|side| side / MM * scale);
        let module = Module::fit(modules, side, side_max, resolution);
        if module.mm < MODULE_MM_MIN {
            return Err(Unfit::TooDense(module.mm));
        }
        Ok(Self { matrix, side: module.mm * MM / scale, module })
    }

    /// Width of the quiet zone.
    pub(super) fn quiet(&self) -> f32 {
        self.side * QUIET_ZONE as f32
    }

    /// Side of the symbol without its quiet zone.
    pub(super) fn symbol(&self) -> f32 {
        self.side * self.matrix.width() as f32
    }

    /// Side of the symbol with its quiet zone.
    pub(super) fn whole(&self) -> f32 {
        self.symbol() + 2.0 * self.quiet()
    }
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

    /// Puts a paragraph in its place and gives its height.
    pub(super) fn place(&mut self, block: Arc<Block>, x: f32, y: f32) -> f32 {
        self.place_as(Role::Text, block, x, y)
    }

    /// Puts a block in its place and gives its height. The order of placing is the order of reading.
    pub(super) fn place_as(&mut self, role: Role, block: Arc<Block>, x: f32, y: f32) -> f32 {
        let height = block.height;
        self.items.push(Item::Text { block, x, y, role });
        height
    }

    /// Puts a code in its place, given by the corner of its quiet zone.
    pub(super) fn place_code(&mut self, code: FittedCode, x: f32, y: f32, words: String) {
        let quiet = code.quiet();
        self.items.push(Item::Code { code, x: x + quiet, y: y + quiet, words });
    }
}
