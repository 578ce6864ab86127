//! Laboratory files become a stream of text blocks with known columns, file and line.
//!
//! Comes in: the plan and its files: delimited text, workbooks, Parquet, JSON lines. Goes out: `RawBlock`s in file
//! order, each a few megabytes of whole lines that can be split into cells on any thread. Can go wrong: a file that cannot be read, has no rows, or lacks
//! a column the plan names. A file may be rejected here, a row never.

mod block;
mod columns;
mod encoding;
mod header;
mod json_lines;
mod kind;
mod lines;
mod made;
mod old_workbook;
mod open;
mod open_document;
mod parquet;
mod points;
mod ragged;
mod sample;
mod split;
mod stream;
mod workbook;
mod zip_size;

pub use block::{RawBlock, RawCell, RawLine, SourceFile};
pub use columns::{Columns, WideCell};
pub use points::{Record, TableFile, read_table};
pub use sample::{SAMPLE_DELIMITER, Sample, sample};
pub use stream::{Intake, open};
