//! From the bytes of a file to the readings of one test, or to everything that is wrong with them.

use std::collections::BTreeMap;

use super::cells::Columns;
use super::lines::{Record, Records, delimiter_of, from_line, text_of};
use super::mapping::{Column, ENTRIES_MAX, ExerciseOf, Layout, Mapping, Measurement, ReadingColumns};
use super::{FileCode, FileReading, FileReadings, Problem};
use crate::fit_factor::{Quantity, Reading};

/// Bytes of a file at most.
pub const FILE_BYTES_MAX: usize = 1024 * 1024;
/// Lines of one test at most, those that are left out included.
const LINES_MAX: usize = 1000;
/// So many problems are told; a file with more has one cause.
const PROBLEMS_TOLD_MAX: usize = 200;

/// The readings of one test out of a file.
///
/// `test` is the text that the mapping's test column holds on the lines of that test; it is given where the mapping has
/// such a column and nowhere else. Lines of other tests and empty lines are passed over. What is read may still be
/// implausible or not what the protocol asks for: that is looked at when it is recorded.
///
/// # Errors
/// All problems of the file at once, in the order of its lines; of more than 200 no more than that. Nothing is read from a file with a
/// problem in the lines of that test.
pub fn read(file: &[u8], mapping: &Mapping, test: Option<&str>) -> Result<FileReadings, Vec<Problem>> {
    let told = |problem| vec![problem];
    check_request(file, mapping, test).map_err(told)?;
    let text = text_of(file).map_err(told)?;
    let first_line = mapping.header_line.max(1);
    let text = from_line(text, first_line);
    let delimiter = delimiter_of(text, mapping.delimiter, mapping.decimal_mark);
    let mut records = Records::of(text, delimiter, first_line).peekable();
    let columns = match records.peek() {
        Some(first) if mapping.header_line == 0 || first.line == first_line => Columns::find(mapping, first)?,
        _ => {
            return Err(vec![Problem::of_line(
                first_line,
                FileCode::HeaderMissing,
                "The line is empty or not there.",
            )]);
        }
    };
    if mapping.header_line > 0 {
        records.next_if(|header| header.quotes_closed);
    }
    let mut taking = Taking { columns, mapping, problems: Vec::new() };
    let lines = taking.lines_of(records, test);
    let readings = match &mapping.layout {
        Layout::RowPerExercise { exercise, columns } => taking.row_per_exercise(&lines, exercise, columns),
        Layout::RowPerTest { measurements } => taking.row_per_test(&lines, measurements),
    };
    let (before, after) = taking.outside(&lines);
    if readings.is_empty() && taking.problems.is_empty() {
        let reason = "The mapping leaves out every line of the test.";
        taking.tell(Problem::of_file(FileCode::NothingToRead, reason));
    }
    if taking.problems.is_empty() {
        return Ok(FileReadings { readings, before, after });
    }
    taking.problems.sort_by_key(|problem| problem.line);
    Err(taking.problems)
}

fn check_request(file: &[u8], mapping: &Mapping, test: Option<&str>) -> Result<(), Problem> {
    mapping.check().map_err(|refusal| Problem::of_file(FileCode::MappingWrong, refusal.detail))?;
    if file.len() > FILE_BYTES_MAX {
        let reason =
            format!("The file has more than {FILE_BYTES_MAX} bytes: export the tests of one day alone.");
        return Err(Problem::of_file(FileCode::TooLarge, reason));
    }
    match (&mapping.test, test) {
        (Some(_), None) => {
            Err(Problem::of_file(FileCode::TestMissing, "Say which test of the file is meant."))
        }
        (None, Some(_)) => {
            let reason = "Name the column that tells the tests of the file apart, or name no test.";
            Err(Problem::of_file(FileCode::TestNeedsColumn, reason))
        }
        _ => Ok(()),
    }
}

/// A file on its way through.
struct Taking<'m> {
    columns: Columns<'m>,
    mapping: &'m Mapping,
    problems: Vec<Problem>,
}

