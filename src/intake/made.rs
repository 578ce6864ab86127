//! Rows of files that are no text become delimited text, so that everything behind is one way.
//!
//! Cells stand between unit separators (U+001F), which no cell has; row numbers are line numbers, so a gap in the
//! sheet becomes empty lines. A number is written with the plan's decimal mark, since it will be read with it.

use super::lines::{LONGEST_RECORD, Text};
use super::split::push_cell;

/// Delimiter of text made here.
pub(super) const DELIMITER: u8 = 0x1f;
/// Bytes of a usual block.
pub(super) const BLOCK: usize = 4 << 20;

/// Text that grows cell by cell, in row order.
pub(super) struct Made {
    text: String,
    first_line: u64,
    row: u64,
    /// Where the row begins in the text.
    start: usize,
    /// Column of the row's last cell.
    column: Option<u64>,
    decimal: char,
}

/// A cell's row or column goes backwards: the file is damaged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct OutOfOrder;

impl Made {
    /// Empty text whose first row has the number given.
    pub(super) fn new(first_line: u64, decimal: Option<char>) -> Made {
        let decimal = decimal.unwrap_or('.');
        Made { text: String::new(), first_line, row: first_line, start: 0, column: None, decimal }
    }

    /// Goes on to a row, counted as lines are.
    pub(super) fn row(&mut self, row: u64) -> Result<(), OutOfOrder> {
        while self.row < row {
            self.text.push('\n');
            self.row += 1;
            self.start = self.text.len();
            self.column = None;
        }
        if self.row == row { Ok(()) } else { Err(OutOfOrder) }
    }

    /// Writes a cell of the present row, its column counted from 0.
    pub(super) fn cell(&mut self, column: u64, cell: &str) -> Result<(), OutOfOrder> {
        if self.column.is_some_and(|last| last >= column) {
            return Err(OutOfOrder);
        }
        let marks = column - self.column.unwrap_or(0);
        self.text.extend((0..marks).map(|_| char::from(DELIMITER)));
        push_cell(&mut self.text, cell, DELIMITER);
        self.column = Some(column);
        Ok(())
    }

    /// Whether the present row is longer than any that is believed.
    pub(super) fn row_is_too_long(&self) -> bool {
        self.text.len() - self.start > LONGEST_RECORD
    }

    /// Writes a whole row; empty cells are passed over.
    pub(super) fn line<T: AsRef<str>>(&mut self, row: u64, cells: &[T]) -> Result<(), OutOfOrder> {
        self.row(row)?;
        let mut full = (0u64..).zip(cells).filter(|(_, cell)| !cell.as_ref().is_empty());
        full.try_for_each(|(column, cell)| self.cell(column, cell.as_ref()))
    }

    /// A number's text, with the decimal mark of the plan.
    pub(super) fn number(&self, plain: String) -> String {
        if self.decimal == '.' { plain } else { plain.replace('.', self.decimal.encode_utf8(&mut [0; 4])) }
    }

    /// What was written so far.
    pub(super) fn text(&self) -> &str {
        &self.text
    }

    /// Bytes so far.
    pub(super) fn len(&self) -> usize {
        self.text.len()
    }

    /// What was written so far, when it is a block's worth; the next row begins the next block.
    pub(super) fn block(&mut self) -> Option<Text> {
        (self.text.len() >= BLOCK).then(|| self.cut())
    }

    /// What was written since the last block.
    pub(super) fn rest(mut self) -> Option<Text> {
        (!self.text.is_empty()).then(|| self.cut())
    }

    fn cut(&mut self) -> Text {
        self.text.push('\n');
        self.row += 1;
        self.start = 0;
        self.column = None;
        let first_line = std::mem::replace(&mut self.first_line, self.row);
        Text { text: std::mem::take(&mut self.text), first_line }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_and_columns_stand_where_they_stood() {
        let mut made = Made::new(1, Some(','));
        made.row(2).unwrap();
        made.cell(1, "b\nb").unwrap();
        made.row(4).unwrap();
        made.cell(0, &made.number("1.5".to_owned())).unwrap();
        assert_eq!(made.cell(0, "again"), Err(OutOfOrder));
        assert_eq!(made.row(3), Err(OutOfOrder));
        assert_eq!(made.rest().unwrap().text, "\n\u{1f}\"b b\"\n\n1,5\n");
    }
}
