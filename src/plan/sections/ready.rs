//! `columns = "wqx"`: a ready column map named instead of a table of columns.

use crate::plan::codes;
use crate::plan::notes::{Notes, quoted};
use crate::plan::read::{Section, did_you_mean, in_quotes};
use crate::plan::standard::{MAPS, Standard};
use crate::plan::written::{Node, Value};

/// The ready map that `columns` names, if it names one.
pub(super) fn named(section: &Section<'_>) -> Option<Standard> {
    let Value::Text(text) = &section.node("columns")?.value else { return None };
    MAPS.iter().find(|(name, _)| name == text).map(|(_, map)| *map)
}

/// Whether `columns` can be read as a table; tells of a text that names no ready map.
pub(super) fn is_table(notes: &Notes, node: &Node) -> bool {
    let Value::Text(text) = &node.value else { return true };
    let names: Vec<&str> = MAPS.iter().map(|(name, _)| *name).collect();
    let wanted = format!(
        "{}accepted: a table, {{ well = \"...\", ... }}, or a ready one by its name: {}",
        did_you_mean(text, &names),
        in_quotes(&names, ", ")
    );
    notes.tell_at(node, codes::UNKNOWN_WORD, format!("no ready column map is called {}", quoted(text)), wanted);
    false
}
