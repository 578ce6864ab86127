//! `[areas]`, or several `[[areas]]`: map files of areas, or cells that are made.
//!
//! Cells name themselves, so the keys that name properties of a file say that a file was meant. The first layer is the main one: it
//! settles which results count. Every further one is called by a word of its own, which is a folder of tables and a column of
//! wells.csv, so it is held to letters, digits, - and _. The key is `called`, since `name` and `layer` mean something else here.

use super::land_use::TAKEN;
use super::located;
use crate::plan::checked::{AreaSource, AreasPart, GridKind, LandUse};
use crate::plan::codes;
use crate::plan::notes::{Notes, quoted};
use crate::plan::numbers::SIDE;
use crate::plan::read::Section;
use crate::plan::written::{Node, Value, lines_of};
use std::collections::BTreeMap;

pub(super) const KEYS: &[&str] =
    &["files", "grid", "id", "name", "wells_on_record", "households", "infants", "crs", "layer", "called"];
pub(super) const EXAMPLE: &str =
    "write [areas] and under it files and id, or grid = { kind = \"square\", size_m = 5000 }";
pub(super) const GRID: &[&str] = &["kind", "size_m", "resolution"];
const GRID_EXAMPLE: &str = "grid = { kind = \"square\", size_m = 5000 }";
const H3_EXAMPLE: &str = "grid = { kind = \"h3\", resolution = 7 }";
const CALLED_EXAMPLE: &str = "called = \"aquifers\", a word for the folder of its tables";
const FINEST: u64 = 15;

#[derive(Clone, Copy, PartialEq)]
enum Kind {
    Made(GridKind),
    H3,
}
const KINDS: &[(&str, Kind)] =
    &[("square", Kind::Made(GridKind::Square)), ("hexagon", Kind::Made(GridKind::Hexagon)), ("h3", Kind::H3)];

/// Reads every layer, the main one apart; that has no files where there is none.
pub(super) fn read_all(notes: &Notes, node: Option<&Node>) -> (AreasPart, Vec<AreasPart>) {
    let mut parts: Vec<AreasPart> = match node.map(|node| (&node.value, node)) {
        Some((Value::List(items), _)) => items.iter().filter_map(|item| one(notes, item)).collect(),
        Some((_, node)) => one(notes, node).into_iter().collect(),
        None => Vec::new(),
    };
    let further = parts.split_off(parts.len().min(1));
    (parts.pop().unwrap_or_else(|| part("areas", AreaSource::Files(Vec::new()), None)), further)
}

fn one(notes: &Notes, node: &Node) -> Option<AreasPart> {
    let section = Section::open(notes, node, "[areas]", KEYS)?;
    let called = section.text("called");
    if let (Some(node), Some(called)) = (section.node("called"), &called) {
        section.no_longer(node, called);
    }
    if node.path.ends_with(']') && node.path != "areas[1]" {
        section.needed("called", CALLED_EXAMPLE);
    }
    Some(read(notes, &section, called))
}

fn read(notes: &Notes, section: &Section<'_>, called: Option<String>) -> AreasPart {
    if let Some(node) = section.node("grid") {
        for key in KEYS.iter().filter(|key| !["grid", "called"].contains(key)) {
            section.clash(key, "grid", "keep grid for cells that are made, or files for areas that are given");
        }
        let grid = Section::open(notes, node, "grid", GRID);
        let source = grid.map_or(AreaSource::Files(Vec::new()), |grid| cells(&grid));
        return part(section.path, source, called);
    }
    AreasPart {
        key: section.path.to_owned(),
        called,
        source: AreaSource::Files(located::needed_files(section, located::MAPS)),
        id: section.needed_text("id", "id = \"...\", the property with each area's id"),
        name: section.text("name"),
        wells_on_record: section.text("wells_on_record"),
        households: section.text("households"),
        infants: section.text("infants"),
        crs: section.text("crs"),
        layer: section.text("layer"),
    }
}

fn part(key: &str, source: AreaSource, called: Option<String>) -> AreasPart {
    AreasPart {
        key: key.to_owned(),
        called,
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
    const RESOLUTION: u64 = 7;
    match grid.needed_word("kind", KINDS) {
        Some(Kind::H3) => {
            grid.clash("size_m", "kind = \"h3\"", &format!("write {H3_EXAMPLE}: the resolution sets the size"));
            grid.needed("resolution", H3_EXAMPLE);
            let resolution = grid.whole("resolution", 0, FINEST).unwrap_or(RESOLUTION);
            AreaSource::H3 { resolution: u8::try_from(resolution).unwrap_or_default() }
        }
        kind => {
            grid.clash("resolution", "a grid of squares or hexagons", &format!("write {GRID_EXAMPLE}"));
            grid.needed("size_m", GRID_EXAMPLE);
            let kind = if let Some(Kind::Made(kind)) = kind { kind } else { GridKind::Square };
            AreaSource::Grid { kind, size_m: grid.number("size_m", &SIDE).unwrap_or(SIZE_M) }
        }
    }
}

/// Layers are called by words of their own that can be folders and columns.
pub(super) fn called_apart(
    notes: &Notes,
    node: Option<&Node>,
    (main, further): (&AreasPart, &[AreasPart]),
    land_use: &[LandUse],
) {
    let lines = node.map(lines_of).unwrap_or_default();
    let mut taken: BTreeMap<String, String> =
        TAKEN.iter().map(|name| ((*name).to_owned(), "a column of wells.csv".to_owned())).collect();
    taken.extend(land_use.iter().map(|land_use| (land_use.name.to_lowercase(), "a land use".to_owned())));
    for part in std::iter::once(main).chain(further) {
        let Some(called) = &part.called else { continue };
        let key = format!("{}.called", part.key);
        let line = lines.get(&key).copied().unwrap_or(0);
        let fits = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
        if !called.chars().all(fits) {
            let wanted = "letters a to z, digits, - and _, as in called = \"aquifers\"";
            notes.tell((&key, line), codes::OUT_OF_RANGE, format!("{} cannot be a folder", quoted(called)), wanted);
        }
        if let Some(first) = taken.insert(called.to_lowercase(), format!("the layer {}", part.key)) {
            let found = format!("{} is already {first}", quoted(called));
            notes.tell((&key, line), codes::NAME_TWICE, found, "give each layer of areas a word of its own");
        }
    }
}
