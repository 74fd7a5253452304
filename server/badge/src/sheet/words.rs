//! The words on every badge, whatever it is printed on.

use super::{PrintedBadge, PrintedRespirator, SheetError};
use crate::sheet::canvas::Unfit;

pub(super) const TESTED_WITH: &str = "Fit tested with";
pub(super) const VALID_UNTIL: &str = "Valid until";
pub(super) const SERIAL: &str = "Serial";
/// Shown on every badge because it is read at the moment of use.
pub(super) const CAUTION: &str = "Check the seal every time you put it on. Good only for the respirators named here, \
                                  on your face as it was tested: after any change, ask for a new test.";

impl PrintedBadge {
    /// What is read aloud in the place of the code.
    pub(super) fn code_in_words(&self) -> String {
        format!("Code of the badge with the serial {}, for the scanner at a gate", self.serial)
    }

    pub(super) fn refused(&self, part: &'static str, unfit: Unfit) -> SheetError {
        let serial = self.serial;
        match unfit {
            Unfit::NoGlyph(character) => SheetError::NoGlyph { serial, character },
            Unfit::TooLong => SheetError::TooLong { serial, part },
            Unfit::Code(error) => SheetError::Code { serial, error },
            Unfit::TooDense(module_mm) => SheetError::CodeTooDense { serial, module_mm },
        }
    }
}

/// Model, size and date in one paragraph. The date stays in one piece when the line breaks.
pub(super) fn line_of(respirator: &PrintedRespirator) -> String {
    let due_on = respirator.due_on.replace(' ', "\u{a0}");
    format!("{}, {}, until\u{a0}{due_on}", respirator.name, respirator.size)
}
