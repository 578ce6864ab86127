//! A byte stream becomes chunks of whole records.
//!
//! A chunk ends after a newline that is not inside quotes. A quote opens a quoted field only at a field's start,
//! as `split` sees it, so a stray inch mark does not swallow the file. A record longer than `LONGEST_RECORD`, a quote
//! still open at the end and a NUL character are problems: rows would be lost without a word otherwise. Lines that end
//! in a carriage return alone, as old spreadsheet programs write them, are told by a start without any newline.

use super::encoding::{Chunk, ToUtf8, mixed};
use super::header::PEEKED;
use crate::files::unreadable;
use crate::problem::Problem;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Bytes of a usual chunk.
pub(super) const CHUNK: usize = 4 << 20;
/// Bytes of the longest record that is believed.
pub(super) const LONGEST_RECORD: usize = 8 << 20;

/// Whole lines of one file, in order.
pub(super) struct Lines {
    reader: Box<dyn Read + Send>,
    path: PathBuf,
    to_utf8: ToUtf8,
    /// Decoded or raw bytes not yet given out.
    pending: Vec<u8>,
    quotes: Quotes,
    ends: Ends,
    next_line: u64,
    ended: bool,
}

/// Whether newlines may stand inside quotes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Quotes {
    /// They may, in a field that starts with a quote behind this delimiter.
    After(u8),
    /// Every newline ends a line.
    Unknown,
}

/// What ends a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Ends {
    /// A newline, perhaps with a carriage return before it.
    Newline,
    /// A carriage return alone.
    Return,
}

/// Whole lines, and the number of the first.
#[derive(Debug)]
pub(super) struct Text {
    /// UTF-8 text of whole lines.
    pub(super) text: String,
    /// Line number of its first line, counted from 1.
    pub(super) first_line: u64,
}

impl Lines {
    /// Goes on from a file's start, which is `CHUNK` bytes or the whole file.
    ///
    /// # Errors
    /// A start that is no text.
    pub(super) fn new(
        mut start: Vec<u8>,
        reader: Box<dyn Read + Send>,
        path: &Path,
        encoding: Option<&str>,
    ) -> Result<Lines, Problem> {
        let ended = start.len() < CHUNK;
        let (mut to_utf8, skip) = ToUtf8::new(&start, encoding);
        start.drain(..skip);
        if !to_utf8.cuts_at_newlines() {
            start = to_utf8.text(start, if ended { Chunk::Last } else { Chunk::Middle }).into_bytes();
        }
        let has = |byte| memchr::memchr(byte, &start).is_some();
        let ends = if has(b'\r') && !has(b'\n') { Ends::Return } else { Ends::Newline };
        let mut lines = Lines {
            reader,
            path: path.to_path_buf(),
            to_utf8,
            pending: start,
            quotes: Quotes::Unknown,
            ends,
            next_line: 1,
            ended,
        };
        lines.mend(0);
        lines.no_nul(&lines.pending)?;
        Ok(lines)
    }

    /// The start of the text, for finding header and delimiter; nothing is taken.
    pub(super) fn peek(&self) -> String {
        mixed(self.pending.get(..self.pending.len().min(PEEKED)).unwrap_or_default()).0
    }

    /// Tells the delimiter, once found: from here on, newlines may stand inside quotes.
    pub(super) fn set_delimiter(&mut self, delimiter: u8) {
        self.quotes = Quotes::After(delimiter);
    }

    /// Lines that were not UTF-8 and were read as Windows-1252.
    pub(super) fn other_lines(&self) -> u64 {
        self.to_utf8.other_lines
    }

    /// The next whole lines; `None` after the last.
    ///
    /// # Errors
    /// A read error, a damaged archive, or a record too long to be one.
    pub(super) fn next_text(&mut self) -> Result<Option<Text>, Problem> {
        loop {
            if !self.ended && self.pending.len() < CHUNK {
                self.more()?;
            }
            if self.ended {
                return self.last();
            }
            match last_record_end(&self.pending, self.quotes) {
                Some(end) => return self.give(end).map(Some),
                None if self.pending.len() > LONGEST_RECORD => return Err(too_long(&self.path, self.next_line)),
                None => self.more()?,
            }
        }
    }

    /// All that is left, unless a quote is open in it.
    fn last(&mut self) -> Result<Option<Text>, Problem> {
        if self.pending.is_empty() {
            return Ok(None);
        }
        if self.pending.last() != Some(&b'\n') {
            self.pending.push(b'\n'); // so that a quote before the end is a closing one
        }
        let end = self.pending.len();
        match open_quote(&self.pending, self.quotes) {
            Some(start) => Err(self.quote_open(start)),
            None => self.give(end).map(Some),
        }
    }

