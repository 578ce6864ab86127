//! A small survey on disk, made by a test: a plan, areas, wells and results, and what came of a run.
#![allow(dead_code, reason = "each test binary uses some of these")]
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test stops at the first surprise")]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use wellreeve::progress::{Mode, Progress};

/// Two square areas side by side around longitude -93.5, latitude 43.0; west, then east.
pub const TWO_AREAS: &str = r#"{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"code":"W","label":"West","wells":400},"geometry":{"type":"Polygon","coordinates":[[[-94,42.8],[-93.5,42.8],[-93.5,43.2],[-94,43.2],[-94,42.8]]]}},
{"type":"Feature","properties":{"code":"E","label":"East","wells":300},"geometry":{"type":"Polygon","coordinates":[[[-93.5,42.8],[-93,42.8],[-93,43.2],[-93.5,43.2],[-93.5,42.8]]]}}]}"#;

/// The plan's parts that most tests share; results are to be added.
pub const PLAN: &str = r#"
[survey]
title = "Test survey"
[[wells]]
files = ["wells.csv"]
columns = { well = "well", x = "lon", y = "lat" }
crs = "EPSG:4326"
[areas]
files = ["areas.geojson"]
id = "code"
name = "label"
wells_on_record = "wells"
[summary]
resamples = 200
"#;

/// A folder with a survey in it.
pub struct Survey {
    pub home: tempfile::TempDir,
}

impl Survey {
    /// Writes the files and a plan made of `PLAN` and `results`.
    pub fn new(results: &str, files: &[(&str, &str)]) -> Survey {
        let home = tempfile::tempdir().unwrap();
        let survey = Survey { home };
        survey.write("plan.toml", &format!("{PLAN}{results}"));
        survey.write("areas.geojson", TWO_AREAS);
        for (name, text) in files {
            survey.write(name, text);
        }
        survey
    }

    pub fn write(&self, name: &str, text: &str) {
        let path = self.path(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.home.path().join(name)
    }

    /// Runs the plan; the output is in `out`.
    pub fn run(&self) -> wellreeve::Outcome {
        run(&self.path("plan.toml"), &self.path("out"))
    }

    /// A table of the output, by its path under `out`.
    pub fn table(&self, name: &str) -> Vec<BTreeMap<String, String>> {
        table(&self.path("out").join(name))
    }
}

/// Runs a plan quietly.
pub fn run(plan: &Path, out: &Path) -> wellreeve::Outcome {
    wellreeve::run(plan, out, &Progress::new(Mode::Quiet)).unwrap_or_else(|problems| panic!("{problems}"))
}

/// Rows of a CSV file, by column name.
pub fn table(path: &Path) -> Vec<BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_path(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let names: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
    reader
        .records()
        .map(|record| names.iter().cloned().zip(record.unwrap().iter().map(str::to_owned)).collect())
        .collect()
}

/// A cell as a number.
pub fn number(row: &BTreeMap<String, String>, column: &str) -> f64 {
    row[column].parse().unwrap_or_else(|_| panic!("{column} is {:?}", row[column]))
}

/// Every file under a folder, by path relative to it.
pub fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    fn walk(base: &Path, folder: &Path, into: &mut BTreeMap<String, Vec<u8>>) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(base, &path, into);
            } else {
                let name = path.strip_prefix(base).unwrap().to_string_lossy().into_owned();
                into.insert(name, std::fs::read(&path).unwrap());
            }
        }
    }
    let mut found = BTreeMap::new();
    walk(folder, folder, &mut found);
    found
}
