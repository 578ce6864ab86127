//! A survey of invention, drawn from a seed: twelve areas in three states, two laboratories with habits of their own, wells visited up to
//! six times, and every usual fault. Small enough for a test, and the same bytes everywhere: integers, and `libm` for the rest.
#![allow(dead_code, reason = "each test binary uses some of these")]
#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::Path;

const PLAN: &str = r#"
[survey]
title = "Generated survey"
period = { from = 2014-01-01, to = 2024-12-31 }
working_crs = "EPSG:32615"

[[results]]
files = ["north/*.csv"]
layout = "long"
columns = { well = "Site", analyte = "Parameter", value = "Result", unit = "Units", qualifier = "Flag", date = "Collected", sample = "Sample", sample_kind = "Kind", method = "Method" }
sample_kinds = { "FB" = "blank", "DUP" = "duplicate", "MS" = "spike" }

[[results]]
files = ["vale/*.csv"]
layout = "long"
columns = { well = "Well", analyte = "Determinand", value = "Finding", unit = "Unit", limit = "Limit", date = "Sampled" }
non_detect_words = ["BDL"]
date_order = "month-first"

[[wells]]
files = ["wells.csv"]
columns = { well = "well", x = "lon", y = "lat" }
crs = "EPSG:4326"

[areas]
files = ["areas.geojson"]
id = "code"
name = "label"
wells_on_record = "wells"

[[land_use]]
name = "farming"
measure = "share"
files = ["cover.geojson"]
class = "cover"
classes = ["row crop"]
radius_m = 500
bands = [0.1, 0.4]

[[land_use]]
name = "fuel"
measure = "nearest"
files = ["fuel.csv"]
columns = { x = "lon", y = "lat" }
crs = "EPSG:4326"
bands = [1000, 4000]

[benchmarks]
sets = ["us-mcl", "us-action-level"]

[per_well]
choose = "CHOOSE"

[summary]
resamples = 100
"#;

/// Substance, unit, middle, spread of the logarithm, detection limit, share of the areas' exposure.
const SUBSTANCES: [(&str, &str, f64, f64, f64, f64); 6] = [
    ("Nitrate", "mg/L as N", 4.0, 0.8, 0.5, 0.9),
    ("Arsenic", "ug/L", 4.0, 0.9, 2.0, 0.3),
    ("Lead", "ug/L", 3.0, 1.0, 2.0, 0.0),
    ("Chloride", "mg/L", 40.0, 0.7, 5.0, 0.2),
    ("Uranium", "ug/L", 6.0, 1.0, 1.0, 0.1),
    ("Fluoride", "mg/L", 0.8, 0.5, 0.2, 0.0),
];
const COLUMNS: usize = 6;

/// A results line, its file, and the state of its well.
struct Line {
    file: &'static str,
    state: usize,
    text: String,
}

/// A survey that can be written whole or state by state.
pub struct Generated {
    lines: Vec<Line>,
    others: BTreeMap<&'static str, String>,
}

/// States of the region.
pub const STATES: usize = 3;

/// Numbers from a seed (splitmix64, Steele, Lea and Flood 2014; constants from memory).
struct Draw(u64);

