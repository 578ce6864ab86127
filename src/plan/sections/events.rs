//! `[[events]]`: floods, earthquakes and droughts, after which wells inside are due again.
//!
//! An event without its kind or its day is checked and left out: nothing could be said of it.

use super::located;
use crate::plan::checked::{Event, EventKind};
use crate::plan::notes::Notes;
use crate::plan::read::Section;
use crate::plan::written::Node;

pub(super) const KEYS: &[&str] = &["name", "kind", "date", "files", "crs", "layer"];
const KINDS: &[(&str, EventKind)] =
    &[("flood", EventKind::Flood), ("earthquake", EventKind::Earthquake), ("drought", EventKind::Drought)];

/// Reads one `[[events]]`.
pub(super) fn read(notes: &Notes, node: &Node) -> Option<Event> {
    let section = Section::open(notes, node, "[[events]]", KEYS)?;
    let name = section.needed_name("name", "name = \"...\", as it should stand in letters and tables");
    let kind = section.needed_word("kind", KINDS);
    section.needed("date", "date = 2025-04-18, the day from which samples count as newer");
    let date = section.day("date");
    let files = located::needed_files(&section, located::MAPS);
    let (crs, layer) = (section.text("crs"), section.text("layer"));
    Some(Event { name, kind: kind?, date: date?, files, crs, layer })
}
