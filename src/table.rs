//! A table on its way out: named columns and cells, before anything is rounded or hidden.
//!
//! Stages make typed rows; `publish` turns them into tables through the column registry of the dictionary, so a
//! header is never typed twice.

/// One cell.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Not known, or hidden.
    Empty,
    /// Text.
    Text(String),
    /// A count.
    Count(u64),
    /// A number, unrounded; never NaN.
    Number(f64),
}

impl Cell {
    /// A number, or empty where there is none or it is not finite.
    pub fn number(value: Option<f64>) -> Cell {
        match value {
            Some(x) if x.is_finite() => Cell::Number(x),
            _ => Cell::Empty,
        }
    }

    /// A count, or empty.
    pub fn count(value: Option<u32>) -> Cell {
        value.map_or(Cell::Empty, |n| Cell::Count(u64::from(n)))
    }

    /// Text, empty text being an empty cell.
    pub fn text(value: impl Into<String>) -> Cell {
        let text = value.into();
        if text.is_empty() { Cell::Empty } else { Cell::Text(text) }
    }
}

/// A named table.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// Its name, such as `exceedance`; the file is `exceedance.csv`.
    pub name: &'static str,
    /// Column names.
    pub columns: Vec<String>,
    /// Rows, each as long as `columns`.
    pub rows: Vec<Vec<Cell>>,
}

/// Takes rows, cell by cell.
pub trait Cells {
    /// Text, empty text being an empty cell.
    fn text(&mut self, text: &str);

    /// Text that is put together as it is written.
    fn words(&mut self, words: std::fmt::Arguments<'_>);

    /// A count.
    fn count(&mut self, count: u64);

    /// A number, unrounded; never NaN.
    fn figure(&mut self, figure: f64);

    /// Ends the row.
    fn end(&mut self);

    /// A number, or an empty cell where there is none or it is not finite.
    fn number(&mut self, value: Option<f64>) {
        match value {
            Some(x) if x.is_finite() => self.figure(x),
            _ => self.text(""),
        }
    }

    /// A cell of a table.
    fn cell(&mut self, cell: &Cell) {
        match cell {
            Cell::Empty => self.text(""),
            Cell::Text(text) => self.text(text),
            Cell::Count(n) => self.count(*n),
            Cell::Number(x) => self.figure(*x),
        }
    }
}

/// A table with a row for every well or more, made row by row as it is written.
pub struct Listing<'a> {
    /// Its name.
    pub name: &'static str,
    /// Column names.
    pub columns: Vec<String>,
    /// How many things it has rows about.
    pub things: usize,
    /// Gives the rows about the thing of this number: none, one or more.
    pub rows: Rows<'a>,
}

/// See `Listing::rows`.
pub type Rows<'a> = Box<dyn Fn(usize, &mut dyn Cells) + Sync + 'a>;
