//! The header of a text table: where it stands, how it is delimited, what its columns are called.
//!
//! The plan's columns decide: the header is the first line that has all of them, with the delimiter that makes it
//! so. Only when no line has them all is the best line shown in the problem. A heading broken over several lines inside
//! quotes counts as written on one, with single spaces.

use super::split::{Record, Records};
use crate::plan::TextOptions;
use crate::problem::{Problem, nearest};
use std::path::Path;

/// Bytes of a file's start in which a header is looked for.
pub(super) const PEEKED: usize = 1 << 18;
/// Lines that are searched for a header.
const SEARCHED: usize = 40;
/// Delimiters that are tried, in this order.
const DELIMITERS: [u8; 4] = [b',', b'\t', b';', b'|'];

/// A header that was found.
#[derive(Clone, Debug)]
pub(super) struct Header {
    /// Column names, trimmed, with single spaces.
    pub(super) names: Vec<String>,
    /// Its line, counted from 1; 0 where the file has its names elsewhere.
    pub(super) line: u64,
    /// Delimiter.
    pub(super) delimiter: u8,
}

impl Header {
    /// Where a column stands; past all cells if there is none.
    pub(super) fn position(&self, column: &str) -> usize {
        let column = tidy(column);
        let at = self.names.iter().position(|name| *name == column).or_else(|| self.one_of_alike(&column));
        at.unwrap_or(usize::MAX)
    }

    /// `Flag (2)`: the second of the columns called `Flag`, where there are several.
    fn one_of_alike(&self, column: &str) -> Option<usize> {
        let (name, number) = column.strip_suffix(')')?.rsplit_once(" (")?;
        let number: usize = number.parse().ok()?;
        let alike: Vec<usize> =
            self.names.iter().enumerate().filter(|(_, other)| *other == name).map(|(at, _)| at).collect();
        alike.get(number.checked_sub(1)?).copied().filter(|_| alike.len() > 1)
    }

    /// The wanted columns that it lacks.
    fn missing<'w>(&self, wanted: &'w [Wanted]) -> Vec<&'w Wanted> {
        wanted.iter().filter(|w| self.position(&w.column) == usize::MAX).collect()
    }
}

/// A column that the plan names, and the key that names it.
#[derive(Clone, Debug)]
pub(super) struct Wanted {
    /// Column name.
    pub(super) column: String,
    /// Plan key, such as `results[1].columns.well`.
    pub(super) key: String,
}

/// A name with single spaces, none around it.
fn tidy(name: &str) -> String {
    let words: Vec<&str> = name.trim_start_matches('\u{feff}').split_whitespace().collect();
    words.join(" ")
}

/// Finds the header in a file's start.
///
/// # Errors
/// An empty file, or one problem for each column that does not exist, with the ones that do and the nearest.
pub(super) fn find(start: &str, path: &Path, options: &TextOptions, wanted: &[Wanted]) -> Result<Header, Vec<Problem>> {
    if start.trim().is_empty() {
        return Err(vec![Problem::file(path, "file-empty", "the file is empty", "a table needs a header and rows")]);
    }
    let delimiters: Vec<u8> = options.delimiter.map_or(DELIMITERS.to_vec(), |d| vec![d]);
    let best = candidates(start, options.header_line)
        .flat_map(|(line, text)| delimiters.iter().map(move |d| Header { names: names(text, *d), line, delimiter: *d }))
        .map(|header| (header.missing(wanted).len(), header))
        .min_by_key(|(missing, header)| (*missing, std::cmp::Reverse(header.names.len().min(2)), header.line));
    match best {
        Some((0, header)) => no_doubles(header, path, wanted),
        Some((_, header)) => Err(absent(&header, path, wanted)),
        None => Err(vec![Problem::file(
            path,
            "header-missing",
            format!("there is nothing on line {}", options.header_line.unwrap_or(1)),
            "header_line is the line of the column names, counted from 1, within the first lines of the file",
        )]),
    }
}

/// Lines that may be the header: each with its number and the text that begins there.
fn candidates(start: &str, fixed: Option<u64>) -> impl Iterator<Item = (u64, &str)> {
    let mut at = 0;
    let lines = start.split_inclusive('\n').map(move |line| {
        let from = at;
        at += line.len();
        (line, start.get(from..).unwrap_or_default())
    });
    (1u64..)
        .zip(lines)
        .filter(move |(number, (line, _))| !line.trim().is_empty() && fixed.is_none_or(|f| f == *number))
        .map(|(number, (_, text))| (number, text))
        .take(SEARCHED)
}

/// The first record's cells.
fn names(text: &str, delimiter: u8) -> Vec<String> {
    let mut record = Record::default();
    Records::new(text, delimiter, 1).next(&mut record);
    record.cells().map(tidy).collect()
}

