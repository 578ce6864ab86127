//! Parquet becomes delimited text, one row group after another.
//!
//! A file larger than memory can be read, since a row group is held as it is packed, and unpacked a stretch of rows at a time. Every
//! column is written, not only the wanted ones, so that two rows that differ anywhere are not taken for the very same line. Cells of a
//! type that has no plain text are shown as the reader shows them, and are then set aside by name where a value is meant.

use super::header::{Header, Wanted, absent, no_doubles};
use super::lines::{Text, too_long};
use super::made::{DELIMITER, Made};
use crate::files::{BOMB_BYTES, BOMB_RATIO, Inputs, unreadable};
use crate::ids::Day;
use crate::parquet::{Fault, Group, ParquetFile, guarded};
use crate::plan::TextOptions;
use crate::problem::Problem;
use polars::prelude::{AnyValue, DataFrame};
use std::ops::Range;
use std::path::{Path, PathBuf};

/// The rows of a Parquet file.
pub(super) struct Parquet {
    path: PathBuf,
    decimal: Option<char>,
    file: ParquetFile,
    /// Bytes on disk.
    packed: u64,
    /// Bytes of text made so far, and a byte for each row; beyond `most` the file may be a bomb.
    given: u64,
    most: u64,
    columns: Vec<usize>,
    /// The row groups still to be read, and the row before the next one's first.
    ahead: Range<usize>,
    before: u64,
    group: Option<(Group, usize)>,
    stretch: Option<Stretch>,
}

/// Rows that are unpacked, and how far they have become text.
struct Stretch {
    frame: DataFrame,
    next: usize,
    /// Number of its first row, counted from 1.
    first: u64,
    /// Text that is no block yet; `None` once it was given out.
    made: Option<Made>,
}

impl Parquet {
    /// Opens a file that was read to its end before, and finds the wanted columns.
    ///
    /// # Errors
    /// A damaged file, or every column that it lacks.
    pub(super) fn open(
        inputs: &Inputs,
        path: &Path,
        packed: u64,
        options: &TextOptions,
        wanted: &[Wanted],
    ) -> Result<(Header, Parquet), Vec<Problem>> {
        let opened = inputs.open_again(path).map_err(Fault::from).and_then(ParquetFile::open);
        let file = opened.map_err(|fault| vec![told(path, &fault)])?;
        let names: Vec<String> = file.names().iter().map(|name| name.trim().to_owned()).collect();
        let columns = (0..names.len()).collect();
        let header = Header { names, line: 0, delimiter: DELIMITER };
        let missing = absent(&header, path, wanted);
        if !missing.is_empty() {
            return Err(missing);
        }
        let header = no_doubles(header, path, wanted)?;
        let ahead = 0..file.groups().len();
        let (path, decimal) = (path.to_path_buf(), options.decimal);
        let parquet = Parquet {
            path,
            decimal,
            file,
            packed,
            given: 0,
            most: BOMB_BYTES,
            columns,
            ahead,
            before: 0,
            group: None,
            stretch: None,
        };
        Ok((header, parquet))
    }

    /// The next block of text.
    ///
    /// # Errors
    /// A file that is damaged further down, or unpacks to a monster.
    pub(super) fn next_text(&mut self) -> Result<Option<Text>, Problem> {
        loop {
            if let Some(stretch) = &mut self.stretch {
                let text = stretch.next_text(&self.path)?;
                let Some(text) = text else {
                    self.given = self.given.saturating_add(stretch.frame.height() as u64);
                    self.stretch = None;
                    continue;
                };
                self.given = self.given.saturating_add(text.text.len() as u64);
                return if self.is_bomb() { Err(told(&self.path, &bomb())) } else { Ok(Some(text)) };
            }
            if !self.next_stretch().map_err(|fault| told(&self.path, &fault))? {
                return Ok(None);
            }
        }
    }

    /// Unpacks the next rows; false after the last.
    fn next_stretch(&mut self) -> Result<bool, Fault> {
        if self.is_bomb() {
            return Err(bomb());
        }
        let Some((group, next)) = &mut self.group else {
            let Some(number) = self.ahead.next() else { return Ok(false) };
            self.group = Some((self.file.group(number, &self.columns)?, 0));
            return Ok(true);
        };
        if *next >= group.rows() {
            self.before = self.before.saturating_add(group.rows() as u64);
            self.group = None;
            return Ok(true);
        }
        let rows = group.stretch(*next);
        let first = self.before.saturating_add(rows.start as u64).saturating_add(1);
        *next = rows.end;
        let frame = group.frame(rows)?;
        self.stretch = Some(Stretch { frame, next: 0, first, made: Some(Made::new(first, self.decimal)) });
        Ok(true)
    }

    fn is_bomb(&self) -> bool {
        self.given > self.most && self.given / BOMB_RATIO > self.packed
    }
}

