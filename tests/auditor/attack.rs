//! Reads a run's public folder, as anybody can, and says what it gives away.

use crate::known::Known;
use crate::survey::table;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

type Row = BTreeMap<String, String>;

/// Columns that a hidden row may keep.
const KEYS: [&str; 17] = [
    "area_id",
    "area_name",
    "analyte",
    "benchmark_set",
    "effect",
    "limit",
    "limit_low",
    "unit",
    "note",
    "because",
    "fit",
    "land_use",
    "band",
    "band_from",
    "band_to",
    "term",
    "rank",
];

/// Everything found, in words; empty where nothing is.
pub fn attack(public: &Path, smallest: i64) -> Vec<String> {
    let read = |name: &str| table(&public.join(format!("tables/{name}.csv")));
    let mut found = Vec::new();
    let mut known = Known::default();
    let tested: BTreeSet<String> = read("summary").into_iter().map(|row| row["analyte"].clone()).collect();
    for name in ["exceedance", "summary", "recommend", "trend", "land-use", "land-use-model", "outreach"] {
        for row in read(name) {
            // Advice on what nobody was tested for tells of no well: the analyte is in no summary.
            if name == "recommend" && !tested.contains(&row["analyte"]) {
                continue;
            }
            found.extend(direct(name, &row, smallest));
        }
    }
    groups(&mut known, &read);
    geojson(&mut known, public);
    bands(&mut known, &read);
    sampled(&mut known, &read, smallest, &mut found);
    found.extend(known.narrowed(smallest));
    found
}

/// A small number shown as it is, or a hidden row that still tells something.
fn direct(name: &str, row: &Row, smallest: i64) -> Vec<String> {
    let column = if name == "outreach" { "wells_sampled" } else { "wells" };
    let mut found = Vec::new();
    match row[column].parse::<i64>() {
        Ok(n) if n < smallest => found.push(format!("{name}: {n} wells shown: {row:?}")),
        Ok(_) => {}
        Err(_) => {
            let kept = row.iter().filter(|(column, cell)| !KEYS.contains(&column.as_str()) && !cell.is_empty());
            found.extend(kept.map(|(column, cell)| format!("{name}: hidden row keeps {column} = {cell}")));
            let words = ["note", "because"].iter().filter_map(|column| row.get(*column));
            let digits: String = words.flat_map(|text| text.chars()).filter(char::is_ascii_digit).collect();
            if !digits.is_empty() && digits != smallest.to_string() {
                found.push(format!("{name}: the note of a hidden row holds numbers: {row:?}"));
            }
        }
    }
    found
}

/// Wells by area and analyte, wherever they are told, and trends among them.
fn groups(known: &mut Known, read: &dyn Fn(&str) -> Vec<Row>) {
    let (mut areas, mut analytes) = (BTreeSet::new(), BTreeSet::new());
    for name in ["summary", "exceedance", "recommend"] {
        for row in read(name) {
            if name == "summary" {
                areas.insert(row["area_id"].clone());
                analytes.insert(row["analyte"].clone());
            }
            if analytes.contains(&row["analyte"]) {
                known.tell(&format!("{}/{}", row["area_id"], row["analyte"]), &row["wells"]);
            }
        }
    }
    for row in read("trend") {
        let (name, group) =
            (format!("trend {}/{}", row["area_id"], row["analyte"]), format!("{}/{}", row["area_id"], row["analyte"]));
        known.tell(&name, &row["wells"]);
        known.at_least(&group, &[name]);
    }
    areas.remove("region");
    for analyte in &analytes {
        let parts: Vec<String> = areas.iter().map(|area| format!("{area}/{analyte}")).collect();
        known.sum(&format!("region/{analyte}"), &parts);
        let parts: Vec<String> = areas.iter().map(|area| format!("trend {area}/{analyte}")).collect();
        if parts.iter().all(|part| known.has(part)) {
            known.sum(&format!("trend region/{analyte}"), &parts);
        }
    }
    areas.insert("region".to_owned());
    for area in areas {
        let parts: Vec<String> = analytes.iter().map(|analyte| format!("{area}/{analyte}")).collect();
        known.tell(&format!("sampled {area}"), "");
        parts.iter().for_each(|part| known.at_least(&format!("sampled {area}"), std::slice::from_ref(part)));
        known.at_most(&format!("sampled {area}"), &parts, 0);
    }
}

/// Properties of the areas file tell of the same numbers.
fn geojson(known: &mut Known, public: &Path) {
    let parsed: serde_json::Value =
        serde_json::from_slice(&std::fs::read(public.join("areas.geojson")).unwrap()).unwrap();
    for feature in parsed["features"].as_array().unwrap() {
        let properties = feature["properties"].as_object().unwrap();
        let area = properties["area_id"].as_str().unwrap();
        for (name, value) in properties {
            if let Some(analyte) = name.strip_prefix("wells:") {
                known.tell(&format!("{area}/{analyte}"), &value.to_string());
            }
        }
    }
}

/// Bands of a land use hold the region's wells but for those whose place is too coarse; a model's wells are in all of them.
fn bands(known: &mut Known, read: &dyn Fn(&str) -> Vec<Row>) {
    let mut parts: BTreeMap<(String, String), BTreeSet<String>> = BTreeMap::new();
    for row in read("land-use") {
        let name = format!("{} {} {}", row["land_use"], row["band"], row["analyte"]);
        known.tell(&name, &row["wells"]);
        parts.entry((row["land_use"].clone(), row["analyte"].clone())).or_default().insert(name);
    }
    let left = |land_use: &str| {
        let rows = read("quality");
        let row = rows.iter().find(|row| row["check"] == "location fine enough" && row["subject"] == land_use);
        row.and_then(|row| row["failed"].parse().ok())
    };
    for row in read("land-use-model") {
        let name = format!("model {} {}", row["analyte"], row["benchmark_set"]);
        known.tell(&name, &row["wells"]);
        known.at_least(&format!("region/{}", row["analyte"]), std::slice::from_ref(&name));
        for ((_, analyte), parts) in &parts {
            if *analyte == row["analyte"] {
                known.at_most(&name, &parts.iter().cloned().collect::<Vec<_>>(), 0);
            }
        }
    }
    for ((land_use, analyte), parts) in parts {
        let parts: Vec<String> = parts.into_iter().collect();
        let whole = format!("region/{analyte}");
        known.at_least(&whole, &parts);
        if let Some(left) = left(&land_use) {
            known.at_most(&whole, &parts, left);
        }
    }
}

/// Sampled wells by area, and altogether as the accounting tells them.
fn sampled(known: &mut Known, read: &dyn Fn(&str) -> Vec<Row>, smallest: i64, found: &mut Vec<String>) {
    let mut parts = Vec::new();
    for row in read("outreach") {
        let name = format!("sampled {}", row["area_id"]);
        known.tell(&name, &row["wells_sampled"]);
        parts.push(name);
    }
    for row in read("accounting") {
        if row["wells"].parse::<i64>().is_ok_and(|n| n < smallest) {
            found.push(format!("accounting: {row:?}"));
        }
        if row["stage"] == "used" {
            known.tell("sampled region", &row["wells"]);
        }
    }
    known.sum("sampled region", &parts);
}
