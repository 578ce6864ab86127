//! `[areas]`: map files of areas, or a grid that is made.
//!
//! A grid names its own cells, so the keys that name properties of a file say that a file was meant.

use super::located;
use crate::plan::checked::{AreaSource, AreasPart, GridKind};
use crate::plan::notes::Notes;
use crate::plan::numbers::POSITIVE;
use crate::plan::read::Section;

pub(super) const KEYS: &[&str] =
    &["files", "grid", "id", "name", "wells_on_record", "households", "infants", "crs", "layer"];
pub(super) const EXAMPLE: &str =
    "write [areas] and under it files and id, or grid = { kind = \"square\", size_m = 5000 }";
pub(super) const GRID: &[&str] = &["kind", "size_m"];
const GRID_EXAMPLE: &str = "grid = { kind = \"square\", size_m = 5000 }";
const KINDS: &[(&str, GridKind)] = &[("square", GridKind::Square), ("hexagon", GridKind::Hexagon)];

/// Reads `[areas]`; no files where it is missing.
pub(super) fn read(notes: &Notes, section: Option<Section<'_>>) -> AreasPart {
    let Some(section) = section else {
        return part(AreaSource::Files(Vec::new()));
    };
    if let Some(node) = section.node("grid") {
        for key in KEYS.iter().filter(|key| **key != "grid") {
            section.clash(key, "grid", "keep grid for cells that are made, or files for areas that are given");
        }
        let grid = Section::open(notes, node, "grid", GRID);
        return part(grid.map_or(AreaSource::Files(Vec::new()), |grid| cells(&grid)));
    }
    AreasPart {
        source: AreaSource::Files(located::needed_files(&section)),
        id: section.needed_text("id", "id = \"...\", the property with each area's id"),
        name: section.text("name"),
        wells_on_record: section.text("wells_on_record"),
        households: section.text("households"),
        infants: section.text("infants"),
        crs: section.text("crs"),
        layer: section.text("layer"),
    }
}

fn part(source: AreaSource) -> AreasPart {
    AreasPart {
        source,
        id: String::new(),
        name: None,
        wells_on_record: None,
        households: None,
        infants: None,
        crs: None,
        layer: None,
    }
}

fn cells(grid: &Section<'_>) -> AreaSource {
    const SIZE_M: f64 = 5000.0;
    grid.needed("size_m", GRID_EXAMPLE);
    AreaSource::Grid {
        kind: grid.needed_word("kind", KINDS).unwrap_or(GridKind::Square),
        size_m: grid.number("size_m", &POSITIVE).unwrap_or(SIZE_M),
    }
}
