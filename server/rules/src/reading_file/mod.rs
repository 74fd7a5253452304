//! Readings out of a delimited text file (RFC 4180), with a mapping that a person chooses.
//!
//! No instrument's own format is known here: a mapping says which column means what. Nothing is guessed: a number that
//! could be meant in two ways is a problem, and all problems of a file are told at once.

mod cells;
mod lines;
mod mapping;
mod reader;

use serde::Serialize;

use crate::{
    fit_factor::{Quantity, Reading},
    text_enum::text_enum,
};

pub use mapping::{
    Column, DecimalMark, Delimiter, ExerciseOf, Layout, Mapping, Measurement, OutsideColumns, ReadingColumns,
};
pub use reader::{FILE_BYTES_MAX, read};

/// One measurement of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct FileReading {
    /// The number of its exercise.
    pub exercise: u8,
    /// What was read.
    pub reading: Reading,
    /// The line it stands on, counted from 1 as an editor counts it.
    pub line: u32,
}

/// What a file says about one test.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct FileReadings {
    /// Its measurements, in the order of the file.
    pub readings: Vec<FileReading>,
    /// The concentration outside before the test, where the mapping names its column.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before: Option<Quantity>,
    /// The concentration outside after the test, where the mapping names its column.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after: Option<Quantity>,
}

text_enum! {
    /// What is wrong with a file, or with a mapping for it.
    pub enum FileCode {
        /// The mapping cannot be meant.
        MappingWrong = "mapping_wrong",
        /// The file is larger than one day's tests.
        TooLarge = "too_large",
        /// The file is not UTF-8 text.
        NotText = "not_text",
        /// It has to be said which test of the file is meant.
        TestMissing = "test_missing",
        /// No column tells the tests of the file apart, but one is named.
        TestNeedsColumn = "test_needs_column",
        /// The line where the mapping begins is empty or not there.
        HeaderMissing = "header_missing",
        /// There is no column of this name or number.
        NoSuchColumn = "no_such_column",
        /// Several columns have this name.
        ColumnAmbiguous = "column_ambiguous",
        /// A quotation mark is not closed.
        QuoteOpen = "quote_open",
        /// The line has another number of cells than the first one.
        CellCount = "cell_count",
        /// The test has more lines or measurements than any test has.
        TooManyLines = "too_many_lines",
        /// No line belongs to the test, or every line of it is left out.
        NothingToRead = "nothing_to_read",
        /// The test has another number of lines than exercises are named.
        ExerciseCount = "exercise_count",
        /// The name of the exercise is not known.
        UnknownExercise = "unknown_exercise",
        /// The test stands on another line already.
        TestTwice = "test_twice",
        /// The file holds several tests and nothing tells them apart.
        SeveralTests = "several_tests",
        /// The cell is empty where a number is needed.
        CellEmpty = "cell_empty",
        /// The cell holds the mark that is not the one before decimals.
        WrongMark = "wrong_mark",
        /// The cell is no number.
        NotANumber = "not_a_number",
        /// The number cannot be what it is said to be.
        CannotBe = "cannot_be",
    }
}

/// One thing wrong with a file, or with a mapping for it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema), schema(as = ReadingFileProblem))]
pub struct Problem {
    /// The line, counted from 1 as an editor counts it; none where the whole file or the mapping is meant.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line: Option<u32>,
    /// The column, by its header or its number, where one is meant.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub column: Option<String>,
    /// The stable code.
    pub code: FileCode,
    /// One sentence for a person, saying what to do.
    pub reason: String,
}

impl Problem {
    fn of_file(code: FileCode, reason: impl Into<String>) -> Self {
        Self { line: None, column: None, code, reason: reason.into() }
    }

    fn of_line(line: u32, code: FileCode, reason: impl Into<String>) -> Self {
        Self { line: Some(line), column: None, code, reason: reason.into() }
    }
}
