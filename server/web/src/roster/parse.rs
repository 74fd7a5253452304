//! From the bytes of a roster file to the people in it, or to everything that is wrong with it, line by line.

use std::collections::{BTreeMap, HashMap};

use chrono::{Datelike, NaiveDate};
use csv::StringRecord;
use sellion_rules::{
    refusal::{Code, Refusal},
    roster::{LineCode, LineProblem},
};
use sellion_store::roster::{Entry, Roster};

use super::{
    columns::{Columns, ColumnsQuery, Field},
    lines::{End, Line, Lines, delimiter_of, text_of},
};
use crate::{
    extract::YEARS,
    words::{SHORT, TextFault, checked, checked_number},
};

/// So many problems are told one by one; a file with more has one cause.
pub(super) const PROBLEMS_TOLD_MAX: usize = 200;
/// So many names are shown for a look at their letters.
const NAMES_SHOWN_MAX: usize = 10;
/// What the first cell of a line of sums says, in lower case.
const TOTALS: [&str; 12] = [
    "total",
    "totals",
    "subtotal",
    "grand total",
    "sum",
    "sums",
    "count",
    "summe",
    "gesamt",
    "totale",
    "somme",
    "suma",
];

/// A roster file as it was understood.
#[derive(Debug)]
pub(super) struct Parsed {
    /// The people, without the lines that have problems.
    pub(super) roster: Roster,
    /// Which header was taken for what.
    pub(super) columns: BTreeMap<&'static str, String>,
    /// What separates the cells.
    pub(super) delimiter: char,
    /// Lines after the header that say anything.
    pub(super) row_count: u32,
    /// Everything wrong, or the beginning of it.
    pub(super) problems: Vec<LineProblem>,
    /// How many problems there are altogether.
    pub(super) problem_count: u32,
    /// Some names with letters that a wrong encoding would break.
    pub(super) names_to_check: Vec<String>,
}

/// Reads a file. Refused is only what stands in the way of reading any line; the rest are problems of lines.
pub(super) fn parse(file: &[u8], query: &ColumnsQuery, today: NaiveDate) -> Result<Parsed, Refusal> {
    let text = text_of(file)?;
    let delimiter = delimiter_of(text);
    let mut lines = Lines::of(text, delimiter);
    let mut record = StringRecord::new();
    let Ok(first) = lines.next_into(&mut record) else {
        let sentence = "The file is empty: its first line has to name the columns.";
        return Err(Refusal::new(Code::RosterColumnMissing, sentence).field("staff_number"));
    };
    let columns = Columns::find(&record, query)?;
    let mut reading = Reading::new(columns, today);
    reading.blank_lines(first.number - first.blank_before, first.blank_before);
    let End { first_blank, blank } = loop {
        match lines.next_into(&mut record) {
            Ok(line) => reading.take(line, &record),
            Err(end) => break end,
        }
    };
    reading.blank_lines(first_blank, blank);
    Ok(reading.finish(delimiter))
}

/// A file on its way through.
struct Reading {
    columns: Columns,
    today: NaiveDate,
    roster: Roster,
    row_count: u32,
    /// The line each staff number stands on.
    lines: HashMap<String, u32>,
    problems: Vec<LineProblem>,
    problem_count: u32,
    names_to_check: Vec<String>,
}

impl Reading {
    fn new(columns: Columns, today: NaiveDate) -> Self {
        let roster = Roster {
            entries: Vec::new(),
            has_birth_date: columns.has(Field::BirthDate),
            has_unit: columns.has(Field::Unit),
            has_left_on: columns.has(Field::LeftOn),
        };
        Self {
            columns,
            today,
            roster,
            row_count: 0,
            lines: HashMap::new(),
            problems: Vec::new(),
            problem_count: 0,
            names_to_check: Vec::new(),
        }
    }

    fn finish(self, delimiter: u8) -> Parsed {
        Parsed {
            columns: self.columns.taken(),
            roster: self.roster,
            delimiter: char::from(delimiter),
            row_count: self.row_count,
            problems: self.problems,
            problem_count: self.problem_count,
            names_to_check: self.names_to_check,
        }
    }

