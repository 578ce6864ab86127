//! `[[wells]]`: lists of wells with their coordinates.

use super::columns::Roles;
use super::{located, ready, text};
use crate::plan::checked::WellsPart;
use crate::plan::notes::Notes;
use crate::plan::read::Section;
use crate::plan::standard::Standard;
use crate::plan::written::Node;

pub(super) const KEYS: &[&str] =
    &["files", "columns", "crs", "aliases", "encoding", "delimiter", "header_line", "decimal", "thousands", "sheet"];
pub(super) const EXAMPLE: &str = "write [[wells]] and under it files, columns = { well = \"...\", x = \"...\", y = \"...\" } and crs = \"EPSG:4326\"";
pub(super) const COLUMNS: &[&str] = &["well", "x", "y", "crs", "accuracy_m", "depth_m"];

/// Reads one `[[wells]]`.
pub(super) fn read(notes: &Notes, node: &Node) -> Option<WellsPart> {
    let section = Section::open(notes, node, "[[wells]]", KEYS)?;
    if let Some(map) = ready::named(&section) {
        return Some(standard(&section, map));
    }
    let columns = section
        .needed(
            "columns",
            "columns = { well = \"...\", x = \"...\", y = \"...\" }, with the names in the file's header",
        )
        .filter(|node| ready::is_table(notes, node))
        .and_then(|node| Section::open(notes, node, "columns of [[wells]]", COLUMNS));
    if let Some(columns) = &columns {
        Roles::new(notes).take_all(columns, COLUMNS);
        if !columns.has("crs") && !section.has("crs") {
            section.missing_since(
                "crs",
                "neither crs nor a column with it is given",
                "write crs = \"EPSG:4326\" for longitude and latitude of a satellite receiver, or columns = { crs = \"...\" }",
            );
        }
    }
    let needed = |key: &str, what: &str| {
        let example = format!("{key} = \"...\", the column with {what}");
        columns.as_ref().map(|columns| columns.needed_text(key, &example)).unwrap_or_default()
    };
    let text = |key: &str| columns.as_ref().and_then(|columns| columns.text(key));
    Some(WellsPart {
        files: located::needed_files(&section, located::TABLES),
        text: text::read(&section),
        well: needed("well", "the well's id"),
        x: needed("x", "the easting or longitude"),
        y: needed("y", "the northing or latitude"),
        crs_column: text("crs"),
        crs: section.text("crs"),
        accuracy_m: text("accuracy_m"),
        depth_m: text("depth_m"),
        aliases: located::file(&section, "aliases"),
    })
}

/// Wells under the element names of a standard. `crs` says what holds where the datum's cell is empty.
fn standard(section: &Section<'_>, map: Standard) -> WellsPart {
    let element = |role: &str| map.element("wells", role);
    WellsPart {
        files: located::needed_files(section, located::TABLES),
        text: text::read(section),
        well: element("well").unwrap_or_default(),
        x: element("x").unwrap_or_default(),
        y: element("y").unwrap_or_default(),
        crs_column: element("crs"),
        crs: section.text("crs"),
        accuracy_m: element("accuracy_m"),
        depth_m: element("depth_m"),
        aliases: located::file(section, "aliases"),
    }
}
