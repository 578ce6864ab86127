//! The three measures of land use, each with the keys and the kinds of file that go with it.
//!
//! Keys of another measure are problems, since they would change nothing. What a file holds is told from its name: a plan is checked before any file is read.

use super::columns::Roles;
use super::{located, text};
use crate::plan::checked::{Measure, PointColumns};
use crate::plan::codes;
use crate::plan::notes::{Notes, quoted};
use crate::plan::numbers::{RADIUS, number_of};
use crate::plan::read::{Items, Section, text_of};
use crate::plan::written::{Node, Value};
use std::path::{Path, PathBuf};

pub(super) const COLUMNS: &[&str] = &["id", "x", "y", "count"];
const COLUMNS_EXAMPLE: &str = "columns = { x = \"...\", y = \"...\" }, with the names in the file's header";

/// What a file's name says it holds.
#[derive(PartialEq)]
enum Holds {
    Table,
    Raster,
    Map,
}

/// The measures.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Kind {
    Share,
    Nearest,
    Density,
}
pub(super) const MEASURES: &[(&str, Kind)] =
    &[("share", Kind::Share), ("nearest", Kind::Nearest), ("density", Kind::Density)];

/// Reads the keys of a measure.
pub(super) fn read(section: &Section<'_>, kind: Kind, files: &[PathBuf]) -> Measure {
    if !files.is_empty() && !any(files, Holds::Table) {
        for key in text::KEYS {
            section.clash(key, "map files", "leave it out: it says how a text file is read");
        }
    }
    match kind {
        Kind::Share => share(section, files),
        Kind::Nearest => {
            foreign(section, "nearest", &["radius_m", "radii_m", "class", "classes", "count", "mapped"]);
            Measure::Nearest { columns: points(section, files, kind) }
        }
        Kind::Density => {
            foreign(section, "density", &["class", "classes"]);
            if any(files, Holds::Table) {
                section.clash("count", "a table of points", "name the column under columns = { count = \"...\" }");
            }
            let mapped = if section.has("mapped") {
                located::files_of(section, "mapped", "mapped = [\"outline.geojson\"]")
            } else {
                Vec::new()
            };
            let (columns, count) = (points(section, files, kind), section.text("count"));
            Measure::Density { radius_m: radius(section), columns, count, mapped }
        }
    }
}

fn share(section: &Section<'_>, files: &[PathBuf]) -> Measure {
    foreign(section, "share", &["count", "mapped"]);
    section.clash("columns", "measure = \"share\"", "leave it out: a share is measured on polygons or a GeoTIFF");
    kinds_fit(
        section,
        files,
        Holds::Table,
        "a share is measured on polygons or a GeoTIFF; points go with nearest or density",
    );
    if any(files, Holds::Raster) && any(files, Holds::Map) {
        tell_files(section, "polygons and a GeoTIFF together", "give each a [[land_use]] of its own");
    }
    Measure::Share { radius_m: radius(section), class: section.text("class"), classes: classes(section, files) }
}

fn classes(section: &Section<'_>, files: &[PathBuf]) -> Vec<String> {
    let raster = any(files, Holds::Raster);
    if raster {
        section.clash("class", "a GeoTIFF", "leave it out: a GeoTIFF has one layer of class codes");
        section.needed("classes", "classes = [21, 22], the codes that count");
    } else if section.has("class") {
        section.needed("classes", "classes = [\"...\"], the values of that property that count");
    } else if section.has("classes") && !files.is_empty() {
        section.missing("class", "class = \"...\", the property that holds the classes");
    }
    let fits = |value: &Value| matches!(value, Value::Text(_) | Value::Whole(_));
    let items = Items { name: "a list of classes", fits, example: "classes = [\"row crop\", \"orchard\"]" };
    let Some(node) = section.node("classes") else {
        return Vec::new();
    };
    let Some(items) = section.list("classes", &items) else {
        return Vec::new();
    };
    if items.is_empty() {
        section.notes.tell_at(
            node,
            codes::EMPTY_LIST,
            "an empty list",
            "name the classes that count, or leave class and classes out to count every polygon",
        );
    }
    items.iter().filter_map(|item| class(section.notes, item, raster)).collect()
}