    fn problem(&mut self, line: u32, field: Option<Field>, code: LineCode, message: impl Into<String>) {
        self.problem_count += 1;
        if self.problems.len() < PROBLEMS_TOLD_MAX {
            let column = field.and_then(|field| self.columns.header_of(field)).map(str::to_owned);
            self.problems.push(LineProblem { line, column, code, message: message.into() });
        }
    }

    fn blank_lines(&mut self, first: u32, count: u32) {
        for line in first..first.saturating_add(count) {
            self.problem(line, None, LineCode::BlankLine, "The line is empty: take it out.");
        }
    }

    fn take(&mut self, line: Line, record: &StringRecord) {
        self.blank_lines(line.number - line.blank_before, line.blank_before);
        if let Some((code, message)) = self.shape(line, record) {
            if code != LineCode::BlankLine {
                self.row_count += 1;
            }
            return self.problem(line.number, None, code, message);
        }
        self.row_count += 1;
        let before = self.problem_count;
        let entry = self.entry(line.number, record);
        self.remember(line.number, &entry.staff_number);
        if self.problem_count == before {
            self.show(&entry);
            self.roster.entries.push(entry);
        }
    }

    /// What is wrong with the line as a whole, so that its cells mean nothing.
    fn shape(&self, line: Line, record: &StringRecord) -> Option<(LineCode, String)> {
        let (cells, expected) = (record.len(), self.columns.count());
        let mut filled = record.iter().map(str::trim).filter(|cell| !cell.is_empty());
        let first = filled.next();
        let total = |cell: &str| TOTALS.contains(&cell.to_lowercase().trim_end_matches([':', ' ']));
        let found = if !line.quotes_closed {
            let message =
                "A quotation mark is not closed: a cell that holds one puts it twice, between two others.";
            (LineCode::StrayQuote, message.to_owned())
        } else if first.is_none() {
            (LineCode::BlankLine, "All cells of the line are empty: take it out.".to_owned())
        } else if first.is_some_and(total) {
            (LineCode::TotalsRow, "The line sums up others and is no person: take it out.".to_owned())
        } else if cells < expected {
            let message =
                format!("The line has {cells} cells where the first line names {expected} columns.");
            (LineCode::TooFewColumns, message)
        } else if cells > expected {
            let message = format!(
                "The line has {cells} cells where the first line names {expected} columns: put cells that hold a \
                 delimiter between quotation marks."
            );
            (LineCode::TooManyColumns, message)
        } else if self.columns.is_header(record) {
            (LineCode::HeaderAgain, "The line names the columns once more: take it out.".to_owned())
        } else {
            return None;
        };
        Some(found)
    }

    fn entry(&mut self, line: u32, record: &StringRecord) -> Entry {
        let staff_number = self.text(line, record, Field::StaffNumber);
        if staff_number.is_empty() {
            let message = "The staff number is missing.";
            self.problem(line, Some(Field::StaffNumber), LineCode::StaffNumberMissing, message);
        } else if is_scientific(&staff_number) {
            let message =
                "A spreadsheet turned the staff number into a power of ten: export the column as text.";
            self.problem(line, Some(Field::StaffNumber), LineCode::StaffNumberScientific, message);
        }
        let given_name = self.text(line, record, Field::GivenName);
        let family_name = self.text(line, record, Field::FamilyName);
        if given_name.is_empty() && family_name.is_empty() {
            let message = "Both names are missing.";
            self.problem(line, Some(Field::FamilyName), LineCode::NameMissing, message);
        }
        let birth_date = self.date(line, record, Field::BirthDate);
        if birth_date.is_some_and(|date| date > self.today) {
            let message = "The birth date lies in the future.";
            self.problem(line, Some(Field::BirthDate), LineCode::DateImplausible, message);
        }
        let unit = self.text(line, record, Field::Unit);
        let left_on = self.date(line, record, Field::LeftOn);
        Entry { staff_number, given_name, family_name, birth_date, unit, left_on }
    }

