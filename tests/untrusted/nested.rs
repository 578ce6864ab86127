//! Lists in lists in lists: a reader that calls itself for each would run out of stack, which ends the program without a word.

use crate::survey::Survey;
use std::path::{Path, PathBuf};
use wellreeve::files::Inputs;
use wellreeve::place::formats::MapFile;
use wellreeve::progress::{Mode, Progress};

const DEEP: usize = 100_000;

fn written(name: &str, bytes: &[u8]) -> (tempfile::TempDir, PathBuf) {
    let home = tempfile::tempdir().unwrap();
    let path = home.path().join(name);
    std::fs::write(&path, bytes).unwrap();
    (home, path)
}

/// Refused or read: what is passed over need not be refused.
fn ends(path: &Path) {
    let inputs = Inputs::default();
    if let Ok(map) = MapFile::open(&inputs, path, None, "areas") {
        let _ = map.features_as_written();
    }
}

#[test]
fn geojson() {
    let (open, close) = ("[".repeat(DEEP), "]".repeat(DEEP));
    let collections = "{\"type\":\"GeometryCollection\",\"geometries\":[".repeat(DEEP);
    for text in [
        format!("{{\"type\":\"Polygon\",\"coordinates\":{open}1{close}}}"),
        format!("{{\"type\":\"Polygon\",\"coordinates\":{open}"),
        format!("{{\"other\":{open}{close},\"type\":\"FeatureCollection\",\"features\":[]}}"),
        format!("{{\"crs\":{open}{close},\"type\":\"FeatureCollection\",\"features\":[]}}"),
        format!(
            "{{\"type\":\"FeatureCollection\",\"features\":[{{\"type\":\"Feature\",\"properties\":{{\"a\":{open}1{close}}}}}]}}"
        ),
        format!("{{\"type\":{}", "{\"type\":".repeat(DEEP)),
        collections,
    ] {
        let (_home, path) = written("deep.geojson", text.as_bytes());
        ends(&path);
    }
}

#[test]
fn plans() {
    let (open, close) = ("[".repeat(DEEP), "]".repeat(DEEP));
    for text in [
        format!("a = {open}{close}"),
        format!("a = {open}"),
        format!("a = {}", "{a=".repeat(DEEP)),
        format!("{} = 1", vec!["a"; DEEP].join(".")),
        format!("[{}]", vec!["a"; DEEP].join(".")),
    ] {
        let (_home, path) = written("plan.toml", text.as_bytes());
        assert!(wellreeve::plan::load(&path).problems.or(()).is_err());
    }
}

#[test]
fn json_lines_and_workbooks() {
    let results = "\n[[results]]\nfiles = [\"lab.json\"]\nlayout = \"long\"\n\
        columns = { well = \"Site\", analyte = \"Parameter\", value = \"Result\" }\n";
    let deep =
        format!("{{\"Site\":\"A1\",\"Parameter\":\"Arsenic\",\"Result\":{}{}}}\n", "[".repeat(DEEP), "]".repeat(DEEP));
    let survey = Survey::new(results, &[("wells.csv", "well,lon,lat\nA1,-93.7,43\n"), ("lab.json", &deep)]);
    let _ = wellreeve::run(&survey.path("plan.toml"), &survey.path("out"), &Progress::new(Mode::Quiet)).unwrap_err();
}
