//! What each output table is: title, key columns, meaning of a row. Turns `tables.csv` into a list that the research
//! files are described from.

use super::table::Table;

/// One output table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TableText {
    /// Table without ending: `exceedance`.
    pub table: String,
    /// Title for people.
    pub title: String,
    /// Columns that together name a row.
    pub key: Vec<String>,
    /// What a row is.
    pub meaning: String,
}

/// All tables.
#[derive(Debug, Clone, Default)]
pub struct Tables {
    list: Vec<TableText>,
}

impl Tables {
    pub(super) fn read(table: &Table) -> Self {
        let list = table.rows().map(|row| TableText {
            table: row.owned("table"),
            title: row.owned("title"),
            key: row.cell("key").split(';').map(str::to_owned).collect(),
            meaning: row.owned("meaning"),
        });
        Self { list: list.collect() }
    }

    /// One table.
    #[must_use]
    pub fn find(&self, table: &str) -> Option<&TableText> {
        self.list.iter().find(|text| text.table == table)
    }

    /// All tables.
    #[must_use]
    pub fn all(&self) -> &[TableText] {
        &self.list
    }
}

#[cfg(test)]
mod tests {
    use crate::dictionary::Dictionary;
    use std::collections::BTreeSet;

    /// Every table with columns has a title and a key among its columns, and every titled table has columns.
    #[test]
    fn tables_and_columns_name_each_other() {
        let dictionary = Dictionary::built_in().unwrap();
        let with_columns: BTreeSet<&str> = dictionary.columns().all().iter().map(|c| c.table.as_str()).collect();
        for table in &with_columns {
            assert!(dictionary.tables().find(table).is_some(), "{table} has columns and no row in tables.csv");
        }
        for text in dictionary.tables().all() {
            assert!(with_columns.contains(text.table.as_str()), "{} has no columns", text.table);
            for key in &text.key {
                assert!(dictionary.columns().find(&text.table, key).is_some(), "{}: {key}", text.table);
            }
        }
    }
}
