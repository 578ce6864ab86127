//! Walks every case of every reference file: known answers from outside the project turned into one
//! verdict with all differences.
//!
//! The files are in `tests/reference/statistics` (see its SOURCE.md); the environment variable
//! `REFERENCE_CASES` names another folder of the same layout. A walk in which nothing ran, a file
//! of an unknown topic and a case that was passed over all fail: a reference that is not run proves
//! nothing.

#![allow(unreachable_pub, reason = "topics are modules of one test binary")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a case that cannot be read stops the test")]

use std::path::{Path, PathBuf};

use serde_json::Value;

use report::Report;

#[path = "support/close.rs"]
mod close;
#[path = "reference/report.rs"]
mod report;

#[path = "reference/bands.rs"]
mod bands;
#[path = "reference/bangladesh.rs"]
mod bangladesh;
#[path = "reference/bootstrap.rs"]
mod bootstrap;
#[path = "reference/cells.rs"]
mod cells;
#[path = "reference/chemistry.rs"]
mod chemistry;
#[path = "reference/circle_polygon.rs"]
mod circle_polygon;
#[path = "reference/clustering.rs"]
mod clustering;
#[path = "reference/coordinates.rs"]
mod coordinates;
#[path = "reference/exceedance.rs"]
mod exceedance;
#[path = "reference/false_discovery.rs"]
mod false_discovery;
#[path = "reference/groups.rs"]
mod groups;
#[path = "reference/integrated.rs"]
mod integrated;
#[path = "reference/kaplan_meier.rs"]
mod kaplan_meier;
#[path = "reference/logistic.rs"]
mod logistic;
#[path = "reference/mle.rs"]
mod mle;
#[path = "reference/points_polygons.rs"]
mod points_polygons;
#[path = "reference/proportions.rs"]
mod proportions;
#[path = "reference/radon.rs"]
mod radon;
#[path = "reference/ros.rs"]
mod ros;
#[path = "reference/small_areas.rs"]
mod small_areas;
#[path = "reference/time.rs"]
mod time;
#[path = "reference/two_by_two.rs"]
mod two_by_two;

type Topic = fn(&Value, &mut Report);

/// Topics by the two digits that a file's name begins with.
const TOPICS: &[(&str, Topic)] = &[
    ("01", kaplan_meier::run),
    ("02", ros::run),
    ("03", mle::run),
    ("04", proportions::run),
    ("05", exceedance::run),
    ("06", two_by_two::run),
    ("07", groups::run),
    ("08", bands::run),
    ("09", logistic::run),
    ("10", false_discovery::run),
    ("11", small_areas::run),
    ("12", clustering::run),
    ("13", time::run),
    ("14", circle_polygon::run),
    ("15", points_polygons::run),
    ("16", coordinates::run),
    ("17", cells::run),
    ("18", bootstrap::run),
    ("19", chemistry::run),
    ("20", bangladesh::run),
    ("21", radon::run),
    ("22", integrated::run),
];

#[test]
fn every_case_of_every_file() {
    let folder = std::env::var_os("REFERENCE_CASES").map_or_else(own_folder, PathBuf::from);
    let mut report = Report::new(folder.clone());
    for path in json_files(&folder) {
        walk(&path, &mut report);
    }
    println!("{}", report.summary());
    assert!(report.cases > 0, "no case ran in {}", folder.display());
    assert!(report.failures.is_empty(), "{}", report.summary());
}

#[test]
fn each_topic_has_its_file() {
    let files = json_files(&own_folder());
    let has = |digits: &str| files.iter().any(|path| name_of(path).starts_with(digits));
    let missing: Vec<_> = TOPICS.iter().map(|(digits, _)| *digits).filter(|digits| !has(digits)).collect();
    assert!(missing.is_empty(), "topics without a case file: {missing:?}");
}

fn walk(path: &Path, report: &mut Report) {
    let name = name_of(path);
    report.start_file(&name);
    let Some((_, run)) = TOPICS.iter().find(|(digits, _)| name.starts_with(digits)) else {
        return report.fail_file("no topic is known for this file");
    };
    let text = std::fs::read_to_string(path).expect("a case file can be read");
    let file: Value = serde_json::from_str(&text).expect("a case file is JSON");
    run(&file, report);
    let listed = report::cases(&file).len();
    if listed == 0 || report.cases_of_file != listed {
        report.fail_file(&format!("{} cases ran of {listed}", report.cases_of_file));
    }
}

fn own_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/statistics")
}

fn json_files(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display()));
    let mut files: Vec<_> = entries.map(|entry| entry.expect("a folder entry can be read").path()).collect();
    files.retain(|path| path.extension().is_some_and(|ext| ext == "json"));
    files.sort();
    files
}

fn name_of(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}
