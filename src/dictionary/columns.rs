//! The columns of every output table: type, unit, meaning. Turns `columns.csv` into a list that headings,
//! help and codebook are made from, so that a heading is never typed twice.

use super::table::Table;

/// One column of one output table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Table without ending: `exceedance`.
    pub table: String,
    /// Heading.
    pub name: String,
    /// text, integer, number or date.
    pub kind: String,
    /// Unit of the figures; empty for none.
    pub unit: String,
    /// What it says.
    pub meaning: String,
}

/// All columns, in the order of the tables.
#[derive(Debug, Clone, Default)]
pub struct Columns {
    list: Vec<Column>,
}

impl Columns {
    pub(super) fn read(table: &Table) -> Self {
        let list = table.rows().map(|row| Column {
            table: row.owned("table"),
            name: row.owned("column"),
            kind: row.owned("type"),
            unit: row.owned("unit"),
            meaning: row.owned("meaning"),
        });
        Self { list: list.collect() }
    }

    /// The columns of one table, in order; none for a table that is not listed.
    pub fn of<'a>(&'a self, table: &'a str) -> impl Iterator<Item = &'a Column> {
        self.list.iter().filter(move |column| column.table == table)
    }

    /// One column.
    #[must_use]
    pub fn find(&self, table: &str, name: &str) -> Option<&Column> {
        self.list.iter().find(|column| column.table == table && column.name == name)
    }

    /// All columns.
    #[must_use]
    pub fn all(&self) -> &[Column] {
        &self.list
    }
}
