//! JSON lines, one object a line, become delimited text: the wanted keys in the plan's order, then the rest.
//!
//! Writers leave keys out where there is nothing to say, so no line shows all columns: a key is missing only if no
//! line of the file has it. What a line says under other keys stands as JSON in one last column, so that two lines
//! that differ anywhere are not taken for the very same line.

use super::header::{Header, Wanted, absent};
use super::lines::{Lines, Text};
use super::made::{DELIMITER, Made};
use crate::problem::Problem;
use serde_json::{Map, Value};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// The lines of a file, made into text as they are read.
pub(super) struct JsonLines {
    lines: Lines,
    path: PathBuf,
    names: Vec<String>,
    decimal: Option<char>,
}

impl JsonLines {
    /// Wraps a file's lines.
    pub(super) fn new(lines: Lines, path: &Path, wanted: &[Wanted], decimal: Option<char>) -> JsonLines {
        let mut names: Vec<String> = Vec::new();
        for column in wanted.iter().map(|wanted| wanted.column.trim()) {
            if !names.iter().any(|name| name == column) {
                names.push(column.to_owned());
            }
        }
        JsonLines { lines, path: path.to_path_buf(), names, decimal }
    }

    /// The columns of the text; no line is the header's.
    pub(super) fn header(&self) -> Header {
        let names = self.names.iter().cloned().chain([String::new()]).collect();
        Header { names, line: 0, delimiter: DELIMITER }
    }

    /// Reads on until every wanted key was seen.
    ///
    /// # Errors
    /// A line that is no object, or keys that no line has.
    pub(super) fn look_for(mut self, wanted: &[Wanted]) -> Result<Header, Vec<Problem>> {
        let header = self.header();
        let mut seen = BTreeSet::new();
        while let Some(text) = self.lines.next_text().map_err(|problem| vec![problem])? {
            for (line, written) in numbered(&text) {
                seen.extend(
                    self.object(line, written).map_err(|problem| vec![problem])?.into_iter().map(|(key, _)| key),
                );
                if self.names.iter().all(|name| seen.contains(name)) {
                    return Ok(header);
                }
            }
        }
        let found = Header { names: seen.into_iter().collect(), line: 1, delimiter: DELIMITER };
        Err(absent(&found, &self.path, wanted))
    }

    /// The next lines as delimited text.
    ///
    /// # Errors
    /// As `Lines`, and a line that is no JSON object.
    pub(super) fn next_text(&mut self) -> Result<Option<Text>, Problem> {
        let Some(text) = self.lines.next_text()? else { return Ok(None) };
        let mut made = Made::new(text.first_line, self.decimal);
        for (line, written) in numbered(&text) {
            let mut object = self.object(line, written)?;
            let mut cells: Vec<String> = Vec::with_capacity(self.names.len() + 1);
            cells.extend(
                self.names.iter().map(|name| object.remove(name).map_or(String::new(), |value| cell(value, &made))),
            );
            cells.push(if object.is_empty() { String::new() } else { Value::Object(object).to_string() });
            made.line(line, &cells).map_err(|_| damaged(&self.path, line, "is out of order"))?;
        }
        Ok(Some(made.rest().unwrap_or(Text { text: String::new(), first_line: text.first_line })))
    }

    /// Lines that were not UTF-8 and were read as Windows-1252.
    pub(super) fn other_lines(&self) -> u64 {
        self.lines.other_lines()
    }

    fn object(&self, line: u64, written: &str) -> Result<Map<String, Value>, Problem> {
        match serde_json::from_str(written) {
            Ok(Value::Object(object)) => {
                Ok(object.into_iter().map(|(key, value)| (key.trim().to_owned(), value)).collect())
            }
            Ok(_) => Err(damaged(&self.path, line, "is not an object")),
            Err(error) => {
                Err(damaged(&self.path, line, &format!("is not JSON: {}", error.to_string().replace("line 1 ", ""))))
            }
        }
    }
}

/// The lines that have something in them, with their numbers.
fn numbered(text: &Text) -> impl Iterator<Item = (u64, &str)> {
    (text.first_line..).zip(text.text.lines()).filter(|(_, line)| !line.trim().is_empty())
}

fn cell(value: Value, made: &Made) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text,
        Value::Number(number) => made.number(number.to_string()),
        Value::Bool(_) | Value::Array(_) | Value::Object(_) => value.to_string(),
    }
}

fn damaged(path: &Path, line: u64, found: &str) -> Problem {
    let wanted = "write one whole object a line, such as {\"Site\": \"W-1\", \"Result\": 0.5}";
    Problem::file(path, "json-damaged", format!("this line {found}"), wanted).at(line)
}
