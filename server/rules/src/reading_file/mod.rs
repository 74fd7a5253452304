//! Readings out of a delimited text file (RFC 4180), with a mapping that a person chooses.
//!
//! No instrument's own format is known here: a mapping says which column means what. Nothing is guessed: a number that
//! could be meant in two ways is a problem, and all problems of a file are told at once.

mod cells;
mod lines;
mod mapping;
mod reader;

use serde::Serialize;

use crate::fit_factor::{Quantity, Reading};

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

/// One thing wrong with a file, or with a mapping for it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Problem {
    /// The line, counted from 1 as an editor counts it; none where the whole file or the mapping is meant.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line: Option<u32>,
    /// The column, by its header or its number, where one is meant.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub column: Option<String>,
    /// One sentence for a person, saying what to do.
    pub reason: String,
}

impl Problem {
    fn of_file(reason: impl Into<String>) -> Self {
        Self { line: None, column: None, reason: reason.into() }
    }

    fn of_line(line: u32, reason: impl Into<String>) -> Self {
        Self { line: Some(line), column: None, reason: reason.into() }
    }
}
