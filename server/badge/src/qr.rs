//! The QR matrix of a code: level M, alphanumeric.
//!
//! Level M, because from version 11 on the size of a module decides whether a code reads, not the level: the
//! denser levels only make the modules smaller.

use qrcode::{Color, EcLevel, QrCode, Version};

use crate::base45;
use crate::code;

/// Light modules that must surround a symbol on every side (ISO/IEC 18004).
pub const QUIET_ZONE: usize = 4;

/// Why a text cannot become a matrix.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum QrError {
    /// A character outside alphanumeric mode, which would cost a byte segment and a larger symbol.
    #[error("the text is not alphanumeric in the sense of a QR code")]
    NotAlphanumeric,
    /// Empty, or more than [`code::LENGTH_MAX`] characters.
    #[error("a code has 1 to {} characters", code::LENGTH_MAX)]
    Length,
}

/// A run of dark modules in one row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Run {
    /// First column, from 0 at the left, the quiet zone not counted.
    pub column: usize,
    /// Row, from 0 at the top, the quiet zone not counted.
    pub row: usize,
    /// Dark modules in the run.
    pub length: usize,
}

/// The dark and light modules of one symbol, without its quiet zone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct QrMatrix {
    version: u8,
    width: usize,
    dark: Vec<bool>,
}

impl QrMatrix {
    /// Encodes a text in the smallest version that holds it at level M. Takes milliseconds: keep it off an
    /// async thread.
    ///
    /// # Errors
    /// [`QrError`] if the text is not alphanumeric or not of a code's length.
    pub fn encode(text: &str) -> Result<Self, QrError> {
        if !base45::is_alphabet(text) {
            return Err(QrError::NotAlphanumeric);
        }
        if text.is_empty() || text.len() > code::LENGTH_MAX {
            return Err(QrError::Length);
        }
        let symbol = QrCode::with_error_correction_level(text, EcLevel::M).map_err(|_| QrError::Length)?;
        let version = match symbol.version() {
            Version::Normal(version) => u8::try_from(version).map_err(|_| QrError::Length)?,
            Version::Micro(_) => return Err(QrError::Length),
        };
        let width = symbol.width();
        let dark = symbol.into_colors().into_iter().map(|color| color == Color::Dark).collect();
        Ok(Self { version, width, dark })
    }

    /// The version, 1 to 40: the side is 17 + 4 * version modules.
    pub fn version(&self) -> u8 {
        self.version
    }

    /// Modules on a side, without the quiet zone.
    pub fn width(&self) -> usize {
        self.width
    }

    /// True for a dark module; false for a light one and outside the symbol.
    pub fn is_dark(&self, column: usize, row: usize) -> bool {
        column < self.width && self.dark.get(row * self.width + column).copied().unwrap_or(false)
    }

    /// The dark modules as runs, row by row.
    pub fn runs(&self) -> Vec<Run> {
        let mut runs = Vec::new();
        for row in 0..self.width {
            let mut column = 0;
            while column < self.width {
                let length = (column..self.width).take_while(|c| self.is_dark(*c, row)).count();
                if length > 0 {
                    runs.push(Run { column, row, length });
                }
                column += length + 1;
            }
        }
        runs
    }
}
