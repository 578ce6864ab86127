//! A byte stream becomes chunks of whole records.
//!
//! A chunk ends after a newline that is not inside quotes. A quote opens a quoted field only at a field's start,
//! as the CSV reader sees it, so a stray inch mark does not swallow the file. A record longer than
//! `LONGEST_RECORD` is a problem, since that is a quote that never closes or not a text table at all.

use super::encoding::{Chunk, ToUtf8};
use crate::files::unreadable;
use crate::problem::Problem;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Bytes of a usual chunk.
pub const CHUNK: usize = 4 << 20;
/// Bytes of the longest record that is believed.
pub const LONGEST_RECORD: usize = 8 << 20;

/// Whole lines of one file, in order.
pub struct Lines {
    reader: Box<dyn Read + Send>,
    path: PathBuf,
    to_utf8: ToUtf8,
    /// Decoded or raw bytes not yet given out.
    pending: Vec<u8>,
    delimiter: u8,
    next_line: u64,
    ended: bool,
}

/// Whole lines, and the number of the first.
#[derive(Debug)]
pub struct Text {
    /// UTF-8 text of whole lines.
    pub text: String,
    /// Line number of its first line, counted from 1.
    pub first_line: u64,
}

impl Lines {
    /// Starts reading. The delimiter can be told later.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn new(mut reader: Box<dyn Read + Send>, path: &Path, encoding: Option<&str>) -> Result<Lines, Problem> {
        let mut start = Vec::new();
        fill(&mut reader, &mut start, CHUNK).map_err(|e| unreadable(path, &e))?;
        let (mut to_utf8, skip) = ToUtf8::new(&start, encoding);
        start.drain(..skip);
        let ended = start.len() + skip < CHUNK;
        if !to_utf8.cuts_at_newlines() {
            start = to_utf8.text(start, if ended { Chunk::Last } else { Chunk::Middle }).into_bytes();
        }
        Ok(Lines { reader, path: path.to_path_buf(), to_utf8, pending: start, delimiter: b',', next_line: 1, ended })
    }

    /// The start of the text, for finding header and delimiter; nothing is taken.
    pub fn peek(&self) -> String {
        String::from_utf8_lossy(self.pending.get(..self.pending.len().min(1 << 16)).unwrap_or_default()).into_owned()
    }

    /// Tells the delimiter, once found.
    pub fn set_delimiter(&mut self, delimiter: u8) {
        self.delimiter = delimiter;
    }

    /// Lines that were not UTF-8 and were read as Windows-1252.
    pub fn other_lines(&self) -> u64 {
        self.to_utf8.other_lines
    }

    /// The next whole lines; `None` after the last.
    ///
    /// # Errors
    /// A read error, a damaged archive, or a record too long to be one.
    pub fn next_text(&mut self) -> Result<Option<Text>, Problem> {
        loop {
            if !self.ended && self.pending.len() < CHUNK {
                self.more()?;
            }
            if self.ended {
                let end = self.pending.len();
                return Ok((end > 0).then(|| self.give(end)));
            }
            match last_record_end(&self.pending, self.delimiter) {
                Some(end) => return Ok(Some(self.give(end))),
                None if self.pending.len() > LONGEST_RECORD => return Err(self.too_long()),
                None => self.more()?,
            }
        }
    }

    fn give(&mut self, end: usize) -> Text {
        let rest = self.pending.split_off(end);
        let bytes = std::mem::replace(&mut self.pending, rest);
        let first_line = self.next_line;
        self.next_line += memchr::memchr_iter(b'\n', &bytes).count() as u64;
        let text = if self.to_utf8.cuts_at_newlines() {
            self.to_utf8.text(bytes, Chunk::Last)
        } else {
            String::from_utf8(bytes).unwrap_or_else(|error| String::from_utf8_lossy(error.as_bytes()).into_owned())
        };
        Text { text, first_line }
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
        debug_assert!(self.pending.len() >= before);
        filled
    }

    fn too_long(&self) -> Problem {
        Problem::file(
            &self.path,
            "record-too-long",
            format!("a record of more than {} MiB starts here", LONGEST_RECORD >> 20),
            "look for a quote that is never closed; a results file must be a text table",
        )
        .at(self.next_line)
    }
}

/// Reads up to `wanted` further bytes into the buffer.
fn fill(reader: &mut Box<dyn Read + Send>, buffer: &mut Vec<u8>, wanted: usize) -> std::io::Result<()> {
    buffer.reserve(wanted);
    reader.by_ref().take(wanted as u64).read_to_end(buffer).map(|_| ())
}

/// The end of the last whole record, or `None` if no record ends in the bytes.
fn last_record_end(bytes: &[u8], delimiter: u8) -> Option<usize> {
    let limit = match open_quote(bytes, delimiter) {
        Some(start) => start,
        None => bytes.len(),
    };
    memchr::memrchr(b'\n', bytes.get(..limit)?).map(|at| at + 1)
}

/// Where a quoted field starts that does not end within the bytes.
fn open_quote(bytes: &[u8], delimiter: u8) -> Option<usize> {
    let mut from = 0;
    while let Some(start) = memchr::memchr(b'"', bytes.get(from..)?).map(|at| at + from) {
        let at_field_start = start == 0 || bytes.get(start - 1).is_some_and(|b| *b == delimiter || *b == b'\n');
        from = if at_field_start { closing_quote(bytes, start + 1)? + 1 } else { start + 1 };
        if from > bytes.len() {
            return Some(start);
        }
    }
    None
}

/// The closing quote of a field that was opened before `from`; past the end if there is none.
fn closing_quote(bytes: &[u8], mut from: usize) -> Option<usize> {
    while let Some(at) = memchr::memchr(b'"', bytes.get(from..)?).map(|at| at + from) {
        match bytes.get(at + 1) {
            Some(b'"') => from = at + 2,
            Some(_) => return Some(at),
            None => break, // the next byte may double it
        }
    }
    Some(bytes.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cuts_only_outside_quotes() {
        assert_eq!(last_record_end(b"a,b\nc,\"d\ne", b','), Some(4));
        assert_eq!(last_record_end(b"a,\"b\nc\"\nd", b','), Some(8));
        assert_eq!(last_record_end(b"a,5\" pipe\nb", b','), Some(10));
        assert_eq!(last_record_end(b"a,\"x\"\"\n\"\nb", b','), Some(9));
        assert_eq!(last_record_end(b"a,\"b\n", b','), None);
    }

    #[test]
    fn every_byte_comes_out_once_in_order() {
        let text: String = (0..900_000).map(|i| format!("{i},\"x\n{i}\"\n")).collect();
        let reader = Box::new(std::io::Cursor::new(text.clone().into_bytes()));
        let mut lines = Lines::new(reader, Path::new("x.csv"), None).unwrap();
        let (mut got, mut expected_line) = (String::new(), 1);
        while let Some(part) = lines.next_text().unwrap() {
            assert_eq!(part.first_line, expected_line);
            expected_line += part.text.matches('\n').count() as u64;
            got.push_str(&part.text);
        }
        assert!(got == text);
    }
}