    fn give(&mut self, end: usize) -> Result<Text, Problem> {
        let rest = self.pending.split_off(end);
        let bytes = std::mem::replace(&mut self.pending, rest);
        self.no_nul(&bytes)?;
        let first_line = self.next_line;
        self.next_line += memchr::memchr_iter(b'\n', &bytes).count() as u64;
        let text = if self.to_utf8.cuts_at_newlines() {
            self.to_utf8.text(bytes, Chunk::Last)
        } else {
            String::from_utf8(bytes).unwrap_or_else(|error| String::from_utf8_lossy(error.as_bytes()).into_owned())
        };
        Ok(Text { text, first_line })
    }

    fn more(&mut self) -> Result<(), Problem> {
        let before = self.pending.len();
        let mut raw = if self.to_utf8.cuts_at_newlines() { std::mem::take(&mut self.pending) } else { Vec::new() };
        let kept = raw.len();
        let filled = fill(&mut self.reader, &mut raw, CHUNK).map_err(|e| unreadable(&self.path, &e));
        self.ended = filled.is_ok() && raw.len() - kept < CHUNK;
        if self.to_utf8.cuts_at_newlines() {
            self.pending = raw;
        } else {
            let last = if self.ended { Chunk::Last } else { Chunk::Middle };
            self.pending.extend_from_slice(self.to_utf8.text(raw, last).as_bytes());
        }
        self.mend(before);
        filled
    }

    /// Makes newlines of lone carriage returns, from a place on.
    fn mend(&mut self, from: usize) {
        if self.ends == Ends::Return {
            let fresh = self.pending.iter_mut().skip(from);
            fresh.filter(|byte| **byte == b'\r').for_each(|byte| *byte = b'\n');
        }
    }

    /// No text table has a NUL in it: it is another kind of file, or in an encoding that has to be named.
    fn no_nul(&self, bytes: &[u8]) -> Result<(), Problem> {
        let Some(at) = memchr::memchr(0, bytes) else { return Ok(()) };
        let found = "there is a NUL character here: it is not plain text, or it is in another encoding";
        let wanted = "export it as CSV in UTF-8; for UTF-16 without a mark, say encoding = \"utf-16le\" in the plan";
        Err(Problem::file(&self.path, "not-text", found, wanted).at(self.line_at(bytes, at)))
    }

    fn line_at(&self, bytes: &[u8], at: usize) -> u64 {
        self.next_line + memchr::memchr_iter(b'\n', bytes.get(..at).unwrap_or_default()).count() as u64
    }

    fn quote_open(&self, start: usize) -> Problem {
        let found = "a quote opens here and is not closed before the end of the file";
        Problem::file(&self.path, "quote-open", found, "close the quote, or take it away")
            .at(self.line_at(&self.pending, start))
    }
}

/// The problem of a record longer than `LONGEST_RECORD`.
pub(super) fn too_long(path: &Path, line: u64) -> Problem {
    Problem::file(
        path,
        "record-too-long",
        format!("a record of more than {} MiB starts here", LONGEST_RECORD >> 20),
        "look for a quote that is never closed; a results file must be a text table",
    )
    .at(line)
}

/// Reads up to `wanted` further bytes into the buffer. Room is cleared before it is read into, so a small file gets little of it.
pub(super) fn fill(reader: &mut Box<dyn Read + Send>, buffer: &mut Vec<u8>, wanted: usize) -> std::io::Result<()> {
    const SMALL: usize = 1 << 16;
    let mut read = |count: usize| {
        buffer.reserve(count);
        reader.by_ref().take(count as u64).read_to_end(buffer)
    };
    let first = wanted.min(SMALL);
    if read(first)? == first {
        read(wanted - first)?;
    }
    Ok(())
}

/// The end of the last whole record, or `None` if no record ends in the bytes.
fn last_record_end(bytes: &[u8], quotes: Quotes) -> Option<usize> {
    let (mut from, mut end) = (0, None);
    loop {
        let next = next_quoted(bytes, quotes, from);
        let until = next.map_or(bytes.len(), |quoted| quoted.start);
        let newline = memchr::memrchr(b'\n', bytes.get(from..until).unwrap_or_default());
        end = newline.map(|at| from + at + 1).or(end);
        match next.and_then(|quoted| quoted.close) {
            Some(close) => from = close + 1,
            None => return end,
        }
    }
}

