//! Columns: which header name plays which role, and that no column plays two.
//!
//! A column in two roles is nearly always a line copied and half changed; read as written it would put one
//! analyte's qualifier on another's value.

use crate::plan::codes;
use crate::plan::notes::{Notes, quoted};
use crate::plan::read::Section;
use crate::plan::written::{Node, Value};
use std::collections::BTreeMap;

/// Columns named so far.
pub(super) struct Roles<'a> {
    notes: &'a Notes,
    taken: BTreeMap<String, String>,
}

impl<'a> Roles<'a> {
    pub(super) fn new(notes: &'a Notes) -> Roles<'a> {
        Roles { notes, taken: BTreeMap::new() }
    }

    /// Notes the columns that a table names under these keys.
    pub(super) fn take_all(&mut self, section: &Section<'_>, keys: &[&str]) {
        for (_, node) in section.entries().iter().filter(|(key, _)| keys.contains(&key.as_str())) {
            if let Value::Text(column) = &node.value {
                self.take(column, node);
            }
        }
    }

    /// Notes one column.
    pub(super) fn take(&mut self, column: &str, node: &Node) {
        let Some(first) = self.taken.insert(column.to_string(), node.path.clone()) else {
            return;
        };
        let found = format!("column {} is already {first}", quoted(column));
        self.notes.tell_at(
            node,
            codes::COLUMN_TWICE,
            found,
            "a column has one role; name another one, or leave this key out",
        );
    }
}
