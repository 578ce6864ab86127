//! A sheet of an OpenDocument workbook (ods) is looked over before its reader opens it: how many cells it makes of what stands there.
//!
//! A cell, a row or a blank may say of itself that it is repeated (OpenDocument 1.3, part 3, 19.675, 19.679 and 19.763; from memory), and the
//! reader writes all of them out, so that some kilobytes would fill the memory. Only tags are looked at, without knowing XML: what
//! stands in comments counts too.

use super::lines::LONGEST_RECORD;
use super::zip_size;
use std::io::{BufRead, BufReader, Read};

/// Cells that all sheets together may span.
const MOST_CELLS: u64 = 1 << 25;
/// Bytes that repeating may add.
const MOST_REPEATED: u64 = 1 << 28;
/// Rows and columns beyond which the reader repeats no more.
const MOST_ROWS: u64 = 1 << 20;
const MOST_COLUMNS: u64 = 1 << 14;

/// Looks a workbook over.
///
/// # Errors
/// What is wrong with it, in words.
pub(super) fn look(bytes: &[u8]) -> Result<(), String> {
    zip_size::contents(bytes, b"content.xml").into_iter().try_for_each(|content| Tally::default().read(content))
}

/// What was counted up to some place.
#[derive(Default)]
struct Tally {
    /// Cells of the rows as they stand.
    cells: u64,
    /// Cells of the rectangles of the tables before this one.
    before: u64,
    /// Bytes that repeating adds.
    repeated: u64,
    /// Rows of the table up to here, up to the last with something in it, and columns of its widest.
    rows: u64,
    used_rows: u64,
    widest: u64,
    row: Row,
}

/// The row that is open.
#[derive(Default)]
struct Row {
    repeats: u64,
    /// Columns before the cell that was met last, and those of that one.
    before: u64,
    columns: u64,
    /// Whether that one has something in it, and how many bytes.
    filled: bool,
    bytes: u64,
    /// Columns up to the last one with something in it.
    used: u64,
}

impl Tally {
    fn read(mut self, content: impl Read) -> Result<(), String> {
        let mut reader = BufReader::with_capacity(1 << 16, content);
        let mut piece = Vec::new();
        while next_tag(&mut reader, &mut piece)? {
            let tag = memchr::memchr(b'<', &piece).and_then(|at| piece.get(at..)).unwrap_or_default();
            self.row.bytes += piece.len() as u64;
            self.take(tag);
            let spanned = self.before.saturating_add(self.used_rows * self.widest);
            if self.cells.max(spanned) > MOST_CELLS || self.repeated > MOST_REPEATED {
                return Err("its cells are repeated beyond measure".to_owned());
            }
        }
        Ok(())
    }

    fn take(&mut self, tag: &[u8]) {
        match name(tag) {
            b"table:table-row" => {
                let repeats = repeats(tag, b"number-rows-repeated").min(MOST_ROWS);
                self.rows = (self.rows + repeats).min(MOST_ROWS);
                self.row = Row { repeats, ..Row::default() };
            }
            b"table:table-cell" | b"table:covered-table-cell" => {
                self.cell_ends();
                let (before, used) = (self.row.before + self.row.columns, self.row.used);
                let columns = repeats(tag, b"number-columns-repeated").min(MOST_COLUMNS.saturating_sub(before));
                let holds = |word| memchr::memmem::find(tag, word).is_some();
                let filled = !tag.ends_with(b"/>") || holds(b"office:") || holds(b"table:formula");
                let used = if filled { before + columns } else { used };
                self.row = Row { repeats: self.row.repeats, before, columns, filled, bytes: tag.len() as u64, used };
            }
            b"text:s" => {
                let blanks = repeats(tag, b"text:c") - 1;
                self.row.bytes = self.row.bytes.saturating_add(blanks);
                self.repeated = self.repeated.saturating_add(blanks);
            }
            b"/table:table-row" => self.row_ends(),
            b"/table:table" => {
                self.before = self.before.saturating_add(self.used_rows * self.widest);
                (self.rows, self.used_rows, self.widest) = (0, 0, 0);
            }
            _ => {}
        }
    }

    /// Counts what repeating the cell adds.
    fn cell_ends(&mut self) {
        let times = self.row.columns.saturating_mul(self.row.repeats).saturating_sub(1);
        if self.row.filled {
            self.repeated = self.repeated.saturating_add(self.row.bytes.saturating_mul(times));
        }
    }

    /// Counts the row's cells. Empty ones at its end cost nothing.
    fn row_ends(&mut self) {
        self.cell_ends();
        self.cells += self.row.before.max(self.row.used);
        if self.row.used > 0 {
            self.used_rows = self.rows;
            self.widest = self.widest.max(self.row.used);
        }
        self.row = Row::default();
    }
}