impl Stretch {
    /// The next block of its rows; `None` after the last.
    fn next_text(&mut self, path: &Path) -> Result<Option<Text>, Problem> {
        let Some(made) = &mut self.made else { return Ok(None) };
        while self.next < self.frame.height() {
            let line = self.first.saturating_add(self.next as u64);
            guarded(|| write_row(&self.frame, self.next, line, made)).map_err(|fault| told(path, &fault))?;
            if made.row_is_too_long() {
                return Err(too_long(path, line));
            }
            self.next += 1;
            if let Some(text) = made.block() {
                return Ok(Some(text));
            }
        }
        Ok(self.made.take().and_then(Made::rest))
    }
}

/// Writes a row of a frame, whose number among all rows is `line`.
fn write_row(frame: &DataFrame, row: usize, line: u64, made: &mut Made) -> Result<(), Fault> {
    for (column, values) in (0u64..).zip(frame.columns()) {
        let text = cell(&values.get(row)?, made);
        if !text.is_empty() {
            let order = |_| Fault::Damaged("its rows are out of order".to_owned());
            made.row(line).and_then(|()| made.cell(column, &text)).map_err(order)?;
        }
    }
    Ok(())
}

fn cell(value: &AnyValue<'_>, made: &Made) -> String {
    match value {
        AnyValue::Null => String::new(),
        AnyValue::String(text) => (*text).to_owned(),
        AnyValue::StringOwned(text) => text.to_string(),
        AnyValue::Float32(number) => made.number(number.to_string()),
        AnyValue::Float64(number) => made.number(number.to_string()),
        AnyValue::Date(day) => Day(*day).to_string(),
        other => other.to_string().trim_matches('"').to_owned(),
    }
}

fn bomb() -> Fault {
    Fault::Damaged(format!(
        "it unpacks to more than {BOMB_RATIO} times its size and more than {} GiB",
        BOMB_BYTES >> 30
    ))
}

/// What went wrong, as its reader is told.
fn told(path: &Path, fault: &Fault) -> Problem {
    match fault {
        Fault::Unreadable(error) => unreadable(path, error),
        Fault::Shortened => {
            Problem::file(path, "file-changed", fault.to_string(), "run again when nobody writes to it")
        }
        Fault::Damaged(found) => {
            let wanted = "write it again, with plain columns of texts, numbers and dates, or save it as CSV in UTF-8";
            Problem::file(path, "parquet-damaged", format!("cannot be read as Parquet: {found}"), wanted)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use polars::prelude::{Column, ParquetWriter};

    /// A file of so many rows that are all the same, in row groups of 100,000, and how many bytes it has.
    fn written(rows: usize) -> (tempfile::TempDir, PathBuf, u64) {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("lab.parquet");
        let column = |name: &str| Column::new(name.into(), vec!["a text that is always the same"; rows]);
        let mut frame = DataFrame::new(rows, vec![column("well"), column("value")]).unwrap();
        let file = std::fs::File::create(&path).unwrap();
        ParquetWriter::new(file).with_row_group_size(Some(100_000)).finish(&mut frame).unwrap();
        let bytes = std::fs::metadata(&path).unwrap().len();
        (home, path, bytes)
    }

    fn open(path: &Path, bytes: u64) -> Parquet {
        let wanted = [Wanted { column: "well".to_owned(), key: String::new() }];
        let opened = Parquet::open(&Inputs::default(), path, bytes, &TextOptions::default(), &wanted);
        opened.unwrap_or_else(|problems| panic!("{problems:?}")).1
    }

    #[test]
    fn rows_come_in_blocks_with_their_numbers() {
        let (_home, path, bytes) = written(300_000);
        let mut parquet = open(&path, bytes);
        let mut line = 1;
        while let Some(text) = parquet.next_text().unwrap() {
            assert_eq!(text.first_line, line);
            assert!(text.text.len() < 2 * super::super::made::BLOCK);
            line += text.text.lines().count() as u64;
        }
        assert_eq!(line, 300_001);
    }

    #[test]
    fn a_file_that_unpacks_to_a_monster_is_refused() {
        let (_home, path, bytes) = written(300_000);
        let mut parquet = Parquet { most: 10_000_000, ..open(&path, bytes) };
        let mut last = parquet.next_text();
        while let Ok(Some(_)) = last {
            last = parquet.next_text();
        }
        let told = last.unwrap_err();
        assert_eq!(told.code, "parquet-damaged");
        assert!(told.found.contains("more than 100 times its size"), "{}", told.found);
    }

    #[test]
    fn a_file_that_is_shortened_while_it_is_read_is_told() {
        let (_home, path, bytes) = written(300_000);
        let mut parquet = open(&path, bytes);
        assert!(parquet.next_text().unwrap().is_some());
        std::fs::File::options().write(true).open(&path).unwrap().set_len(bytes / 3).unwrap();
        let mut last = parquet.next_text();
        while let Ok(Some(_)) = last {
            last = parquet.next_text();
        }
        let told = last.unwrap_err();
        assert_eq!((told.code, &*told.found), ("file-changed", "it was shortened while the program ran"));
    }
}
