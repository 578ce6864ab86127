//! `[[land_use]]`: what is measured around each well, and the bands it falls in.
//!
//! A part whose measure is not known is checked as far as it goes and left out: no later stage could say what it
//! means. Names are held apart without regard to case, as many readers of tables do.

use super::measures::{self, Kind, MEASURES};
use super::{located, text};
use crate::plan::checked::{CoarseWells, LandUse};
use crate::plan::codes;
use crate::plan::notes::{Notes, quoted};
use crate::plan::numbers::{POSITIVE, Range, SOME_SHARE, number_of};
use crate::plan::read::{Items, Section};
use crate::plan::written::{Node, Value};
use std::collections::BTreeMap;

pub(super) const KEYS: &[&str] = &[
    "name",
    "kind",
    "measure",
    "files",
    "class",
    "classes",
    "radius_m",
    "radii_m",
    "coarse_wells",
    "count",
    "mapped",
    "bands",
    "columns",
    "crs",
    "layer",
    "encoding",
    "delimiter",
    "header_line",
    "decimal",
    "thousands",
    "sheet",
];
/// Names that stand beside the land uses: columns of wells.csv and terms of the land-use model.
pub(super) const TAKEN: &[&str] = &[
    "well",
    "area_id",
    "area_name",
    "x",
    "y",
    "longitude",
    "latitude",
    "crs",
    "accuracy_m",
    "depth",
    "depth_m",
    "uncertainty_m",
    "fid",
    "geom",
    "notes",
    "intercept",
];

/// Reads all `[[land_use]]`.
pub(super) fn read_all(notes: &Notes, nodes: &[&Node]) -> Vec<LandUse> {
    let mut names = BTreeMap::new();
    nodes.iter().flat_map(|node| read(notes, node, &mut names)).collect()
}

const COARSE: &[(&str, CoarseWells)] = &[("leave-out", CoarseWells::LeaveOut), ("average", CoarseWells::Average)];

fn read(notes: &Notes, node: &Node, names: &mut BTreeMap<String, String>) -> Vec<LandUse> {
    let Some(section) = Section::open(notes, node, "[[land_use]]", KEYS) else { return Vec::new() };
    let name = name(&section, names);
    let files = located::needed_files(&section, located::MAPS);
    let text = text::read(&section);
    let (crs, layer) = (section.text("crs"), section.text("layer"));
    let kind = section.needed_word("measure", MEASURES);
    let bands = bands(&section, if kind == Some(Kind::Share) { &SOME_SHARE } else { &POSITIVE });
    let coarse_wells = section.word("coarse_wells", COARSE).unwrap_or_default();
    let Some(kind) = kind else { return Vec::new() };
    let radii = measures::radii(&section);
    let measure = measures::read(&section, kind, &files);
    let (key, family) = (section.path.to_owned(), name.clone());
    let of_kind = section.text("kind");
    let one = LandUse { key, family, of_kind, coarse_wells, name, files, measure, bands, crs, layer, text };
    if radii.is_empty() || kind == Kind::Nearest { vec![one] } else { of_radii(&section, &one, &radii, names) }
}

/// One land use for each radius, named for it: `farming_250m`.
fn of_radii(section: &Section<'_>, one: &LandUse, radii: &[f64], names: &mut BTreeMap<String, String>) -> Vec<LandUse> {
    let with = |radius: &f64| {
        let name = format!("{}_{radius}m", one.family);
        if let (Some(first), Some(node)) =
            (names.insert(name.to_lowercase(), section.path.to_owned()), section.node("radii_m"))
        {
            let found = format!("{} is already {first}", quoted(&name));
            section.notes.tell_at(
                node,
                codes::NAME_TWICE,
                found,
                "write each radius once, and rename the other land use",
            );
        }
        LandUse { name, measure: one.measure.clone().within(*radius), ..one.clone() }
    };
    radii.iter().map(with).collect()
}

fn name(section: &Section<'_>, names: &mut BTreeMap<String, String>) -> String {
    let name = section.needed_name("name", "name = \"...\", a short word for tables and maps");
    let Some(node) = section.node("name").filter(|_| !name.is_empty()) else {
        return name;
    };
    let folded = name.trim().to_lowercase();
    if TAKEN.contains(&folded.as_str()) {
        let wanted = format!("choose another word; taken are {}", TAKEN.join(", "));
        section.notes.tell_at(
            node,
            codes::NAME_TAKEN,
            format!("{} is the name of another column", quoted(&name)),
            wanted,
        );
    }
    if let Some(first) = names.insert(folded, node.path.clone()) {
        let found = format!("{} is already {first}", quoted(&name));
        section.notes.tell_at(node, codes::NAME_TWICE, found, "give each land use a name of its own");
    }
    name
}

/// Each band is tested against the lowest, with every limit.
const MOST_EDGES: usize = 20;

fn bands(section: &Section<'_>, range: &Range) -> Vec<f64> {
    const EXAMPLE: &str = "bands = [0.1, 0.4], the edges from low to high";
    let Some(node) = section.needed("bands", EXAMPLE) else {
        return Vec::new();
    };
    let fits = |value: &Value| matches!(value, Value::Whole(_) | Value::Number(_));
    let items = Items { name: "a list of numbers", fits, example: EXAMPLE };
    let Some(items) = section.list("bands", &items) else {
        return Vec::new();
    };
    if items.is_empty() {
        section.notes.tell_at(node, codes::EMPTY_LIST, "an empty list", format!("write {EXAMPLE}"));
    }
    if items.len() > MOST_EDGES {
        let found = format!("found {} edges", items.len());
        section.notes.tell_at(node, codes::OUT_OF_RANGE, found, format!("{MOST_EDGES} edges at most"));
    }
    let edges: Vec<f64> = items.iter().filter_map(|item| number_of(section.notes, item, range)).collect();
    if let Some((low, high)) = edges.iter().zip(edges.iter().skip(1)).find(|(low, high)| low >= high) {
        let found = format!("{high} follows {low}");
        section.notes.tell_at(node, codes::OUT_OF_RANGE, found, "write the edges from low to high, each once");
    }
    edges
}
