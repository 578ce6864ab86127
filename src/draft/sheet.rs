//! The start of a text table becomes a grid: titles, header, rows.
//!
//! Only a sample is looked at, since a draft is a guess in any case. The header is the line that most looks like one:
//! many cells, few numbers, known heading words; what stands above it is kept, because titles name datums and kits.

use super::columns::{Scales, is_number};
use super::dates;
use crate::files::{Inputs, unreadable};
use crate::intake::SAMPLE_DELIMITER;
use crate::problem::Problem;
use std::collections::BTreeSet;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Bytes that are looked at.
const LOOKED_AT: u64 = 4 << 20;
/// Lines that are searched for a header.
const SEARCHED: usize = 40;
/// Delimiters that are tried, in this order.
const DELIMITERS: [u8; 5] = [b',', b'\t', b';', b'|', SAMPLE_DELIMITER];

/// Whether the whole file was looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Extent {
    /// It was.
    Whole,
    /// Only its start.
    Start,
}

/// The start of a table.
#[derive(Clone, Debug)]
pub(super) struct Sheet {
    /// The files it stands for: those with this very header.
    pub paths: Vec<PathBuf>,
    /// The workbook's sheet it is, where there are several.
    pub name: Option<String>,
    /// The lines above the header.
    pub titles: String,
    /// Column names, trimmed.
    pub names: Vec<String>,
    /// Rows under the header, cells trimmed, lines without text left out.
    pub rows: Vec<Vec<String>>,
    /// Whether all of the file was looked at.
    pub extent: Extent,
}

/// The text of a file's start, and whether that is all of it.
///
/// # Errors
/// A file that cannot be read, or has nothing in it.
pub(super) fn text(inputs: &Inputs, path: &Path) -> Result<(String, Extent), Problem> {
    let mut bytes = Vec::new();
    inputs.open(path)?.take(LOOKED_AT).read_to_end(&mut bytes).map_err(|e| unreadable(path, &e))?;
    let extent = if (bytes.len() as u64) < LOOKED_AT { Extent::Whole } else { Extent::Start };
    let text = decoded(&bytes);
    if text.trim().is_empty() {
        return Err(Problem::file(path, "file-empty", "the file is empty", "leave it out"));
    }
    let whole_lines = text.rfind('\n').filter(|_| extent == Extent::Start).and_then(|end| text.get(..end));
    Ok((whole_lines.unwrap_or(&text).to_owned(), extent))
}

/// By the byte-order mark, else UTF-8, else Windows-1252.
fn decoded(bytes: &[u8]) -> String {
    if let Some((encoding, mark)) = encoding_rs::Encoding::for_bom(bytes) {
        return encoding.decode_without_bom_handling(bytes.get(mark..).unwrap_or_default()).0.into_owned();
    }
    let cut = match std::str::from_utf8(bytes) {
        Err(error) if error.error_len().is_none() => error.valid_up_to(),
        _ => bytes.len(),
    };
    match std::str::from_utf8(bytes.get(..cut).unwrap_or_default()) {
        Ok(text) => text.to_owned(),
        Err(_) => encoding_rs::WINDOWS_1252.decode_without_bom_handling(bytes).0.into_owned(),
    }
}

/// The grid in a text; `None` where no line can be a header with rows under it.
pub(super) fn read(path: &Path, text: &str, extent: Extent, knows: &Knows<'_>) -> Option<Sheet> {
    let grids = DELIMITERS.iter().map(|delimiter| grid(text, *delimiter));
    let best = grids.max_by_key(|grid| steadiness(grid))?;
    let width = usual_width(&best);
    let header = (0..best.len().min(SEARCHED))
        .filter(|at| best.get(*at).is_some_and(|line| could_be_header(line, width)))
        .max_by_key(|at| (best.get(*at).map_or(0, |line| likeness(line, width, knows)), std::cmp::Reverse(*at)))?;
    let mut lines = best.into_iter();
    let titles: Vec<String> = lines.by_ref().take(header).map(|line| line.join(" ")).collect();
    let names = lines.next()?;
    let rows: Vec<Vec<String>> = lines.collect();
    let paths = vec![path.to_path_buf()];
    (!rows.is_empty()).then(|| Sheet { paths, name: None, titles: titles.join("\n"), names, rows, extent })
}

