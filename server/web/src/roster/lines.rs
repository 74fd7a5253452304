//! The lines of a delimited file, each with the number an editor shows for it.

use csv::{ReaderBuilder, StringRecord};
use sellion_rules::refusal::{Code, Refusal};

/// What spreadsheets write at the beginning of a file to say that it is UTF-8.
const MARK: &str = "\u{feff}";

/// The text of a file, or the place at which it stops being UTF-8. The mark at its beginning is left out.
pub(super) fn text_of(file: &[u8]) -> Result<&str, Refusal> {
    let text = std::str::from_utf8(file).map_err(|error| {
        let offset = error.valid_up_to();
        let line = 1 + breaks(file.get(..offset).unwrap_or_default());
        let sentence = format!("Line {line} is not UTF-8 text: export the file again as CSV in UTF-8.");
        Refusal::new(Code::RosterNotText, sentence)
            .fact("line", line)
            .fact("byte_offset", i64::try_from(offset).unwrap_or(i64::MAX))
    })?;
    Ok(text.strip_prefix(MARK).unwrap_or(text))
}

/// Comma, semicolon or tab: whichever the first line has most of, outside quotation marks.
pub(super) fn delimiter_of(text: &str) -> u8 {
    let mut counts = [(b',', 0), (b';', 0), (b'\t', 0)];
    let mut quoted = false;
    for byte in text.bytes() {
        match byte {
            b'"' => quoted = !quoted,
            b'\r' | b'\n' if !quoted => break,
            _ if quoted => {}
            _ => counts
                .iter_mut()
                .filter(|(delimiter, _)| *delimiter == byte)
                .for_each(|(_, count)| *count += 1),
        }
    }
    // The first of equals, so that a file of one column counts as separated by commas.
    counts.into_iter().rev().max_by_key(|(_, count)| *count).map_or(b',', |(delimiter, _)| delimiter)
}

/// Where a record stands in the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Line {
    /// The line the record begins on.
    pub(super) number: u32,
    /// How many empty lines stand right before it.
    pub(super) blank_before: u32,
    /// Whether its quotation marks come in pairs.
    pub(super) quotes_closed: bool,
}

/// Reads record by record. The reader of the library skips empty lines and says nothing of a quotation mark that is
/// never closed; both are found by looking at the bytes between one record's end and the next one's.
pub(super) struct Lines<'t> {
    text: &'t [u8],
    reader: csv::Reader<&'t [u8]>,
    /// The line that `at` stands on.
    number: u32,
    /// Where the last record ended.
    at: usize,
}

impl<'t> Lines<'t> {
    pub(super) fn of(text: &'t str, delimiter: u8) -> Self {
        let text = text.as_bytes();
        let reader =
            ReaderBuilder::new().delimiter(delimiter).has_headers(false).flexible(true).from_reader(text);
        Self { text, reader, number: 1, at: 0 }
    }

    /// The next record; at the end, how many empty lines stand there.
    pub(super) fn next_into(&mut self, record: &mut StringRecord) -> Result<Line, End> {
        let rest = self.text.get(self.at..).unwrap_or_default();
        let after_break = self.at.checked_sub(1).and_then(|before| self.text.get(before)) == Some(&b'\r');
        // The second half of a line break that was counted with its first.
        let half = usize::from(after_break && rest.first() == Some(&b'\n'));
        let rest = rest.get(half..).unwrap_or_default();
        let gap = rest.iter().take_while(|byte| matches!(byte, b'\r' | b'\n')).count();
        let blank_before = breaks(rest.get(..gap).unwrap_or_default());
        let first_blank = self.number;
        self.number += blank_before;
        // Text was checked to be UTF-8, and lines of any length are accepted: reading cannot fail.
        if !self.reader.read_record(record).unwrap_or(false) {
            return Err(End { first_blank, blank: blank_before });
        }
        let end = usize::try_from(self.reader.position().byte()).unwrap_or(usize::MAX);
        let own = self.text.get(self.at + half + gap..end).unwrap_or_default();
        let line = Line {
            number: self.number,
            blank_before,
            quotes_closed: own.iter().filter(|byte| **byte == b'"').count() % 2 == 0,
        };
        self.number += breaks(own);
        self.at = end;
        Ok(line)
    }
}

/// The end of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct End {
    /// The line of the first empty one.
    pub(super) first_blank: u32,
    /// How many empty lines stand at the end.
    pub(super) blank: u32,
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

#[cfg(test)]
mod tests {
    use super::*;

    fn numbers(text: &str) -> Vec<(u32, String)> {
        let mut lines = Lines::of(text, delimiter_of(text));
        let mut record = StringRecord::new();
        let mut found = Vec::new();
        while let Ok(line) = lines.next_into(&mut record) {
            found.push((line.number, record.get(0).unwrap_or_default().to_owned()));
        }
        found
    }

    #[test]
    fn lines_are_numbered_as_an_editor_does_whatever_breaks_them() {
        for text in ["a,b\nc,d\ne,f", "a,b\r\nc,d\r\ne,f\r\n", "a,b\rc,d\re,f\r"] {
            let expected = [(1, "a".to_owned()), (2, "c".to_owned()), (3, "e".to_owned())];
            assert_eq!(numbers(text), expected, "{text:?}");
        }
    }

    #[test]
    fn breaks_inside_quotes_and_empty_lines_are_counted() {
        // RFC 4180 s.2 rule 6: a cell in quotation marks may hold line breaks (fact 9.15).
        for end in ["\n", "\r\n"] {
            let text = format!("a,\"x{end}y{end}z\"{end}{end}{end}b,c{end}d,e{end}");
            let expected = [(1, "a".to_owned()), (6, "b".to_owned()), (7, "d".to_owned())];
            assert_eq!(numbers(&text), expected, "{text:?}");
        }
    }

    #[test]
    fn empty_lines_are_told() {
        let mut lines = Lines::of("a\n\n\nb\n\n", b',');
        let mut record = StringRecord::new();
        assert_eq!(lines.next_into(&mut record).unwrap().blank_before, 0);
        assert_eq!(lines.next_into(&mut record).unwrap().blank_before, 2);
        assert_eq!(lines.next_into(&mut record), Err(End { first_blank: 5, blank: 1 }));
    }

    #[test]
    fn a_quotation_mark_that_is_never_closed_is_noticed() {
        let mut lines = Lines::of("a,\"b\nc,d\n", b',');
        assert!(!lines.next_into(&mut StringRecord::new()).unwrap().quotes_closed);
        let mut lines = Lines::of("a,\"b \"\"c\"\" d\"\n", b',');
        assert!(lines.next_into(&mut StringRecord::new()).unwrap().quotes_closed);
    }

    #[test]
    fn the_delimiter_is_the_commonest_of_the_first_line() {
        assert_eq!(delimiter_of("a,b,c\n1;2;3;4;5"), b',');
        assert_eq!(delimiter_of("\"a, b, c, d\";e;f"), b';');
        assert_eq!(delimiter_of("a\tb"), b'\t');
        assert_eq!(delimiter_of("alone"), b',');
    }

    #[test]
    fn text_that_is_not_utf_8_is_named_by_line_and_byte() {
        let refusal = text_of(b"a,b\nc,d\ne,\xfc\n").unwrap_err();
        assert_eq!((refusal.code, refusal.facts["line"].clone()), (Code::RosterNotText, 3_i64.into()));
        assert_eq!(refusal.facts["byte_offset"], 10_i64.into());
        assert_eq!(text_of("\u{feff}a".as_bytes()).unwrap(), "a");
    }
}
