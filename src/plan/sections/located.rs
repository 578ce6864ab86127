//! Keys that name files and folders: each becomes paths that exist and can be read, or problems.

use crate::plan::codes;
use crate::plan::notes::Notes;
use crate::plan::paths::{self, Fault};
use crate::plan::read::{Items, Section, text_of};
use crate::plan::written::Node;
use std::path::{Path, PathBuf};

/// Example of a key that lists tables.
pub(super) const TABLES: &str = "files = [\"folder/*.csv\"]";
/// Example of a key that lists map files.
pub(super) const MAPS: &str = "files = [\"folder/*.geojson\"]";

/// The files of a key `files` that has to be there: found, sorted, each once.
pub(super) fn needed_files(section: &Section<'_>, example: &str) -> Vec<PathBuf> {
    if section.needed("files", example).is_some() { files_of(section, "files", example) } else { Vec::new() }
}

/// The files of a key that lists some.
pub(super) fn files_of(section: &Section<'_>, key: &str, example: &str) -> Vec<PathBuf> {
    let Some(node) = section.node(key) else {
        return Vec::new();
    };
    let Some(items) = section.list(key, &Items::texts(example)) else {
        return Vec::new();
    };
    if items.is_empty() {
        section.notes.tell_at(node, codes::EMPTY_LIST, "an empty list", format!("write {example}"));
    }
    paths::sorted(items.iter().flat_map(|item| found(section.notes, item)).collect())
}

fn found(notes: &Notes, item: &Node) -> Vec<PathBuf> {
    let Some(pattern) = text_of(notes, item) else {
        return Vec::new();
    };
    let (files, faults) = paths::find(&notes.base, &pattern);
    for fault in faults {
        tell(notes, item, fault);
    }
    files
}

/// One file.
pub(super) fn file(section: &Section<'_>, key: &str) -> Option<PathBuf> {
    one(section, key, paths::file)
}

/// One folder.
pub(super) fn folder(section: &Section<'_>, key: &str) -> Option<PathBuf> {
    one(section, key, paths::folder)
}

fn one(section: &Section<'_>, key: &str, find: fn(&Path, &str) -> Result<PathBuf, Fault>) -> Option<PathBuf> {
    let node = section.node(key)?;
    let text = text_of(section.notes, node)?;
    match find(&section.notes.base, &text) {
        Ok(path) => Some(path),
        Err(fault) => {
            tell(section.notes, node, fault);
            None
        }
    }
}

fn tell(notes: &Notes, node: &Node, fault: Fault) {
    notes.tell_at(node, fault.code, fault.found, fault.wanted);
}
