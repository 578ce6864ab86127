//! Parquet files, read a row group at a time with plain reads.
//!
//! Comes in: an open file. Goes out: what its columns are called, and frames of as many rows as are asked for. Can go wrong: a file
//! that is damaged, lies about itself, or is shortened meanwhile. It is read, and not mapped into memory, because a mapped file that
//! somebody shortens ends the program without a word. Decoding is left to polars, behind what is looked over here first (`footer`,
//! `pages`): it believes lengths that it reads. Whatever it still stumbles over is the file's fault.

mod footer;
mod group;
mod pages;
mod thrift;

pub(crate) use group::Group;

use crate::caught::caught;
use crate::disk::Input;
use polars::prelude::{ArrowSchema, PolarsError};
use polars_parquet::read::FileMetadata;
use polars_parquet::read::schema::parquet_to_arrow_schema;
use std::io::{ErrorKind, Read, SeekFrom};
use std::ops::Range;
use std::sync::Arc;

/// Why a Parquet file gives no rows.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Fault {
    /// It contradicts itself, or has something that is not read.
    #[error("{0}")]
    Damaged(String),
    /// The disk's words.
    #[error("{0}")]
    Unreadable(#[from] std::io::Error),
    /// It was longer when it was opened.
    #[error("it was shortened while the program ran")]
    Shortened,
}

impl From<PolarsError> for Fault {
    fn from(error: PolarsError) -> Fault {
        Fault::Damaged(error.to_string())
    }
}

/// What a file says of itself.
#[derive(Clone)]
pub(crate) struct Description {
    about: Arc<FileMetadata>,
    schema: Arc<ArrowSchema>,
}

/// A Parquet file that was opened.
pub(crate) struct ParquetFile {
    input: Box<dyn Input>,
    description: Description,
}

impl Description {
    /// The same file, opened once more, to be read on another thread.
    pub(crate) fn on(&self, input: Box<dyn Input>) -> ParquetFile {
        ParquetFile { input, description: self.clone() }
    }
}

impl ParquetFile {
    /// Reads what the file says of itself.
    ///
    /// # Errors
    /// A file that cannot be read, is no Parquet, or contradicts itself.
    pub(crate) fn open(mut input: Box<dyn Input>) -> Result<ParquetFile, Fault> {
        guarded(|| {
            let about = footer::read(&mut *input)?;
            let schema = parquet_to_arrow_schema(about.schema().fields());
            if schema.len() < about.schema().fields().len() {
                return Err(Fault::Damaged("two of its columns have the same name".to_owned()));
            }
            Ok(ParquetFile { input, description: Description { about: Arc::new(about), schema: Arc::new(schema) } })
        })
    }

    /// What it says of itself, to open it once more.
    pub(crate) fn description(&self) -> Description {
        self.description.clone()
    }

    /// What its columns are called, in their order.
    pub(crate) fn names(&self) -> Vec<String> {
        self.description.schema.iter_names().map(|name| name.to_string()).collect()
    }

    /// Rows of each row group.
    pub(crate) fn groups(&self) -> Vec<usize> {
        self.description.about.row_groups.iter().map(|group| group.num_rows()).collect()
    }

    /// Reads the columns of a row group, as they are packed; columns and groups count from 0.
    ///
    /// # Errors
    /// A file that cannot be read, was shortened, or is damaged there.
    pub(crate) fn group(&mut self, number: usize, columns: &[usize]) -> Result<Group, Fault> {
        let Description { about, schema } = &self.description;
        guarded(|| group::read(&mut *self.input, about, schema, number, columns))
    }
}

/// The bytes of a stretch, which were there when the file was opened.
fn read_at(input: &mut dyn Input, range: Range<u64>) -> Result<Vec<u8>, Fault> {
    let length = usize::try_from(range.end.saturating_sub(range.start)).unwrap_or(usize::MAX);
    let mut bytes = Vec::new();
    bytes.try_reserve_exact(length).map_err(|_| Fault::Unreadable(ErrorKind::OutOfMemory.into()))?;
    input.seek(SeekFrom::Start(range.start))?;
    input.take(length as u64).read_to_end(&mut bytes)?;
    if bytes.len() == length { Ok(bytes) } else { Err(Fault::Shortened) }
}

/// Runs a piece of work on a file, on this thread. The reader stops the program on some types of columns and some damage.
pub(crate) fn guarded<T>(work: impl FnOnce() -> Result<T, Fault>) -> Result<T, Fault> {
    let stopped = || Err(Fault::Damaged("it is damaged, or has a column of a type that is not read".to_owned()));
    caught(work).unwrap_or_else(stopped)
}
