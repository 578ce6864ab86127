//! A Parquet file that is written row group by row group.

use super::super::Stage;
use super::super::stage::{Digested, Failed};
use super::{Group, Layout, OPTIONS};
use crate::problem::Problem;
use polars::prelude::{PolarsError, PolarsResult};
use polars_parquet::read::fallible_streaming_iterator;
use polars_parquet::write::{DynIter, DynStreamingIterator, FileWriter, KeyValue, schema_to_metadata_key};

/// A file of the output folder.
pub(in super::super) struct ColumnFile<'s> {
    stage: &'s Stage,
    name: String,
    writer: FileWriter<Digested>,
    /// The writer wraps what the disk says in words of its own.
    failed: Failed,
    about: Vec<KeyValue>,
    rows: u64,
}

impl<'s> ColumnFile<'s> {
    /// Begins it; `about` are the pairs of key and value at its end.
    ///
    /// # Errors
    /// A folder that cannot be written; of the others too.
    pub(in super::super) fn new(
        stage: &'s Stage,
        name: &str,
        layout: &Layout,
        about: Vec<(String, String)>,
    ) -> Result<ColumnFile<'s>, Problem> {
        let out = stage.create(name)?;
        let failed = out.failed();
        let writer = FileWriter::try_new(out, layout.schema.clone(), OPTIONS)
            .map_err(|error| stage.unwritable(name, &failed.or(error)))?;
        let pairs = about.into_iter().map(|(key, value)| KeyValue { key, value: Some(value) });
        let about = std::iter::once(schema_to_metadata_key(&layout.schema)).chain(pairs).collect();
        Ok(ColumnFile { stage, name: name.to_owned(), writer, failed, about, rows: 0 })
    }

    /// Writes a row group, or tells what was wrong in making it. One without rows is left out.
    pub(in super::super) fn put(&mut self, group: PolarsResult<Group>) -> Result<(), Problem> {
        let group = group.map_err(|error| self.fault(error))?;
        if group.rows == 0 {
            return Ok(());
        }
        let rows = group.rows as u64;
        self.rows += rows;
        let columns = group.columns.iter().map(|pages| {
            let pages = fallible_streaming_iterator::convert(pages.iter().map(PolarsResult::Ok));
            Ok(DynStreamingIterator::new(pages))
        });
        self.writer.write(rows, DynIter::new(columns)).map_err(|error| self.fault(error))
    }

    /// Ends it.
    pub(in super::super) fn keep(mut self) -> Result<(), Problem> {
        let about = std::mem::take(&mut self.about);
        self.writer.end(Some(about)).map_err(|error| self.fault(error))?;
        self.stage.keep(&self.name, self.writer.into_inner(), Some(self.rows))
    }

    fn fault(&self, error: PolarsError) -> Problem {
        self.stage.unwritable(&self.name, &self.failed.or(error))
    }
}