impl Draw {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut x = self.0;
        x = (x ^ (x >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        x = (x ^ (x >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        x ^ (x >> 31)
    }

    fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    fn below(&mut self, n: u64) -> u64 {
        self.next() % n
    }

    /// Near enough to a normal: twelve uniforms, less six.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.share()).sum::<f64>() - 6.0
    }
}

/// Draws a survey of `wells` wells.
pub fn generate(seed: u64, wells: usize) -> Generated {
    let mut draw = Draw(seed);
    let mut list = "well,lon,lat\n".to_owned();
    let mut lines = Vec::new();
    for well in 0..wells {
        let (column, row) = (draw.below(COLUMNS as u64) as usize, draw.below(2));
        let lon = -94.0 + 0.1 * (column as f64 + draw.share());
        let lat = 42.8 + 0.1 * (row as f64 + draw.share());
        let id = format!("W{well:04}");
        match draw.below(60) {
            0 => {}
            1 => writeln!(list, "{id},,").unwrap(),
            2 => writeln!(list, "{id},{},{lat:.6}", lon + 9.0).unwrap(),
            _ => writeln!(list, "{id},{lon:.6},{lat:.6}").unwrap(),
        }
        visits(&mut draw, &id, column, &mut lines);
    }
    let others = BTreeMap::from([
        ("areas.geojson", areas()),
        ("cover.geojson", cover()),
        ("fuel.csv", "lon,lat\n-93.95,42.85\n-93.72,42.93\n-93.48,42.84\n".to_owned()),
        ("wells.csv", list),
    ]);
    Generated { lines, others }
}

fn visits(draw: &mut Draw, id: &str, column: usize, lines: &mut Vec<Line>) {
    let state = column / (COLUMNS / STATES);
    let file = if draw.below(5) < 3 { "north/a.csv" } else { "vale/a.csv" };
    let first = 2014 + draw.below(4);
    for visit in 0..=draw.below(6) {
        let (year, month, day) = (first + visit, 1 + draw.below(12), 1 + draw.below(28));
        let well = if draw.below(300) == 0 { "" } else { id };
        for substance in SUBSTANCES {
            if draw.below(5) == 0 {
                continue;
            }
            let text = if file.starts_with("north") {
                north(draw, well, substance, column, (year, month, day))
            } else {
                vale(draw, well, substance, column, (year, month, day))
            };
            let again = draw.below(150) == 0;
            lines.extend(
                again
                    .then(|| Line { file: "north/sent-again.csv", state, text: text.clone() })
                    .filter(|_| file.starts_with("north")),
            );
            lines.push(Line { file, state, text });
        }
    }
}

type Substance = (&'static str, &'static str, f64, f64, f64, f64);

fn amount(draw: &mut Draw, (_, _, middle, spread, _, exposure): Substance, column: usize) -> f64 {
    middle * libm::exp(spread * draw.normal() + exposure * (column as f64 / 3.0 - 1.0))
}

fn north(draw: &mut Draw, well: &str, substance: Substance, column: usize, (y, m, d): (u64, u64, u64)) -> String {
    let (name, unit, _, _, limit, _) = substance;
    let x = amount(draw, substance, column);
    let value = match draw.below(80) {
        0 => "see note".to_owned(),
        1 => "ND".to_owned(),
        _ if x < limit => format!("<{limit}"),
        _ => format!("{x:.2}"),
    };
    let name = if draw.below(120) == 0 { "Unobtainium" } else { name };
    let flag = ["", "", "", "", "", "", "", "J"][draw.below(8) as usize];
    let kind = ["", "", "", "", "", "", "", "", "", "DUP", "FB", "MS"][draw.below(12) as usize];
    let method = if draw.below(20) == 0 { "test strip kit" } else { "bench" };
    let number = draw.below(1_000_000);
    format!("{well},{name},{value},{unit},{flag},{y}-{m:02}-{d:02},N-{number},{kind},{method}\n")
}

fn vale(draw: &mut Draw, well: &str, substance: Substance, column: usize, (y, m, d): (u64, u64, u64)) -> String {
    let (name, unit, _, _, limit, _) = substance;
    let x = amount(draw, substance, column);
    let (value, limit) = match draw.below(80) {
        0 => ("BDL".to_owned(), String::new()),
        _ if x < limit => ("BDL".to_owned(), limit.to_string()),
        _ => (format!("{x:.3}"), limit.to_string()),
    };
    let unit = if draw.below(90) == 0 { "" } else { unit };
    format!("{well},{name},{value},{unit},{limit},{m}/{d}/{y}\n")
}

/// A square's ring.
fn square(x: f64, y: f64, side: f64) -> String {
    let (a, b, c, d) = (x, y, x + side, y + side);
    format!("[[[{a:.4},{b:.4}],[{c:.4},{b:.4}],[{c:.4},{d:.4}],[{a:.4},{d:.4}],[{a:.4},{b:.4}]]]")
}

fn collection(features: impl Iterator<Item = String>) -> String {
    format!("{{\"type\":\"FeatureCollection\",\"features\":[{}]}}", features.collect::<Vec<_>>().join(",\n"))
}

fn feature(properties: &str, ring: &str) -> String {
    format!(
        r#"{{"type":"Feature","properties":{{{properties}}},"geometry":{{"type":"Polygon","coordinates":{ring}}}}}"#
    )
}

fn areas() -> String {
    collection((0..COLUMNS * 2).map(|n| {
        let (column, row) = (n % COLUMNS, n / COLUMNS);
        let ring = square(-94.0 + 0.1 * column as f64, 42.8 + 0.1 * row as f64, 0.1);
        feature(&format!(r#""code":"A{n:02}","label":"Area {n}","wells":{}"#, 90 + 7 * n), &ring)
    }))
}

fn cover() -> String {
    collection((0..20).map(|n| {
        let (x, y) = (f64::from(n % 5), f64::from(n / 5));
        let class = if n % 3 == 0 { "row crop" } else { "meadow" };
        feature(&format!(r#""cover":"{class}""#), &square(-94.0 + 0.12 * x, 42.8 + 0.05 * y, 0.045))
    }))
}

const HEADS: [(&str, &str); 3] = [
    ("north/a.csv", "Site,Parameter,Result,Units,Flag,Collected,Sample,Kind,Method\n"),
    ("north/sent-again.csv", "Site,Parameter,Result,Units,Flag,Collected,Sample,Kind,Method\n"),
    ("vale/a.csv", "Well,Determinand,Finding,Unit,Limit,Sampled\n"),
];

impl Generated {
    /// Writes plan and inputs, with the results of all states or of one.
    pub fn write(&self, home: &Path, choose: &str, state: Option<usize>) {
        let put = |name: &str, text: &str| {
            let path = home.join(name);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(path, text).unwrap();
        };
        put("plan.toml", &PLAN.replace("CHOOSE", choose));
        self.others.iter().for_each(|(name, text)| put(name, text));
        for (name, head) in HEADS {
            let own =
                self.lines.iter().filter(|line| line.file == name && state.is_none_or(|state| line.state == state));
            let lines: String = own.map(|line| line.text.as_str()).collect();
            assert!(!lines.is_empty(), "{name} has no line: draw more wells");
            put(name, &format!("{head}{lines}"));
        }
    }
}