/// Codes of a raster are numbers; a map file's property may hold either.
fn class(notes: &Notes, item: &Node, raster: bool) -> Option<String> {
    match &item.value {
        Value::Whole(code) => Some(code.to_string()),
        _ if raster => {
            notes.wrong_type(item, "a whole number", "classes of a GeoTIFF are its codes, as in classes = [21, 22]");
            None
        }
        _ => text_of(notes, item),
    }
}

fn radius(section: &Section<'_>) -> f64 {
    const RADIUS_M: f64 = 500.0;
    if section.has("radii_m") {
        section.clash("radius_m", "radii_m", "keep radius_m for one circle, or radii_m for several");
        return RADIUS_M;
    }
    section.needed("radius_m", "radius_m = 500, the radius of the circle in metres");
    section.number("radius_m", &RADIUS).unwrap_or(RADIUS_M)
}

/// Several radii; none where the plan has none.
pub(super) fn radii(section: &Section<'_>) -> Vec<f64> {
    let fits = |value: &Value| matches!(value, Value::Whole(_) | Value::Number(_));
    let items = Items { name: "a list of numbers", fits, example: "radii_m = [250, 500, 1000]" };
    let Some(items) = section.node("radii_m").and_then(|_| section.list("radii_m", &items)) else {
        return Vec::new();
    };
    items.iter().filter_map(|item| number_of(section.notes, item, &RADIUS)).collect()
}

fn points(section: &Section<'_>, files: &[PathBuf], kind: Kind) -> Option<PointColumns> {
    kinds_fit(section, files, Holds::Raster, "a GeoTIFF goes with measure = \"share\"");
    let tables = any(files, Holds::Table);
    if tables {
        section.needed("columns", COLUMNS_EXAMPLE);
        section.needed("crs", "crs = \"EPSG:4326\" for longitude and latitude of a satellite receiver");
    } else if any(files, Holds::Map) {
        section.clash("columns", "map files", "leave it out: map files hold their own coordinates");
    }
    let columns = Section::open(section.notes, section.node("columns")?, "columns of [[land_use]]", COLUMNS)?;
    Roles::new(section.notes).take_all(&columns, COLUMNS);
    if kind == Kind::Nearest {
        columns.clash("count", "measure = \"nearest\"", "leave it out: only density counts");
    }
    Some(PointColumns {
        id: columns.text("id"),
        x: columns.needed_text("x", "x = \"...\", the column with the easting or longitude"),
        y: columns.needed_text("y", "y = \"...\", the column with the northing or latitude"),
        count: columns.text("count"),
    })
}

fn foreign(section: &Section<'_>, measure: &str, keys: &[&str]) {
    for key in keys {
        let goes_with = match *key {
            "radius_m" | "radii_m" => "share or density",
            "count" | "mapped" => "density",
            _ => "share",
        };
        section.clash(key, &format!("measure = {measure:?}"), &format!("leave it out: it goes with {goes_with}"));
    }
}

fn kinds_fit(section: &Section<'_>, files: &[PathBuf], bad: Holds, wanted: &str) {
    if let Some(file) = files.iter().find(|file| holds(file) == bad) {
        let shown = crate::plan::shown_path(&section.notes.base, file);
        tell_files(section, &format!("{} does not go with this measure", quoted(&shown)), wanted);
    }
}

fn tell_files(section: &Section<'_>, found: &str, wanted: &str) {
    if let Some(node) = section.node("files") {
        section.notes.tell_at(node, codes::FILE_KIND, found, wanted);
    }
}

fn any(files: &[PathBuf], kind: Holds) -> bool {
    files.iter().any(|file| holds(file) == kind)
}

fn holds(file: &Path) -> Holds {
    let name = file.file_name().map(|name| name.to_string_lossy().to_lowercase()).unwrap_or_default();
    let name = name.strip_suffix(".gz").or_else(|| name.strip_suffix(".zst")).unwrap_or(&name);
    let ends = |ends: &[&str]| ends.iter().any(|end| name.ends_with(end));
    if ends(&[".csv", ".tsv", ".txt", ".tab", ".parquet", ".xlsx"]) {
        Holds::Table
    } else if ends(&[".tif", ".tiff"]) {
        Holds::Raster
    } else {
        Holds::Map
    }
}
