//! The start of a workbook's sheet or of a Parquet file becomes delimited text, for somebody who does not know its
//! columns yet.
//!
//! Nothing is wanted of it, so that the first sheet with cells is taken and any header will do.

use super::made::DELIMITER;
use super::open::{Extent, Rows, open};
use crate::files::Inputs;
use crate::plan::TextOptions;
use crate::problem::Problems;
use std::path::Path;

/// Delimiter of a sample's cells.
pub const SAMPLE_DELIMITER: u8 = DELIMITER;

/// The first block of a file that is no text, its heading first; `None` for text and JSON lines.
///
/// # Errors
/// A file that cannot be read, or is no table.
pub fn sample(inputs: &Inputs, path: &Path) -> Result<Option<String>, Problems> {
    let opened = open(inputs, path, &TextOptions::default(), &[], Extent::Whole).map_err(Problems)?;
    let mut rows = opened.rows;
    if matches!(rows, Rows::Text(_) | Rows::Json(_)) {
        return Ok(None);
    }
    let text = rows.next_text()?.map(|block| block.text).unwrap_or_default();
    let heading = match rows {
        Rows::Parquet(_) => opened.header.names.join(&char::from(DELIMITER).to_string()) + "\n",
        Rows::Text(_) | Rows::Json(_) | Rows::Sheet(_) => String::new(),
    };
    Ok(Some(heading + &text))
}
