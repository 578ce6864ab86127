//! The start of a workbook's sheet or of a Parquet file becomes delimited text, for somebody who does not know its
//! columns yet.
//!
//! Nothing is wanted of it, so that any header will do. Of several sheets the one with the most rows is taken: the
//! others are mostly notes, legends and empty forms.

use super::kind::Kind;
use super::made::DELIMITER;
use super::open::{Extent, Rows, open};
use super::workbook;
use crate::files::{Inputs, unreadable};
use crate::plan::TextOptions;
use crate::problem::Problems;
use std::io::Read;
use std::path::Path;

/// Delimiter of a sample's cells.
pub const SAMPLE_DELIMITER: u8 = DELIMITER;

/// The start of a table that is no text.
#[derive(Debug)]
pub struct Sample {
    /// Its first block, the heading first.
    pub text: String,
    /// The sheet it was taken from, where there is more than one.
    pub sheet: Option<String>,
}

/// The first block of a file that is no text; `None` for text and JSON lines.
///
/// # Errors
/// A file that cannot be read, or is no table.
pub fn sample(inputs: &Inputs, path: &Path) -> Result<Option<Sample>, Problems> {
    let names = sheets(inputs, path)?;
    if names.len() < 2 {
        return one(inputs, path, None);
    }
    let mut best: Option<(usize, Sample)> = None;
    for name in names {
        let Ok(Some(found)) = one(inputs, path, Some(name)) else { continue };
        let rows = found.text.lines().filter(|line| !line.is_empty()).count();
        if best.as_ref().is_none_or(|(most, _)| rows > *most) {
            best = Some((rows, found));
        }
    }
    match best {
        Some((_, found)) => Ok(Some(found)),
        None => one(inputs, path, None),
    }
}

/// The sheets of a workbook; none of another file.
fn sheets(inputs: &Inputs, path: &Path) -> Result<Vec<String>, Problems> {
    let mut bytes = Vec::new();
    let mut reader = inputs.open(path)?.take(workbook::LARGEST as u64);
    reader.read_to_end(&mut bytes).map_err(|e| unreadable(path, &e))?;
    match Kind::of(&bytes) {
        kind @ (Kind::ZipWorkbook | Kind::OldWorkbook) => Ok(workbook::sheet_names(&bytes, kind)),
        Kind::Empty | Kind::Text | Kind::Parquet | Kind::JsonLines | Kind::Other(_) => Ok(Vec::new()),
    }
}

fn one(inputs: &Inputs, path: &Path, sheet: Option<String>) -> Result<Option<Sample>, Problems> {
    let options = TextOptions { sheet: sheet.clone(), ..TextOptions::default() };
    let opened = open(inputs, path, &options, &[], Extent::Whole).map_err(Problems)?;
    let mut rows = opened.rows;
    if matches!(rows, Rows::Text(_) | Rows::Json(_)) {
        return Ok(None);
    }
    let text = rows.next_text()?.map(|block| block.text).unwrap_or_default();
    let heading = match rows {
        Rows::Parquet(_) => opened.header.names.join(&char::from(DELIMITER).to_string()) + "\n",
        Rows::Text(_) | Rows::Json(_) | Rows::Sheet(_) => String::new(),
    };
    Ok(Some(Sample { text: heading + &text, sheet }))
}