/// A problem for each wanted column that the header lacks.
pub(super) fn absent(header: &Header, path: &Path, wanted: &[Wanted]) -> Vec<Problem> {
    let listed = listed(&header.names);
    let missing = header.missing(wanted).into_iter().map(|w| {
        let near = nearest(&w.column, header.names.iter().map(String::as_str))
            .map(|n| format!("perhaps \"{n}\"; "))
            .unwrap_or_default();
        let found = format!("there is no column \"{}\"", w.column);
        let problem = Problem::file(path, "column-missing", found, format!("{near}the columns are: {listed}"));
        if header.line > 0 { problem.at(header.line) } else { problem }.under(w.key.clone())
    });
    missing.collect()
}

/// One problem in place of many where a file has none of the wanted columns: then not the columns are wrong, but how it is read.
pub(super) fn as_one(problems: Vec<Problem>, path: &Path, wanted: &[Wanted]) -> Vec<Problem> {
    let all = wanted.len() > 1
        && problems.len() == wanted.len()
        && problems.iter().all(|problem| problem.code == "column-missing");
    let Some(first) = problems.first().filter(|_| all) else { return problems };
    let there = first.wanted.split_once("the columns are: ").map_or("", |(_, there)| there);
    let named: Vec<String> = wanted.iter().map(|w| format!("\"{}\"", w.column)).collect();
    let found = format!("it has none of the columns that are looked for: {}", named.join(", "));
    let would_do =
        format!("the columns are: {there}; see whether delimiter, header_line, sheet or encoding should be said");
    let one_key = problems.iter().all(|problem| problem.key == first.key);
    let key = if one_key { &first.key } else { first.key.rsplit_once('.').map_or("", |(part, _)| part) };
    vec![Problem { line: first.line, ..Problem::file(path, "column-missing", found, would_do).under(key) }]
}

/// Names for a message: long ones cut, many of them counted.
fn listed(names: &[String]) -> String {
    const MOST: usize = 40;
    const LONGEST: usize = 60;
    let short = |name: &String| match name.char_indices().nth(LONGEST) {
        Some((at, _)) => format!("\"{}...\"", name.get(..at).unwrap_or_default()),
        None => format!("\"{name}\""),
    };
    let shown = names.iter().take(MOST).map(short).collect::<Vec<_>>().join(", ");
    let more = names.len().saturating_sub(MOST);
    if more > 0 { format!("{shown} and {more} more") } else { shown }
}

/// The header, if none of the wanted columns stands in it more than once.
pub(super) fn no_doubles(header: Header, path: &Path, wanted: &[Wanted]) -> Result<Header, Vec<Problem>> {
    let times = |column: &str| header.names.iter().filter(|name| **name == tidy(column)).count();
    let doubled: Vec<Problem> = wanted
        .iter()
        .filter(|w| times(&w.column) > 1)
        .map(|w| {
            let found = format!("the column \"{}\" stands more than once", w.column);
            let wanted = format!("write which one is meant, counted from the left: \"{} (1)\"", w.column);
            Problem::file(path, "column-doubled", found, wanted).at(header.line).under(w.key.clone())
        })
        .collect();
    if doubled.is_empty() { Ok(header) } else { Err(doubled) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wanted(columns: &[&str]) -> Vec<Wanted> {
        columns.iter().map(|c| Wanted { column: (*c).to_owned(), key: format!("results[1].columns.{c}") }).collect()
    }

    fn found(start: &str, columns: &[&str]) -> (u64, u8, usize) {
        let header = find(start, Path::new("x.csv"), &TextOptions::default(), &wanted(columns)).unwrap();
        (header.line, header.delimiter, header.position(columns[0]))
    }

    #[test]
    fn title_lines_stray_quotes_and_broken_headings_are_passed() {
        assert_eq!(found("Report, 2020\n\nSite,Result\nW,1\n", &["Result"]), (3, b',', 1));
        assert_eq!(found("\"Report of a lab\nSite;Result\nW;1\n", &["Result"]), (2, b';', 1));
        assert_eq!(found("Site\t\"Nitrate\r\n(mg/L)\"\tX\n1\t2\n", &["Nitrate (mg/L)", "X"]), (1, b'\t', 1));
    }

    #[test]
    fn one_of_several_alike_headings_is_named_by_its_number() {
        let start = "Site,As,Flag,Pb,Flag,Note (2)\nW,1,U,2,J,\n";
        assert_eq!(found(start, &["Flag (1)"]).2, 2);
        assert_eq!(found(start, &["Flag (2)"]).2, 4);
        assert_eq!(found(start, &["Note (2)"]).2, 5);
        for none in ["Flag", "Flag (0)", "Flag (3)", "Site (1)"] {
            assert!(find(start, Path::new("x.csv"), &TextOptions::default(), &wanted(&[none])).is_err(), "{none}");
        }
    }

    #[test]
    fn a_missing_column_is_told_with_the_nearest() {
        let told = find("Site,Resutl\n", Path::new("x.csv"), &TextOptions::default(), &wanted(&["Site", "Result"]))
            .unwrap_err();
        assert_eq!((told.len(), told[0].code, told[0].line), (1, "column-missing", Some(1)));
        assert!(told[0].wanted.starts_with("perhaps \"Resutl\""));
    }
}