impl Taking<'_> {
    /// The lines of the test that is meant, each of the shape of the first line of the file.
    fn lines_of(&mut self, records: impl Iterator<Item = Record>, test: Option<&str>) -> Vec<Record> {
        let wanted = test.map(str::trim);
        let mut lines = Vec::new();
        for record in records.filter(|record| !record.is_blank()) {
            if !record.quotes_closed {
                let reason = "A quotation mark is not closed: a cell that holds one puts it twice, between two others.";
                self.tell(Problem::of_line(record.line, FileCode::QuoteOpen, reason));
                continue;
            }
            let own = self.mapping.test.as_ref().map(|column| self.columns.cell(&record, column));
            if own != wanted {
                continue;
            }
            let (cells, expected) = (record.cells.len(), self.columns.count);
            if cells != expected {
                let reason = format!(
                    "The line has {cells} cells, the first one {expected}: a cell that holds what separates cells goes \
                     between quotation marks."
                );
                self.tell(Problem::of_line(record.line, FileCode::CellCount, reason));
                continue;
            }
            if lines.len() == LINES_MAX {
                let reason =
                    format!("The test has more than {LINES_MAX} lines: name the column of the test.");
                self.tell(Problem::of_file(FileCode::TooManyLines, reason));
                break;
            }
            lines.push(record);
        }
        if lines.is_empty() && self.problems.is_empty() {
            let reason = match wanted {
                Some(test) => format!("No line of the file belongs to the test \"{test}\"."),
                None => "The file has no line with readings.".to_owned(),
            };
            self.tell(Problem::of_file(FileCode::NothingToRead, reason));
        }
        lines
    }

    fn row_per_exercise(
        &mut self,
        lines: &[Record],
        exercise: &ExerciseOf,
        columns: &ReadingColumns,
    ) -> Vec<FileReading> {
        let numbers: Vec<Option<u8>> = match exercise {
            ExerciseOf::Order { exercises } => {
                if lines.len() != exercises.len() && self.problems.is_empty() {
                    let (found, expected) = (lines.len(), exercises.len());
                    let reason = format!("The test has {found} lines where {expected} exercises are named.");
                    self.tell(Problem::of_file(FileCode::ExerciseCount, reason));
                }
                exercises.clone()
            }
            ExerciseOf::Column { column, names } => {
                lines.iter().map(|line| self.exercise(line, column, names)).collect()
            }
        };
        if numbers.iter().flatten().count() > ENTRIES_MAX {
            let reason =
                format!("The test has more than {ENTRIES_MAX} measurements: name the column of the test.");
            self.tell(Problem::of_file(FileCode::TooManyLines, reason));
        }
        let scored = lines.iter().zip(numbers).filter_map(|(line, number)| Some((line, number?)));
        let readings = scored.filter_map(|(line, number)| self.reading(line, number, columns));
        readings.collect()
    }

    /// The number of a line's exercise; none for a line that is left out.
    fn exercise(
        &mut self,
        line: &Record,
        column: &Column,
        names: &BTreeMap<String, Option<u8>>,
    ) -> Option<u8> {
        let cell = self.columns.cell(line, column);
        if let Some((_, number)) = names.iter().find(|(name, _)| name.trim() == cell) {
            return *number;
        }
        let number = cell.parse().ok().filter(|number| *number > 0);
        if number.is_none() {
            let reason = format!("\"{cell}\" is no exercise that is known here: give the name its number.");
            self.tell(self.columns.problem(line, column, FileCode::UnknownExercise, reason));
        }
        number
    }

    fn row_per_test(&mut self, lines: &[Record], measurements: &[Measurement]) -> Vec<FileReading> {
        let Some((line, further)) = lines.split_first() else { return Vec::new() };
        for other in further.iter().take(PROBLEMS_TOLD_MAX) {
            let (code, reason) = match self.mapping.test {
                Some(_) => (FileCode::TestTwice, format!("The test stands on line {} already.", line.line)),
                None => {
                    let reason = "The file holds several tests: name the column that tells them apart.";
                    (FileCode::SeveralTests, reason.to_owned())
                }
            };
            self.tell(Problem::of_line(other.line, code, reason));
        }
        let reading = |one: &Measurement| self.reading(line, one.exercise, &one.columns);
        measurements.iter().filter_map(reading).collect()
    }

    fn reading(&mut self, line: &Record, exercise: u8, columns: &ReadingColumns) -> Option<FileReading> {
        let reading = match columns {
            ReadingColumns::FitFactor { fit_factor } => {
                let fit_factor = self.quantity(line, fit_factor);
                Reading::FitFactor { fit_factor: fit_factor? }
            }
            ReadingColumns::Each { before, after, inside } => {
                // Each cell is looked at, so that all of their problems are told.
                let before = self.quantity(line, before);
                let after = self.quantity(line, after);
                let inside = self.quantity(line, inside);
                Reading::Each { before: before?, after: after?, inside: inside? }
            }
            ReadingColumns::Continuous { outside, inside } => {
                let outside = self.quantity(line, outside);
                let inside = self.quantity(line, inside);
                Reading::Continuous { outside: outside?, inside: inside? }
            }
            ReadingColumns::Inside { inside } => {
                let inside = self.quantity(line, inside);
                Reading::Inside { inside: inside? }
            }
        };
        if let Err(refusal) = reading.check() {
            let named =
                columns.all().into_iter().find(|(member, _)| refusal.field.as_deref() == Some(member));
            let problem = match named {
                Some((_, column)) => self.columns.problem(line, column, FileCode::CannotBe, refusal.detail),
                None => Problem::of_line(line.line, FileCode::CannotBe, refusal.detail),
            };
            self.tell(problem);
            return None;
        }
        Some(FileReading { exercise, reading, line: line.line })
    }

    /// What is outside before the test stands on its first line, what is outside after it on its last.
    fn outside(&mut self, lines: &[Record]) -> (Option<Quantity>, Option<Quantity>) {
        let (Some(columns), Some(first), Some(last)) = (&self.mapping.outside, lines.first(), lines.last())
        else {
            return (None, None);
        };
        (self.quantity(first, &columns.before), self.quantity(last, &columns.after))
    }

    fn tell(&mut self, problem: Problem) {
        if self.problems.len() < PROBLEMS_TOLD_MAX {
            self.problems.push(problem);
        }
    }

    fn quantity(&mut self, line: &Record, column: &Column) -> Option<Quantity> {
        match self.columns.quantity(line, column) {
            Ok(quantity) => Some(quantity),
            Err(problem) => {
                self.tell(problem);
                None
            }
        }
    }
}
