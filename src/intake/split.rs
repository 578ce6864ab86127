//! Delimited text becomes records and cells, without copying.
//!
//! The rules are those of RFC 4180 as spreadsheets follow them: a quote opens a quoted cell only as its first
//! character, a doubled quote inside stands for one, and what follows the closing quote belongs to the cell. A cell is
//! a stretch of the text itself, so a line costs no allocation; only quoted cells with quotes inside are rewritten. A
//! test holds the result against the csv crate's.

/// The records of a text.
pub(super) struct Records<'t> {
    text: &'t str,
    at: usize,
    line: u64,
    delimiter: u8,
}

/// One record. Kept from record to record, so that its memory is used again.
#[derive(Default)]
pub(super) struct Record<'t> {
    text: &'t str,
    cells: Vec<Cell>,
    rewritten: String,
    raw: (usize, usize),
    /// Its first line, counted as the text's first line says.
    pub line: u64,
    /// Whether the text ends inside one of its quoted cells.
    pub open: bool,
}

#[derive(Clone, Copy)]
struct Cell {
    start: usize,
    end: usize,
    home: Home,
}

/// Where a cell's characters are.
#[derive(Clone, Copy)]
enum Home {
    Text,
    Rewritten,
}

impl<'t> Records<'t> {
    /// The records of a text whose first line has the number given.
    pub(super) fn new(text: &'t str, delimiter: u8, first_line: u64) -> Records<'t> {
        Records { text, at: 0, line: first_line, delimiter }
    }

    /// The line behind what was read.
    pub(super) fn line(&self) -> u64 {
        self.line
    }

    /// Reads the next record that is not an empty line. False after the last.
    pub(super) fn next(&mut self, record: &mut Record<'t>) -> bool {
        let bytes = self.text.as_bytes();
        while let Some(byte @ (b'\n' | b'\r')) = bytes.get(self.at) {
            self.line += u64::from(*byte == b'\n');
            self.at += 1;
        }
        let start = self.at;
        if start >= bytes.len() {
            return false;
        }
        record.begin(self.text, self.line);
        while self.cell(record) {}
        record.raw = (start, self.at);
        true
    }

    /// Reads a cell and what ends it; whether another follows in the record.
    fn cell(&mut self, record: &mut Record<'t>) -> bool {
        let bytes = self.text.as_bytes();
        let start = self.at;
        if bytes.get(start) == Some(&b'"') {
            self.quoted(record);
        } else {
            self.at = self.plain_end(start);
            record.cells.push(Cell { start, end: self.at, home: Home::Text });
        }
        let end = bytes.get(self.at);
        self.at += usize::from(end.is_some());
        self.line += u64::from(end == Some(&b'\n'));
        end == Some(&self.delimiter)
    }

    /// Where the text from `from` meets a delimiter, the end of the line, or its own end.
    fn plain_end(&self, from: usize) -> usize {
        let rest = self.text.as_bytes().get(from..).unwrap_or_default();
        let (words, odd) = rest.as_chunks::<8>();
        let (delimiter, newline) = (u64::from_ne_bytes([self.delimiter; 8]), u64::from_ne_bytes([b'\n'; 8]));
        for (word, at) in words.iter().zip((from..).step_by(8)) {
            let word = u64::from_le_bytes(*word);
            let found = zeros(word ^ delimiter) | zeros(word ^ newline);
            if found != 0 {
                return at + found.trailing_zeros() as usize / 8;
            }
        }
        let end = odd.iter().position(|byte| *byte == self.delimiter || *byte == b'\n');
        from + words.len() * 8 + end.unwrap_or(odd.len())
    }

    fn quoted(&mut self, record: &mut Record<'t>) {
        let bytes = self.text.as_bytes();
        let (mut from, mut at) = (self.at + 1, self.at + 1);
        let own = record.rewritten.len();
        loop {
            let rest = bytes.get(at..).unwrap_or_default();
            let Some(quote) = memchr::memchr(b'"', rest).map(|found| found + at) else {
                at = bytes.len();
                record.open = true;
                break;
            };
            at = quote + 1;
            if bytes.get(at) != Some(&b'"') {
                at = quote;
                break;
            }
            record.rewritten.push_str(self.text.get(from..at).unwrap_or_default());
            at += 1;
            from = at;
        }
        let inside = bytes.get(self.at..at).unwrap_or_default();
        self.line += memchr::memchr_iter(b'\n', inside).count() as u64;
        let behind = (at + 1).min(bytes.len());
        self.at = self.plain_end(behind);
        let simple = record.rewritten.len() == own && self.at == behind;
        record.cells.push(if simple {
            Cell { start: from, end: at, home: Home::Text }
        } else {
            record.rewritten.push_str(self.text.get(from..at).unwrap_or_default());
            record.rewritten.push_str(self.text.get(behind..self.at).unwrap_or_default().trim_end_matches('\r'));
            Cell { start: own, end: record.rewritten.len(), home: Home::Rewritten }
        });
    }
}

/// A word whose lowest bit that is set lies in the lowest of the eight bytes that is zero; 0 if none is.
fn zeros(word: u64) -> u64 {
    word.wrapping_sub(0x0101_0101_0101_0101) & !word & 0x8080_8080_8080_8080
}

/// As `str::trim`, quick where there is nothing to trim.
fn trim(text: &str) -> &str {
    let plain = |byte: Option<&u8>| byte.is_none_or(|byte| (b'!'..=b'~').contains(byte));
    let bytes = text.as_bytes();
    if plain(bytes.first()) && plain(bytes.last()) { text } else { text.trim() }
}

impl<'t> Record<'t> {
    fn begin(&mut self, text: &'t str, line: u64) {
        self.text = text;
        self.line = line;
        self.open = false;
        self.cells.clear();
        self.rewritten.clear();
    }