fn grid(text: &str, delimiter: u8) -> Vec<Vec<String>> {
    let mut reader =
        csv::ReaderBuilder::new().has_headers(false).flexible(true).delimiter(delimiter).from_reader(text.as_bytes());
    let lines = reader.records().filter_map(Result::ok);
    lines
        .map(|line| line.iter().map(|cell| cell.trim().to_owned()).collect::<Vec<_>>())
        .filter(|line| line.iter().any(|cell| !cell.is_empty()))
        .collect()
}

fn usual_width(grid: &[Vec<String>]) -> usize {
    let mut counts = std::collections::BTreeMap::new();
    for line in grid {
        *counts.entry(line.len()).or_insert(0u64) += 1;
    }
    counts.into_iter().max_by_key(|(width, count)| (*count, *width)).map_or(0, |(width, _)| width)
}

/// How many lines have the usual width, if that is more than one cell; then how wide they are.
fn steadiness(grid: &[Vec<String>]) -> (usize, usize) {
    let width = usual_width(grid);
    if width < 2 {
        return (0, 0);
    }
    // Short lines at the top are titles; long or short ones further down speak against a delimiter.
    (grid.iter().filter(|line| line.len() == width).count() * 100 / grid.len().max(1) / 10, width)
}

fn could_be_header(line: &[String], width: usize) -> bool {
    let filled: Vec<&String> = line.iter().filter(|cell| !cell.is_empty()).collect();
    let numbers =
        filled.iter().filter(|cell| cell.chars().next().is_some_and(|c| c.is_ascii_digit() || "<>-.".contains(c)));
    filled.len() >= 2 && filled.len() * 10 >= width * 6 && numbers.count() * 5 <= filled.len()
}

/// How much a line is like a header: known headings, no cell empty, none a number or date.
fn likeness(line: &[String], width: usize, knows: &Knows<'_>) -> usize {
    let whole = line.len() == width && line.iter().all(|cell| !cell.is_empty());
    let plain = !line.iter().any(|cell| is_number(cell) || dates::is_date(cell));
    2 * knows.count(line) + 4 * usize::from(whole) + 4 * usize::from(plain)
}

/// What a heading may be recognised by.
pub(super) struct Knows<'d> {
    /// Names of analytes, heading words.
    pub scales: &'d Scales<'d>,
    /// Elements of the standards.
    pub elements: BTreeSet<String>,
}

impl<'d> Knows<'d> {
    /// Everything that is known of headings.
    pub(super) fn new(scales: &'d Scales<'d>) -> Knows<'d> {
        Knows { scales, elements: crate::plan::elements() }
    }

    /// How many cells of a line are known as headings.
    fn count(&self, line: &[String]) -> usize {
        line.iter().filter(|cell| self.knows(cell)).count()
    }

    fn knows(&self, cell: &str) -> bool {
        let known = |cell: &str| self.scales.headings.is_exact(cell) || self.elements.contains(cell);
        !cell.is_empty() && (known(cell) || super::wide::names_analyte(self.scales, cell))
    }
}

/// Puts the files with one header together, so that one part of the plan reads them all.
pub(super) fn together(sheets: Vec<Sheet>) -> Vec<Sheet> {
    let mut groups: Vec<Sheet> = Vec::new();
    for sheet in sheets {
        match groups.iter_mut().find(|group| group.names == sheet.names && group.name == sheet.name) {
            Some(group) => {
                group.paths.extend(sheet.paths);
                group.rows.extend(sheet.rows);
                group.titles = format!("{}\n{}", group.titles, sheet.titles);
                if sheet.extent == Extent::Start {
                    group.extent = Extent::Start;
                }
            }
            None => groups.push(sheet),
        }
    }
    groups
}