    fn text(&mut self, line: u32, record: &StringRecord, field: Field) -> String {
        let cell = self.columns.cell(record, field);
        let read = match field {
            Field::StaffNumber => checked_number(cell, SHORT),
            _ => checked(cell, SHORT),
        };
        match read {
            Ok(text) => return text.to_owned(),
            Err(TextFault::TooLong) => {
                let message = format!("The cell has more than {SHORT} characters.");
                self.problem(line, Some(field), LineCode::TooLong, message);
            }
            Err(TextFault::Hidden | TextFault::Blank) => {
                let message =
                    "The cell holds a character that cannot be seen or was broken: type the cell again.";
                self.problem(line, Some(field), LineCode::HiddenCharacter, message);
            }
        }
        cell.to_owned()
    }

    fn date(&mut self, line: u32, record: &StringRecord, field: Field) -> Option<NaiveDate> {
        let cell = self.columns.cell(record, field);
        if cell.is_empty() {
            return None;
        }
        let Some(date) = iso_date(cell) else {
            let message =
                "Write the date as year-month-day, such as 2027-08-15: other orders cannot be told apart.";
            self.problem(line, Some(field), LineCode::DateNotIso, message);
            return None;
        };
        if !YEARS.contains(&date.year()) {
            let message = "The year cannot be meant: give one between 1900 and 2199.";
            self.problem(line, Some(field), LineCode::DateImplausible, message);
        }
        Some(date)
    }

    /// Two people on one number would get each other's results, so both lines are named.
    fn remember(&mut self, line: u32, staff_number: &str) {
        if staff_number.is_empty() {
            return;
        }
        if let Some(first) = self.lines.get(staff_number) {
            let message = format!("This staff number stands on line {first} and again on line {line}.");
            return self.problem(line, Some(Field::StaffNumber), LineCode::StaffNumberRepeated, message);
        }
        self.lines.insert(staff_number.to_owned(), line);
    }

    fn show(&mut self, entry: &Entry) {
        let plain = entry.given_name.is_ascii() && entry.family_name.is_ascii();
        if !plain && self.names_to_check.len() < NAMES_SHOWN_MAX {
            let name = format!("{} {}", entry.given_name, entry.family_name);
            self.names_to_check.push(name.trim().to_owned());
        }
    }
}

/// Such as 4.7E+04, of which nobody can tell the digits that are gone.
fn is_scientific(text: &str) -> bool {
    let Some((mantissa, exponent)) = text.split_once(['E', 'e']) else { return false };
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    let Some(power) = exponent.strip_prefix('+') else { return false };
    let whole = mantissa.replacen([',', '.'], "", 1);
    digits(&whole) && digits(power)
}

/// ISO 8601 calendar dates in full, and nothing that a lenient reader would add.
fn iso_date(text: &str) -> Option<NaiveDate> {
    let shaped = text.len() == 10
        && text.bytes().enumerate().all(|(index, byte)| match index {
            4 | 7 => byte == b'-',
            _ => byte.is_ascii_digit(),
        });
    if shaped { NaiveDate::parse_from_str(text, "%Y-%m-%d").ok() } else { None }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_powers_of_ten_are_scientific() {
        for text in ["4.7E+04", "4,7192E+12", "1e+5"] {
            assert!(is_scientific(text), "{text}");
        }
        for text in ["0047192", "E12", "12E4", "AE+1", "4.7E+"] {
            assert!(!is_scientific(text), "{text}");
        }
    }

    #[test]
    fn only_whole_iso_dates_are_dates() {
        assert_eq!(iso_date("2024-02-29"), NaiveDate::from_ymd_opt(2024, 2, 29));
        for text in ["2023-02-29", "03/04/1988", "1988-4-17", "17.04.1988", "+1988-04-1", "31522"] {
            assert_eq!(iso_date(text), None, "{text}");
        }
    }
}