    /// How many cells there are.
    pub(super) fn len(&self) -> usize {
        self.cells.len()
    }

    /// A cell's text, trimmed; empty where the record is too short.
    pub(super) fn get(&self, at: usize) -> &str {
        let Some(cell) = self.cells.get(at) else { return "" };
        let home = match cell.home {
            Home::Text => self.text,
            Home::Rewritten => self.rewritten.as_str(),
        };
        trim(home.get(cell.start..cell.end).unwrap_or_default())
    }

    /// The cells in order, trimmed.
    pub(super) fn cells(&self) -> impl Iterator<Item = &str> {
        (0..self.len()).map(|at| self.get(at))
    }

    /// The record as it stands, trimmed.
    pub(super) fn raw(&self) -> &'t str {
        trim(self.text.get(self.raw.0..self.raw.1).unwrap_or_default())
    }
}

/// Adds a cell to delimited text so that `Records` reads it back; line ends in it become spaces.
pub(super) fn push_cell(text: &mut String, cell: &str, delimiter: u8) {
    let special = |c: char| matches!(c, '\n' | '\r' | '"') || u32::from(c) == u32::from(delimiter);
    if !cell.contains(special) {
        text.push_str(cell);
        return;
    }
    text.push('"');
    for c in cell.chars() {
        match c {
            '\n' | '\r' => text.push(' '),
            '"' => text.push_str("\"\""),
            _ => text.push(c),
        }
    }
    text.push('"');
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(text: &str) -> Vec<(u64, Vec<String>)> {
        let (mut records, mut record) = (Records::new(text, b',', 1), Record::default());
        let mut list = Vec::new();
        while records.next(&mut record) {
            list.push((record.line, record.cells().map(str::to_owned).collect()));
        }
        list
    }

    fn by_csv(text: &str) -> Vec<Vec<String>> {
        let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes());
        reader.records().map(|record| record.unwrap().iter().map(|cell| cell.trim().to_owned()).collect()).collect()
    }

    #[test]
    fn lines_are_those_of_the_record_starts() {
        let got = all("\n\na,b\r\n\"x\n\ny\",2\r\n\r\nlast,\"he said \"\"no\"\" twice\" or so");
        let lines: Vec<u64> = got.iter().map(|(line, _)| *line).collect();
        assert_eq!(lines, [3, 4, 8]);
        assert_eq!(got[1].1, ["x\n\ny", "2"]);
        assert_eq!(got[2].1, ["last", "he said \"no\" twice or so"]);
    }

    #[test]
    fn an_open_quote_is_told() {
        let (mut records, mut record) = (Records::new("a,b\n\"c,d\ne", b',', 1), Record::default());
        assert!(records.next(&mut record) && !record.open);
        assert!(records.next(&mut record) && record.open);
        assert!(!records.next(&mut record));
    }

    proptest::proptest! {
        #[test]
        fn cells_are_those_of_the_csv_crate(text in "(([a-c \",µ]|\r\n|\n|\"a,b\"|,\"|\",){0,24})") {
            let got: Vec<Vec<String>> = all(&text).into_iter().map(|(_, cells)| cells).collect();
            proptest::prop_assert_eq!(got, by_csv(&text));
        }

        #[test]
        fn a_pushed_cell_reads_back(cells in proptest::collection::vec("[ -~µ\n\u{1f}\"]{0,8}", 1..6)) {
            let mut text = String::new();
            for (number, cell) in cells.iter().enumerate() {
                if number > 0 {
                    text.push(',');
                }
                push_cell(&mut text, cell, b',');
            }
            text.push_str(",end\n");
            let wanted: Vec<String> = cells.iter().map(|cell| cell.replace('\n', " ").trim().to_owned()).collect();
            let got = all(&text);
            proptest::prop_assert_eq!(got.len(), 1);
            proptest::prop_assert_eq!(&got[0].1[..cells.len()], &wanted[..]);
        }
    }
}
