//! What was hidden and why, for readers of the public folder: a line for each table and no count of wells.

use super::protect::{Protected, Protection};
use crate::table::{Cell, Table};

/// hidden.csv: of each public table how many rows are hidden. A row is an area, band or model, never a well.
pub fn table<'t>(tables: impl Iterator<Item = &'t Protected<Table>>, protection: &Protection) -> Table {
    let columns = ["table", "rows", "rows_hidden", "why"].map(str::to_owned).to_vec();
    let rows = tables.map(|table| {
        let table = table.get();
        let hidden = table.rows.iter().filter(|row| is_hidden(table, row, protection)).count() as u64;
        let why = if hidden > 0 { Cell::text(protection.why()) } else { Cell::Empty };
        vec![Cell::text(table.name), Cell::Count(table.rows.len() as u64), Cell::Count(hidden), why]
    });
    Table { name: "hidden", columns, rows: rows.collect() }
}

/// The row's note says so or, where a table has no notes, its number of wells is gone.
fn is_hidden(table: &Table, row: &[Cell], protection: &Protection) -> bool {
    let why = protection.why();
    let sampled = table.columns.iter().position(|column| column == "wells_sampled");
    row.iter().any(|cell| matches!(cell, Cell::Text(text) if *text == why))
        || sampled.and_then(|at| row.get(at)).is_some_and(|cell| *cell == Cell::Empty)
}

/// The note at the public folder's door.
pub fn about(protection: &Protection) -> String {
    let smallest = protection.smallest_group();
    format!(
        "These files may be published. They hold no well, no household and no place of a well.\n\n\
         What is not shown: rows about fewer than {smallest} wells, and as many more rows as it takes that no hidden number of wells\n\
         can be worked out from totals, land-use bands or other tables to within {smallest}. An area without any well looks the same as a\n\
         hidden one. A hidden row keeps its name, limit, unit and a note. Comparisons with a hidden band are empty. Figures that rest on\n\
         all areas together (smoothed rates, chances, expected numbers, ranks, adjusted p-values) are worked out from what is shown, as if\n\
         hidden groups had not been tested. Totals of the region hold the hidden wells too.\n\
         hidden.csv says how many rows of each table are hidden.\n\n\
         Only this one folder is protected: what two published runs of the same survey tell together is not looked at.\n"
    )
}
