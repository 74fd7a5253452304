//! Which cell of a line is meant, and the number in it.

use std::collections::BTreeMap;

use super::lines::Record;
use super::mapping::{Column, DecimalMark, Mapping};
use super::{FileCode, Problem};
use crate::fit_factor::{NotAQuantity, Quantity};

/// What is wrong with a cell, and the sentence about it.
type Fault = (FileCode, String);

/// The columns of one file.
#[derive(Debug)]
pub(super) struct Columns<'m> {
    places: BTreeMap<&'m Column, usize>,
    header: Vec<String>,
    /// Cells that each line has.
    pub(super) count: usize,
    decimal_mark: DecimalMark,
}

impl<'m> Columns<'m> {
    /// Finds every column of the mapping in the first record, which names them unless the mapping says that none does.
    pub(super) fn find(mapping: &'m Mapping, first: &Record) -> Result<Self, Vec<Problem>> {
        let header = if mapping.header_line == 0 { Vec::new() } else { first.cells.clone() };
        let count = first.cells.len();
        let mut places = BTreeMap::new();
        let mut problems = Vec::new();
        for column in mapping.columns() {
            match place(column, &header, count) {
                Ok(place) => {
                    places.insert(column, place);
                }
                Err((code, reason)) => {
                    let column = Some(spelled(column));
                    problems.push(Problem { line: Some(first.line), column, code, reason });
                }
            }
        }
        problems.dedup();
        if problems.is_empty() {
            Ok(Self { places, header, count, decimal_mark: mapping.decimal_mark })
        } else {
            Err(problems)
        }
    }

    /// The text of a line's cell.
    pub(super) fn cell<'r>(&self, record: &'r Record, column: &Column) -> &'r str {
        let place = self.places.get(column);
        place.and_then(|place| record.cells.get(*place)).map(String::as_str).unwrap_or_default()
    }

    /// The number in a line's cell.
    pub(super) fn quantity(&self, record: &Record, column: &Column) -> Result<Quantity, Problem> {
        number(self.cell(record, column), self.decimal_mark)
            .map_err(|(code, reason)| self.problem(record, column, code, reason))
    }

    /// Something wrong with a line's cell.
    pub(super) fn problem(
        &self,
        record: &Record,
        column: &Column,
        code: FileCode,
        reason: impl Into<String>,
    ) -> Problem {
        let header = self.places.get(column).and_then(|place| self.header.get(*place));
        let shown = header.filter(|header| !header.is_empty()).cloned();
        let column = Some(shown.unwrap_or_else(|| spelled(column)));
        Problem { line: Some(record.line), column, code, reason: reason.into() }
    }
}

fn spelled(column: &Column) -> String {
    match column {
        Column::Number(number) => number.to_string(),
        Column::Header(name) => name.trim().to_owned(),
    }
}

fn place(column: &Column, header: &[String], count: usize) -> Result<usize, Fault> {
    let name = match column {
        Column::Number(number) => {
            let place = usize::from(*number).checked_sub(1).filter(|place| *place < count);
            return place.ok_or_else(|| {
                let reason = format!("There is no column {number}: the line has {count} cells.");
                (FileCode::NoSuchColumn, reason)
            });
        }
        Column::Header(name) => name.trim(),
    };
    let mut named = header.iter().enumerate().filter(|(_, cell)| *cell == name).map(|(place, _)| place);
    match (named.next(), named.next()) {
        (Some(place), None) => Ok(place),
        (Some(_), Some(_)) => {
            let reason =
                format!("Several columns are named \"{name}\": give the number of the one that is meant.");
            Err((FileCode::ColumnAmbiguous, reason))
        }
        (None, _) => {
            let reason = format!("No column is named \"{name}\": compare the spelling with this line.");
            Err((FileCode::NoSuchColumn, reason))
        }
    }
}

/// Digits with one decimal mark at most: a mark between thousands could not be told from one before decimals.
fn number(cell: &str, mark: DecimalMark) -> Result<Quantity, Fault> {
    let (own, other) = match mark {
        DecimalMark::Point => ('.', ','),
        DecimalMark::Comma => (',', '.'),
    };
    if cell.is_empty() {
        return Err((FileCode::CellEmpty, "The cell is empty where a number is needed.".to_owned()));
    }
    if cell.contains(other) {
        let reason = format!(
            "The cell holds \"{other}\", but decimals are said to follow \"{own}\", and nothing may part thousands."
        );
        return Err((FileCode::WrongMark, reason));
    }
    let read = cell.replace(own, ".").parse();
    read.map_err(|fault: NotAQuantity| (FileCode::NotANumber, fault.to_string()))
}
