//! What a Parquet file says of itself, at its end: read, and held against what such a file can be, before it is believed.
//!
//! Types come from the file's own schema. The copy of it that some programs put beside it (`ARROW:schema`) is passed over: it is a
//! second description, in an encoding whose parts may point at each other, and nothing here needs it.
//!
//! Source: Apache Parquet's parquet.thrift and README (from memory).

use super::thrift::{Field, Kind, Walk};
use super::{Fault, read_at};
use crate::disk::Input;
use polars_parquet::read::FileMetadata;
use std::io::{Cursor, SeekFrom};

const MAGIC: &[u8; 4] = b"PAR1";
/// Length and magic number, behind the description.
const TAIL: u64 = 8;
/// Bytes of the longest description that is believed. Row groups take about 100 bytes a column.
const LONGEST: u64 = 64 << 20;
/// Columns in columns.
const DEEPEST: usize = 32;
/// Bytes of a column of texts of one length. Decimal numbers and identifiers have 16; each empty cell takes as many as a full one.
const LONGEST_FIXED: i64 = 256;

/// Reads a file's description.
///
/// # Errors
/// A file that cannot be read, is no Parquet, or whose description contradicts itself.
pub(super) fn read(input: &mut dyn Input) -> Result<FileMetadata, Fault> {
    let length = input.seek(SeekFrom::End(0))?;
    let start = length.checked_sub(TAIL).ok_or_else(|| damaged("it is too short"))?;
    let tail = read_at(input, start..length)?;
    let (described, magic) = tail.split_first_chunk::<4>().ok_or_else(|| damaged("it is too short"))?;
    if magic != MAGIC {
        return Err(damaged("it does not end as Parquet does"));
    }
    let described = u64::from(u32::from_le_bytes(*described));
    if described > LONGEST {
        return Err(damaged(&format!("its description takes more than {} MiB", LONGEST >> 20)));
    }
    let begin = start.checked_sub(described).ok_or_else(|| damaged("its description is longer than the file"))?;
    let bytes = read_at(input, begin..length)?;
    let text = bytes.len().checked_sub(TAIL as usize).and_then(|end| bytes.get(..end)).unwrap_or_default();
    look_over(text)?;
    // The reader finds its way from the end, so the head alone must be there.
    let mut whole = Cursor::new([MAGIC.as_slice(), &bytes].concat());
    let mut about = polars_parquet::read::read_metadata(&mut whole)?;
    about.key_value_metadata = None;
    within(&about, begin)?;
    Ok(about)
}

fn damaged(found: &str) -> Fault {
    Fault::Damaged(found.to_owned())
}

/// Every stretch of bytes of a column lies before the description.
fn within(about: &FileMetadata, end: u64) -> Result<(), Fault> {
    let mut ranges = about.row_groups.iter().flat_map(|group| group.byte_ranges_iter());
    match ranges.any(|range| range.end > end) {
        true => Err(damaged("a column ends behind the end of the file")),
        false => Ok(()),
    }
}

/// Whether the description is as long, and as deep, as it says.
fn look_over(text: &[u8]) -> Result<(), Fault> {
    const SCHEMA: i64 = 2;
    let mut columns = None;
    let mut walk = Walk::new(text);
    let whole = walk.fields(&mut |id, kind, walk| {
        if id != SCHEMA || kind != Kind::List {
            return Some(Field::PassOver);
        }
        columns = Some(schema(walk)?);
        Some(Field::Read)
    });
    let columns = whole.and(columns).ok_or_else(|| damaged("its description makes no sense"))?;
    if columns.iter().any(|column| column.length > LONGEST_FIXED) {
        return Err(damaged(&format!("a column of texts of one length has more than {LONGEST_FIXED} bytes each")));
    }
    match deepest(&columns) {
        Some(depth) if depth <= DEEPEST => Ok(()),
        Some(_) => Err(damaged(&format!("it has columns in columns, more than {DEEPEST} deep"))),
        None => Err(damaged("its columns are fewer than it says")),
    }
}

/// What matters of a column, or of a group of columns.
#[derive(Default)]
struct Column {
    /// Bytes of each text, where all have the same.
    length: i64,
    /// Columns in it, which come next.
    inner: i64,
}

fn schema(walk: &mut Walk<'_>) -> Option<Vec<Column>> {
    const LENGTH: i64 = 2;
    const INNER: i64 = 5;
    let (count, kind) = walk.list()?;
    let mut columns = Vec::new();
    for _ in 0..count {
        let mut column = Column::default();
        let fields = walk.fields(&mut |id, kind, walk| {
            match (id, kind) {
                (LENGTH, Kind::Number) => column.length = walk.number()?,
                (INNER, Kind::Number) => column.inner = walk.number()?,
                _ => return Some(Field::PassOver),
            }
            Some(Field::Read)
        })?;
        if kind != Kind::Struct || fields == 0 {
            return None;
        }
        columns.push(column);
    }
    Some(columns)
}

/// How deep columns lie in columns; `None` where some are missing or too many.
fn deepest(columns: &[Column]) -> Option<usize> {
    // Columns still to come, of each group that is open.
    let mut open: Vec<i64> = vec![1];
    let mut deepest = 0;
    for column in columns {
        while open.last() == Some(&0) {
            open.pop();
        }
        *open.last_mut()? -= 1;
        if column.inner > 0 {
            open.push(column.inner);
        }
        deepest = deepest.max(open.len());
    }
    open.iter().all(|still| *still == 0).then_some(deepest)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn depth(inner: &[i64]) -> Option<usize> {
        deepest(&inner.iter().map(|&inner| Column { length: 0, inner }).collect::<Vec<_>>())
    }

    #[test]
    fn columns_in_columns_are_counted() {
        assert_eq!(depth(&[3, 0, 0, 0]), Some(2));
        assert_eq!(depth(&[2, 1, 1, 0, 0]), Some(4));
        assert_eq!(depth(&[2, 0]), None, "one is missing");
        assert_eq!(depth(&[1, 0, 0]), None, "one too many");
        assert_eq!(depth(&[i64::MAX, 0]), None);
        assert_eq!(depth(&vec![1; 100_000]), None);
    }
}
