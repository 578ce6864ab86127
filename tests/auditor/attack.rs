//! Reads a run's public folder, as anybody can, and says what it gives away.

use crate::known::Known;
use crate::survey::table;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::LazyLock;
use wellreeve::dictionary::Dictionary;

type Row = BTreeMap<String, String>;

static DICTIONARY: LazyLock<Dictionary> = LazyLock::new(|| Dictionary::built_in().unwrap());

/// Columns that a hidden row may keep.
const KEYS: [&str; 19] = [
    "wells_on_record",
    "square_km",
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
    let mut found = one_layer(public, "", smallest);
    for entry in std::fs::read_dir(public.join("tables")).unwrap().map(Result::unwrap) {
        if entry.path().is_dir() {
            let layer = entry.file_name().to_string_lossy().into_owned();
            found.extend(one_layer(public, &layer, smallest).into_iter().map(|text| format!("layer {layer}: {text}")));
        }
    }
    found
}

/// The main layer of areas, or a further one, which has tables by area alone.
fn one_layer(public: &Path, layer: &str, smallest: i64) -> Vec<String> {
    let read = |name: &str| {
        let path = public.join("tables").join(layer).join(format!("{name}.csv"));
        if path.exists() { table(&path) } else { Vec::new() }
    };
    let mut found = Vec::new();
    let mut known = Known::default();
    let judged: BTreeSet<String> = read("exceedance").into_iter().map(|row| row["analyte"].clone()).collect();
    // Trends of further layers come without numbers of wells.
    let trends = |name: &str| name == "trend" && !layer.is_empty();
    for row in read("trend").iter().filter(|row| !layer.is_empty() && !row["wells"].is_empty()) {
        found.push(format!("trend: a number of wells in a further layer: {row:?}"));
    }
    for (name, column) in COUNTED.into_iter().filter(|(name, _)| !trends(name)) {
        for row in read(name) {
            // Advice on what has no limit rests on no well.
            if name != "recommend" || judged.contains(&row["analyte"]) {
                found.extend(direct(name, column, &row, smallest));
            }
        }
    }
    groups(&mut known, &read);
    sums(&mut known, &read);
    periods(&mut known, &read);
    any_health(&mut known, &read);
    let areas = if layer.is_empty() { "areas.geojson".to_owned() } else { format!("areas-{layer}.geojson") };
    geojson(&mut known, &public.join(areas));
    bands(&mut known, &read, smallest, &mut found);
    sampled(&mut known, &read, smallest, &mut found);
    for row in read("recommend") {
        known.sentence(&row);
    }
    found.extend(panel(&read));
    found.extend(sentences(&read));
    found.extend(known.contradictions.iter().cloned());
    found.extend(known.narrowed(smallest));
    found
}

/// Tables whose rows are about a number of wells, and its column.
const COUNTED: [(&str, &str); 11] = [
    ("exceedance", "wells"),
    ("summary", "wells"),
    ("recommend", "wells"),
    ("trend", "wells"),
    ("land-use", "wells"),
    ("land-use-model", "wells"),
    ("outreach", "wells_sampled"),
    ("coverage", "wells_sampled"),
    ("any-health", "wells"),
    ("period", "wells_first"),
    ("period", "wells_second"),
];

/// Sums computed from all parts: of nitrate and nitrite in these surveys.
fn sums(known: &mut Known, read: &dyn Fn(&str) -> Vec<Row>) {
    let summed: BTreeSet<String> = read("summary").into_iter().map(|row| row["analyte"].clone()).collect();
    let mut parts: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for row in read("exceedance").into_iter().filter(|row| !summed.contains(&row["analyte"])) {
        let name = format!("{}/{}", row["area_id"], row["analyte"]);
        known.tell(&name, &row["wells"]);
        let of = ["nitrate_as_n", "nitrite_as_n"].map(|part| format!("{}/{part}", row["area_id"]));
        known.overlap(&name, &format!("sampled {}", row["area_id"]), &of);
        parts.entry(row["analyte"].clone()).or_default().insert(name);
    }
    for parts in parts.values() {
        let (whole, parts): (Vec<String>, Vec<String>) =
            parts.iter().cloned().partition(|name| name.starts_with("region/"));
        whole.iter().for_each(|whole| known.sum(whole, &parts));
    }
}

/// Wells of two periods, and those of both.
fn periods(known: &mut Known, read: &dyn Fn(&str) -> Vec<Row>) {
    let mut parts: BTreeMap<(String, &str), BTreeSet<String>> = BTreeMap::new();
    for row in read("period") {
        let group = format!("{}/{}", row["area_id"], row["analyte"]);
        let names = ["first", "second"].map(|period| format!("{period} {group}"));
        for (name, period) in names.iter().zip(["first", "second"]) {
            known.tell(name, &row[&format!("wells_{period}")]);
            known.at_least(&group, std::slice::from_ref(name));
            parts.entry((row["analyte"].clone(), period)).or_default().insert(name.clone());
        }
        known.at_most(&group, &names, 0); // the two periods hold all results of these surveys
    }
    for ((analyte, period), parts) in parts {
        let whole = format!("{period} region/{analyte}");
        known.sum(&whole, &parts.into_iter().filter(|part| *part != whole).collect::<Vec<_>>());
    }
}

