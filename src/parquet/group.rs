//! One row group: its columns' bytes, held as they are packed, and frames made of them stretch by stretch.

use super::{Fault, guarded, pages, read_at};
use crate::disk::Input;
use polars::prelude::{ArrowField, ArrowSchema, Column, DataFrame, PolarsResult, Series};
use polars_buffer::Buffer;
use polars_parquet::read::{
    BasicDecompressor, ColumnChunkMetadata, FileMetadata, Filter, PageReader, RowGroupMetadata, column_iter_to_arrays,
};
use rayon::prelude::*;
use std::io::Cursor;
use std::ops::Range;

/// Rows that are unpacked at a time at most.
const MOST_ROWS: usize = 1 << 18;
/// Bytes that texts of pages where each may be as long as the page can take at most.
const ROOM: u64 = 1 << 30;

/// A row group, read and not yet unpacked.
pub(crate) struct Group {
    about: RowGroupMetadata,
    columns: Vec<Packed>,
    most_rows: usize,
}

/// A column as it is packed: several stretches of bytes where columns lie in it.
struct Packed {
    field: ArrowField,
    chunks: Vec<Buffer<u8>>,
}

/// See `ParquetFile::group`.
pub(super) fn read(
    input: &mut dyn Input,
    about: &FileMetadata,
    schema: &ArrowSchema,
    number: usize,
    columns: &[usize],
) -> Result<Group, Fault> {
    let missing = || Fault::Damaged(format!("it has no row group {number}, or lacks a column there"));
    let about = about.row_groups.get(number).ok_or_else(missing)?;
    let (mut packed, mut alike) = (Vec::new(), 0);
    for &column in columns {
        let (name, field) = schema.get_at_index(column).ok_or_else(missing)?;
        let mut chunks = Vec::new();
        for chunk in about.columns_under_root_iter(name).ok_or_else(missing)? {
            let bytes = read_at(input, chunk.byte_range())?;
            let in_lists = chunk.descriptor().descriptor.max_rep_level > 0;
            let rows = (!in_lists).then_some(about.num_rows());
            alike = alike.max(pages::look_over(&bytes, chunk.num_values(), rows)?.alike);
            chunks.push(Buffer::from_vec(bytes));
        }
        packed.push(Packed { field: field.clone(), chunks });
    }
    let fitting = usize::try_from(ROOM.checked_div(alike).unwrap_or(u64::MAX)).unwrap_or(usize::MAX);
    Ok(Group { about: about.clone(), columns: packed, most_rows: fitting.clamp(1, MOST_ROWS) })
}

impl Group {
    /// Its rows.
    pub(crate) fn rows(&self) -> usize {
        self.about.num_rows()
    }

    /// Stretches of its rows that fit into memory once they are unpacked, the first at `from`.
    pub(crate) fn stretch(&self, from: usize) -> Range<usize> {
        from..from.saturating_add(self.most_rows).min(self.rows())
    }

    /// Unpacks a stretch of its rows, each column on a thread.
    ///
    /// # Errors
    /// A damaged file.
    pub(crate) fn frame(&self, rows: Range<usize>) -> Result<DataFrame, Fault> {
        let unpacked = |column: &Packed| guarded(|| Ok(self.unpacked(column, &rows)?));
        let columns: Result<Vec<Column>, Fault> = self.columns.par_iter().map(unpacked).collect();
        Ok(DataFrame::new(rows.len(), columns?)?)
    }

    fn unpacked(&self, column: &Packed, rows: &Range<usize>) -> PolarsResult<Column> {
        let about: Vec<&ColumnChunkMetadata> =
            self.about.columns_under_root_iter(&column.field.name).into_iter().flatten().collect();
        let pages = about.iter().zip(&column.chunks).map(|(about, bytes)| {
            let pages = PageReader::new(Cursor::new(bytes.clone()), about, Vec::new(), bytes.len());
            BasicDecompressor::new(pages, Vec::new())
        });
        let types = about.iter().map(|about| &about.descriptor().descriptor.primitive_type);
        let wanted = Filter::new_ranged(rows.start, rows.end);
        let (arrays, _) = column_iter_to_arrays(pages.collect(), types.collect(), column.field.clone(), Some(wanted))?;
        Ok(Series::try_from((&column.field, arrays))?.into())
    }
}
