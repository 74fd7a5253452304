//! What can be wrong with one line of a roster file.

use serde::Serialize;

use crate::text_enum::text_enum;

text_enum! {
    /// Why a line of a roster file cannot be taken.
    pub enum LineCode {
        /// The line is empty, or all its cells are.
        BlankLine = "blank_line",
        /// The line has fewer cells than the header.
        TooFewColumns = "too_few_columns",
        /// The line has more cells than the header.
        TooManyColumns = "too_many_columns",
        /// A quotation mark is opened and never closed, or stands where none may.
        StrayQuote = "stray_quote",
        /// The line sums up others and is no person.
        TotalsRow = "totals_row",
        /// The header stands in the file a second time.
        HeaderAgain = "header_again",
        /// The line has no staff number.
        StaffNumberMissing = "staff_number_missing",
        /// The staff number stands on an earlier line too.
        StaffNumberRepeated = "staff_number_repeated",
        /// A spreadsheet turned the staff number into a power of ten, which cannot be undone.
        StaffNumberScientific = "staff_number_scientific",
        /// The line has neither a given nor a family name.
        NameMissing = "name_missing",
        /// A date is not written as 2027-08-15.
        DateNotIso = "date_not_iso",
        /// A date exists but cannot be meant.
        DateImplausible = "date_implausible",
        /// A cell holds a character that cannot be seen, such as a line break.
        HiddenCharacter = "hidden_character",
        /// A cell is longer than is kept.
        TooLong = "too_long",
    }
}

/// One problem of one line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct LineProblem {
    /// The line of the file, counted from 1 as an editor counts it.
    pub line: u32,
    /// The column's name in the file, where one cell is meant.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub column: Option<String>,
    /// The stable code.
    pub code: LineCode,
    /// One sentence for a person, saying what to do.
    pub message: String,
}