/// The region's note names the panel; its wells have every analyte of it.
fn any_health(known: &mut Known, read: &dyn Fn(&str) -> Vec<Row>) {
    let rows = read("any-health");
    let named = rows.iter().find_map(|row| row["note"].strip_prefix("wells with a value of each of: "));
    let analytes = DICTIONARY.analytes();
    let mut parts = Vec::new();
    for row in &rows {
        let name = format!("any health {}", row["area_id"]);
        known.tell(&name, &row["wells"]);
        known.at_least(&format!("sampled {}", row["area_id"]), std::slice::from_ref(&name));
        let of = named.iter().flat_map(|named| named.split("; ")).map(|display| {
            let entry = analytes.iter().find(|(_, entry)| entry.display_name == display);
            format!("{}/{}", row["area_id"], entry.unwrap().1.id)
        });
        let of: Vec<String> = of.collect();
        if !of.is_empty() {
            known.overlap(&name, &format!("sampled {}", row["area_id"]), &of);
        }
        if row["area_id"] != "region" {
            parts.push(name);
        } else {
            // Of the panel is what at least half of the wells were tested for.
            of.iter().for_each(|group| known.at_most("sampled region", &[group.clone(), group.clone()], 0));
        }
    }
    if !rows.is_empty() {
        known.sum("any health region", &parts);
    }
}

/// A panel of tests for an area may rest on shown rates alone: what it adds in an area must be shown there.
fn panel(read: &dyn Fn(&str) -> Vec<Row>) -> Vec<String> {
    let shown: BTreeSet<(String, String)> = read("exceedance")
        .into_iter()
        .filter(|row| !row["wells"].is_empty())
        .map(|row| (row["area_id"].clone(), row["analyte"].clone()))
        .collect();
    let rows = read("panel").into_iter();
    rows.filter(|row| {
        !row["tests_added"].split("; ").any(|test| shown.contains(&(row["area_id"].clone(), test.to_owned())))
    })
    .map(|row| format!("panel: tells of hidden rates: {row:?}"))
    .collect()
}

/// Sentences of outreach may speak of shown groups alone: figures of a leading analyte must be shown there.
fn sentences(read: &dyn Fn(&str) -> Vec<Row>) -> Vec<String> {
    let hidden: BTreeSet<(String, String)> = read("exceedance")
        .into_iter()
        .filter(|row| row["wells"].is_empty())
        .map(|row| (row["area_id"].clone(), row["analyte"].clone()))
        .collect();
    let rows = read("outreach").into_iter();
    rows.filter(|row| hidden.contains(&(row["area_id"].clone(), row["leading_analyte"].clone())))
        .map(|row| format!("outreach: leads with a hidden rate: {row:?}"))
        .collect()
}

/// A small number shown as it is, or a hidden row that still tells something.
fn direct(name: &str, column: &str, row: &Row, smallest: i64) -> Vec<String> {
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
    let judged: BTreeSet<String> = read("exceedance").into_iter().map(|row| row["analyte"].clone()).collect();
    for name in ["summary", "exceedance", "recommend"] {
        for row in read(name) {
            if name == "summary" {
                areas.insert(row["area_id"].clone());
                analytes.insert(row["analyte"].clone());
            }
            if analytes.contains(&row["analyte"]) && (name != "recommend" || judged.contains(&row["analyte"])) {
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
fn geojson(known: &mut Known, areas: &Path) {
    let parsed: serde_json::Value = serde_json::from_slice(&std::fs::read(areas).unwrap()).unwrap();
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
fn bands(known: &mut Known, read: &dyn Fn(&str) -> Vec<Row>, smallest: i64, found: &mut Vec<String>) {
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
        if let Some(left) = known.left(&whole, &parts).filter(|left| (1..smallest).contains(left)) {
            found.push(format!("{left} wells of {analyte} are in no band of {land_use}"));
        }
        if let Some(left) = left(&land_use) {
            known.at_most(&whole, &parts, left);
        }
    }
}

/// Sampled wells by area, and altogether as the accounting tells them.
fn sampled(known: &mut Known, read: &dyn Fn(&str) -> Vec<Row>, smallest: i64, found: &mut Vec<String>) {
    let mut parts = Vec::new();
    for row in read("coverage") {
        known.tell(&format!("sampled {}", row["area_id"]), &row["wells_sampled"]);
    }
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
