//! What the columns of a table are, from the data dictionary: for Parquet metadata, data package and codebook alike.

use super::super::Results;
use crate::dictionary::Dictionary;

/// One column of a research table.
#[derive(Clone, Debug)]
pub(super) struct Field {
    pub(super) name: String,
    /// text, integer, number, date or boolean.
    pub(super) kind: String,
    /// Empty for none; `unit` says that the row's own column `unit` holds it.
    pub(super) unit: String,
    pub(super) meaning: String,
}

/// One table of an edition.
#[derive(Clone, Debug)]
pub(super) struct Resource {
    /// `exceedance`; the file is `exceedance.parquet`.
    pub(super) name: String,
    pub(super) title: String,
    pub(super) meaning: String,
    pub(super) key: Vec<String>,
    pub(super) fields: Vec<Field>,
}

impl Resource {
    /// A table with these columns.
    pub(super) fn new(results: &Results<'_>, name: &str, columns: &[String]) -> Resource {
        let dictionary = &results.job.dictionary;
        let text = dictionary.tables().find(name).cloned();
        let (title, meaning, key) = text.map(|t| (t.title, t.meaning, t.key)).unwrap_or_default();
        let fields = columns.iter().map(|column| field(dictionary, name, column)).collect();
        Resource { name: name.to_owned(), title, meaning, key, fields }
    }

    /// A table whose columns are exactly those of the dictionary.
    pub(super) fn of_dictionary(results: &Results<'_>, name: &str) -> Resource {
        let columns: Vec<String> = results.job.dictionary.columns().of(name).map(|c| c.name.clone()).collect();
        Resource::new(results, name, &columns)
    }
}

/// A column's words; a column of `wells` that is not listed is one of the plan's land uses.
fn field(dictionary: &Dictionary, table: &str, column: &str) -> Field {
    let columns = dictionary.columns();
    let found = columns.find(table, column).or_else(|| columns.find(table, "(land use)"));
    Field {
        name: column.to_owned(),
        kind: found.map_or_else(|| "text".to_owned(), |c| c.kind.clone()),
        unit: found.map(|c| c.unit.clone()).unwrap_or_default(),
        meaning: found.map(|c| c.meaning.clone()).unwrap_or_default(),
    }
}