/// Reads as far as the end of the next tag; false where there is none.
fn next_tag(reader: &mut impl BufRead, piece: &mut Vec<u8>) -> Result<bool, String> {
    piece.clear();
    loop {
        let room = (LONGEST_RECORD as u64 + 1).saturating_sub(piece.len() as u64);
        // What is damaged is the reader's to refuse.
        let read = reader.by_ref().take(room).read_until(b'>', piece).unwrap_or(0);
        if piece.len() > LONGEST_RECORD {
            return Err(format!("a cell of more than {} MiB", LONGEST_RECORD >> 20));
        }
        if read == 0 || !in_quotes(piece) {
            return Ok(read > 0);
        }
    }
}

/// Whether a tag's last sign stands inside a value.
fn in_quotes(piece: &[u8]) -> bool {
    let tag = memchr::memchr(b'<', piece).and_then(|at| piece.get(at..)).unwrap_or_default();
    if tag.starts_with(b"<!") || tag.starts_with(b"<?") {
        return false;
    }
    let open = tag.iter().fold(None, |open, byte| match (open, byte) {
        (None, b'"' | b'\'') => Some(*byte),
        (Some(quote), byte) if quote == *byte => None,
        _ => open,
    });
    open.is_some()
}

/// A tag's name, with a stroke before it if it is an end.
fn name(tag: &[u8]) -> &[u8] {
    let name = tag.strip_prefix(b"<").unwrap_or_default();
    let end = name.iter().skip(1).position(|byte| byte.is_ascii_whitespace() || matches!(byte, b'/' | b'>'));
    end.and_then(|end| name.get(..=end)).unwrap_or_default()
}

/// How often a tag says that it is repeated; very often where that cannot be read.
fn repeats(tag: &[u8], key: &[u8]) -> u64 {
    let Some(at) = memchr::memmem::rfind(tag, key) else { return 1 };
    let rest = tag.get(at + key.len()..).unwrap_or_default().trim_ascii_start();
    let value =
        rest.strip_prefix(b"=").map(<[u8]>::trim_ascii_start).and_then(|rest| rest.get(1..)).unwrap_or_default();
    let digits = value.iter().take_while(|byte| byte.is_ascii_digit()).count();
    let ended = matches!(value.get(digits), Some(b'"' | b'\''));
    let number = value.get(..digits).and_then(|digits| std::str::from_utf8(digits).ok());
    number.filter(|_| ended).and_then(|number| number.parse().ok()).unwrap_or(u64::MAX).max(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    const CELL: &str = "<table:table-cell office:value-type=\"string\"><text:p>a</text:p></table:table-cell>";

    fn told(rows: &str) -> bool {
        let content = format!("<office:body><table:table table:name=\"a>b\">{rows}</table:table></office:body>");
        Tally::default().read(content.as_bytes()).is_err()
    }

    #[test]
    fn a_sound_workbook_passes() {
        assert_eq!(look(include_bytes!("../../tests/intake/results.ods")), Ok(()));
    }

    #[test]
    fn empty_cells_and_rows_at_the_end_cost_nothing() {
        let row = format!(
            "<table:table-row>{CELL}<table:table-cell table:number-columns-repeated=\"16383\"/></table:table-row>"
        );
        let end = "<table:table-row table:number-rows-repeated=\"1048000\"><table:table-cell table:number-columns-repeated=\"16384\"/></table:table-row>";
        assert!(!told(&(row.repeat(5000) + end)));
    }

    #[test]
    fn cells_far_to_the_right_are_told() {
        let row = format!(
            "<table:table-row><table:table-cell table:number-columns-repeated='16383'/>{CELL}</table:table-row>"
        );
        assert!(!told(&row.repeat(100)) && told(&row.repeat(5000)));
        let odd = row.replace("table:number", "table:style-name=\"a>b\" table:number");
        assert!(told(&odd.repeat(5000)));
    }

    #[test]
    fn a_cell_far_below_is_told() {
        let empty = "<table:table-row table:number-rows-repeated=\"1000000\"><table:table-cell/></table:table-row>";
        let wide = format!("<table:table-row>{}</table:table-row>", CELL.repeat(50));
        assert!(told(&format!("{wide}{empty}{wide}")));
    }

    #[test]
    fn repeated_text_is_told() {
        assert!(told(&format!(
            "<table:table-row table:number-rows-repeated=\"4000000000\">{CELL}{CELL}{CELL}</table:table-row>"
        )));
        assert!(told(
            "<table:table-row><table:table-cell><text:p><text:s text:c=\"1000000000\"/></text:p></table:table-cell></table:table-row>"
        ));
        assert!(told(
            "<table:table-row><table:table-cell><text:p><text:s text:c=\"&#57;00000000\"/></text:p></table:table-cell></table:table-row>"
        ));
    }
}