/// Where a quoted field starts that does not end within the bytes.
fn open_quote(bytes: &[u8], quotes: Quotes) -> Option<usize> {
    let mut from = 0;
    loop {
        let quoted = next_quoted(bytes, quotes, from)?;
        match quoted.close {
            Some(close) => from = close + 1,
            None => return Some(quoted.start),
        }
    }
}

/// A quoted field: its first quote and its last, if that is within the bytes.
#[derive(Clone, Copy)]
struct Quoted {
    start: usize,
    close: Option<usize>,
}

/// The first quoted field from a place on that is not inside one.
fn next_quoted(bytes: &[u8], quotes: Quotes, mut from: usize) -> Option<Quoted> {
    let Quotes::After(delimiter) = quotes else { return None };
    loop {
        let start = from + memchr::memchr(b'"', bytes.get(from..)?)?;
        let before = start.checked_sub(1).and_then(|at| bytes.get(at));
        if before.is_none_or(|byte| *byte == delimiter || *byte == b'\n') {
            return Some(Quoted { start, close: closing_quote(bytes, start + 1) });
        }
        from = start + 1;
    }
}

/// The closing quote of a field that was opened before `from`.
fn closing_quote(bytes: &[u8], mut from: usize) -> Option<usize> {
    loop {
        let at = from + memchr::memchr(b'"', bytes.get(from..)?)?;
        match bytes.get(at + 1) {
            Some(b'"') => from = at + 2,
            Some(_) => return Some(at),
            None => return None, // the next byte may double it
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const COMMA: Quotes = Quotes::After(b',');

    fn lines(bytes: impl Into<Vec<u8>>, encoding: Option<&str>) -> Result<Lines, Problem> {
        let mut bytes = bytes.into();
        let rest = bytes.split_off(bytes.len().min(CHUNK));
        Lines::new(bytes, Box::new(std::io::Cursor::new(rest)), Path::new("x.csv"), encoding)
    }

    fn problem(bytes: impl Into<Vec<u8>>) -> (&'static str, Option<u64>) {
        let told = lines(bytes, None).and_then(|mut lines| {
            lines.set_delimiter(b',');
            while lines.next_text()?.is_some() {}
            Ok(())
        });
        told.err().map(|problem| (problem.code, problem.line)).unwrap()
    }

    #[test]
    fn cuts_only_outside_quotes() {
        assert_eq!(last_record_end(b"a,b\nc,\"d\ne", COMMA), Some(4));
        assert_eq!(last_record_end(b"a,\"b\nc\"\nd", COMMA), Some(8));
        assert_eq!(last_record_end(b"a,5\" pipe\nb", COMMA), Some(10));
        assert_eq!(last_record_end(b"a,\"x\"\"\n\"\nb", COMMA), Some(9));
        assert_eq!(last_record_end(b"a,\"b\n", COMMA), None);
        assert_eq!(last_record_end(b"a\nb,\"c\nd\",e", COMMA), Some(2));
        assert_eq!(last_record_end(b"a,\"b\n", Quotes::Unknown), Some(5));
    }

    #[test]
    fn every_byte_comes_out_once_in_order() {
        let text: String = (0..900_000).map(|i| format!("{i},\"x\n{i}\"\n")).collect();
        let mut lines = lines(text.clone(), None).unwrap();
        lines.set_delimiter(b',');
        let (mut got, mut expected_line) = (String::new(), 1);
        while let Some(part) = lines.next_text().unwrap() {
            assert_eq!(part.first_line, expected_line);
            expected_line += part.text.matches('\n').count() as u64;
            assert!(part.text.ends_with("\"\n"));
            got.push_str(&part.text);
        }
        assert!(got == text);
    }

    #[test]
    fn what_would_lose_rows_is_a_problem_with_its_line() {
        assert_eq!(problem("a,b\n1,\"2\n3,4\n"), ("quote-open", Some(2)));
        assert_eq!(problem("a,b\n1,2\n3,\0\n"), ("not-text", Some(3)));
        let long = format!("a,b\n1,\"{}\n", "x".repeat(3 * LONGEST_RECORD));
        assert_eq!(problem(long), ("record-too-long", Some(2)));
    }

    #[test]
    fn carriage_returns_alone_end_lines_too() {
        let mut lines = lines("a,b\r1,2\r", None).unwrap();
        assert_eq!(lines.next_text().unwrap().unwrap().text, "a,b\n1,2\n");
    }

    #[test]
    fn a_quote_may_close_at_the_very_end() {
        let mut lines = lines("a,b\n1,\"2\"", None).unwrap();
        lines.set_delimiter(b',');
        assert_eq!(lines.next_text().unwrap().unwrap().text, "a,b\n1,\"2\"\n");
    }
}
