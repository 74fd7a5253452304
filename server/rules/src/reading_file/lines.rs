//! The lines of a delimited file, each with the number that an editor shows for it.

use csv::{ReaderBuilder, StringRecord};

use super::mapping::{DecimalMark, Delimiter};
use super::{FileCode, Problem};

/// What spreadsheets write at the beginning of a file to say that it is UTF-8.
const MARK: &str = "\u{feff}";

/// One record of the file.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Record {
    /// The line it begins on.
    pub(super) line: u32,
    /// Its cells, without the spaces around them.
    pub(super) cells: Vec<String>,
    /// Whether its quotation marks come in pairs.
    pub(super) quotes_closed: bool,
}

impl Record {
    pub(super) fn is_blank(&self) -> bool {
        self.cells.iter().all(String::is_empty)
    }
}

/// The text of a file without the mark at its beginning, or the line on which it stops being UTF-8.
pub(super) fn text_of(file: &[u8]) -> Result<&str, Problem> {
    match std::str::from_utf8(file) {
        Ok(text) => Ok(text.strip_prefix(MARK).unwrap_or(text)),
        Err(error) => {
            let before = file.get(..error.valid_up_to()).unwrap_or_default();
            let reason = "The line is not UTF-8 text: export the file again as CSV in UTF-8.";
            Err(Problem::of_line(breaks(before).saturating_add(1), FileCode::NotText, reason))
        }
    }
}

/// The text from a line on; nothing where there are not as many lines.
pub(super) fn from_line(text: &str, line: u32) -> &str {
    let mut rest = text;
    for _ in 1..line {
        let Some(end) = rest.find(['\r', '\n']) else { return "" };
        let (_, after) = rest.split_at(end);
        rest = after.strip_prefix("\r\n").or_else(|| after.get(1..)).unwrap_or_default();
    }
    rest
}

/// The byte that separates cells; where the file has to tell, the one its first line has most of outside quotation
/// marks. A decimal comma separates nothing, unless there is no other candidate and quotation marks hold the numbers.
pub(super) fn delimiter_of(text: &str, told: Delimiter, decimal: DecimalMark) -> u8 {
    match told {
        Delimiter::Comma => return b',',
        Delimiter::Semicolon => return b';',
        Delimiter::Tab => return b'\t',
        Delimiter::FromFile => {}
    }
    let (mut commas, mut semicolons, mut tabs, mut quoted) = (0_u32, 0_u32, 0_u32, false);
    for byte in text.bytes() {
        match byte {
            b'"' => quoted = !quoted,
            _ if quoted => {}
            b'\r' | b'\n' => break,
            b',' => commas += 1,
            b';' => semicolons += 1,
            b'\t' => tabs += 1,
            _ => {}
        }
    }
    if decimal == DecimalMark::Comma && semicolons.max(tabs) > 0 {
        commas = 0;
    }
    // The first of equals, so that a file of one column counts as separated by commas.
    if commas >= semicolons.max(tabs) {
        b','
    } else if semicolons >= tabs {
        b';'
    } else {
        b'\t'
    }
}

/// Reads record by record. The library's reader passes over empty lines and over a quotation mark that is never closed;
/// both are found by looking at the bytes between one record's end and the next one's.
pub(super) struct Records<'t> {
    text: &'t [u8],
    reader: csv::Reader<&'t [u8]>,
    record: StringRecord,
    /// Where the last record began, and the line of it.
    began: (usize, u32),
    /// Where the last record ended.
    ended: usize,
}

impl<'t> Records<'t> {
    /// `first_line` is the number of the line that the text begins with.
    pub(super) fn of(text: &'t str, delimiter: u8, first_line: u32) -> Self {
        let text = text.as_bytes();
        let reader =
            ReaderBuilder::new().delimiter(delimiter).has_headers(false).flexible(true).from_reader(text);
        Self { text, reader, record: StringRecord::new(), began: (0, first_line), ended: 0 }
    }
}

impl Iterator for Records<'_> {
    type Item = Record;

    fn next(&mut self) -> Option<Record> {
        // The text is UTF-8 and lines of any length are taken, so reading cannot fail.
        if !self.reader.read_record(&mut self.record).unwrap_or(false) {
            return None;
        }
        let rest = self.text.get(self.ended..).unwrap_or_default();
        let gap = rest.iter().take_while(|byte| matches!(byte, b'\r' | b'\n')).count();
        let begin = self.ended + gap;
        let end = usize::try_from(self.reader.position().byte()).unwrap_or(usize::MAX);
        let passed = self.text.get(self.began.0..begin).unwrap_or_default();
        let line = self.began.1.saturating_add(breaks(passed));
        let own = self.text.get(begin..end).unwrap_or_default();
        self.began = (begin, line);
        self.ended = end;
        Some(Record {
            line,
            cells: self.record.iter().map(|cell| cell.trim().to_owned()).collect(),
            quotes_closed: own.iter().filter(|byte| **byte == b'"').count() % 2 == 0,
        })
    }
}

/// Line breaks in a run of bytes: CR LF, LF or CR.
fn breaks(bytes: &[u8]) -> u32 {
    let ends = |(index, byte): (usize, &u8)| match byte {
        b'\n' => true,
        b'\r' => bytes.get(index + 1) != Some(&b'\n'),
        _ => false,
    };
    u32::try_from(bytes.iter().enumerate().filter(|at| ends(*at)).count()).unwrap_or(u32::MAX)
}
